"""Time at the board: sums, monotony, what is waited for, and the evenings painters know."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.plan.board.drying import Room, drying_of
from firstwash.plan.board.hours import (
    BoardTime,
    LayerWork,
    WashWork,
    board_time,
    brush_charges,
    layer_fits,
    wash_minutes,
)
from firstwash.plan.board.practice import TECHNIQUES
from firstwash.plan.board.ranges import NOTHING, Range

works = st.builds(
    WashWork,
    area_mm2=st.floats(1.0, 2e5),
    areas=st.integers(1, 80),
    hard_mm=st.floats(0.0, 2e4),
    soft_mm=st.floats(0.0, 2e4),
    technique=st.sampled_from(TECHNIQUES),
    puddle=st.sampled_from("ABCD"),
)
layers = st.lists(works, min_size=1, max_size=5).map(lambda w: LayerWork(tuple(w)))
plans = st.lists(layers, min_size=1, max_size=4)

# (area mm², areas, edge mm, puddle) of every wash of two plans of scikit-image's coffee() on
# 28 × 38 cm, as this program planned them at its defaults: 60 washes in four layers, and 15 in
# three. Edges are the outlines of the masks.
SIXTY = (
    "3243 2 1001 A,11186 6 1667 G,4858 6 894 E,3477 7 693 I,3157 5 455 C,1640 3 333 A,"
    "11920 6 1390 G,11632 5 1367 H,11362 11 1801 F,10986 5 1052 I,7314 11 1501 C,6394 6 893 F,"
    "4515 6 779 B,3235 4 440 D,3121 2 477 J,2671 1 246 K,1898 3 388 E,1486 3 425 D,1017 4 352 E",
    "1348 4 822 E,4331 5 999 L,4275 2 532 A,1307 1 227 J,5869 5 755 I,3108 4 495 F,1608 2 284 J,"
    "821 4 316 E,9560 3 731 E,8318 5 1065 I,1417 3 316 I,378 4 194 H,13265 2 1014 N,6051 2 454 E,"
    "3295 4 615 E,2799 2 473 G,1898 4 446 E,1195 2 332 I,619 6 275 H,497 4 277 M,168 4 120 L,"
    "119 2 67 F,64 2 51 D,1956 4 659 P,1275 5 505 E,649 4 238 F,9197 6 1744 M,5762 2 681 O,"
    "4180 4 658 B,2846 2 272 L,180 3 113 F,1538 1 294 B",
    "6034 5 992 B,14655 21 3636 I,7399 13 2054 F,16027 11 2705 J,7311 4 1110 D,6274 14 1930 E,"
    "4515 7 919 M",
    "19934 72 7033 H,1609 2 288 D",
)
FIFTEEN = (
    "33142 3 2540 B,54138 16 3992 C,10266 8 1486 A,4362 2 360 D",
    "8475 8 2216 E,7775 11 1607 F,17110 10 1767 C,11796 12 1703 F,8894 12 1403 F,15810 4 1316 I,"
    "5917 13 1865 F,14976 6 1965 G,7586 9 1506 H",
    "35690 52 9332 J,9342 9 1483 A",
)


def plan_of(rows: tuple[str, ...]) -> list[LayerWork]:
    """Layers of washes from rows of figures; flat washes first, then glazes."""
    return [
        LayerWork(tuple(work(row, "wet-on-dry" if n == 0 else "glaze") for row in line.split(",")))
        for n, line in enumerate(rows)
    ]


def work(row: str, technique: str = "wet-on-dry") -> WashWork:
    area, areas, edge, puddle = row.split()
    return WashWork(float(area), int(areas), float(edge), 0.0, technique, puddle)  # type: ignore[arg-type]


def _no_less(a: Range, b: Range) -> bool:
    return a.low <= b.low + 1e-9 and a.mid <= b.mid + 1e-9 and a.high <= b.high + 1e-9


# --- the evenings painters know ----------------------------------------------------


def test_sixty_washes_in_four_layers_take_three_to_five_hours() -> None:
    layers = plan_of(SIXTY)
    assert sum(len(layer.washes) for layer in layers) == 60
    time = board_time(layers)
    assert 180.0 <= time.total.mid <= 300.0
    assert time.total.low >= 90.0
    assert time.total.high <= 330.0


def test_fifteen_washes_in_three_layers_take_an_hour_and_a_half_or_two() -> None:
    layers = plan_of(FIFTEEN)
    assert sum(len(layer.washes) for layer in layers) == 15
    time = board_time(layers)
    assert time.total.low <= 90.0 <= time.total.mid <= 120.0
    # Most of such an evening is not spent with the brush in hand.
    assert time.waiting.mid > time.painting.mid > time.mixing.mid


# --- brush-loads -------------------------------------------------------------------


@given(
    area=st.floats(0.0, 5e5),
    more=st.floats(0.0, 5e5),
    technique=st.sampled_from(TECHNIQUES),
    width=st.one_of(st.none(), st.floats(1.0, 60.0)),
)
def test_more_area_takes_no_fewer_brush_loads(
    area: float, more: float, technique: str, width: float | None
) -> None:
    few = brush_charges(area, technique, width)  # type: ignore[arg-type]
    assert 1 <= few <= brush_charges(area + more, technique, width)  # type: ignore[arg-type]


def test_a_wider_brush_is_charged_less_often() -> None:
    loads = [brush_charges(50_000.0, "wet-on-dry", width) for width in (4.0, 8.0, 16.0, 32.0)]
    assert loads == sorted(loads, reverse=True)
    assert loads[0] > 4 * loads[2]


def test_a_postcard_takes_a_few_loads_of_a_middle_brush() -> None:
    # 10 × 15 cm with a round brush 8 mm thick; common practice, no source.
    assert brush_charges(15_000.0, "wet-on-dry", 8.0) == 3


# --- one wash ----------------------------------------------------------------------


@given(wash=works, factor=st.floats(1.0, 5.0), more=st.integers(0, 20))
def test_more_to_do_takes_no_less_time(wash: WashWork, factor: float, more: int) -> None:
    before = wash_minutes(wash)
    for change in (
        {"area_mm2": wash.area_mm2 * factor},
        {"areas": wash.areas + more},
        {"hard_mm": wash.hard_mm * factor},
        {"soft_mm": wash.soft_mm * factor},
    ):
        assert _no_less(before, wash_minutes(replace(wash, **change)))


def test_a_soft_edge_takes_longer_than_a_hard_one() -> None:
    hard = WashWork(5000.0, 1, 300.0, 0.0, "wet-on-dry", "A")
    assert wash_minutes(replace(hard, hard_mm=0.0, soft_mm=300.0)).mid > wash_minutes(hard).mid


def test_a_wide_brush_is_quicker() -> None:
    wash = WashWork(50_000.0, 1, 0.0, 0.0, "wet-on-dry", "A", 8.0)
    assert wash_minutes(replace(wash, width_mm=30.0)).mid < wash_minutes(wash).mid / 2


# --- a whole plan ------------------------------------------------------------------


@given(plan=plans)
def test_the_parts_make_the_whole(plan: list[LayerWork]) -> None:
    time = board_time(plan)
    parts = time.mixing + time.painting + time.waiting
    for attribute in ("low", "mid", "high"):
        assert getattr(time.total, attribute) == pytest.approx(getattr(parts, attribute))
        each = sum(getattr(layer.total, attribute) for layer in time.layers)
        assert getattr(time.total, attribute) == pytest.approx(each)
    assert len(time.layers) == len(plan)
    assert time.layers[-1].waiting == NOTHING
    assert time.layers[-1].dry_after.low > 0.0


@given(plan=plans, extra=layers)
def test_another_layer_adds_work(plan: list[LayerWork], extra: LayerWork) -> None:
    before, after = board_time(plan).total, board_time([*plan, extra]).total
    assert _no_less(before, after)
    assert after.mid > before.mid


@given(plan=plans, wash=works)
def test_another_wash_adds_painting_and_mixing(plan: list[LayerWork], wash: WashWork) -> None:
    more = [replace(plan[0], washes=(*plan[0].washes, wash)), *plan[1:]]
    before, after = board_time(plan), board_time(more)
    assert after.painting.mid > before.painting.mid
    # A puddle mixed a layer earlier is only stirred again later: never less mixing in all.
    assert after.mixing.mid > before.mixing.mid


@given(plan=plans, rh=st.floats(0.2, 0.9))
def test_damp_air_means_waiting_not_more_painting(plan: list[LayerWork], rh: float) -> None:
    dry, damp = board_time(plan, Room(20.0, 0.2)), board_time(plan, Room(20.0, rh))
    assert damp.painting == dry.painting
    assert damp.mixing == dry.mixing
    assert _no_less(dry.waiting, damp.waiting)


@given(plan=plans)
def test_no_layer_is_waited_for_longer_than_its_wettest_wash(plan: list[LayerWork]) -> None:
    for layer, time in zip(plan, board_time(plan).layers, strict=True):
        longest = max(drying_of(w.technique, Room()).dry.high for w in layer.washes)
        last = drying_of(layer.washes[-1].technique, Room()).dry
        assert time.dry_after.high <= longest + 1e-9
        assert _no_less(last, time.dry_after)


def test_the_first_wash_dries_while_others_are_painted() -> None:
    wet = WashWork(5000.0, 1, 100.0, 0.0, "wet-in-wet", "A")
    touches = WashWork(400.0, 100, 40_000.0, 0.0, "touch", "B")  # half an hour of detail
    ends = LayerWork((touches,))
    late = board_time([LayerWork((touches, wet)), ends]).layers[0].waiting
    early = board_time([LayerWork((wet, touches)), ends]).layers[0].waiting
    whole = drying_of("wet-in-wet", Room()).dry
    passed = wash_minutes(touches).mid + 0.25  # and the test stroke before it
    assert late == whole
    assert early.mid == pytest.approx(whole.mid - passed)


def test_a_puddle_known_from_an_earlier_layer_is_only_stirred() -> None:
    a, b = (WashWork(5000.0, 1, 100.0, 0.0, "glaze", name) for name in "AB")
    same = board_time([LayerWork((a,)), LayerWork((a,))]).mixing
    new = board_time([LayerWork((a,)), LayerWork((b,))]).mixing
    once = board_time([LayerWork((a, a))]).mixing
    two = board_time([LayerWork((a, b))]).mixing
    assert same.mid < new.mid
    assert once.mid < two.mid


def test_pauses_inside_a_layer_are_waiting() -> None:
    layer = LayerWork((WashWork(5000.0, 1, 100.0, 0.0, "glaze", "A"),), Range(2.0, 5.0, 9.0))
    time = board_time([layer])
    assert time.waiting == Range(2.0, 5.0, 9.0)


def test_in_saturated_air_no_second_layer_is_painted() -> None:
    time = board_time(plan_of(FIFTEEN), Room(20.0, 1.0))
    assert math.isinf(time.total.low)
    assert math.isfinite(time.painting.high)
    assert layer_fits(time, 1e6) == 1


def test_heavy_paper_waits_longer() -> None:
    light, heavy = (board_time(plan_of(FIFTEEN), None, w).waiting for w in (190.0, 640.0))
    assert light.mid < heavy.mid


@given(plan=plans, minutes=st.floats(0.0, 1000.0), more=st.floats(0.0, 1000.0))
def test_more_time_fits_no_fewer_layers(plan: list[LayerWork], minutes: float, more: float) -> None:
    time = board_time(plan)
    assert layer_fits(time, minutes) <= layer_fits(time, minutes + more) <= len(plan)
    assert layer_fits(time, time.total.mid) == len(plan)


def test_the_wait_after_the_last_layer_that_fits_is_not_counted() -> None:
    time = board_time(plan_of(FIFTEEN))
    first = time.layers[0]
    work = first.mixing.mid + first.painting.mid
    assert layer_fits(time, work) == 1
    assert work == pytest.approx(first.busy.mid)
    assert layer_fits(time, work - 0.1) == 0
    assert layer_fits(time, first.total.mid) == 1


# --- hostile input -----------------------------------------------------------------


@pytest.mark.parametrize(
    "change",
    [
        {"area_mm2": 0.0},
        {"area_mm2": math.nan},
        {"areas": 0},
        {"hard_mm": -1.0},
        {"soft_mm": math.inf},
        {"technique": "spray"},
        {"width_mm": 0.0},
    ],
)
def test_impossible_washes_are_refused(change: dict[str, object]) -> None:
    with pytest.raises(RequestError):
        replace(WashWork(5000.0, 1, 100.0, 0.0, "glaze", "A"), **change)


def test_an_empty_layer_is_refused_and_an_empty_plan_takes_no_time() -> None:
    with pytest.raises(RequestError, match="at least one wash"):
        LayerWork(())
    assert board_time([]) == BoardTime(())
    assert board_time([]).total == NOTHING
