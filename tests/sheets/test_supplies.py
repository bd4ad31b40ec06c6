"""Supplies: every paint with its amount, brushes by width, kit for a class, cautions."""

from dataclasses import replace

import numpy as np
import pytest
from tests.sheets.plans import HOSTILE, NAMES, assert_inside, plan_named, printed, renamed, squeezed

from firstwash.errors import RequestError
from firstwash.handout.cautions import caution_lines
from firstwash.paints.catalogue import paint
from firstwash.plan.result import Plan
from firstwash.sheets.brushes import brushes_for, passage_widths, span_of
from firstwash.sheets.replacements import replacements
from firstwash.sheets.supplies import amounts_needed, supplies_pages
from firstwash.sheets.typeset import PageName


def told_of(plan: Plan, students: int = 1, paper: PageName = "A4") -> str:
    pages = printed(supplies_pages(plan, students), paper)
    assert_inside(pages, paper)
    return "".join(page.letters for page in pages)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_paint_its_puddles_and_cautions_are_told(name: str, paper: PageName) -> None:
    plan = plan_named(name)
    told = told_of(plan, 1, paper)
    for p in amounts_needed(plan):
        assert squeezed(plan.paints[p].name) in told
    used = [plan.paints[p] for p in amounts_needed(plan)]
    assert all(squeezed(line)[1:] in told for line in caution_lines(used))
    assert "Donotpointbrushes" in told


def test_paint_needed_is_what_the_puddles_are_mixed_of() -> None:
    for name in NAMES:
        plan = plan_named(name)
        needed = amounts_needed(plan)
        tubes = sum(p.amount.tubes.paint_ml for p in plan.puddles)
        pans = sum(p.amount.pans.paint_ml for p in plan.puddles)
        assert sum(n.tube_ml for n in needed.values()) == pytest.approx(tubes)
        assert sum(n.pan_ml for n in needed.values()) == pytest.approx(pans)
        letters = {letter for n in needed.values() for letter in n.puddles}
        assert letters == {p.name for p in plan.puddles}


def test_a_class_needs_so_many_times_as_much() -> None:
    told = told_of(plan_named("cup"), 12)
    assert "Kitfor12students" in told
    assert "12sheetsand2spare" in told
    one = told_of(plan_named("cup"))
    assert "1sheetand1spare" in one
    assert "students" not in one


@pytest.mark.parametrize("students", [0, -1, 501])
def test_a_class_of_no_size_is_refused(students: int) -> None:
    with pytest.raises(RequestError):
        supplies_pages(plan_named("tall"), students)


def test_hostile_names_come_through() -> None:
    plan = renamed(plan_named("many"), HOSTILE)
    told = told_of(plan)
    for p in amounts_needed(plan):
        assert squeezed(plan.paints[p].name) in told


def test_a_plan_that_mixes_nothing_still_prints() -> None:
    plan = plan_named("tall")
    bare = replace(plan, washes=(), puddles=(), coats=((),) * plan.cells.count, touches=())
    assert "wholesheetstaysbare" in told_of(bare)


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert supplies_pages(plan_named("cup"), 3) == supplies_pages(plan_named("cup"), 3)


# --- brushes ---------------------------------------------------------------------


def test_the_width_of_a_bar_is_its_shorter_side() -> None:
    """A wash of one plain rectangle; its width to a pixel of the drawing."""
    plan = plan_named("tall")
    cells = replace(plan.cells, index=np.zeros_like(plan.cells.index))
    cells.index[20:60, 10:110] = 1
    wash = replace(plan.washes[0], cells=(1,))
    one = replace(plan, cells=cells, washes=(wash,))
    ((width, area),) = passage_widths(one).tolist()
    assert width == pytest.approx(40 / cells.ppmm, abs=1.5 / cells.ppmm)
    assert area == pytest.approx(4000 / cells.ppmm**2)


@pytest.mark.parametrize("name", NAMES)
def test_brushes_fit_the_passages(name: str) -> None:
    found = brushes_for(plan_named(name))
    assert found is not None
    brushes, span = found
    assert 0.0 < span.narrow <= span.usual <= span.wide
    assert list(brushes.rounds) == sorted(set(brushes.rounds))
    assert brushes.rounds[0] <= max(span.narrow, 1.5)
    assert brushes.flat is None or brushes.flat <= span.wide


def test_nothing_painted_wants_no_brush() -> None:
    assert brushes_for(replace(plan_named("tall"), washes=())) is None
    assert span_of(np.zeros((0, 2))) is None


# --- replacements ----------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_replacements_are_other_paints_nearest_first(name: str) -> None:
    plan = plan_named(name)
    keys = {p.key for p in plan.paints}
    for found in replacements(plan).values():
        assert [r.off for r in found] == sorted(r.off for r in found)
        assert all(r.paint.key not in keys and r.words and r.off <= 12.0 for r in found)


def test_no_black_stands_in_for_a_dark_blue() -> None:
    plan = plan_named("cup")
    one = replace(plan, paints=(paint("PB27"), paint("PB29")))
    assert all(r.paint.key != "PBk9" for found in replacements(one).values() for r in found)
