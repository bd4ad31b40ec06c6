"""The painter's say: bans, preferences, shares and darks, alone and in whole plans."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from firstwash.errors import PaintError, RequestError
from firstwash.paints.catalogue import Paint, default_paper, load_set, paint
from firstwash.picture.reference import Reference, with_background
from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.plan.say import Say, full_coat_step, heard

STARTER = load_set("starter").paints
PAPER = default_paper()
FEW = Limits(puddles=6, shapes=40)


def say(owned: tuple[Paint, ...] = STARTER, **asked: object) -> Say:
    return heard(owned, replace(FEW, **asked), PAPER)


def refused(owned: tuple[Paint, ...] = STARTER, **asked: object) -> str:
    with pytest.raises(RequestError) as error:
        say(owned, **asked)
    text = str(error.value)
    assert text.endswith(".")
    assert "\n" not in text
    return text


def keys(said: Say) -> list[str]:
    return [p.key for p in said.paints]


# --- what is heard ---------------------------------------------------------------


def test_nothing_said_leaves_everything() -> None:
    said = say()
    assert said.paints == STARTER
    assert said.must == ()
    assert said.notes == ()
    assert (said.shares == 1.0).all()


def test_banned_paints_go_and_are_told() -> None:
    said = say(ban=("PB29", "pg7", " PY154 "))
    assert set(keys(said)) == {p.key for p in STARTER} - {"PB29", "PG7", "PY154"}
    assert len(said.notes) == 1
    assert said.notes[0].startswith("Left out, as you asked: ")
    assert paint("PB29").name in said.notes[0]


def test_paints_may_be_called_by_name() -> None:
    name = paint("PB29").name
    assert "PB29" not in keys(say(ban=(name.upper(),)))


def test_banning_what_is_not_owned_is_no_mistake() -> None:
    assert say(ban=("PR83",)).paints == STARTER


def test_preferred_paints_are_marked_and_missing_ones_told() -> None:
    said = say(prefer=("PG7", "PB29", "PR83"))
    assert {said.paints[i].key for i in said.must} == {"PB29", "PG7"}
    assert list(said.must) == sorted(said.must)
    assert said.notes == ("You prefer PR83, not among your paints.",)


def test_a_preferred_black_is_allowed_without_allowing_all() -> None:
    mine = load_set("measured-all").paints
    black = next(p for p in mine if p.pigments and p.pigments[0].startswith("PBk"))
    said = say(mine, prefer=(black.key,))
    assert black in said.paints
    assert not any(n.startswith("PW") for p in said.paints for n in p.pigments)
    assert any("whites are paper" in note for note in said.notes)


def test_shares_belong_to_their_paints() -> None:
    said = say(caps=(("PB29", 0.4), ("PY150", 0.25), ("PR83", 0.1)))
    told = dict(zip(keys(said), said.shares.tolist(), strict=True))
    assert told["PB29"] == 0.4
    assert told["PY150"] == 0.25
    assert sum(s < 1.0 for s in told.values()) == 2
    assert "40%" in said.notes[0]


def test_where_a_puddle_holds_one_paint_a_limited_one_cannot_be_used() -> None:
    said = say(caps=(("PB29", 0.4),), paints_per_puddle=1)
    assert "PB29" not in keys(said)
    assert len(said.paints) == len(said.shares)
    assert any("puddle of one paint" in note for note in said.notes)


@pytest.mark.parametrize("step", range(1, 6))
def test_paints_that_alone_are_too_dark_go(step: int) -> None:
    said = say(darkest_step=step)
    for one in STARTER:
        lab = Bench.of([one], PAPER).labs(np.array([[one.full_coat]]))[1]
        assert full_coat_step(one, PAPER) == value_step(lab[0])
        assert (one in said.paints) == (value_step(lab[0]) >= step)
    assert (len(said.paints) < len(STARTER)) == bool(said.notes)


# --- what is refused -------------------------------------------------------------


@pytest.mark.parametrize("how", ["ban", "prefer", "caps"])
def test_an_unknown_paint_is_named_with_its_neighbours(how: str) -> None:
    text = refused(**{how: (("PB92", 0.5),) if how == "caps" else ("PB92",)})
    assert "“PB92”" in text
    assert "PB29" in text


def test_a_word_like_nothing_else_gets_advice() -> None:
    assert "firstwash paints" in refused(ban=("%%%%",))


def test_contradictions_are_refused() -> None:
    assert "both banned and preferred" in refused(ban=("PB29",), prefer=(paint("PB29").name,))
    assert "twice" in refused(ban=("PB29", "pb29"))
    assert "prefer fewer" in refused(prefer=("PB29", "PG7", "PY154"), paints=2)
    assert "dries darker than value step 4" in refused(prefer=("PB60",), darkest_step=4)


def test_nothing_left_is_refused() -> None:
    assert "Nothing is left" in refused(ban=tuple(p.key for p in STARTER))
    assert "darker value step" in refused(darkest_step=10)
    with pytest.raises(PaintError, match="no paint"):
        heard((), FEW, PAPER)


def test_everything_limited_is_refused() -> None:
    assert "leave at least one" in refused(caps=tuple((p.key, 0.5) for p in STARTER))
    some = (("PB29", 0.5), ("PG7", 0.5))
    assert "without a limit" in refused(prefer=("PB29", "PG7"), caps=some, paints=2)


# --- whole plans -----------------------------------------------------------------


@pytest.fixture(scope="module")
def small(on_sheet: Callable[..., Reference]) -> Reference:
    return on_sheet("coffee", "6x9cm")


@pytest.fixture(scope="module")
def plain(small: Reference) -> Plan:
    return make_plan(small, STARTER, FEW)


def test_a_banned_paint_is_not_in_the_plan(small: Reference, plain: Plan) -> None:
    gone = plain.paints[0].key
    plan = make_plan(small, STARTER, replace(FEW, ban=(gone,)))
    assert gone not in {p.key for p in plan.paints}
    assert len(plan.paints) == 6
    assert any(n.startswith("Left out, as you asked") for n in plan.notes)


def test_preferred_paints_are_on_the_palette(small: Reference, plain: Plan) -> None:
    wanted = [p.key for p in STARTER if p.key not in {q.key for q in plain.paints}][:3]
    plan = make_plan(small, STARTER, replace(FEW, prefer=tuple(wanted)))
    assert set(wanted) <= {p.key for p in plan.paints}
    assert len(plan.paints) == 6
    used = {plan.paints[i].key for q in plan.puddles for i, _ in q.parts}
    for one in plan.paints:
        if one.key in wanted and one.key not in used:
            assert any(one.name in n and "no puddle needs it" in n for n in plan.notes)


def test_only_preferred_paints_where_the_palette_has_no_more_room(small: Reference) -> None:
    plan = make_plan(small, STARTER, replace(FEW, prefer=("PY154", "PB29"), paints=2))
    assert [p.key for p in plan.paints] == ["PY154", "PB29"]


@pytest.mark.parametrize("puddles", [6, None])
@pytest.mark.parametrize("per_puddle", [2, 3])
def test_no_puddle_holds_more_than_the_largest_share(
    small: Reference, plain: Plan, puddles: int | None, per_puddle: int
) -> None:
    limited = {p.key: 0.35 for p in plain.paints[:4]}
    asked = replace(
        FEW, puddles=puddles, paints_per_puddle=per_puddle, caps=tuple(limited.items()), washes=40
    )
    plan = make_plan(small, plain.paints, asked)
    seen = 0
    for puddle in plan.puddles:
        loads = {plan.paints[i].key: a / plan.paints[i].full_coat for i, a in puddle.parts}
        for key, load in loads.items():
            if key in limited:
                seen += 1
                assert load <= 0.35 * sum(loads.values()) * (1 + 1e-9)
        assert len(loads) <= per_puddle
    assert seen  # else nothing was tested
    # It costs something, but the picture stays: the worst seen is a rise of about one.
    assert plan.report.against_target.mean < plain.report.against_target.mean + 3.0


def test_where_all_chosen_paints_are_limited_one_that_is_free_joins(
    small: Reference, plain: Plan
) -> None:
    limited = tuple((p.key, 0.5) for p in plain.paints)
    plan = make_plan(small, STARTER, replace(FEW, caps=limited))
    assert len(plan.paints) == 6
    assert {p.key for p in plan.paints} - {k for k, _ in limited}


def test_a_graded_wash_keeps_shares_too(small: Reference) -> None:
    mask = np.zeros(small.xyz.shape[:2], dtype=np.float32)
    mask[:, : mask.shape[1] // 2] = 1.0
    edited = with_background(small, mask, "graded", Bench.of([], PAPER).white_xyz())
    free = make_plan(edited, STARTER, FEW)
    most = max(free.puddles[0].parts, key=lambda part: part[1])[0]
    key = free.paints[most].key
    plan = make_plan(edited, free.paints, replace(FEW, caps=((key, 0.2),)))
    loads = {plan.paints[i].key: a / plan.paints[i].full_coat for i, a in plan.puddles[0].parts}
    assert any(w.kind == "graded wash" and w.puddle == 0 for w in plan.washes)
    assert loads.get(key, 0.0) <= 0.2 * sum(loads.values()) * (1 + 1e-9)
    assert len(loads) <= 3


def test_darks_are_mixed_where_no_single_paint_is_dark(small: Reference) -> None:
    plan = make_plan(small, STARTER, replace(FEW, darkest_step=4))
    assert all(full_coat_step(p, PAPER) >= 4 for p in plan.paints)
    areas = plan.cells.areas_mm2()
    order = np.argsort(plan.stage_labs[-1][:, 0])
    dark = order[: int(np.searchsorted(np.cumsum(areas[order]), 0.05 * areas.sum())) + 1]
    for cell in dark:
        parts = {p for _, q, _ in plan.coats[cell] for p, _ in plan.puddles[q].parts}
        assert len({n for p in parts for n in plan.paints[p].pigments}) >= 2
    assert any("alone they dry darker than value step 4" in n for n in plan.notes)
