"""Paper kept bare on purpose: cells that aim at the paper itself, whatever the photo shows."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.optics.surface import Paper
from firstwash.picture.first_drawing import with_bare
from firstwash.picture.reference import Reference
from firstwash.picture.stroke_render import stroke_covers
from firstwash.plan.bench import Bench
from firstwash.plan.result import Plan
from firstwash.plan.touches import CORE, Touch

__all__ = ["as_wished", "clear_of", "keeps_bare", "paper_lab"]

SAME = 1e-3  # CIELAB by which an aim written to nine digits and read again is still the paper


def paper_lab(paper: Paper) -> NDArray[np.float64]:
    """CIELAB (3,) of the bare paper, as plans predict it."""
    return np.asarray(Bench.of([], paper).labs(np.zeros((0, 0)))[0], dtype=np.float64)


def keeps_bare(aims: FloatArray, paper: Paper) -> BoolArray:
    """Which of the cells with these aims (n, 3) are reserves: no photo's colour is just that."""
    return np.asarray((np.abs(aims - paper_lab(paper)) < SAME).all(axis=1), dtype=np.bool_)


def as_wished(plan: Plan, reference: Reference) -> Reference:
    """The reference with the plan's reserves as paper: what the plan is to be judged by."""
    bare = keeps_bare(plan.aims, plan.paper)[plan.cells.index]
    return with_bare(reference, bare, Bench.of([], plan.paper).white_xyz())


def clear_of(touches: Sequence[Touch], bare: BoolArray, ppmm: float) -> tuple[Touch, ...]:
    """The strokes without those that lie on bare paper (rows, cols), be it in part."""
    covers = stroke_covers([t.stroke for t in touches], bare.shape, ppmm)
    return tuple(
        touch
        for touch, cover in zip(touches, covers, strict=True)
        if not (bare[cover.window] & (cover.share >= CORE)).any()
    )
