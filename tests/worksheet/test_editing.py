"""A finished plan changed by hand: one accepted change each, undone by one step back."""

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from tests.worksheet.small import (
    accepted,
    by_size,
    copied,
    history,
    middle,
    refused,
    studio_in,
    the_cup,
)

from firstwash.errors import Overtaken
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.wash import Wash
from firstwash.worksheet.brief import Kept
from firstwash.worksheet.editing import kept_more, recoloured, strengthened, swapped
from firstwash.worksheet.laying import lab_of_hex
from firstwash.worksheet.other_mixtures import largest_cell
from firstwash.worksheet.spot import alternatives_at
from firstwash.worksheet.strength import moved_stages
from firstwash.worksheet.studio import Looked, Studio


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    made = studio_in(copied(tmp_path))
    yield made
    made.store.close()


def washes(studio: Studio) -> list[Wash]:
    """Plain washes, the largest first."""
    plan = studio.desk(the_cup(studio).brief).plan
    own = [w for w in plan.washes if w.kind != "graded wash"]
    return sorted(own, key=lambda w: -w.area_mm2)


def key_of(wash: Wash) -> tuple[int, int]:
    return wash.layer, wash.number


# --- strength --------------------------------------------------------------------------------


@pytest.mark.parametrize("refit", [False, True])
def test_a_wash_laid_weaker(studio: Studio, refit: bool) -> None:
    before, wash = the_cup(studio), washes(studio)[0]
    weaker = 0.7 * wash.strength
    after = accepted(
        studio, before, lambda p, b: strengthened(studio, p, b, key_of(wash), weaker, refit)
    )
    assert history(studio, before.id)[-1] == (
        f"Laid wash {wash.layer}.{wash.number} stronger or weaker"
    )
    old, new = studio.desk(before.brief).plan, studio.desk(after.brief).plan
    cells = list(wash.cells)
    assert new.stage_labs[wash.layer, cells, 0].mean() > old.stage_labs[wash.layer, cells, 0].mean()
    others = np.setdiff1d(np.arange(old.cells.count), cells)
    if not refit:
        np.testing.assert_allclose(new.stage_labs[:, others], old.stage_labs[:, others], atol=1e-6)
    assert after.brief.plan is not None
    assert not after.brief.plan.judged
    assert after.brief.drawing == before.brief.drawing
    assert not after.brief.is_stale


def test_what_is_accepted_is_what_the_slider_showed(studio: Studio) -> None:
    before, wash = the_cup(studio), washes(studio)[1]
    strength = 0.8 * wash.strength
    shown = moved_stages(studio.desk(before.brief).plan, key_of(wash), strength)
    after = strengthened(studio, before.id, before.revision, key_of(wash), strength, False)
    new = studio.desk(after.brief).plan
    np.testing.assert_allclose(
        new.stage_labs[:, list(wash.cells)].transpose(1, 0, 2), shown, atol=1e-9
    )


@pytest.mark.parametrize("strength", [0.0, -1.0, 1.5, math.nan, math.inf])
def test_a_strength_that_is_none_is_refused(studio: Studio, strength: float) -> None:
    before, wash = the_cup(studio), washes(studio)[0]
    refused(studio, before, lambda p, b: strengthened(studio, p, b, key_of(wash), strength, False))


def test_a_wash_that_is_not_there_is_refused(studio: Studio) -> None:
    for key in ((1, 99), (0, 1), (8, 1), (-1, -1), (10**30, 1)):
        refused(
            studio, the_cup(studio), lambda p, b, k=key: strengthened(studio, p, b, k, 0.3, False)
        )


# --- another puddle --------------------------------------------------------------------------


def test_a_wash_out_of_a_puddle_that_is_there(studio: Studio) -> None:
    before, wash = the_cup(studio), washes(studio)[-1]
    plan = studio.desk(before.brief).plan
    dark = min(plan.puddles, key=lambda p: p.wet[0]).name
    after = accepted(studio, before, lambda p, b: swapped(studio, p, b, key_of(wash), dark, None))
    new = studio.desk(after.brief).plan
    laid = {new.puddles[q].name for c in wash.cells for n, q, _ in new.coats[c] if n == wash.layer}
    assert laid == {dark}


def test_what_is_offered_can_be_taken_and_shows_what_was_promised(studio: Studio) -> None:
    before, wash = the_cup(studio), washes(studio)[0]
    plan = studio.desk(before.brief).plan
    offered = alternatives_at(plan, wash.layer, wash.number)
    assert offered
    where = largest_cell(plan, wash)
    for one in offered:
        now = the_cup(studio)
        after = accepted(
            studio,
            now,
            lambda p, b, o=one: swapped(studio, p, b, key_of(wash), o.parts, o.strength),
        )
        new = studio.desk(after.brief).plan
        (laid,) = {q for n, q, _ in new.coats[where] if n == wash.layer}
        assert {new.paints[p].key for p, _ in new.puddles[laid].parts} == {
            p.key for p in one.paints
        }
        shown = lab_of_hex(one.end.hex)
        # Half a code of the screen's, and the mixture's shares as they were told.
        assert float(delta_e_2000(new.stage_labs[-1, where], shown)) < 1.0
        studio.store.step_back(after.id, after.revision)


@pytest.mark.parametrize(
    "mixture",
    [
        "",
        "Z",
        "☃" * 50,
        {},
        {"PB29": 0.0},
        {"PB29": -1.0},
        {"PB29": math.nan},
        {"PB29": math.inf},
        {"no such paint": 1.0},
        {"PB29": 1e308, "PR255": 1e308},
        {f"P{i}": 1.0 for i in range(500)},
    ],
)
def test_a_puddle_that_is_none_is_refused(studio: Studio, mixture: str | dict[str, float]) -> None:
    before, wash = the_cup(studio), washes(studio)[0]
    told = refused(studio, before, lambda p, b: swapped(studio, p, b, key_of(wash), mixture, None))
    assert "nan" not in told.lower().split()


# --- another colour --------------------------------------------------------------------------


def test_a_shape_of_another_colour(studio: Studio) -> None:
    before = the_cup(studio)
    desk = studio.desk(before.brief)
    shape = by_size(desk)[1]
    cells = np.flatnonzero(desk.plan.cells.shape_of == shape)
    areas = desk.plan.cells.areas_mm2()[cells]
    wanted = "#9aa3c8"
    after = accepted(
        studio, before, lambda p, b: recoloured(studio, p, b, middle(desk, shape), wanted)
    )
    new = studio.desk(after.brief).plan

    def far(labs: np.ndarray) -> float:
        return float(delta_e_2000((areas @ labs[cells]) / areas.sum(), lab_of_hex(wanted)))

    assert far(new.stage_labs[-1]) < far(desk.plan.stage_labs[-1])


@pytest.mark.parametrize("place", [(-1.0, 5.0), (5.0, 1e9), (math.nan, 5.0), (math.inf, 0.0)])
def test_a_place_off_the_sheet_is_refused(studio: Studio, place: tuple[float, float]) -> None:
    before = the_cup(studio)
    refused(studio, before, lambda p, b: recoloured(studio, p, b, place, "#336699"))


# --- kept ------------------------------------------------------------------------------------


def test_what_is_kept_cannot_be_changed(studio: Studio) -> None:
    wash = washes(studio)[0]
    for kept in (Kept(washes=(key_of(wash),)), Kept(layers=(wash.layer,))):
        before = the_cup(studio)
        after = accepted(studio, before, lambda p, b, k=kept: kept_more(studio, p, b, k))
        assert after.brief.kept == kept
        assert after.brief.plan == before.brief.plan
        told = refused(
            studio,
            after,
            lambda p, b: strengthened(studio, p, b, key_of(wash), 0.5 * wash.strength, False),
        )
        assert "stop keeping it first" in told
    after = kept_more(studio, after.id, after.revision, Kept())
    assert history(studio, after.id)[-1].startswith("Let go of ")
    strengthened(studio, after.id, after.revision, key_of(wash), 0.5 * wash.strength, False)


def test_what_is_kept_is_found_again_after_an_edit(studio: Studio) -> None:
    first, *_, last = washes(studio)
    before = the_cup(studio)
    kept = kept_more(studio, before.id, before.revision, Kept(washes=(key_of(last),)))
    after = strengthened(studio, kept.id, kept.revision, key_of(first), 0.6 * first.strength, False)
    desk = studio.desk(after.brief)
    ((layer, number),) = after.brief.kept.washes
    same = next(w for w in desk.plan.washes if (w.layer, w.number) == (layer, number))
    assert (same.cells, same.strength) == (last.cells, pytest.approx(last.strength))


@pytest.mark.parametrize(
    "kept",
    [
        Kept(washes=((9, 9),)),
        Kept(washes=((10**40, -(10**40)),)),
        Kept(puddles=("Q",)),
        Kept(puddles=("",)),
        Kept(paints=("no such paint",)),
        Kept(layers=(0,)),
        Kept(layers=(-1,)),
    ],
)
def test_what_is_not_there_cannot_be_kept(studio: Studio, kept: Kept) -> None:
    refused(studio, the_cup(studio), lambda p, b: kept_more(studio, p, b, kept))


# --- two tabs, and another picture -----------------------------------------------------------


def test_the_slower_of_two_tabs_changes_nothing(studio: Studio) -> None:
    before, wash = the_cup(studio), washes(studio)[0]
    now = studio.change(before.id, before.revision, "Ticked", lambda b: b.but(paints=("PB29",)))
    old = before.revision

    def weaker(painting: str, _now: str) -> Looked:
        return strengthened(studio, painting, old, key_of(wash), 0.2, False)

    assert "elsewhere" in refused(studio, now, weaker)
    with pytest.raises(Overtaken) as error:
        weaker(now.id, "")
    assert error.value.current == now.revision
    refused(studio, now, lambda p, _: kept_more(studio, p, old, Kept()))
    refused(studio, now, lambda p, _: recoloured(studio, p, old, (5.0, 5.0), "#336699"))
    refused(studio, now, lambda p, _: swapped(studio, p, old, key_of(wash), "A", None))


def test_overtaken_at_the_last_moment_everything_stays(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another tab accepts a change after this one was worked out: the store itself refuses."""
    before, wash = the_cup(studio), washes(studio)[0]
    accept = studio.store.accept

    def late(painting: str, base: str, *args: object, **more: object) -> object:
        monkeypatch.setattr(studio.store, "accept", accept)
        studio.change(painting, base, "Ticked", lambda b: b.but(paints=("PB29",)))
        return accept(painting, base, *args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(studio.store, "accept", late)
    with pytest.raises(Overtaken):
        strengthened(studio, before.id, before.revision, key_of(wash), 0.2, False)
    now = the_cup(studio)
    assert history(studio, before.id)[-1] == "Ticked"
    assert now.brief.plan == before.brief.plan
    old = studio.desk(now.brief).plan.washes_of(wash.layer)[wash.number - 1]
    assert old.strength == wash.strength  # the plan at hand is not the one that was not accepted


def test_after_the_picture_was_changed_the_plan_is_left_alone(studio: Studio) -> None:
    before, wash = the_cup(studio), washes(studio)[0]
    other = before.brief.scene.but(focal=(0.1, 0.1, 0.2, 0.2))
    now = studio.change(before.id, before.revision, "Focal", lambda b: b.but(scene=other))
    told = refused(studio, now, lambda p, b: strengthened(studio, p, b, key_of(wash), 0.2, False))
    assert "plan again first" in told
    refused(studio, now, lambda p, b: recoloured(studio, p, b, (5.0, 5.0), "#336699"))


def test_without_a_plan_there_is_nothing_to_edit(studio: Studio) -> None:
    before = the_cup(studio)
    now = studio.change(
        before.id, before.revision, "None", lambda b: b.but(plan=None, drawing=None)
    )
    told = refused(studio, now, lambda p, b: strengthened(studio, p, b, (1, 1), 0.2, False))
    assert "plan the painting first" in told
    refused(studio, now, lambda p, b: kept_more(studio, p, b, Kept()))
