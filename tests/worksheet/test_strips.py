"""Strips run evenly from a full coat into the paper, and cards tell what is known."""

import json
from dataclasses import asdict, replace

import numpy as np
import pytest

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import linear_srgb_to_xyz, srgb_decode, xyz_to_lab
from firstwash.paints.box import parse_box
from firstwash.paints.catalogue import all_paints, default_paper, paint
from firstwash.plan.bench import Bench
from firstwash.plan.problem import is_black_or_white
from firstwash.usecases import PhotoPlan
from firstwash.worksheet.strips import (
    STOPS,
    mind_words,
    paint_card,
    paint_cards,
    paint_strip,
    puddle_strip,
)
from firstwash.worksheet.words import hex_of

PAPER = default_paper()


def labs(strip: tuple[str, ...]) -> np.ndarray:
    """CIELAB of "#rrggbb" codes, as a screen shows them."""
    codes = np.array([[int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in strip])
    return xyz_to_lab(linear_srgb_to_xyz(srgb_decode(codes / 255.0)))


@pytest.mark.parametrize("key", [p.key for p in all_paints()])
def test_a_strip_runs_from_a_full_coat_to_paper(key: str) -> None:
    one = paint(key)
    bench = Bench.of([one], PAPER)
    ends = bench.labs(np.array([[one.full_coat]]))
    strip = paint_strip(one, PAPER)
    assert len(strip) == STOPS >= 9
    assert strip[0] == hex_of(ends[1])
    assert strip[-1] == hex_of(ends[0])


def test_a_strip_is_even_to_the_eye() -> None:
    """No step more than half as large again as the mean: bends of the path, and the screen's
    gamut and its 256 steps, leave that much."""
    for one in all_paints():
        if is_black_or_white(one):
            continue
        shown = labs(paint_strip(one, PAPER))
        steps = delta_e_2000(shown[1:], shown[:-1])
        assert steps.max() < 1.5 * steps.mean(), one.key
        assert steps.min() > 0.3 * steps.mean(), one.key


def test_more_stops_follow_the_same_path() -> None:
    one = paint("PB29")
    assert paint_strip(one, PAPER, 21)[::2] == paint_strip(one, PAPER, 11)


def test_a_puddle_s_strip_starts_at_its_strongest_use(cup: PhotoPlan) -> None:
    for q, puddle in enumerate(cup.plan.puddles):
        strip = puddle_strip(cup.plan, q)
        assert strip[0] == hex_of(puddle.swatch[0])
        assert strip[-1] == hex_of(cup.plan.stage_labs[0, 0])


def test_cards_tell_what_the_box_says() -> None:
    box = parse_box(
        "PB29 | pan | half empty | favourite | grains nicely\nPR83 | tube | banned\n", "b"
    )
    blue, red, green = paint_cards([paint(k) for k in ("PB29", "PR83", "PG7")], PAPER, box)
    assert (blue.listed, blue.form, blue.fill, blue.favourite) == (True, "pan", "half empty", True)
    assert blue.note == "grains nicely"
    assert (red.form, red.banned) == ("tube", True)
    assert not green.listed
    assert paint_card(paint("PG7"), PAPER, box) == green


def test_every_paint_has_a_card_in_plain_data() -> None:
    cards = paint_cards(all_paints(), PAPER)
    assert [c.key for c in cards] == [p.key for p in all_paints()]
    json.dumps([asdict(c) for c in cards], allow_nan=False)
    for card, one in zip(cards, all_paints(), strict=True):
        assert bool(card.caution) == (one.handling.hazard in ("caution", "toxic"))
        assert card.known_by
        assert card.sure
        assert 1 <= card.darkest <= 10
    assert paint_cards([], PAPER) == ()


def test_a_paint_that_was_learnt_is_surer() -> None:
    """The same curves with a tenth of the doubt are told in surer words."""
    one = paint("PG7")
    taught = replace(one, provenance="calibrated", sigma=0.1 * one.sigma, spread=0.1 * one.doubt)
    before, after = paint_cards([one, taught], PAPER)
    assert before.strip == after.strip
    assert before.sure.startswith(("very unsure", "unsure"))
    assert after.sure.startswith(("very sure", "fairly sure"))
    assert after.known_by == "learnt from your own swatches"


def test_what_to_mind_is_told_where_paints_are_chosen() -> None:
    """Harm and fading, and nothing where there is neither."""
    known = all_paints()
    told = {p.key: mind_words(p) for p in known}
    for p in known:
        fades = p.handling.lightfast in ("III", "IV", "V")
        assert bool(told[p.key]) == (fades or p.handling.hazard in ("caution", "toxic"))
        assert ("fade" in told[p.key]) == fades
        assert ("toxic" in told[p.key]) == (p.handling.hazard == "toxic")
        assert p.name not in told[p.key]
    assert any("fade" in words for words in told.values())
    assert any("toxic" in words for words in told.values())
