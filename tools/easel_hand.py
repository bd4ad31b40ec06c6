"""How one painter's hand errs while it paints a plan: what lies where instead of what was meant.

    lays = lays_of(plan, Hand(seed=7))

Of a plan only its data are read: who gets which coat. Everything is settled by the hand's seed,
by layer and number of the wash, so that a wash that is planned anew errs as it would have.
Amounts are in full-strength coats of the paints of `card_pigments.KEYS`.
"""

from dataclasses import dataclass
from functools import cache
from typing import Final

import colour
import cv2
import numpy as np
from numpy.typing import NDArray

from card_camera import Pixels, lab_d65, smooth_field
from card_optics import Floats
from card_pigments import KEYS
from easel_optics import seen, sheet_of
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash

__all__ = ["NOTHING", "Hand", "Lay", "Lays", "cell_amounts", "coarse_index", "lays_of", "uneven"]

NOTHING: Final = -1
THINNED: Final = (0.4, 4.0)  # least and most, by eye
COARSE_MM: Final = 2.0  # grid on which unevenness is drawn
SCALE_MM: Final = (10.0, 40.0)  # of unevenness
LEAST_MM2: Final = 150.0  # smallest area that is left out
GRAIN: Final = {"PB29": 0.16, "PB28": 0.16, "PB35": 0.18, "PBr7-burnt": 0.12, "PBr7-raw": 0.10}
FLAT: Final = 0.04  # grain of the other paints; which granulate: common practice, no source
WASH, PART, UNEVEN, OUT, RIM, BORDER, TOOTH = range(7)  # what is drawn


@dataclass(frozen=True)
class Hand:
    """One painter. seed: of every error.

    wash: σ of the logarithm of each wash's strength; part: of each part of a puddle, load kept.
    border_mm: the most that a wash's border is off. uneven: relative spread within a wash. rim:
    the most that a hard border dries darker. grain: times the paints' own granulation. pencil:
    whether the outline is drawn. left_out: chance that some areas of one layer are forgotten.
    by_eye: puddles are thinned until a dry test stroke looks as light as the plan says, so that
    `meant` is what looks so; otherwise the plan's amounts are weighed out.
    """

    seed: int
    wash: float = 0.25
    part: float = 0.10
    border_mm: float = 2.0
    uneven: float = 0.08
    rim: float = 0.35
    grain: float = 1.0
    pencil: bool = True
    left_out: float = 0.0
    by_eye: bool = False

    @classmethod
    def steady(cls, by_eye: bool = False) -> "Hand":
        """A hand that lays exactly what is meant."""
        return cls(0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, by_eye=by_eye)

    def rng(self, *what: int) -> np.random.Generator:
        """Random numbers of one kind of error."""
        return np.random.default_rng([self.seed, *what])

    def strength(self, layer: int, number: int) -> float:
        """By how much a wash is laid stronger than meant."""
        return float(np.exp(self.wash * self.rng(WASH, layer, number).standard_normal()))

    def mixed(self, name: str, parts: Floats) -> Floats:
        """(13,) a puddle of that name as it is mixed; the same load as meant."""
        off = np.exp(self.part * self.rng(PART, *name.encode()).standard_normal(len(parts)))
        return np.asarray(parts * off * parts.sum() / max(float((parts * off).sum()), 1e-12))


@dataclass(frozen=True, eq=False)
class Lay:
    """One wash at one strength. meant, laid: (13,) amounts; wet: whether it meets wet paint."""

    layer: int
    number: int
    meant: Floats
    laid: Floats
    wet: bool

    @property
    def grain(self) -> float:
        """How much it granulates: relative spread of its deposit."""
        own = np.array([GRAIN.get(k, FLAT) for k in KEYS])
        return float(own @ self.laid / max(self.laid.sum(), 1e-12))


@dataclass(frozen=True, eq=False)
class Lays:
    """All that a hand lays. of: (cells, layers) number of the lay or NOTHING.
    meant: the same where the hand forgot nothing.
    """

    lays: tuple[Lay, ...]
    of: NDArray[np.int64]
    meant: NDArray[np.int64]


def _vector(plan: Plan, puddle: int) -> Floats:
    """(13,) one full-strength coat of a puddle. Raises ValueError for paints never measured."""
    out = np.zeros(len(KEYS))
    for paint, amount in plan.puddles[puddle].parts:
        out[KEYS.index(plan.paints[paint].key)] += amount
    return out


def _wash_of(plan: Plan) -> dict[tuple[int, int, int], Wash]:
    """Wash by cell, layer (1 …) and puddle."""
    return {(c, w.layer, w.puddle): w for w in plan.washes for c in w.cells}


def lays_of(plan: Plan, hand: Hand) -> Lays:
    """What the hand lays for this plan. Raises ValueError for paints that are not in KEYS."""
    washes = _wash_of(plan)
    known: dict[tuple[int, int, float], int] = {}
    lays: list[Lay] = []
    of = np.full((plan.cells.count, plan.layers), NOTHING)
    for cell, coats in enumerate(plan.coats):
        for layer, puddle, strength in coats:
            wash = washes[cell, layer, puddle]
            key = layer, wash.number, strength
            if key not in known:
                known[key] = len(lays)
                lays.append(_lay(plan, hand, wash, strength))
            of[cell, layer - 1] = known[key]
    return Lays(tuple(lays), _forgotten(plan, hand, of), of)


def _lay(plan: Plan, hand: Hand, wash: Wash, strength: float) -> Lay:
    meant = strength * _vector(plan, wash.puddle)
    if hand.by_eye:
        own = wash.strength * _vector(plan, wash.puddle)
        white = np.asarray(plan.paper.reflectance).tobytes()
        meant *= _thinned(own.tobytes(), tuple(wash.stroke), white)
    mixed = hand.mixed(plan.puddles[wash.puddle].name, meant)
    times = hand.strength(wash.layer, wash.number)
    return Lay(wash.layer, wash.number, meant, times * mixed, wash.technique == "wet-in-wet")


@cache
def _thinned(amounts: bytes, stroke: tuple[float, float, float], white: bytes) -> float:
    """How many times the amounts (13,) make one dry coat on the paper (36,) look like the stroke,
    a CIELAB colour.
    """
    times = np.geomspace(*THINNED, 41)
    coats = times[:, None, None] * np.frombuffer(amounts)[None, None]
    labs = lab_d65(seen(sheet_of(np.frombuffer(white)), coats))
    off = colour.difference.delta_E_CIE2000(labs, np.broadcast_to(np.array(stroke), labs.shape))
    return float(times[int(np.argmin(off))])


def _forgotten(plan: Plan, hand: Hand, of: NDArray[np.int64]) -> NDArray[np.int64]:
    """What is laid when one to three areas of one layer are left out, or nothing is."""
    rng = hand.rng(OUT)
    if rng.random() >= hand.left_out:
        return of
    out = of.copy()
    layer = int(rng.integers(of.shape[1]))
    wanted = np.flatnonzero((of[:, layer] != NOTHING) & (plan.cells.areas_mm2() > LEAST_MM2))
    count = min(int(rng.integers(1, 4)), len(wanted))
    out[rng.permutation(wanted)[:count], layer] = NOTHING
    return out


def uneven(hand: Hand, lay: Lay, size_mm: tuple[float, float]) -> Pixels:
    """(rows, cols) at COARSE_MM: how much thicker the wash lies there, mean about 1."""
    rng = hand.rng(UNEVEN, lay.layer, lay.number)
    scale = float(np.exp(rng.uniform(*np.log(SCALE_MM))))
    shape = round(size_mm[1] / COARSE_MM), round(size_mm[0] / COARSE_MM)
    field = smooth_field(rng, shape, max(size_mm) / scale)
    return np.asarray(np.exp(hand.uneven * field / max(float(field.std()), 1e-6)))


def coarse_index(plan: Plan) -> NDArray[np.int32]:
    """(rows, cols) cells at COARSE_MM."""
    rows, cols = plan.cells.index.shape
    ppmm = plan.cells.ppmm
    size = round(cols / ppmm / COARSE_MM), round(rows / ppmm / COARSE_MM)
    return np.asarray(cv2.resize(plan.cells.index, size, interpolation=cv2.INTER_NEAREST))


def cell_amounts(plan: Plan, hand: Hand) -> Floats:
    """(cells, layers, 13) that lie in every cell's heart: strengths, mixtures and unevenness."""
    lays = lays_of(plan, hand)
    index = coarse_index(plan)
    flat = index.ravel()
    size = index.shape[1] * COARSE_MM, index.shape[0] * COARSE_MM
    count = np.bincount(flat, minlength=plan.cells.count)
    out = np.zeros((*lays.of.shape, len(KEYS)))
    for number, lay in enumerate(lays.lays):
        field = uneven(hand, lay, size).ravel()
        sums = np.bincount(flat, weights=field, minlength=plan.cells.count)
        mean = np.where(count > 0, sums / np.maximum(count, 1), 1.0)
        own = lays.of[:, lay.layer - 1] == number
        out[own, lay.layer - 1] = mean[own, None] * lay.laid
    return out
