"""A layer's sheet: everything it tells is on it, inside the margins, whatever the plan."""

from dataclasses import replace

import pypdfium2
import pytest
from tests.sheets.plans import HOSTILE, NAMES, assert_inside, plan_named, printed, renamed, squeezed

from firstwash.errors import RequestError
from firstwash.handout.layer_map import MARGIN, frame_for, wash_letters
from firstwash.plan.result import Plan
from firstwash.sheets.drawn import Drawn
from firstwash.sheets.measures import beads_words
from firstwash.sheets.puddle_rows import span_words
from firstwash.sheets.step import step_pages, steps_pages
from firstwash.sheets.typeset import PageName, typeset
from firstwash.worksheet.view import layer_title


def told_of(plan: Plan, layer: int, name: PageName = "A4") -> str:
    pages = printed(step_pages(plan, layer), name)
    assert_inside(pages, name)
    return "".join(page.letters for page in pages)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_puddle_and_paint_of_a_layer_is_on_its_sheet(name: str, paper: PageName) -> None:
    plan = plan_named(name)
    drawn = Drawn(plan)
    for layer in range(1, plan.layers + 1):
        pages = printed(step_pages(plan, layer, drawn), paper)
        assert_inside(pages, paper)
        assert squeezed(layer_title(plan, layer)) in pages[0].letters
        told = "".join(page.letters for page in pages)
        for wash in plan.washes_of(layer):
            puddle = plan.puddles[wash.puddle]
            words = " ".join(page.words for page in pages).split()
            letter, index = wash_letters(plan, layer)[wash.number]
            assert puddle.name in words or f"{letter}{index}" in words
            for p, _ in puddle.parts:
                paint = plan.paints[p]
                assert squeezed(paint.name) in told
                assert all(squeezed(index) in told for index in paint.pigments)


def test_amounts_stand_on_the_first_layer_that_uses_a_puddle_and_on_no_other() -> None:
    plan = plan_named("cup")
    sheets = [told_of(plan, layer) for layer in range(1, plan.layers + 1)]
    for q, puddle in enumerate(plan.puddles):
        layers = sorted({w.layer for w in plan.washes if w.puddle == q})
        tubes, pans = puddle.amount.tubes, puddle.amount.pans
        taken = (beads_words(c.counts[0], c.measure) for c in (tubes, pans))
        mixed = squeezed(next(taken))
        if layers:
            assert mixed in sheets[layers[0] - 1]
            again = f"Mixedforlayer{layers[0]}:"
            assert all(again in sheets[n - 1] for n in layers[1:])


def test_the_pictures_are_a_stage_before_one_after_and_the_map() -> None:
    plan = plan_named("cup")
    first, second = step_pages(plan, 1), step_pages(plan, 2)
    shown = [{f for f in sheet.files if not f.startswith("key-")} for sheet in (first, second)]
    assert shown[0] == {"outline.svg", "stage-1.jpg", "map-1.svg"}
    assert shown[1] == {"stage-1.jpg", "stage-2.jpg", "map-2.svg"}
    assert first.files["stage-1.jpg"] == second.files["stage-1.jpg"]
    told = first.source.count("alt:") + first.source.count("pdf.artifact(")
    assert told == len(first.files)


def test_pictures_have_about_200_dots_to_the_inch() -> None:
    for name in NAMES:
        drawn = Drawn(plan_named(name))
        wide, high = drawn.size
        sheet = drawn.plan.sheet
        dots = wide / (drawn.layout.stage_mm / 25.4)
        assert 190 <= dots <= 330  # more where a narrow picture is kept large enough to see
        assert wide / high == pytest.approx(sheet.width_mm / sheet.height_mm, rel=0.01)


def test_a_map_in_print_is_black_and_its_small_numbers_are_read() -> None:
    drawn = Drawn(plan_named("cup"))
    svg = drawn.layer_map(2)[1].decode()
    assert 'fill="#000000"' in svg
    assert "#222222" not in svg
    assert "sans-serif" not in svg


@pytest.mark.parametrize("name", NAMES)
def test_letters_of_a_map_are_large_enough_in_print(name: str) -> None:
    """At least 9 pt for a small number, which is 0.86 of its capital."""
    plan = plan_named(name)
    drawn = Drawn(plan)
    frame = frame_for(plan)
    scale = drawn.layout.map_share * 174.0 / (frame.width + 2 * MARGIN * frame.letter)
    assert frame.letter * scale * 0.86 * 72 / 25.4 >= 8.5


def test_names_of_any_kind_come_through() -> None:
    plan = renamed(plan_named("tall"), HOSTILE)
    told = "".join(told_of(plan, layer) for layer in (1, 2))
    used = {p for puddle in plan.puddles for p, _ in puddle.parts}
    for p in used:
        assert squeezed(plan.paints[p].name) in told


@pytest.mark.parametrize("shift", range(len(HOSTILE)))
def test_every_hostile_name_is_set_inside_the_margins(shift: int) -> None:
    plan = renamed(plan_named("cup"), HOSTILE[shift:] + HOSTILE[:shift])
    assert_inside(printed(step_pages(plan, 2), "Letter"), "Letter")


def test_the_last_sheet_tells_the_fine_strokes_and_only_that_one() -> None:
    plan = plan_named("cup")
    told = [told_of(plan, layer) for layer in range(1, plan.layers + 1)]
    assert any(not t.reserved for t in plan.touches)
    assert ["Thefinestrokes" in sheet for sheet in told] == [False] * (plan.layers - 1) + [True]


def test_headings_become_bookmarks() -> None:
    plan = plan_named("tall")
    pages = steps_pages(plan)
    pdf = pypdfium2.PdfDocument(typeset(pages.source, pages.files, title="Steps"))
    titles = [(mark.level, mark.get_title()) for mark in pdf.get_toc()]
    assert [t for level, t in titles if level == 0] == ["The lay-in", "The last darks"]
    assert (1, "In this order") in titles


def test_the_same_plan_gives_the_same_bytes() -> None:
    plan = plan_named("tall")
    assert steps_pages(plan) == steps_pages(plan)


def test_a_layer_without_washes_says_so() -> None:
    plan = plan_named("tall")
    bare = replace(plan, washes=tuple(w for w in plan.washes if w.layer == 1))
    assert "Nothingisleft" in told_of(bare, 2)
    assert "dryafter" in told_of(bare, 1)


def test_a_layer_the_plan_has_not_is_refused() -> None:
    with pytest.raises(RequestError):
        step_pages(plan_named("tall"), 3)


def test_steps_are_told_as_a_span() -> None:
    assert span_words([4]) == "4"
    assert span_words([7, 5, 8]) == "5 to 8"
