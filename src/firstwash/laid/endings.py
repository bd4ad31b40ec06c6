"""Ways to go on from the sheet as it is, each painted to the end by reckoning.

Too light is mended by the next layers. Too dark is not: paint cannot be taken away again, but for
what lifts. So there is a choice, and the painter makes it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import FirstwashError
from firstwash.laid.amounts import Laid
from firstwash.laid.told import WashFound
from firstwash.language import listed, mark, tr
from firstwash.picture.reference import Reference
from firstwash.plan.locks import NO_LOCKS, Locks
from firstwash.plan.problem import Progress, no_progress
from firstwash.plan.rest import as_laid, ending_error, plan_rest, strengths_refitted
from firstwash.plan.result import Plan

__all__ = ["Ending", "EndingName", "endings", "lifted", "too_dark"]

EndingName = Literal["as planned", "by strength", "anew", "lifted first"]

# Common practice, no source: how much of a dry wash a damp brush takes out of paper.
LIFTS: Final = 0.35  # of the paint of a wash whose paints do not stain
STAINS_LEAST: Final = 1  # the staining grade (0-4) up to which a paint lifts; own judgement
WORTH: Final = 1.25  # times too strong from which lifting is worth the risk to the paper
GONE: Final = 4.0  # L* below what an area should end as: it can never be as light
ALIKE: Final = 0.05  # CIEDE2000 between endings that are as good as each other

TITLES: Final = {
    "as planned": mark("Go on as planned"),
    "by strength": mark("The same washes, stronger or weaker"),
    "anew": mark("Plan what is left anew"),
    "lifted first": mark("Lift first, then stronger or weaker"),
}


@dataclass(frozen=True, eq=False)
class Ending:
    """One way to go on. plan: the layers laid as they are, then the rest. error: mean CIEDE2000 by
    area from what should be seen, predicted, with hands that err no more. words: what it means.
    """

    name: EndingName
    title: str
    plan: Plan
    error: float
    words: str


def too_dark(plan: Plan, ground: Plan, done: int) -> NDArray[np.int64]:
    """Cells that are darker now than they should be in the end."""
    now = ground.stage_labs[done][:, 0]
    return np.flatnonzero(now < plan.aims[:, 0] - GONE)


def lifted(
    plan: Plan, laid: Laid, found: Sequence[WashFound], done: int
) -> tuple[Laid | None, list[str]]:
    """What lies there after lifting what is too strong and does lift; and of which washes.

    Only the last layer lifts by itself: what lies under it cannot be reached alone.
    """
    log = laid.log_ratio.copy()
    names = []
    strong = {one.key for one in found if one.sure and one.ratio >= WORTH}
    for wash in plan.washes_of(done):
        if (wash.layer, wash.number) not in strong or not _lifts(plan, wash.puddle):
            continue
        own = list(wash.cells)
        least = np.log1p(-LIFTS)
        log[own, wash.layer - 1] = np.maximum(
            log[own, wash.layer - 1] + least, np.minimum(log[own, wash.layer - 1], 0.0)
        )
        names.append(f"{wash.layer}.{wash.number}")
    if not names:
        return None, []
    return (
        Laid(
            log, laid.sigma, laid.wash_log_ratio, laid.wash_sigma, laid.phone, laid.labs,
            laid.expected,
        ),
        names,
    )  # fmt: skip


def _lifts(plan: Plan, puddle: int) -> bool:
    """Whether all paints of a puddle are known to lift."""
    grades = [plan.paints[p].handling.staining for p, _ in plan.puddles[puddle].parts]
    return all(g is not None and g <= STAINS_LEAST for g in grades)


def endings(
    plan: Plan, reference: Reference, laid: Laid, found: Sequence[WashFound], done: int,
    locks: Locks = NO_LOCKS, progress: Progress = no_progress,
) -> tuple[Ending, ...]:  # fmt: skip
    """The ways to go on, best first; equal ones by how little they ask.

    locks: what the painter keeps of the rest.
    """
    ground = as_laid(plan, laid.log_ratio, done)
    progress("Trying how to go on", 0.5)
    made = [_ending("as planned", ground, tr("Nothing changes in what is left."))]
    if done < plan.layers:
        made.append(_by_strength("by strength", ground, done))
        progress("Planning what is left", 0.6)
        try:
            rest = plan_rest(ground, reference, done, locks)
        except FirstwashError:  # locks and limits leave no way
            rest = None
        if rest is not None:
            words = tr("Other mixtures and strengths for the layers that are left.")
            made.append(_ending("anew", rest, words))
    other, names = lifted(plan, laid, found, done)
    if other is not None:
        told = _by_strength("lifted first", as_laid(plan, other.log_ratio, done), done)
        words = tr(
            "Lift wash {names} with a damp brush and blot, a part at a time: about a third of the "
            "paint comes out of good paper, seldom more. Try a corner first.",
            names=listed(names),
        )
        made.append(Ending(told.name, told.title, told.plan, told.error, words))
    return tuple(sorted(made, key=lambda e: round(e.error / ALIKE)))


def _by_strength(name: EndingName, ground: Plan, done: int) -> Ending:
    words = tr("Puddles and areas stay; some washes that are left are laid stronger or weaker.")
    return _ending(name, strengths_refitted(ground, done), words)


def _ending(name: EndingName, plan: Plan, words: str) -> Ending:
    return Ending(name, tr(TITLES[name]), plan, ending_error(plan), words)
