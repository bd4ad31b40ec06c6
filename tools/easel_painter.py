"""A painter whose hand errs, painting by a plan: an independent judge of plans and of their eyes.

    plan, aims = planned("jug")
    hand = Hand(seed=7)
    photo = progress_photo(plan, hand, 1, rng)     # what a program may see after one layer
    photo.truth.ratios                             # what it should find
    lying = laid_so_far(plan, hand, 1)
    finished = repaint(other_plan, hand, lying, aims)
    finished.error - repaint(plan, Hand.steady(), None, aims).error  # what the errors cost

The colours come from radiative transfer with pigments fitted independently to open measurements
(`card_pigments`): no code and no number of the planner's optics is used. Fine strokes laid last
are not painted.
"""

from dataclasses import dataclass
from typing import Final

import colour
import numpy as np

from card_camera import lab_d65
from card_optics import Floats
from easel_hand import Hand, cell_amounts, lays_of
from easel_optics import seen, sheet_of
from easel_photo import ProgressPhoto, progress_photo
from easel_sheet import Painting, Truth, painting
from easel_spoil import USABLE, Spoil
from firstwash.plan.result import Plan

__all__ = [
    "USABLE", "Finished", "Hand", "Painting", "ProgressPhoto", "Spoil", "Truth", "cell_labs",
    "laid_so_far", "lays_of", "painting", "progress_photo", "repaint", "sheet_error",
]  # fmt: skip

EVERY: Final = 4  # pixels of the picture from one that is compared to the next


@dataclass(frozen=True, eq=False)
class Finished:
    """A finished sheet by its cells. amounts: (cells, layers, 13) that lie there; labs: (cells, 3);
    error: mean CIEDE2000 by area against the picture aimed at.
    """

    amounts: Floats
    labs: Floats
    error: float


def laid_so_far(plan: Plan, hand: Hand, done: int) -> Floats:
    """(cells, done, 13) amounts that lie in the cells' hearts after `done` layers."""
    return cell_amounts(plan, hand)[:, :done]


def cell_labs(plan: Plan, amounts: Floats) -> Floats:
    """(cells, 3) CIELAB (D65) of amounts (cells, layers, 13) on the plan's paper."""
    return lab_d65(seen(sheet_of(np.asarray(plan.paper.reflectance)), amounts))


def sheet_error(plan: Plan, labs: Floats, aims: Floats) -> float:
    """Mean CIEDE2000 over the sheet of cells' colours (cells, 3) against the picture.

    aims: (rows, cols, 3) CIELAB in the size of the plan's cells.
    """
    part = slice(EVERY // 2, None, EVERY)
    painted = labs[plan.cells.index[part, part]]
    off = colour.difference.delta_E_CIE2000(painted, np.asarray(aims[part, part], float))
    return float(np.mean(off))


def repaint(plan: Plan, hand: Hand, lying: Floats | None, aims: Floats) -> Finished:
    """The painter goes on by a plan for the remaining layers.

    plan: on the same drawing as the one before; its first layers are not painted again. lying:
    (cells, done, 13) what `laid_so_far` says, or what was repainted up to some layer; None for a
    bare sheet. Later washes err by layer and number, whichever plan they are of. Raises ValueError
    where the plan has other cells.
    """
    fresh = cell_amounts(plan, hand)
    done = fresh[:, :0] if lying is None else lying
    if len(done) != len(fresh):
        raise ValueError("The plan is drawn otherwise than what lies on the sheet.")
    amounts = np.concatenate([done, fresh[:, done.shape[1] :]], axis=1)
    labs = cell_labs(plan, amounts)
    return Finished(amounts, labs, sheet_error(plan, labs, aims))
