"""One paint more: found where one is missing, silent where none would help."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from firstwash.handout.choices import one_more
from firstwash.handout.reasons import NO_PAINT_MORE, more_details, more_words
from firstwash.paints.catalogue import all_paints, paint
from firstwash.picture.reference import Reference
from firstwash.plan.one_more import LEAST, PaintMore, paints_more
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.plan.say import full_coat_step

OWNED = tuple(paint(k) for k in ("PR255", "PB29", "PG7"))  # nothing yellow


@pytest.fixture(scope="module")
def flower(on_sheet: Callable[..., Reference]) -> Reference:
    return on_sheet("flower", "12x18cm")


@pytest.fixture(scope="module")
def plan(flower: Reference) -> Plan:
    return make_plan(flower, OWNED, Limits(layers=2, paints=3, puddles=6, washes=20, shapes=30))


@pytest.fixture(scope="module")
def found(plan: Plan, flower: Reference) -> tuple[PaintMore, ...]:
    return paints_more(plan, flower, OWNED, all_paints())


def test_the_paint_that_is_missing_is_found(found: tuple[PaintMore, ...]) -> None:
    assert len(found) == 3
    gains = [m.before - m.after for m in found]
    assert gains == sorted(gains, reverse=True)
    assert gains[0] > 1.0  # without a yellow the leaves and the heart are far off
    assert gains[-1] >= LEAST
    owned = {p.key for p in OWNED}
    assert all(m.paint.key not in owned for m in found)
    assert all(not p.startswith(("PBk", "PW")) for m in found for p in m.paint.pigments)
    for m in found:
        assert more_words(m).startswith(m.paint.name[0].upper() + m.paint.name[1:])
        assert "much closer" in more_words(m) or "clearly closer" in more_words(m)
        assert f"{m.before:.2f} → {m.after:.2f}" in more_details(m)


def test_a_full_palette_gives_a_paint_up_for_it(found: tuple[PaintMore, ...]) -> None:
    assert all(len(m.instead_of) == 1 for m in found)  # three paints, all on the palette
    assert all(m.instead_of[0] in OWNED for m in found)


def test_where_there_is_room_nothing_is_given_up(plan: Plan, flower: Reference) -> None:
    roomy = replace(plan, limits=replace(plan.limits, paints=4))
    first = paints_more(roomy, flower, OWNED, all_paints(), most=1)[0]
    assert first.instead_of == ()
    assert first.paint.pigments[0].startswith("PY")
    assert "beside those on the palette" in more_words(first)


def test_what_is_banned_owned_or_absent_is_not_told(plan: Plan, flower: Reference) -> None:
    assert paints_more(plan, flower, OWNED, OWNED) == ()
    assert paints_more(plan, flower, OWNED, ()) == ()
    best = paints_more(plan, flower, OWNED, all_paints(), most=1)[0].paint
    for word in (best.key, best.name):
        banned = replace(plan, limits=replace(plan.limits, ban=(word,)))
        again = paints_more(banned, flower, OWNED, all_paints(), most=3)
        assert best.key not in {m.paint.key for m in again}
    pale = replace(plan, limits=replace(plan.limits, darkest_step=4))
    found = paints_more(pale, flower, (OWNED[0],), all_paints(), most=40)
    assert found
    assert all(full_coat_step(m.paint, plan.paper) >= 4 for m in found)


def test_a_paint_of_which_little_is_allowed_counts_for_little(
    plan: Plan, flower: Reference
) -> None:
    limits = replace(plan.limits, caps=(("PG7", 0.1),))
    free, capped = (
        paints_more(p, flower, OWNED, all_paints(), most=1)[0]
        for p in (plan, replace(plan, limits=limits))
    )
    assert capped.before > free.before


def test_the_page_says_when_none_would_help(found: tuple[PaintMore, ...]) -> None:
    assert NO_PAINT_MORE in one_more(())
    page = one_more(found)
    assert page.count("<li>") == len(found)
    assert page.count("The numbers") == len(found)
    assert "Read the label" in page
