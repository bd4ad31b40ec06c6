"""How flat a predicted picture is: range and steps of value, colours, turns, error."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.lessons.scene import NAMES
from firstwash.lessons.workshop import Workshop
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import xyz_to_lab
from firstwash.picture.values import value_step
from firstwash.plan.report import as_judged

__all__ = ["Flatness", "distinct_colours", "flatness_of"]

APART: Final = 3.0  # CIEDE2000 that two colours of a variety differ by at least
LEAST_SHARE: Final = 0.005  # of the sheet, for a value step or a colour to count
TAILS: Final = (2.0, 98.0)  # percentiles of L* that a value range lies between
ROUND: Final = ("jug", "lemon", "plum")  # things that turn from light to shadow


@dataclass(frozen=True)
class Flatness:
    """How much goes on in a picture.

    value_range: L* between its darkest and lightest (2nd and 98th percentile). steps: of ten value
    steps, those that cover at least half a percent of the sheet. colours: distinct ones, each at
    least 3 CIEDE2000 from every other. spread: root mean square distance in CIELAB from the mean
    colour. turn: standard deviation of L* inside the round things, mean by area. error: mean
    CIEDE2000 against the photo.
    """

    value_range: float
    steps: int
    colours: int
    spread: float
    turn: float
    error: float


def distinct_colours(labs: FloatArray, shares: FloatArray, apart: float = APART) -> int:
    """How many colours of (n, 3) CIELAB are at least `apart` CIEDE2000 from one another.

    Gathered from the one of largest share (n,) on; what lies nearer to one of them belongs to it.
    Those that end with less than half a percent do not count.
    """
    kept: list[FloatArray] = []
    held: list[float] = []
    for i in np.argsort(-np.asarray(shares), kind="stable"):
        off = delta_e_2000(np.array(kept).reshape(-1, 3), labs[i][None])
        near = int(np.argmin(off)) if kept else -1
        if near < 0 or float(off[near]) >= apart:
            kept.append(labs[i])
            held.append(float(shares[i]))
        else:
            held[near] += float(shares[i])
    return int((np.array(held) >= LEAST_SHARE).sum())


def _patches(lab: FloatArray) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean colours (n, 3) and shares (n,) of a picture's pixels in cubes of 3 of CIELAB."""
    flat = lab.reshape(-1, 3)
    _, index, counts = np.unique(
        np.floor(flat / APART).astype(np.int64), axis=0, return_inverse=True, return_counts=True
    )
    index = index.ravel()
    sums = [np.bincount(index, weights=flat[:, c]) for c in range(3)]
    return np.column_stack(sums) / counts[:, None], counts / len(flat)


def flatness_of(xyz: FloatArray, shop: Workshop) -> Flatness:
    """Measures of a picture (rows, cols, 3) XYZ at the plan's working size."""
    lab = xyz_to_lab(xyz)
    light = lab[..., 0]
    low, high = np.percentile(light, TAILS)
    shares = np.bincount(value_step(light).ravel(), minlength=11) / light.size
    flat = lab.reshape(-1, 3)
    photo = shop.reference.judge_lab
    error = float(delta_e_2000(as_judged(xyz, shop.reference), photo).mean())
    return Flatness(
        value_range=float(high - low),
        steps=int((shares >= LEAST_SHARE).sum()),
        colours=distinct_colours(*_patches(lab)),
        spread=float(np.sqrt(((flat - flat.mean(axis=0)) ** 2).sum(axis=1).mean())),
        turn=_turn(light, shop),
        error=error,
    )


def _turn(light: FloatArray, shop: Workshop) -> float:
    """Standard deviation of L* (rows, cols) inside the round things, mean by area."""
    at = shop.things[shop.plan.cells.index]
    deviations, sizes = [], []
    for thing in ROUND:
        inside = light[at == NAMES.index(thing)]
        if inside.size:
            deviations.append(float(inside.std()))
            sizes.append(inside.size)
    return float(np.average(deviations, weights=sizes)) if sizes else 0.0
