"""Plans for a drawing: the same as without one, bare where bare is wanted, and quick to follow."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from firstwash.errors import RequestError
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.drawing import Drawing, neighbours
from firstwash.picture.drawing_borders import border_redrawn
from firstwash.picture.drawing_edits import (
    merged,
    released,
    reserved,
    shape_reserved,
    split,
    with_edge,
)
from firstwash.picture.edges import HARD
from firstwash.picture.first_drawing import drawing_of
from firstwash.picture.reference import BACKGROUND, Reference, with_background
from firstwash.plan.bare import as_wished, keeps_bare, paper_lab
from firstwash.plan.bench import Bench
from firstwash.plan.edits import recolour
from firstwash.plan.from_drawing import drawing_of_plan, keep_up, plan_drawing
from firstwash.plan.locks import Locks
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.replan import replan
from firstwash.plan.report import make_report
from firstwash.plan.result import Plan

PAINTS = load_set("measured").paints
LIMITS = Limits(washes=30, shapes=40, puddles=8, touches=12)
LIGHTENS = 0.5  # L* that a coat may dry lighter, as in the planner's own tests
Edit = Callable[[Drawing, Reference], Drawing]


@pytest.fixture(scope="module")
def coffee(on_sheet: Callable[..., Reference]) -> Reference:
    return on_sheet("coffee", "14x19cm")


@pytest.fixture(scope="module")
def plan(coffee: Reference) -> Plan:
    return make_plan(coffee, PAINTS, LIMITS)


@pytest.fixture(scope="module")
def drawing(plan: Plan) -> Drawing:
    return drawing_of_plan(plan)


def centre(drawing: Drawing, shape: int) -> tuple[float, float]:
    """The place (x, y; mm) of a shape's pixel nearest to its middle."""
    at = np.argwhere(drawing.shapes == shape)
    y, x = at[((at - at.mean(axis=0)) ** 2).sum(axis=1).argmin()]
    return (x + 0.5) / drawing.ppmm, (y + 0.5) / drawing.ppmm


def by_size(drawing: Drawing) -> list[int]:
    return np.argsort(-drawing.areas_mm2(), kind="stable").tolist()


def square(x: float, y: float, half: float) -> list[tuple[float, float]]:
    return [(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)]


def check_plan(plan: Plan) -> None:
    """Coats, washes, puddles and colours tell one story; stages only darken."""
    graded = {c for w in plan.washes if w.kind == "graded wash" for c in w.cells}
    areas = plan.cells.areas_mm2()
    for wash in plan.washes:
        key = (wash.layer, wash.puddle, wash.strength)
        if wash.kind != "graded wash":
            own = [c for c, o in enumerate(plan.coats) if key in o and c not in graded]
            assert list(wash.cells) == own
        assert set(wash.shapes) == {int(plan.cells.shape_of[c]) for c in wash.cells}
        assert wash.area_mm2 == pytest.approx(areas[list(wash.cells)].sum())
    laid = {(w.layer, w.puddle, w.strength) for w in plan.washes}
    assert {c for i, o in enumerate(plan.coats) if i not in graded for c in o} <= laid
    for layer in range(1, plan.layers + 1):
        numbers = [w.number for w in plan.washes_of(layer)]
        assert numbers == list(range(1, len(numbers) + 1))
        steps = plan.schedule.steps[layer - 1]
        assert {n for s in steps if hasattr(s, "ids") for n in s.ids} == set(numbers)
    bench = Bench.of(plan.paints, plan.paper).puddles(plan.recipes)
    for cell, own in enumerate(plan.coats):
        amounts = np.zeros((len(own), bench.colours))
        for i, (_, q, s) in enumerate(own):
            amounts[i, q] = s
        done = np.searchsorted([c[0] for c in own], np.arange(plan.layers + 1), side="right")
        # 1e-9: the same kernel on the same numbers, but puddles' curves may be summed anew.
        np.testing.assert_allclose(plan.stage_labs[:, cell], bench.labs(amounts)[done], atol=1e-9)
    assert {w.puddle for w in plan.washes} == set(range(len(plan.puddles)))
    for shape in range(plan.cells.shapes):
        cells = np.flatnonzero(plan.cells.shape_of == shape)
        ordered = sorted((plan.coats[c] for c in cells), key=len)
        for less, more in pairwise(ordered):
            assert more[: len(less)] == less
    assert len(plan.cells.rough) == plan.cells.shapes
    assert np.array_equal(np.unique(plan.cells.index), np.arange(plan.cells.count))


def rises(plan: Plan) -> float:
    return float(np.diff(plan.stage_labs[..., 0], axis=0).max())


def untouched(before: Plan, after: Plan) -> list[tuple[int, int]]:
    """(old, new) cells with just the same pixels."""
    keys, both = np.unique(
        before.cells.index.astype(np.int64) * after.cells.count + after.cells.index,
        return_counts=True,
    )
    old, new = np.divmod(keys, after.cells.count)
    sizes = (np.bincount(p.cells.index.ravel()) for p in (before, after))
    one, two = sizes
    same = (both == one[old]) & (both == two[new])
    return list(zip(old[same].tolist(), new[same].tolist(), strict=True))


def named(plan: Plan, cell: int) -> list[tuple[int, str, float]]:
    return [(layer, plan.puddles[q].name, s) for layer, q, s in plan.coats[cell]]


def check_rest_is_kept(before: Plan, after: Plan, drawing: Drawing, edited: Drawing) -> None:
    """What no edit touched has its coats and colours to the last bit."""
    same = untouched(before, after)
    kept = np.zeros(drawing.shapes.shape, dtype=np.bool_)
    for shape in range(edited.count):
        inside = edited.shapes == shape
        was = np.unique(drawing.shapes[inside])
        alike = len(was) == 1 and inside.sum() == (drawing.shapes == was[0]).sum()
        if alike and (shape in edited.reserves) == (int(was[0]) in drawing.reserves):
            kept |= inside
    found = dict(same)
    for cell in np.unique(before.cells.index[kept]).tolist():
        now = found[cell]
        assert named(after, now) == named(before, cell)
        assert np.array_equal(after.stage_labs[:, now], before.stage_labs[:, cell])
        assert np.array_equal(after.aims[now], before.aims[cell])
        assert np.array_equal(after.targets[now], before.targets[cell])
        assert after.doubts[now] == before.doubts[cell]


# --- planning a drawing ----------------------------------------------------------


def test_a_drawing_nobody_changed_gives_the_plan_without_one(coffee: Reference, plan: Plan) -> None:
    found = plan_drawing(coffee, drawing_of(coffee, LIMITS.for_shapes()), PAINTS, LIMITS)
    assert np.array_equal(found.cells.index, plan.cells.index)
    assert found.coats == plan.coats
    assert [p.parts for p in found.puddles] == [p.parts for p in plan.puddles]
    assert found.stage_labs.tobytes() == plan.stage_labs.tobytes()
    assert [(w.layer, w.number, w.cells) for w in found.washes] == [
        (w.layer, w.number, w.cells) for w in plan.washes
    ]
    assert [t.lab for t in found.touches] == [t.lab for t in plan.touches]
    assert found.report == plan.report


def test_a_plans_drawing_is_the_one_it_was_made_from(coffee: Reference, plan: Plan) -> None:
    found = drawing_of_plan(plan)
    assert np.array_equal(found.shapes, drawing_of(coffee, LIMITS.for_shapes()).shapes)
    assert not found.reserves
    assert not found.by_hand


def test_hours_simplify_a_drawing_of_the_programs_and_not_the_painters(
    coffee: Reference, drawing: Drawing
) -> None:
    short = replace(LIMITS, hours=0.75)
    found = plan_drawing(coffee, drawing, PAINTS, short)
    assert found.cells.shapes < drawing.count
    mine = merged(drawing, coffee, [0, neighbours(drawing, 0)[0]])
    kept = plan_drawing(coffee, mine, PAINTS, short)
    assert kept.cells.shapes == drawing.count - 1
    assert kept.schedule.hurried


@pytest.fixture(scope="module")
def dark(plan: Plan, drawing: Drawing) -> int:
    """The darkest of the larger shapes."""
    large = by_size(drawing)[:15]
    light = [plan.targets[plan.cells.shape_of == s, 0].mean() for s in large]
    return large[int(np.argmin(light))]


def check_bare(plan: Plan, bare: np.ndarray) -> None:
    """No coat, no stroke, no paint run over: paper to the last."""
    cells = np.unique(plan.cells.index[bare])
    assert all(plan.coats[c] == () for c in cells)
    assert (plan.cells.index[~bare][:, None] != cells).all()
    paper = plan.stage_xyz[0][0, 0]
    # 1e-5: float32 of the same colour.
    np.testing.assert_allclose(plan.finished_xyz[bare], np.tile(paper, (bare.sum(), 1)), atol=1e-5)


def test_a_dark_reserve_stays_paper_through_planning_and_planning_again(
    coffee: Reference, drawing: Drawing, dark: int
) -> None:
    edited = shape_reserved(drawing, coffee, dark)
    edited = reserved(
        edited, coffee, square(*centre(drawing, by_size(drawing)[0]), 6.0), LIMITS.for_shapes()
    )
    found = plan_drawing(coffee, edited, PAINTS, LIMITS)
    check_plan(found)
    check_bare(found, edited.bare())
    inside = keeps_bare(found.aims, found.paper)
    assert inside.sum() == 2
    assert np.allclose(found.aims[inside], paper_lab(found.paper))
    # Aimed at is paper there, but what the photo shows there is still told.
    assert found.targets[inside, 0].min() < 50.0
    again = replan(found, coffee, locks=Locks(layers={1}))
    check_bare(again, edited.bare())
    check_bare(replan(again, coffee), edited.bare())
    assert drawing_of_plan(again).reserves == edited.reserves


def test_a_plan_is_judged_by_paper_where_it_is_to_be_bare(
    coffee: Reference, drawing: Drawing, dark: int
) -> None:
    found = plan_drawing(coffee, shape_reserved(drawing, coffee, dark), PAINTS, LIMITS)
    box = Bench.of(PAINTS, found.paper)
    seen = as_wished(found, coffee)
    assert make_report(found, seen, box).against_photo == found.report.against_photo
    assert make_report(found, coffee, box).against_photo.mean > found.report.against_photo.mean
    assert as_wished(make_plan(coffee, PAINTS, LIMITS), coffee) is coffee


def test_marks_are_laid_as_marked(coffee: Reference, drawing: Drawing) -> None:
    big = by_size(drawing)[0]
    x, y = centre(drawing, big)
    line = [(x, y), (x + 60, y)]
    for kind, number in (("hard", 0), ("soft", 1), ("lost", 2)):
        found = plan_drawing(coffee, with_edge(drawing, line, kind), PAINTS, LIMITS)
        middle = found.edges.centre_mm
        near = (np.abs(middle[:, 1] - y) < 2.0) & (middle[:, 0] > x) & (middle[:, 0] < x + 55)
        assert near.any()
        assert number in found.edges.kind[near]
        check_plan(found)


def test_a_drawing_of_another_picture_is_refused(
    coffee: Reference, plan: Plan, drawing: Drawing
) -> None:
    other = Drawing(np.zeros((5, 5), dtype=np.int32), 2.0)
    for work in (
        lambda: plan_drawing(coffee, other, PAINTS, LIMITS),
        lambda: keep_up(plan, coffee, other),
    ):
        with pytest.raises(RequestError, match="another picture"):
            work()
    empty = replace(drawing, reserves=frozenset(range(drawing.count)))
    with pytest.raises(RequestError, match="nothing to paint"):
        plan_drawing(coffee, empty, PAINTS, LIMITS)


# --- keeping up ------------------------------------------------------------------


def merge(drawing: Drawing, reference: Reference) -> Drawing:
    big = by_size(drawing)[1]
    return merged(drawing, reference, [big, neighbours(drawing, big)[0]])


def cut(drawing: Drawing, reference: Reference) -> Drawing:
    x, y = centre(drawing, by_size(drawing)[1])
    return split(drawing, reference, [(x - 6, y), (x + 6, y + 1)], LIMITS.for_shapes())


def keep_free(drawing: Drawing, reference: Reference) -> Drawing:
    x, y = centre(drawing, by_size(drawing)[1])
    return reserved(drawing, reference, square(x, y, 6.0), LIMITS.for_shapes())


def keep_shape_free(drawing: Drawing, reference: Reference) -> Drawing:
    return shape_reserved(drawing, reference, by_size(drawing)[4])


def bulge(drawing: Drawing, reference: Reference) -> Drawing:
    """The longest border of the second largest shape moves 5 mm towards that shape's middle."""
    own = by_size(drawing)[1]
    other = neighbours(drawing, own)[0]
    beside = np.zeros(drawing.shapes.shape, dtype=np.bool_)
    beside[:-1] |= drawing.shapes[1:] == other
    beside[:, :-1] |= drawing.shapes[:, 1:] == other
    beside[1:] |= drawing.shapes[:-1] == other
    beside[:, 1:] |= drawing.shapes[:, :-1] == other
    at = np.argwhere(beside & (drawing.shapes == own))[:, ::-1] / drawing.ppmm
    start = at[0]
    end = at[np.hypot(*(at - start).T).argsort()[len(at) // 2]]
    middle = 0.5 * (start + end)
    way = np.array(centre(drawing, own)) - middle
    top = middle + 5.0 * way / np.hypot(*way)
    return border_redrawn(drawing, reference, [start, top, end], LIMITS.for_shapes())


def mark(drawing: Drawing, reference: Reference) -> Drawing:
    del reference
    x, y = centre(drawing, by_size(drawing)[1])
    return with_edge(drawing, [(x, y), (x + 40, y)], "lost")


EDITS = [merge, cut, keep_free, keep_shape_free, bulge, mark]


@pytest.mark.parametrize("edit", EDITS)
def test_the_plan_keeps_up_and_leaves_the_rest_alone(
    coffee: Reference, plan: Plan, drawing: Drawing, edit: Edit
) -> None:
    edited = edit(drawing, coffee)
    found = keep_up(plan, coffee, edited)
    check_plan(found)
    check_rest_is_kept(plan, found, drawing, edited)
    assert np.array_equal(found.cells.shape_of[found.cells.index], edited.shapes)
    assert len(found.washes) <= LIMITS.washes
    assert rises(found) <= max(rises(plan), LIGHTENS)
    assert found.report.rungs[0].name == "not judged yet"
    assert [p.parts for p in found.puddles] == [
        p.parts for p in plan.puddles if p.name in {q.name for q in found.puddles}
    ]
    if edited.reserves:
        check_bare(found, edited.bare())
    # Undone: the old drawing again, and what nothing had touched is as it was.
    back = keep_up(found, coffee, drawing)
    check_plan(back)
    check_rest_is_kept(plan, back, drawing, edited)


def test_without_a_change_nothing_changes(coffee: Reference, plan: Plan, drawing: Drawing) -> None:
    found = keep_up(plan, coffee, drawing)
    assert found.coats == plan.coats
    assert found.stage_labs.tobytes() == plan.stage_labs.tobytes()
    assert [(w.number, w.cells, w.technique, w.edges_mm) for w in found.washes] == [
        (w.number, w.cells, w.technique, w.edges_mm) for w in plan.washes
    ]
    assert found.schedule.steps == plan.schedule.steps
    assert found.schedule.minutes == plan.schedule.minutes
    assert np.array_equal(found.washes_xyz, plan.washes_xyz)


def test_new_cells_are_those_a_new_plan_would_have(
    coffee: Reference, plan: Plan, drawing: Drawing
) -> None:
    edited = cut(drawing, coffee)
    quick, slow = keep_up(plan, coffee, edited), plan_drawing(coffee, edited, PAINTS, LIMITS)
    assert np.array_equal(quick.cells.index, slow.cells.index)
    assert np.array_equal(quick.cells.level_of, slow.cells.level_of)
    np.testing.assert_allclose(quick.cells.rough, slow.cells.rough)
    assert np.array_equal(quick.edges.kind, slow.edges.kind)


def test_a_released_reserve_is_painted_again(
    coffee: Reference, plan: Plan, drawing: Drawing
) -> None:
    shape = by_size(drawing)[4]
    bare = shape_reserved(drawing, coffee, shape)
    kept = keep_up(plan, coffee, bare)
    back = keep_up(kept, coffee, released(bare, coffee, shape, LIMITS.for_shapes()))
    assert not keeps_bare(back.aims, back.paper).any()
    assert back.coats[back.cells.index[drawing.shapes == shape][0]]
    np.testing.assert_allclose(
        back.aims[back.cells.shape_of == shape], plan.aims[plan.cells.shape_of == shape], atol=0.5
    )


def test_a_wished_colour_goes_with_the_pieces(
    coffee: Reference, plan: Plan, drawing: Drawing
) -> None:
    shape = by_size(drawing)[1]
    own = plan.cells.shape_of == shape
    areas = plan.cells.areas_mm2()[own]
    wanted = areas @ plan.aims[own] / areas.sum() + np.array([0.0, -15.0, 10.0])
    blue = recolour(plan, shape, wanted).plan
    found = keep_up(blue, coffee, cut(drawing, coffee))
    for piece in (shape, found.cells.shapes - 1):
        cells = found.cells.shape_of == piece
        moved = found.aims[cells] - found.tone(found.targets[cells])
        np.testing.assert_allclose(moved[:, 1:], np.tile([-15.0, 10.0], (cells.sum(), 1)), atol=2.0)


# --- locks -----------------------------------------------------------------------


def coats_in(plan: Plan, layer: int) -> np.ndarray:
    """What lies in a layer, pixel by pixel: a number for every (puddle's name, strength)."""
    own = []
    for cell in range(plan.cells.count):
        laid = next(((n, s) for at, n, s in named(plan, cell) if at == layer), None)
        own.append(hash(laid) if laid else 0)
    return np.array(own)[plan.cells.index]


@pytest.mark.parametrize("edit", EDITS)
@pytest.mark.parametrize("layers", [{1}, {1, 2}, {2}])
def test_a_locked_layer_stays_pixel_by_pixel(
    coffee: Reference, plan: Plan, drawing: Drawing, edit: Edit, layers: set[int]
) -> None:
    locks = Locks(layers=frozenset(layers))
    edited = edit(drawing, coffee)
    found = keep_up(plan, coffee, edited, locks)
    check_plan(found)
    for layer in layers:
        assert np.array_equal(coats_in(found, layer), coats_in(plan, layer))
    again = keep_up(found, coffee, edited, locks)
    assert again.coats == found.coats
    back = keep_up(found, coffee, drawing, locks)
    for layer in layers:
        assert np.array_equal(coats_in(back, layer), coats_in(plan, layer))


def test_a_locked_wash_stays_elsewhere_and_goes_on_with_its_shape(
    coffee: Reference, plan: Plan, drawing: Drawing
) -> None:
    shape = by_size(drawing)[1]
    wash = next(w for w in plan.washes if shape in w.shapes and len(w.shapes) > 1)
    locks = Locks(washes=frozenset({(wash.layer, wash.number)}))
    found = keep_up(plan, coffee, cut(drawing, coffee), locks)
    check_plan(found)
    assert np.array_equal(
        coats_in(found, wash.layer)[np.isin(plan.cells.index, wash.cells)],
        coats_in(plan, wash.layer)[np.isin(plan.cells.index, wash.cells)],
    )
    with pytest.raises(RequestError, match="has washes"):
        keep_up(plan, coffee, drawing, Locks(washes=frozenset({(1, 999)})))


# --- the graded background -------------------------------------------------------


@pytest.fixture(scope="module")
def graded(coffee: Reference) -> Reference:
    rows, cols = coffee.zone.shape
    mask = np.zeros((rows, cols))
    mask[: rows // 3] = 1.0
    white = Bench.of([], default_paper()).white_xyz()
    return with_background(coffee, mask, "graded", white)


def test_a_reserve_in_a_graded_background(graded: Reference) -> None:
    plan = make_plan(graded, PAINTS, LIMITS)
    drawing = drawing_of_plan(plan)
    same = keep_up(plan, graded, drawing)
    assert same.coats == plan.coats
    x, y = centre(drawing, int(drawing.shapes[graded.zone == BACKGROUND].max()) - 8)
    moon = reserved(drawing, graded, square(x, y, 7.0), LIMITS.for_shapes())
    found = keep_up(plan, graded, moon)
    check_plan(found)
    check_bare(found, moon.bare())
    wash = next(w for w in found.washes if w.kind == "graded wash")
    before = next(w for w in plan.washes if w.kind == "graded wash")
    assert (wash.strength, wash.end_strength) == (before.strength, before.end_strength)
    assert wash.area_mm2 < before.area_mm2
    made = plan_drawing(graded, moon, PAINTS, LIMITS)
    check_plan(made)
    check_bare(made, moon.bare())
    assert sum(w.kind == "graded wash" for w in made.washes) == 1
    back = keep_up(found, graded, released(moon, graded, drawing.count, LIMITS.for_shapes()))
    assert back.coats == plan.coats
    assert np.array_equal(back.cells.index, plan.cells.index)
    with pytest.raises(RequestError, match="graded background is kept"):
        keep_up(plan, graded, moon, Locks(layers=frozenset({1})))


def test_hard_edges_around_reserves(coffee: Reference, plan: Plan, drawing: Drawing) -> None:
    edited = keep_shape_free(drawing, coffee)
    found = keep_up(plan, coffee, edited)
    bare = keeps_bare(found.aims, found.paper)
    beside = bare[found.edges.cells].any(axis=1)
    assert beside.any()
    assert (found.edges.kind[beside] == HARD).all()
