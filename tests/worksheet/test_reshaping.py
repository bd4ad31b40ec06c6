"""Shapes drawn otherwise by strokes: one accepted change each, and the plan keeps up."""

import math
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.worksheet.small import (
    accepted,
    by_size,
    copied,
    history,
    is_sentence,
    middle,
    refused,
    studio_in,
    the_cup,
)

from firstwash.errors import FirstwashError
from firstwash.picture.drawing import neighbours, shape_at
from firstwash.worksheet.brief import Kept
from firstwash.worksheet.desk import Desk
from firstwash.worksheet.editing import kept_more
from firstwash.worksheet.reshaping import (
    Place,
    another_border,
    another_count,
    another_edge,
    merged_shapes,
    released_shape,
    reserved_shape,
    split_shapes,
)
from firstwash.worksheet.studio import Looked, Studio


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    made = studio_in(copied(tmp_path))
    yield made
    made.store.close()


def desk_of(studio: Studio) -> Desk:
    return studio.desk(the_cup(studio).brief)


def across(desk: Desk, shape: int) -> list[Place]:
    """A stroke from above to below a shape, through its middle."""
    rows, cols = np.nonzero(desk.drawing.shapes == shape)
    x = middle(desk, shape)[0]
    own = rows[cols == int(x * desk.drawing.ppmm)]
    top, bottom = own.min() / desk.drawing.ppmm, (own.max() + 1) / desk.drawing.ppmm
    return [(x, max(top - 1.0, 0.0)), (x, (top + bottom) / 2), (x, bottom + 1.0)]


def check(studio: Studio, after: Looked) -> Desk:
    """The plan keeps up: every shape has its cells, and nothing in it lightens."""
    desk = studio.desk(after.brief)
    assert desk.plan.cells.shapes == desk.drawing.count
    np.testing.assert_array_equal(
        desk.plan.cells.shape_of[desk.plan.cells.index], desk.drawing.shapes
    )
    bare = np.isin(desk.plan.cells.shape_of, sorted(desk.drawing.reserves))
    assert all(not desk.plan.coats[c] for c in np.flatnonzero(bare))
    assert np.diff(desk.plan.stage_labs[..., 0], axis=0).max() < 0.5  # as the planner allows
    assert after.brief.drawing is not None
    assert after.brief.drawing.by_hand
    return desk


# --- every edit ------------------------------------------------------------------------------


@pytest.mark.parametrize("count", [8, 40])
def test_fewer_or_more_shapes(studio: Studio, count: int) -> None:
    before = the_cup(studio)
    then = desk_of(studio).drawing.count
    after = accepted(studio, before, lambda p, b: another_count(studio, p, b, count))
    desk = studio.desk(after.brief)
    assert (desk.drawing.count < then) == (count < then)
    assert desk.drawing.count <= count
    assert desk.plan.cells.shapes == desk.drawing.count
    assert history(studio, before.id)[-1] == f"Drew about {count} shapes"


def test_two_shapes_made_one(studio: Studio) -> None:
    before, desk = the_cup(studio), desk_of(studio)
    a = by_size(desk)[0]
    b = neighbours(desk.drawing, a)[0]
    stroke = [middle(desk, a), middle(desk, b)]
    after = accepted(studio, before, lambda p, r: merged_shapes(studio, p, r, stroke))
    now = check(studio, after)
    assert shape_at(now.drawing, *stroke[0]) == shape_at(now.drawing, *stroke[1])
    assert now.drawing.count < desk.drawing.count


def test_a_shape_cut_in_two(studio: Studio) -> None:
    before, desk = the_cup(studio), desk_of(studio)
    stroke = across(desk, by_size(desk)[0])
    after = accepted(studio, before, lambda p, r: split_shapes(studio, p, r, stroke))
    assert check(studio, after).drawing.count > desk.drawing.count


def test_a_border_drawn_anew(studio: Studio) -> None:
    before, desk = the_cup(studio), desk_of(studio)
    pairs = [(a, b) for a in by_size(desk) for b in neighbours(desk.drawing, a)[:2]]
    done = next((d for a, b in pairs if (d := redrawn_or_none(studio, before, a, b))), None)
    assert done is not None
    now = check(studio, done)
    assert now.drawing.count <= desk.drawing.count
    assert (now.drawing.shapes != desk.drawing.shapes).any()


def redrawn_or_none(studio: Studio, before: Looked, a: int, b: int) -> Looked | None:
    """A border redrawn, if such a stroke makes sense at the two shapes."""
    try:
        stroke = bulge(studio.desk(before.brief), a, b)
        return another_border(studio, before.id, before.revision, stroke)
    except FirstwashError:
        return None


def bulge(desk: Desk, a: int, b: int) -> list[Place]:
    """A stroke along the border of two shapes, two millimetres off into the first."""
    shapes, ppmm = desk.drawing.shapes, desk.drawing.ppmm
    here = np.argwhere((shapes[:, :-1] == a) & (shapes[:, 1:] == b))
    if len(here) < 12:
        here = np.argwhere((shapes[:-1] == a) & (shapes[1:] == b))
    if len(here) < 12:
        return [middle(desk, a), middle(desk, b)]
    into = np.array(middle(desk, a)) - np.array(middle(desk, b))
    shift = 2.0 * into / np.hypot(*into)
    ends = here[[0, len(here) // 2, -1]][:, ::-1] / ppmm
    bent = [ends[0], ends[1] + shift, ends[2]]
    return [(float(x), float(y)) for x, y in bent]


def test_a_shape_left_bare_and_painted_after_all(studio: Studio) -> None:
    before, desk = the_cup(studio), desk_of(studio)
    shape = by_size(desk)[2]
    place = middle(desk, shape)
    after = accepted(studio, before, lambda p, r: reserved_shape(studio, p, r, [place]))
    assert check(studio, after).drawing.reserves == {shape}
    # A touch trembles: within three millimetres it is still one.
    refused(
        studio,
        after,
        lambda p, r: reserved_shape(studio, p, r, [place, (place[0] + 0.5, place[1] + 0.5)]),
    )
    painted = accepted(studio, after, lambda p, r: released_shape(studio, p, r, place))
    assert not check(studio, painted).drawing.reserves
    refused(studio, painted, lambda p, r: released_shape(studio, p, r, place))


def ring(place: Place, radius: float) -> list[Place]:
    return [
        (place[0] + radius * math.cos(t), place[1] + radius * math.sin(t))
        for t in np.linspace(0.0, 2.0 * math.pi, 30)
    ]


def test_what_a_stroke_goes_round_is_left_bare(studio: Studio) -> None:
    before, desk = the_cup(studio), desk_of(studio)
    place = middle(desk, by_size(desk)[0])
    after = accepted(studio, before, lambda p, r: reserved_shape(studio, p, r, ring(place, 8.0)))
    now = check(studio, after)
    assert shape_at(now.drawing, *place) in now.drawing.reserves
    assert now.drawing.bare().sum() / now.drawing.ppmm**2 == pytest.approx(math.pi * 64.0, rel=0.1)


@pytest.mark.parametrize("edge", ["hard", "soft", "lost"])
def test_an_edge_made_hard_soft_or_lost(studio: Studio, edge: str) -> None:
    before, desk = the_cup(studio), desk_of(studio)
    a = by_size(desk)[0]
    b = neighbours(desk.drawing, a)[0]
    stroke = bulge(desk, a, b)
    other = "soft" if edge != "soft" else "lost"  # so that there is something to change
    before = another_edge(studio, before.id, before.revision, stroke, other)
    after = accepted(studio, before, lambda p, r: another_edge(studio, p, r, stroke, edge))  # type: ignore[arg-type]
    now = check(studio, after)
    assert [m.kind for m in now.drawing.edge_marks] == [other, edge]
    told = refused(studio, after, lambda p, r: another_edge(studio, p, r, stroke, edge))  # type: ignore[arg-type]
    assert "border" in told  # it is so already
    np.testing.assert_array_equal(now.drawing.shapes, desk.drawing.shapes)


def test_reserves_and_marks_stay_when_the_picture_is_drawn_in_more_shapes(studio: Studio) -> None:
    before, desk = the_cup(studio), desk_of(studio)
    place = middle(desk, by_size(desk)[0])
    now = reserved_shape(studio, before.id, before.revision, ring(place, 8.0))
    now = another_edge(studio, now.id, now.revision, [(10.0, 10.0), (40.0, 60.0)], "lost")
    bare = studio.desk(now.brief).drawing.bare()
    more = studio.desk(another_count(studio, now.id, now.revision, 40).brief)
    np.testing.assert_array_equal(more.drawing.bare(), bare)
    assert [m.kind for m in more.drawing.edge_marks] == ["lost"]


def test_a_kept_wash_is_not_laid_elsewhere_when_shapes_change(studio: Studio) -> None:
    """Shapes away from a locked layer may change; it keeps its paint wherever it lay."""
    before = the_cup(studio)
    now = kept_more(studio, before.id, before.revision, Kept(layers=(1,)))
    desk = studio.desk(now.brief)
    stroke = across(desk, by_size(desk)[0])
    after = split_shapes(studio, now.id, now.revision, stroke)
    made = studio.desk(after.brief)
    np.testing.assert_allclose(
        made.plan.stage_labs[1][made.plan.cells.index],
        desk.plan.stage_labs[1][desk.plan.cells.index],
        atol=1e-6,
    )
    assert after.brief.kept.layers == (1,)


# --- strokes that mean nothing ---------------------------------------------------------------

Edit = Callable[[Studio, str, str, Sequence[Place]], Looked]
EDITS: dict[str, Edit] = {
    "merge": merged_shapes,
    "split": split_shapes,
    "border": another_border,
    "reserve": reserved_shape,
    "release": lambda s, p, r, stroke: released_shape(s, p, r, stroke[0]),
    "edge": lambda s, p, r, stroke: another_edge(s, p, r, stroke, "soft"),
}
NOWHERE: dict[str, list[Place]] = {
    "off the sheet": [(-50.0, -50.0), (-60.0, -50.0)],
    "far away": [(1e300, 1e300), (-1e300, 1e300)],
    "none": [(math.nan, math.nan), (math.nan, 1.0)],
    "endless": [(math.inf, 0.0), (0.0, math.inf)],
    "a point off": [(-1.0, 5.0)],
}


@pytest.mark.parametrize("edit", EDITS)
@pytest.mark.parametrize("stroke", NOWHERE)
def test_a_stroke_off_the_sheet_is_refused(studio: Studio, edit: str, stroke: str) -> None:
    refused(studio, the_cup(studio), lambda p, r: EDITS[edit](studio, p, r, NOWHERE[stroke]))


def test_strokes_that_change_nothing_are_refused(studio: Studio) -> None:
    before, desk = the_cup(studio), desk_of(studio)
    x, y = middle(desk, by_size(desk)[0])
    within = [(x, y), (x + 1.0, y)]
    for edit in ("merge", "border", "release"):
        refused(studio, before, lambda p, r, e=edit: EDITS[e](studio, p, r, within))
    for count in (0, -1, 4, 601, 10**9):
        refused(studio, before, lambda p, r, n=count: another_count(studio, p, r, n))


def test_after_the_picture_was_changed_the_shapes_are_left_alone(studio: Studio) -> None:
    before = the_cup(studio)
    other = before.brief.scene.but(focal=(0.1, 0.1, 0.2, 0.2))
    now = studio.change(before.id, before.revision, "Focal", lambda b: b.but(scene=other))
    for edit in EDITS.values():
        told = refused(
            studio, now, lambda p, r, e=edit: e(studio, p, r, [(5.0, 5.0), (60.0, 60.0)])
        )
        assert "plan again first" in told


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    made = studio_in(copied(tmp_path_factory.mktemp("strokes")))
    yield made
    made.store.close()


places = st.tuples(st.floats(-20.0, 170.0), st.floats(-20.0, 130.0))


@given(edit=st.sampled_from(sorted(EDITS)), stroke=st.lists(places, min_size=1, max_size=6))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_stroke_is_a_change_or_is_refused_in_a_sentence(
    shared: Studio, edit: str, stroke: list[Place]
) -> None:
    """One after the other on the same painting, so that drawings get ever odder."""
    now = the_cup(shared)
    said = "Changed."
    try:
        after = EDITS[edit](shared, now.id, now.revision, stroke)
        desk = shared.desk(after.brief)
        assert desk.plan.cells.shapes == desk.drawing.count
        shared.forget()
        shared.desk(after.brief)  # reads back
    except FirstwashError as error:
        said = str(error)
        assert the_cup(shared).opened == now.opened
    assert is_sentence(said)
