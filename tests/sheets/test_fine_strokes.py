"""The fine strokes: every one on the map of its puddle, with a recipe; one ratio in print."""

from math import gcd

import pytest
from tests.sheets.plans import NAMES, assert_inside, plan_named, printed, squeezed

from firstwash.sheets.drawn import Drawn
from firstwash.sheets.fine_strokes import fine_stroke_maps
from firstwash.sheets.puddle_rows import mixed_parts
from firstwash.sheets.step import step_pages


@pytest.mark.parametrize("name", NAMES)
def test_every_puddle_of_a_stroke_has_its_map(name: str) -> None:
    plan = plan_named(name)
    _, files = fine_stroke_maps(Drawn(plan))
    used = {t.puddle for t in plan.touches if t.puddle is not None}
    assert set(files) == {f"strokes-{plan.puddles[q].name}.svg" for q in used}
    for q in used:
        svg = files[f"strokes-{plan.puddles[q].name}.svg"].decode()
        dark = sum(t.puddle == q for t in plan.touches)
        assert f"{dark} fine darks to lay" in svg
        assert "0 fine lights to keep" in svg


def test_strokes_stand_on_the_last_sheet_with_value_and_recipe() -> None:
    plan = plan_named("cup")
    assert any(t.puddle is not None for t in plan.touches)
    last = max(w.layer for w in plan.washes)
    pages = printed(step_pages(plan, last), "A4")
    assert_inside(pages, "A4")
    told = "".join(page.letters for page in pages)
    assert squeezed("Each map shows the strokes of one puddle") in told
    for q in {t.puddle for t in plan.touches if t.puddle is not None}:
        for p, _ in plan.puddles[q].parts:
            assert squeezed(plan.paints[p].name) in told
    for layer in range(1, last):
        assert "strokes-" not in step_pages(plan, layer).source


@pytest.mark.parametrize("name", NAMES)
def test_parts_are_the_counts_in_lowest_terms(name: str) -> None:
    for puddle in plan_named(name).puddles:
        parts = [n for _, n in mixed_parts(puddle)]
        counts = puddle.amount.tubes.counts
        assert [p for p, _ in mixed_parts(puddle)] == [p for p, _ in puddle.parts]
        assert all(n * counts[0] == c * parts[0] for n, c in zip(parts, counts, strict=True))
        assert gcd(*parts) == 1
