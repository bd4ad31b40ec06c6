"""One graded wash over a background: one puddle, more water towards one end."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.picture.reference import BACKGROUND, Reference, gradient_place
from firstwash.plan.bench import Bench

__all__ = ["STRIPS", "GradedWash", "fit_graded_wash", "strips"]

STRIPS = 24  # steps the gradient is drawn in; each differs from the next by far less than 1 L*


@dataclass(frozen=True, eq=False)
class GradedWash:
    """recipe (colours,): one full coat; strengths (strips,): from one end to the other."""

    recipe: NDArray[np.float64]
    strengths: NDArray[np.float64]


def strips(reference: Reference) -> NDArray[np.int32]:
    """Strip 0 … STRIPS − 1 (rows, cols) of each background pixel along the gradient."""
    inside = reference.zone == BACKGROUND
    place = gradient_place(inside.shape, reference.xyz[..., 1].astype(np.float64), inside)
    return np.asarray(np.minimum((place * STRIPS).astype(np.int32), STRIPS - 1))


def fit_graded_wash(
    bench: Bench, aims: FloatArray, place: FloatArray, paints_per_puddle: int
) -> GradedWash:
    """The one puddle and the two end strengths that follow a gradient best.

    aims (strips, 3) CIELAB; place (strips,) position 0-1 of each strip along the gradient.
    """
    recipe = _recipe(bench, aims[len(aims) // 2], paints_per_puddle)
    ends = [_strength(bench, recipe, aims[i]) for i in (0, len(aims) - 1)]
    strengths = np.asarray(ends[0] + (ends[1] - ends[0]) * place, dtype=np.float64)
    return GradedWash(recipe, strengths)


def _recipe(bench: Bench, aim: FloatArray, most: int) -> NDArray[np.float64]:
    goal = np.array([[1.0, *aim, 1.0]])
    amounts, _ = bench.fit(np.full((1, bench.colours), 2e-3), goal)
    while (amounts > 0).sum() > most:
        depth = np.where(amounts > 0, amounts * (bench.k + bench.s).mean(axis=1), np.inf)
        amounts[0, int(depth.argmin())] = 0.0
        amounts, _ = bench.fit(amounts, goal, allowed=amounts > 0)
    load = float(amounts[0] @ bench.loads)
    if load <= 0.0:  # paper white itself: any paint, hardly any of it
        return np.asarray(np.eye(bench.colours)[0] / bench.loads[0])
    return np.asarray(amounts[0] / load)


def _strength(bench: Bench, recipe: FloatArray, aim: FloatArray) -> float:
    ready = bench.puddles(recipe[None, :])
    found, _ = ready.fit(np.array([[0.02]]), np.array([[1.0, *aim, 1.0]]))
    return float(found[0, 0])
