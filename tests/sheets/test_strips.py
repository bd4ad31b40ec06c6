"""Test strips: boxes large enough, without colour, and what each should read."""

from collections import defaultdict
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from tests.sheets.plans import HOSTILE, NAMES, assert_inside, plan_named, printed, renamed, squeezed

from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench
from firstwash.plan.result import Plan
from firstwash.sheets.pairs import Pair, glaze_pairs
from firstwash.sheets.strips import (
    BOX_MM,
    LEAST_SHARE,
    MOST_PAIRS,
    NO_REFERENCE,
    SMALL_MM,
    ZONE_MM,
    strength_words,
    strip_pages,
    stroke_ends,
)
from firstwash.sheets.typeset import PageName, typeset

LEAST_MM = (25.0, 18.0)  # of a box to paint in, whichever way it lies


def named(plan: Plan, pair: Pair) -> tuple[str, str]:
    """The lower and the upper puddle of a pair, with their strengths."""
    lower, upper = pair.strengths
    under, over = plan.puddles[pair.under], plan.puddles[pair.over]
    return strength_words(under, lower), strength_words(over, upper)


def test_a_puddle_over_itself_is_told_by_its_strengths() -> None:
    puddle = replace(plan_named("cup").puddles[0], name="F", strength_range=(0.1, 0.7))
    told = [strength_words(puddle, s) for s in (0.1, 0.4, 0.7)]
    assert told == ["F pale", "F middling", "F full"]
    assert strength_words(replace(puddle, strength_range=(0.4, 0.42)), 0.41) == "F"


def test_ten_are_marked_where_there_are_more() -> None:
    for name in NAMES:
        plan = plan_named(name)
        count = len(plan.puddles) + min(len(glaze_pairs(plan)), MOST_PAIRS)
        assert strip_pages(plan).source.count("circle(") == (10 if count > 10 else 0)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_puddle_has_two_boxes_and_every_pair_one(name: str, paper: PageName) -> None:
    plan = plan_named(name)
    pages = printed(strip_pages(plan), paper)
    assert_inside(pages, paper)
    told = "".join(page.letters for page in pages)
    assert squeezed(NO_REFERENCE) in told
    sizes = [(r - x, t - b) for page in pages for x, b, r, t in page.paths]
    boxes = [(w, h) for w, h in sizes if w >= LEAST_MM[0] - 0.1 and h >= LEAST_MM[1] - 0.1]
    pairs = glaze_pairs(plan)[:MOST_PAIRS]
    assert len(boxes) == sum(len(stroke_ends(q)) for q in plan.puddles) + len(pairs)
    for pair in pairs:
        under, over = named(plan, pair)
        assert squeezed(f"{over} over {under}") in told
    for puddle in plan.puddles:
        assert f"value{puddle.value_steps[0]}" in told
        assert all(squeezed(plan.paints[p].name) in told for p, _ in puddle.parts)


def test_boxes_are_large_enough() -> None:
    for wide, high in (BOX_MM, ZONE_MM):
        assert wide >= LEAST_MM[0]
        assert high >= LEAST_MM[1]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_text_lies_in_a_box(paper: PageName) -> None:
    for page in printed(strip_pages(plan_named("many")), paper):
        large = [p for p in page.paths if p[2] - p[0] >= 24.0 and p[3] - p[1] >= 18.0]
        for x, b, r, t in large:
            for left, low, right, top in page.boxes:
                inside = min(r, right) - max(x, left) > 0.5 and min(t, top) - max(b, low) > 0.5
                assert not inside


def test_nothing_is_printed_in_colour() -> None:
    pages = strip_pages(plan_named("cup"))
    assert not pages.files
    for page in pypdfium2.PdfDocument(typeset(pages.source, pages.files, title="T")):
        pixels = page.render(scale=0.5).to_numpy().astype(int)
        assert (pixels.max(axis=2) - pixels.min(axis=2)).max() <= 2  # greys alone


@pytest.mark.parametrize("name", NAMES)
def test_pairs_are_what_lies_on_the_sheet(name: str) -> None:
    """Their areas against a plain count over the cells; what they read against the solver."""
    plan = plan_named(name)
    areas = plan.cells.areas_mm2()
    expected: dict[tuple[int, int], float] = defaultdict(float)
    for own, area in zip(plan.coats, areas, strict=True):
        for n in range(1, len(own)):
            expected[own[n - 1][1], own[n][1]] += float(area)
    found = glaze_pairs(plan)
    assert {(p.under, p.over) for p in found} == set(expected)
    for pair in found:
        assert pair.share == pytest.approx(expected[pair.under, pair.over] / areas.sum())
        assert pair.both.lab[0] <= pair.alone_under.lab[0] + 3.0  # a glaze hardly ever lightens
        assert pair.both.step == int(value_step(pair.both.lab[0]))
    assert [p.share for p in found] == sorted((p.share for p in found), reverse=True)


def test_a_pair_reads_as_the_plan_predicts_where_only_those_two_lie() -> None:
    plan = plan_named("cup")
    bench = Bench.of(plan.paints, plan.paper)
    own = next(c for c in plan.coats if len(c) == 2)
    two = replace(plan, coats=tuple(own if c == own else () for c in plan.coats))
    (pair,) = glaze_pairs(two)
    (_, under, low), (_, over, high) = own
    labs = bench.labs(np.array([plan.recipes[under] * low, plan.recipes[over] * high]))
    assert pair.both.lab == pytest.approx(tuple(labs[2]))


def test_small_pairs_have_small_boxes_and_the_least_are_counted() -> None:
    plan: Plan = plan_named("many")
    small = [p for p in glaze_pairs(plan)[MOST_PAIRS:] if p.share >= LEAST_SHARE]
    least = len(glaze_pairs(plan)) - MOST_PAIRS - len(small)
    assert small
    assert least > 1
    pages = printed(strip_pages(plan))
    told = "".join(page.letters for page in pages)
    assert f"{least}morepairs" in told
    sizes = [(r - x, t - b) for page in pages for x, b, r, t in page.paths]
    near = [abs(w - SMALL_MM[0]) < 0.5 and abs(h - SMALL_MM[1]) < 0.5 for w, h in sizes]
    assert sum(near) == len(small)
    for pair in small:
        under, over = named(plan, pair)
        assert squeezed(f"{over} over {under} value {pair.both.step}") in told


def test_hostile_names_come_through() -> None:
    plan = renamed(plan_named("many"), HOSTILE)
    pages = printed(strip_pages(plan), "Letter")
    assert_inside(pages, "Letter")
    told = "".join(page.letters for page in pages)
    used = {p for puddle in plan.puddles for p, _ in puddle.parts}
    assert all(squeezed(plan.paints[p].name) in told for p in used)


def test_nothing_mixed_is_told() -> None:
    plan = plan_named("tall")
    bare = replace(plan, washes=(), puddles=(), coats=((),) * plan.cells.count, touches=())
    assert "Nothingismixed" in printed(strip_pages(bare))[0].letters


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert strip_pages(plan_named("cup")) == strip_pages(plan_named("cup"))
