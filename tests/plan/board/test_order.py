"""Order inside a layer: everything once, soft together, hard apart, and little waiting."""

import itertools
import math
import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.plan.board.order import (
    Border,
    Item,
    Paint,
    Reason,
    Step,
    Wait,
    order_layer,
    waiting_minutes,
)
from firstwash.plan.board.practice import TECHNIQUES

KINDS = ("hard", "soft", "lost")


@st.composite
def layers(draw: st.DrawFn, most: int = 9) -> tuple[list[Item], list[Border]]:
    """Up to nine washes with any borders between them."""
    count = draw(st.integers(1, most))
    items = [
        Item(
            id=i,
            lightness=draw(st.floats(5.0, 95.0)),
            area_mm2=draw(st.floats(5.0, 3e4)),
            technique=draw(st.sampled_from(TECHNIQUES)),
            paint_minutes=draw(st.floats(0.0, 4.0)),
            wet_minutes=draw(st.floats(0.5, 15.0)),
        )
        for i in range(count)
    ]
    borders = [
        Border(a, b, draw(st.sampled_from(KINDS)), draw(st.floats(0.0, 100.0)))
        for a, b in itertools.combinations(range(count), 2)
        if draw(st.integers(0, 3)) == 0
    ]
    return items, borders


def only_hard(layer: tuple[list[Item], list[Border]]) -> tuple[list[Item], list[Border]]:
    items, borders = layer
    return items, [replace(b, kind="hard") for b in borders]


def laid(steps: tuple[Step, ...]) -> list[int]:
    return [i for step in steps if isinstance(step, Paint) for i in step.ids]


def groups(items: list[Item], borders: list[Border]) -> list[set[int]]:
    """Sets linked by soft or lost borders: written anew, not as the module does it."""
    out = [{item.id} for item in items]
    for border in borders:
        if border.kind != "hard":
            a, b = (next(g for g in out if i in g) for i in (border.first, border.second))
            if a is not b:
                out.remove(b)
                a |= b
    return out


def replay(
    steps: tuple[Step, ...], items: list[Item], borders: list[Border]
) -> list[tuple[int, int, float]]:
    """Hard neighbours in the order they are laid, and minutes between dry and laid (≥ 0: good)."""
    by_id = {item.id: item for item in items}
    hard = {frozenset((b.first, b.second)) for b in borders if b.kind == "hard"}
    now, dry_at, out = 0.0, {}, []
    for step in steps:
        if isinstance(step, Wait):
            now += step.minutes
            continue
        for i in step.ids:
            out += [(j, i, now - t) for j, t in dry_at.items() if frozenset((i, j)) in hard]
            now += by_id[i].paint_minutes
            dry_at[i] = now + by_id[i].wet_minutes
    return out


# --- rules that always hold ----------------------------------------------------------


@given(layer=layers())
def test_every_wash_is_laid_once(layer: tuple[list[Item], list[Border]]) -> None:
    items, borders = layer
    assert sorted(laid(order_layer(items, borders))) == [item.id for item in items]


@given(layer=layers())
def test_soft_neighbours_are_laid_one_after_the_other(
    layer: tuple[list[Item], list[Border]],
) -> None:
    items, borders = layer
    order = laid(order_layer(items, borders))
    for group in groups(items, borders):
        places = sorted(order.index(i) for i in group)
        assert places == list(range(places[0], places[0] + len(group)))


@given(layer=layers())
def test_each_wash_of_a_group_meets_one_that_is_wet(
    layer: tuple[list[Item], list[Border]],
) -> None:
    items, borders = layer
    soft = {frozenset((b.first, b.second)) for b in borders if b.kind != "hard"}
    order = laid(order_layer(items, borders))
    for group in groups(items, borders):
        members = [i for i in order if i in group]
        for k, i in enumerate(members[1:], 1):
            assert any(frozenset((i, j)) in soft for j in members[:k])


@given(layer=layers())
def test_no_wash_is_laid_against_a_wet_one_along_a_hard_border(
    layer: tuple[list[Item], list[Border]],
) -> None:
    items, borders = layer
    steps = order_layer(items, borders)
    for _, _, early in replay(steps, items, borders):
        assert early >= -1e-5  # a wait of less than a millionth of a minute is left out


@given(layer=layers())
def test_no_two_hard_neighbours_are_adjacent_without_a_wait(
    layer: tuple[list[Item], list[Border]],
) -> None:
    items, borders = layer
    hard = {frozenset((b.first, b.second)) for b in borders if b.kind == "hard"}
    steps = order_layer(items, borders)
    flat = [x for s in steps for x in ([s] if isinstance(s, Wait) else s.ids)]
    for a, b in itertools.pairwise(flat):
        if isinstance(a, int) and isinstance(b, int):
            assert frozenset((a, b)) not in hard


@given(layer=layers())
def test_waits_name_wet_hard_neighbours_of_what_follows(
    layer: tuple[list[Item], list[Border]],
) -> None:
    items, borders = layer
    hard = {frozenset((b.first, b.second)) for b in borders if b.kind == "hard"}
    steps = order_layer(items, borders)
    whole = {i: g for g in groups(items, borders) for i in g}
    for k, step in enumerate(steps):
        if isinstance(step, Wait):
            after = steps[k + 1]
            assert step.minutes > 0.0
            assert step.reason is Reason.STILL_WET
            assert isinstance(after, Paint)
            assert step.before == after.ids or step.before == after.ids[:1]
            assert step.until
            for j in step.until:
                assert j in laid(steps[:k])
                assert any(frozenset((i, j)) in hard for i in whole[after.ids[0]])


@given(layer=layers(), seed=st.integers(0, 100))
def test_the_order_of_the_input_does_not_matter(
    layer: tuple[list[Item], list[Border]], seed: int
) -> None:
    items, borders = layer
    shuffled = random.Random(seed)
    again, mixed = items.copy(), [replace(b, first=b.second, second=b.first) for b in borders]
    shuffled.shuffle(again)
    shuffled.shuffle(mixed)
    assert order_layer(again, mixed) == order_layer(items, borders)


@given(layer=layers())
def test_details_come_last(layer: tuple[list[Item], list[Border]]) -> None:
    items, _ = layer
    by_id = {item.id: item for item in items}
    stage = [
        {"touch": 2, "dry-brush": 1}.get(by_id[i].technique, 0) for i in laid(order_layer(items))
    ]
    assert stage == sorted(stage)


# --- waiting -------------------------------------------------------------------------


def least_wait(items: list[Item], borders: list[Border]) -> float:
    """The least waiting over all orders that keep the stages."""
    stage = {i.id: {"touch": 2, "dry-brush": 1}.get(i.technique, 0) for i in items}
    best = math.inf
    for order in itertools.permutations(items):
        if [stage[i.id] for i in order] != sorted(stage.values()):
            continue
        best = min(best, _wait_of(order, borders, best))
    return best


def _wait_of(order: tuple[Item, ...], borders: list[Border], enough: float) -> float:
    hard = {frozenset((b.first, b.second)) for b in borders}
    now, waited, dry_at = 0.0, 0.0, {}
    for item in order:
        ready = max((t for j, t in dry_at.items() if frozenset((item.id, j)) in hard), default=0.0)
        waited += max(ready - now, 0.0)
        if waited >= enough:
            return waited
        now = max(now, ready) + item.paint_minutes
        dry_at[item.id] = now + item.wet_minutes
    return waited


@given(layer=layers(6).map(only_hard))
def test_no_order_waits_less_than_the_least(layer: tuple[list[Item], list[Border]]) -> None:
    items, borders = layer
    assert waiting_minutes(order_layer(items, borders)) >= least_wait(items, borders) - 1e-5


def test_waiting_is_near_the_least_there_can_be() -> None:
    # Forty layers of six washes, a third of all pairs hard neighbours. The painter's own order,
    # large before small, waits three times as long as the best; ours a sixth longer at most.
    chance = random.Random(11)
    ours = best = naive = 0.0
    for _ in range(40):
        items = [
            Item(
                i,
                chance.uniform(20, 95),
                chance.uniform(50, 20_000),
                paint_minutes=chance.uniform(0.5, 3),
                wet_minutes=chance.uniform(3, 12),
            )
            for i in range(6)
        ]
        pairs = itertools.combinations(range(6), 2)
        borders = [Border(a, b, "hard") for a, b in pairs if chance.random() < 0.35]
        best += least_wait(items, borders)
        ours += waiting_minutes(order_layer(items, borders))
        plain = laid(order_layer(items))
        naive += _wait_of(tuple(items[i] for i in plain), borders, math.inf)
    assert naive > 2.5 * best
    assert ours <= 7 / 6 * best


def test_neighbours_are_spread_when_there_is_time() -> None:
    # A ring of twelve washes, each hard against the next; two minutes each, wet for three. Large
    # before small would walk round the ring and wait at every step.
    items = [Item(i, 60.0, 9000.0, paint_minutes=2.0, wet_minutes=3.0) for i in range(12)]
    borders = [Border(i, (i + 1) % 12, "hard") for i in range(12)]
    steps = order_layer(items, borders)
    assert waiting_minutes(steps) == 0.0
    order = laid(steps)
    apart = [abs(order.index(i) - order.index((i + 1) % 12)) for i in range(12)]
    assert min(apart) >= 3


def test_two_alone_must_wait_for_each_other() -> None:
    items = [Item(1, 80.0, 9000.0, wet_minutes=8.0), Item(2, 30.0, 9000.0, wet_minutes=8.0)]
    steps = order_layer(items, [Border(1, 2, "hard", 40.0)])
    assert steps == (
        Paint((1,), Reason.LIGHT_FIRST, (2,)),
        Wait(8.0, (1,), (2,)),
        Paint((2,), Reason.LAST),
    )


def test_another_wash_fills_the_wait() -> None:
    items = [
        Item(1, 80.0, 9000.0, wet_minutes=4.0),
        Item(2, 70.0, 9000.0, wet_minutes=4.0),
        Item(3, 30.0, 500.0, paint_minutes=5.0),
    ]
    steps = order_layer(items, [Border(1, 2, "hard", 40.0)])
    assert laid(steps) == [1, 3, 2]
    assert waiting_minutes(steps) == 0.0
    assert steps[1] == Paint((3,), Reason.WHILE_OTHERS_DRY, (1,))


def test_many_washes_are_ordered_too() -> None:
    chance = random.Random(7)
    items = [Item(i, chance.uniform(20, 90), chance.uniform(50, 2e4)) for i in range(80)]
    borders = [Border(i, i + 1, chance.choice(KINDS[:2])) for i in range(79)]
    steps = order_layer(items, borders)
    assert sorted(laid(steps)) == list(range(80))
    assert all(early >= -1e-5 for _, _, early in replay(steps, items, borders))


# --- preferences ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "second", "reason"),
    [
        (Item(2, 40, 100, "wet-in-wet"), Item(1, 90, 9e4), Reason.WETTEST_FIRST),
        (Item(2, 40, 9e4), Item(1, 90, 5e3), Reason.LARGE_FIRST),
        (Item(2, 90, 6e3), Item(1, 40, 9e3), Reason.LIGHT_FIRST),
        (Item(2, 60, 9e3, box=(9, 0, 10, 9)), Item(1, 60, 9e3, box=(0, 5, 9, 9)), Reason.TOP_FIRST),
        (Item(2, 60, 9e3, box=(0, 5, 9, 9)), Item(1, 60, 9e3, box=(9, 5, 10, 9)), Reason.TOP_FIRST),
        (Item(2, 20, 10), Item(1, 95, 5e4, "dry-brush"), Reason.BEFORE_DETAIL),
        (Item(2, 20, 10, "dry-brush"), Item(1, 95, 5e4, "touch"), Reason.BEFORE_DETAIL),
        (Item(1, 60, 9e3), Item(2, 60, 9e3), Reason.BY_NUMBER),
    ],
)
def test_what_comes_first_and_why(first: Item, second: Item, reason: Reason) -> None:
    steps = order_layer([second, first])
    assert laid(steps) == [first.id, second.id]
    assert steps[0] == Paint((first.id,), reason, (second.id,))
    last = Reason.DETAIL_LAST if second.technique in ("dry-brush", "touch") else Reason.LAST
    assert steps[1] == Paint((second.id,), last)


def test_a_chain_of_soft_borders_is_walked_along() -> None:
    items = [Item(i, 50.0, 5000.0 - i) for i in range(5)]
    borders = [Border(a, b, "soft") for a, b in ((0, 3), (3, 1), (1, 4), (4, 2))]
    (step,) = order_layer(items, borders)
    assert isinstance(step, Paint)
    assert step.reason is Reason.WET_TOGETHER
    assert step.because == step.ids == (0, 3, 1, 4, 2)


def test_the_longer_border_decides() -> None:
    items = [Item(1, 80.0, 9000.0), Item(2, 70.0, 9000.0)]
    mostly_soft = [Border(1, 2, "hard", 10.0), Border(2, 1, "lost", 6.0), Border(1, 2, "soft", 6.0)]
    mostly_hard = [Border(1, 2, "hard", 10.0), Border(2, 1, "lost", 6.0)]
    assert len(order_layer(items, mostly_soft)) == 1
    assert len(order_layer(items, mostly_hard)) == 3


def test_a_hard_border_inside_a_group_is_kept_apart_if_it_can_be() -> None:
    # 1-2-3 and 3-4 soft, 1 and 3 hard: 2 and 4 come between them, as long as they dry in time.
    items = [Item(i, 50.0, 9000.0, wet_minutes=0.5) for i in (1, 2, 3)]
    borders = [Border(1, 2, "soft"), Border(2, 3, "soft"), Border(1, 3, "hard")]
    (step,) = order_layer(items, borders)
    assert isinstance(step, Paint)
    assert step.ids == (1, 2, 3)


def test_where_soft_and_hard_cannot_both_be_had_the_order_says_so() -> None:
    items = [Item(i, 50.0, 9000.0, wet_minutes=8.0) for i in (1, 2, 3)]
    borders = [Border(1, 2, "soft"), Border(2, 3, "soft"), Border(1, 3, "hard")]
    steps = order_layer(items, borders)
    assert steps == (
        Paint((1, 2), Reason.PARTED, (1, 2, 3)),
        Wait(7.0, (1,), (3,)),
        Paint((3,), Reason.PARTED, (1, 2, 3)),
    )


def test_no_washes_no_steps() -> None:
    assert order_layer([]) == ()


@given(layer=layers())
def test_every_reason_speaks_of_the_right_washes(
    layer: tuple[list[Item], list[Border]],
) -> None:
    items, borders = layer
    steps = order_layer(items, borders)
    for k, step in enumerate(steps):
        if isinstance(step, Wait):
            continue
        before, after = set(laid(steps[:k])), set(laid(steps[k + 1 :]))
        if step.reason is Reason.WHILE_OTHERS_DRY:
            assert step.because
            assert set(step.because) <= before
        elif step.reason in (Reason.WET_TOGETHER, Reason.PARTED):
            assert set(step.ids) <= set(step.because)
        elif step.because:
            assert set(step.because) <= after
        else:
            assert not after


# --- words ---------------------------------------------------------------------------


# --- hostile input -------------------------------------------------------------------


@pytest.mark.parametrize(
    "change",
    [
        {"lightness": 101.0},
        {"area_mm2": math.nan},
        {"technique": "spray"},
        {"paint_minutes": -1.0},
        {"wet_minutes": 0.0},
        {"wet_minutes": math.inf},
        {"box": (5.0, 0.0, 1.0, 9.0)},
        {"box": (0.0, math.nan, 1.0, 9.0)},
    ],
)
def test_impossible_items_are_refused(change: dict[str, object]) -> None:
    with pytest.raises(RequestError):
        replace(Item(1, 50.0, 100.0), **change)


@pytest.mark.parametrize(
    ("border", "message"),
    [
        ((1, 1, "hard", 1.0), "cannot border on itself"),
        ((1, 2, "fuzzy", 1.0), "hard, soft or lost"),
        ((1, 2, "hard", -1.0), "length of a border"),
    ],
)
def test_impossible_borders_are_refused(border: tuple[int, int, str, float], message: str) -> None:
    with pytest.raises(RequestError, match=message):
        Border(*border)  # type: ignore[arg-type]


def test_unknown_and_double_ids_are_refused() -> None:
    with pytest.raises(RequestError, match="names wash 9"):
        order_layer([Item(1, 50.0, 100.0)], [Border(1, 9, "hard")])
    with pytest.raises(RequestError, match="same id"):
        order_layer([Item(1, 50.0, 100.0), Item(1, 60.0, 100.0)])
