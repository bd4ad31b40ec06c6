"""What all lessons share: the painter's paints, the still life, its plan, and the prediction."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.lessons.scene import NAMES, StillLife, reference_of, still_life
from firstwash.optics.observer import xyz_to_lab
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.picture.reference import Reference
from firstwash.plan.bench import Bench
from firstwash.plan.fields import paint_amounts, paint_fields
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits, Progress, is_black_or_white, no_progress
from firstwash.plan.result import Plan

__all__ = ["BARE", "Workshop", "labs_of", "open_workshop", "share_of_coat"]

BARE: Final = 90.0  # L* of a target from which a place is left paper in the lessons
LIMITS: Final = {"layers": 4, "paints": 6, "puddles": 12, "washes": 40, "shapes": 60, "touches": 0}


@dataclass(frozen=True, eq=False)
class Workshop:
    """The painter's paints and the still life planned with them.

    owned: all paints of the list but banned ones. plan: four layers with at most six of them.
    things: (cells,) index into `scene.NAMES` of what a cell shows most of. areas: (cells,) mm².
    """

    owned: tuple[Paint, ...]
    paper: Paper
    scene: StillLife
    reference: Reference
    plan: Plan
    things: NDArray[np.int64]
    areas: NDArray[np.float64]

    @property
    def palette(self) -> tuple[Paint, ...]:
        """The paints that the plan chose."""
        return self.plan.paints

    @property
    def bench(self) -> Bench:
        """The palette on the painter's paper, daylight."""
        return Bench.of(self.plan.paints, self.paper)

    def cells_of(self, thing: str) -> NDArray[np.int64]:
        """Indices of the cells that show a thing by name, largest first."""
        own = np.flatnonzero(self.things == NAMES.index(thing))
        return own[np.argsort(-self.areas[own], kind="stable")]

    def painted(self, amounts: FloatArray) -> NDArray[np.float32]:
        """XYZ (rows, cols, 3) of the still life with these coats, edges as soft as the plan's.

        amounts: (cells, coats, palette) of every paint.
        """
        edges = self.plan.edges
        return np.asarray(paint_fields(self.bench, self.plan.cells.index, amounts, edges)[-1])


def open_workshop(
    paints: Sequence[Paint], paper: Paper, progress: Progress = no_progress
) -> Workshop:
    """Plan the still life with these paints; raises PaintError where they cannot make a plan."""
    progress("Setting up the still life", 0.0)
    scene = still_life()
    reference = reference_of(scene)
    only_grey = all(is_black_or_white(p) for p in paints)
    limits = Limits(**LIMITS, black_and_white=only_grey)  # type: ignore[arg-type]
    plan = make_plan(
        reference, paints, limits, paper, lambda s, d: progress(f"Planning it: {s.lower()}", d)
    )
    rows, cols = plan.cells.index.shape
    down = (np.arange(rows) + 0.5) * scene.things.shape[0] / rows
    across = (np.arange(cols) + 0.5) * scene.things.shape[1] / cols
    things = scene.things[np.ix_(down.astype(int), across.astype(int))]
    votes = np.zeros((plan.cells.count, len(NAMES)))
    np.add.at(votes, (plan.cells.index, things), 1.0)
    areas = plan.cells.areas_mm2()
    return Workshop(tuple(paints), paper, scene, reference, plan, votes.argmax(axis=1), areas)


def labs_of(bench: Bench, amounts: FloatArray) -> NDArray[np.float64]:
    """CIELAB (n, coats + 1, 3), D65, of stacks (n, coats, colours): paper, then after each coat."""
    return xyz_to_lab(paint_amounts(bench, np.asarray(amounts, dtype=np.float64)))


def share_of_coat(paint: Paint, lightness: float, paper: Paper) -> float:
    """Share of a full coat (0-1] that alone dries to an L* on the paper, or comes nearest to it."""
    bench = Bench.of([paint], paper)
    shares = np.geomspace(1e-4, 1.0, 200)
    seen = labs_of(bench, (shares * paint.full_coat)[:, None, None])[:, 1, 0]
    return float(shares[int(np.argmin(np.abs(seen - lightness)))])
