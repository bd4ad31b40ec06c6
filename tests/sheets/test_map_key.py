"""A map's key: all that is on the map and nothing that is not."""

import pytest
from tests.sheets.plans import NAMES, plan_named

from firstwash.sheets.drawn import Drawn
from firstwash.sheets.map_key import map_key, map_words


@pytest.mark.parametrize("name", NAMES)
def test_only_what_occurs_is_explained(name: str) -> None:
    drawn = Drawn(plan_named(name))
    for layer in range(1, drawn.plan.layers + 1):
        own = drawn.map_of(layer)
        told, files = map_key(drawn, layer)
        for kind, runs in own.lines.items():
            assert (f"key-{kind}.svg" in files) == bool(runs)
        assert ("key-faint.svg" in files) == bool(own.faint)
        assert ("key-reserve.svg" in files) == bool(own.reserves)
        assert ("key-hatch.svg" in files) == bool(len(own.hatch))
        assert sum(file.startswith("key-tone") for file in files) == len(own.toned)
        assert all(file in told for file in files)


@pytest.mark.parametrize("name", NAMES)
def test_every_puddle_of_a_layer_has_its_tone_in_the_key(name: str) -> None:
    drawn = Drawn(plan_named(name))
    for layer in range(1, drawn.plan.layers + 1):
        named = [q for area in drawn.map_of(layer).toned for q in area.puddles]
        assert sorted(named) == sorted({w.puddle for w in drawn.plan.washes_of(layer)})


def test_areas_without_a_letter_are_counted_in_words() -> None:
    drawn = Drawn(plan_named("many"))
    for layer in range(1, drawn.plan.layers + 1):
        own = drawn.map_of(layer)
        assert (f"{own.unnamed} area" in map_words(own)) == bool(own.unnamed)


def test_a_student_s_map_gives_no_white_away() -> None:
    """Neither hatching nor tones nor kept lights, and no key to them."""
    drawn = Drawn(plan_named("cup"))
    whole, asked = drawn.layer_map(1)[1].decode(), drawn.asked_map(1)[1].decode()
    tints = {area.tone.grey for area in drawn.map_of(1).toned}
    assert all(f'fill="{tint}"' in whole for tint in tints)
    assert not any(f'fill="{tint}"' in asked for tint in tints)
    assert "Hatched" not in asked
    assert "#ffffff" not in asked  # as kept lights are filled
    _, files = map_key(drawn, 1, asked=True)
    assert not {f for f in files if "tone" in f} | (
        {"key-hatch.svg", "key-reserve.svg"} & set(files)
    )
