"""Order, technique and time as a plan gets them."""

from dataclasses import replace

import numpy as np
import pytest

from firstwash.picture.edges import HARD, LOST, SOFT, Edges, all_hard
from firstwash.picture.shapes import Cells
from firstwash.plan.board.drying import Room
from firstwash.plan.board.order import Paint, Wait
from firstwash.plan.schedule import (
    amounts_of,
    hair_mm,
    how_laid,
    in_order,
    schedule_of,
    with_touches,
)
from firstwash.plan.wash import Wash

UNKNOWN = np.zeros(4, dtype=np.int64)  # as if nothing were the last layer anywhere


def board(count: int = 4, side: int = 100) -> Cells:
    index = np.repeat(np.arange(count, dtype=np.int32), side)[None, :].repeat(side, axis=0)
    return Cells(index, np.arange(count, dtype=np.int32), np.zeros(count, np.int32), 1.0)


def edged(cells: Cells, kind: int) -> Edges:
    edges = all_hard(cells)
    return replace(edges, kind=np.full(len(edges.cells), kind))


def wash(
    *cells: int, layer: int = 2, light: float = 60.0, area: float = 1e4, **more: object
) -> Wash:
    told = {
        "layer": layer, "number": 0, "shapes": cells, "cells": cells, "puddle": cells[0],
        "strength": 0.3, "end_strength": None, "area_mm2": area * len(cells), "areas": len(cells),
        "before": (90.0, 0.0, 0.0), "after": (light, 0.0, 0.0), "stroke": (light, 0.0, 0.0),
        "value_step": 6, "kind": "wash",
    }  # fmt: skip
    return Wash(**{**told, **more})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("layer", "kind", "technique"),
    [
        (1, SOFT, "wet-in-wet"),
        (1, HARD, "wet-on-dry"),
        (2, HARD, "glaze"),
        (3, SOFT, "glaze"),
        (3, LOST, "wet-in-wet"),
    ],
)
def test_technique_follows_the_edges(layer: int, kind: int, technique: str) -> None:
    cells = board()
    laid = list(
        how_laid([wash(0, layer=layer), wash(3, layer=layer)], edged(cells, kind), cells, UNKNOWN)
    )
    assert [w.technique for w in laid] == [technique] * 2
    assert laid[0].edges_mm[kind] == pytest.approx(100.0)
    assert sum(laid[0].edges_mm) == pytest.approx(100.0)


def test_a_graded_wash_is_graded_however_its_edges_are() -> None:
    (laid,) = how_laid([wash(1, kind="graded wash")], edged(board(), SOFT), board(), UNKNOWN)
    assert laid.technique == "graded"


def test_the_last_glaze_over_rough_ground_is_skimmed() -> None:
    rough = np.array([1.0, 0.95, 0.2, 1.0])
    cells = replace(board(), rough=rough)
    edges = all_hard(cells)
    tops = np.array([2, 2, 2, 3])
    washes = [wash(0), wash(1), wash(2), wash(3)]
    (*laid,) = how_laid(washes, edges, cells, tops)
    # The third is smooth, over the fourth another layer is still to come.
    assert [w.technique for w in laid] == ["dry-brush", "dry-brush", "glaze", "glaze"]
    assert {w.technique for w in how_laid(washes, edges, cells, UNKNOWN)} == {"glaze"}
    first = [wash(0, layer=1)]
    (laid_first,) = how_laid(first, edges, cells, np.ones(4, dtype=np.int64))
    assert laid_first.technique == "wet-on-dry"  # never in the lay-in
    tiny = [replace(w, areas=1000) for w in washes]
    assert {w.technique for w in how_laid(tiny, edges, cells, tops)} == {"glaze"}


def test_first_washes_that_run_together_are_host_and_second_colour() -> None:
    cells = board()
    first = [wash(0, 1, layer=1), wash(2, layer=1)]
    laid = tuple(how_laid(first, edged(cells, SOFT), cells, UNKNOWN))
    assert [w.into for w in laid] == [None, 0]
    ordered, steps = in_order(laid, edged(cells, SOFT), cells, Room(), 300.0)
    assert [w.cells for w in ordered] == [(0, 1), (2,)]
    assert [w.into for w in ordered] == [None, 1]
    assert [s.ids for s in steps if isinstance(s, Paint)] == [(1, 2)]


def test_hard_neighbours_of_one_layer_wait_or_are_kept_apart() -> None:
    cells = board()
    laid = tuple(how_laid([wash(0), wash(1)], all_hard(cells), cells, UNKNOWN))
    _, steps = in_order(laid, all_hard(cells), cells, Room(), 300.0)
    assert [type(s) for s in steps] == [Paint, Wait, Paint]
    first = tuple(how_laid([wash(0, layer=1), wash(1, layer=1)], all_hard(cells), cells, UNKNOWN))
    _, steps = in_order(first, all_hard(cells), cells, Room(), 300.0)
    assert not any(isinstance(s, Wait) for s in steps)  # a hair of dry paper is left


def test_in_a_hurry_a_hair_of_paper_saves_the_wait() -> None:
    cells = board()
    edges = all_hard(cells)
    laid = tuple(how_laid([wash(0), wash(1)], edges, cells, UNKNOWN, hurried=True))
    _, steps = in_order(laid, edges, cells, Room(), 300.0, hurried=True)
    assert not any(isinstance(s, Wait) for s in steps)
    # They meet along 100 mm: more than an unhurried hand leaves a hair along.
    assert hair_mm(laid, edges, cells, hurried=True) == pytest.approx(100.0)
    assert hair_mm(laid, edges, cells, hurried=False) == 0.0
    first = [wash(0, layer=1), wash(1, layer=1)]
    assert hair_mm(first, edges, cells, hurried=False) == pytest.approx(100.0)
    assert hair_mm([wash(0), wash(2)], edges, cells, hurried=True) == 0.0  # they do not meet


def test_in_a_hurry_lost_edges_are_faded_out_by_hand() -> None:
    cells = board()
    edges = edged(cells, LOST)
    slow, quick = (
        tuple(how_laid([wash(0), wash(2)], edges, cells, UNKNOWN, hurried))
        for hurried in (False, True)
    )
    assert {w.technique for w in slow} == {"wet-in-wet"}
    assert {w.technique for w in quick} == {"glaze"}
    first = how_laid([wash(0, layer=1)], edges, cells, UNKNOWN, hurried=True)
    assert {w.technique for w in first} == {"wet-in-wet"}  # the lay-in is wet however late it is

    def layer(laid: tuple[Wash, ...], hurried: bool) -> tuple[float, float]:
        own = in_order(laid, edges, cells, Room(), 300.0, hurried)
        time = schedule_of([own, own], Room(), 300.0, hurried).time
        return time.painting.mid, time.waiting.mid

    hardly = tuple(replace(w, edges_mm=(w.edges_mm[2], 0.0, 0.0)) for w in quick)
    # Fading out takes longer than following an outline, and saves more than that in drying.
    assert layer(quick, True)[0] > layer(hardly, True)[0]
    assert sum(layer(quick, True)) < sum(layer(slow, False))


def test_numbers_are_the_order_and_nothing_is_lost() -> None:
    rng = np.random.default_rng(8)
    cells = board(12, 30)
    for _ in range(20):
        edges = all_hard(cells)
        edges = replace(edges, kind=rng.integers(0, 3, len(edges.cells)))
        layer = int(rng.integers(1, 4))
        own = rng.permutation(12)
        washes = [
            wash(*map(int, part), layer=layer, light=float(rng.uniform(20, 90)))
            for part in np.array_split(own, 5)
        ]
        laid = tuple(how_laid(washes, edges, cells, np.zeros(12, dtype=np.int64)))
        ordered, steps = in_order(laid, edges, cells, Room(), 300.0)
        ids = [i for s in steps if isinstance(s, Paint) for i in s.ids]
        assert ids == [w.number for w in ordered] == [1, 2, 3, 4, 5]
        assert {w.cells for w in ordered} == {w.cells for w in washes}
        for w in ordered:
            assert w.into is None or w.number == w.into + 1


def test_time_grows_with_work_and_shrinks_with_a_hair_dryer() -> None:
    cells = board()
    edges = edged(cells, SOFT)

    def minutes(layers: list[list[Wash]], room: Room) -> float:
        done = [
            in_order(tuple(how_laid(w, edges, cells, UNKNOWN)), edges, cells, room, 300.0)
            for w in layers
        ]
        return schedule_of(done, room, 300.0).minutes.mid

    one = minutes([[wash(0, layer=1)]], Room())
    two = minutes([[wash(0, layer=1)], [wash(1)]], Room())
    assert two > one > 0
    assert minutes([[wash(0, layer=1)], [wash(1)]], Room(hair_dryer=True)) < two
    assert minutes([[wash(0, layer=1)], [wash(1)]], Room(humidity=0.8)) > two


def test_an_empty_layer_takes_no_time() -> None:
    cells = board()
    edges = all_hard(cells)
    done = [
        in_order(tuple(how_laid(w, edges, cells, UNKNOWN)), edges, cells, Room(), 300.0)
        for w in ([wash(0, layer=1)], [])
    ]
    plan = schedule_of(done, Room(), 300.0)
    assert len(plan.steps) == 2
    assert len(plan.time.layers) == 1
    assert with_touches(plan, (), done[0][0], 300.0).minutes == plan.minutes


def test_amounts_follow_area_and_count_every_paint() -> None:
    small = amounts_of([(0, 0.5), (2, 0.25)], [wash(0)], [1.0, 1.0, 0.5])
    large = amounts_of([(0, 0.5), (2, 0.25)], [wash(0, 1, 2, 3)], [1.0, 1.0, 0.5])
    assert large.ml > small.ml
    assert len(small.tubes.counts) == 2
    # both parts are half of the puddle, each at its own strong coat
    assert small.tubes.counts[0] == small.tubes.counts[1]
    # the same washes of paints whose strong coat takes half as much are nearer to one: thicker
    thick = amounts_of([(0, 0.5), (2, 0.25)], [wash(0)], [0.5, 1.0, 0.25])
    assert thick.consistency.step > small.consistency.step
    assert thick.paint_ml > small.paint_ml
