"""A person paints a swatch card: what really lies where, and what colour it really has.

The paint's optics are those of `card_optics` with the pigments of `card_pigments`. What the
painter does wrong is here: cups that are not quite half of each other, loads that vary,
edges that wobble, paint that dries darker at its rim, runs down and settles in the paper's
grain, a first coat that is stirred up by the second. All of it is settled by a seed.
Amounts are in full-strength coats.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from card_camera import Pixels, smooth_field
from card_optics import Floats, Paper
from card_pigments import KEYS, MATT, Pigments, measured_pigments, stack
from firstwash.card.layout import DILUTIONS, Box, swatch_box
from firstwash.card.layout import sample_box as sample_of
from firstwash.card.recipe import CardRow, Coat, Swatch, rows_for, swatches_of
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM
from firstwash.paints.catalogue import paint

__all__ = ["DENSITY", "MARGIN", "PaintedCard", "Patch", "random_card", "unseen_stack"]

DENSITY: Final = 12  # pixels per mm of everything painted
MARGIN: Final = 1.6  # mm around a swatch in which paint may lie
LEVELS: Final = (512, 72)  # steps of amount in the colour table of one coat, of two
MOST: Final = 3.2  # times the amount meant: the most that lies anywhere
_KNOTS: Final = (
    np.sqrt(np.array([0, 0.04, 0.12, 0.26, 0.45, 0.7, 1.0, 1.4, 2.1, MOST])),
    np.sqrt(np.array([0, 0.12, 0.4, 0.75, 1.1, 1.6, MOST])),
)
_INK: Final = 0.035  # reflection of a waterproof pen line below the paint


@dataclass(frozen=True, eq=False)
class Patch:
    """A painted swatch as a map.

    box: where its pixels lie. levels: (rows, cols) steps of amount, one array per coat.
    colours: (steps, ..., 36) reflectance by level of each coat. on_ink: (steps, 36) the same
    over the pen line, by the level of the upper coat. steps: levels of the tables.
    """

    box: Box
    levels: tuple[NDArray[np.uint16], ...]
    colours: Pixels
    on_ink: Pixels


@dataclass(frozen=True, eq=False)
class PaintedCard:
    """A painted strip of paper and the truth about it.

    rows: what was to be painted. paper: (36,) reflectance of bare paper. true_amounts: by
    place ("A1"), the coats that lie in its sample box, mean of the box.
    true_reflectance: by place, (36,) mean of its sample box. lift: (13,) share of a dry coat
    that the next coat stirs up. seed: of everything that is drawn later, such as texture.
    """

    rows: tuple[CardRow, ...]
    paper: Floats
    true_amounts: Mapping[str, tuple[Coat, ...]]
    true_reflectance: Mapping[str, Floats]
    pigments: Pigments
    sheet: Paper
    lift: Floats
    patches: Mapping[str, Patch]
    seed: int

    @cached_property
    def swatches(self) -> tuple[Swatch, ...]:
        """Every place in reading order."""
        return swatches_of(self.rows)


# ------------------------------------------------------------------ optics of this card


def _vectors(coats: Sequence[Coat]) -> list[Floats]:
    out = []
    for coat in coats:
        vector = np.zeros(len(KEYS))
        for key, amount in coat:
            vector[KEYS.index(key)] += amount
        out.append(vector)
    return out


def _stirred(coats: Sequence[Floats], lift: Floats) -> list[Floats]:
    """What lies in each layer when every coat has taken up some of the one below."""
    lying = [np.asarray(c) for c in coats]
    for i in range(1, len(lying)):
        taken = lift * lying[i - 1] * np.minimum(lying[i].sum(axis=-1, keepdims=True) / 0.05, 1)
        lying[i - 1], lying[i] = lying[i - 1] - taken, lying[i] + taken
    return lying


def unseen_stack(card: PaintedCard, coats: Sequence[Sequence[tuple[str, float]]]) -> Floats:
    """True reflectance (36,) of coats with exact amounts on the card's paper, bottom to top."""
    vectors = _vectors([tuple(c) for c in coats])
    return stack(card.pigments, card.sheet, _stirred(vectors, card.lift))


# ------------------------------------------------------------------ paper and paints


def _white(rng: np.random.Generator) -> Floats:
    """Reflectance (36,) of some watercolour paper: white to cream, now and then brightened."""
    nm = WAVELENGTHS_NM.astype(float)
    top = rng.uniform(0.84, 0.93)
    cream = rng.uniform(0.0, 0.12) * np.exp(-(nm - 380) / rng.uniform(60, 140))
    lignin = rng.uniform(0.02, 0.14) * np.exp(-(nm - 380) / 22.0)
    lift = rng.uniform(0.0, 0.02) * (nm - 550) / 180
    glow = 0.05 * rng.random() * (rng.random() < 0.3) * np.exp(-(((nm - 442) / 22.0) ** 2))
    return np.clip(top - cream - lignin + lift + glow, 0.5, 0.965)


def _varied(pigments: Pigments, rng: np.random.Generator, variety: float) -> Pigments:
    """The same pigments ground and bound by another maker: smooth changes of their curves."""

    def factor() -> Floats:
        knots = rng.normal(0, variety, (len(KEYS), 5))
        spline = CubicSpline(np.linspace(0, 1, 5), knots, axis=1)
        return np.asarray(np.exp(spline(np.linspace(0, 1, N_BANDS))))

    return Pigments(
        pigments.absorb * factor(), pigments.scatter * factor(), pigments.sheen,
        pigments.soak, pigments.crowd,
    )  # fmt: skip


class _Cups:
    """A painter's cups of each paint: each dilution is made from the one before."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.sigma = rng.uniform(0.08, 0.12)
        self.known: dict[str, list[float]] = {}

    def strength(self, key: str, meant: float) -> float:
        """How strong the cup really is that should hold `meant` (1, 1/2 … 1/32)."""
        if key not in self.known:
            steps = self.rng.normal(0, self.sigma, len(DILUTIONS))
            self.known[key] = (np.exp(np.cumsum(steps)) * DILUTIONS[::-1]).tolist()
        return self.known[key][round(-math.log2(meant))]

    def coat(self, coat: Coat) -> Coat:
        """What is laid when this coat is meant: two cups meet in a mix."""
        laying = np.exp(self.rng.normal(0, 0.1))
        if len(coat) == 1:
            ((key, meant),) = coat
            return ((key, float(laying * self.strength(key, meant))),)
        share = np.clip(0.5 * np.exp(self.rng.normal(0, 0.08)), 0.3, 0.7)
        parts = zip(coat, (share, 1 - share), strict=True)
        return tuple((k, float(laying * s * self.strength(k, 2 * m))) for (k, m), s in parts)


# ------------------------------------------------------------------ where paint lies


def _outline(rng: np.random.Generator, box: Box) -> Floats:
    """(n, 2) mm: a box as a brush paints it, round at the corners and not quite straight."""
    angle = np.linspace(0, 2 * np.pi, 96, endpoint=False)
    power = rng.uniform(5, 9)
    c, s = np.cos(angle), np.sin(angle)
    radius = (abs(c) ** power + abs(s) ** power) ** (-1 / power)
    wobble = sum(
        rng.normal(0, 0.3 / k) * np.cos(k * angle + rng.uniform(0, 6.3)) for k in range(2, 9)
    )
    wobble = np.clip(wobble, -0.6, 0.6)
    if rng.random() < 0.12:  # a slip of the brush
        wobble = wobble + 0.5 * np.exp(
            -((np.angle(np.exp(1j * (angle - rng.uniform(0, 6.3)))) / 0.25) ** 2)
        )
    x = (0.5 * box.width * radius + wobble) * c + rng.normal(0, 0.15)
    y = (0.5 * box.height * radius + wobble) * s + rng.normal(0, 0.15)
    return np.stack([box.x + 0.5 * box.width + x, box.y + 0.5 * box.height + y], axis=1)


def _inside(outline: Floats, box: Box) -> Pixels:
    """(rows, cols) mm from the edge inward, 0 outside."""
    shape = (round(box.height * DENSITY), round(box.width * DENSITY))
    points = np.round(((outline - (box.x, box.y)) * DENSITY - 0.5) * 16).astype(np.int32)
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [points], 1, shift=4)
    return np.asarray(cv2.distanceTransform(mask, cv2.DIST_L2, 5)) / np.float32(DENSITY)


@dataclass(frozen=True)
class _Hand:
    """How a coat dries: unevenness, darker rim and its width (mm), grain, run downwards."""

    uneven: float
    rim: float
    rim_mm: float
    grain: float
    run: float


def _hand(rng: np.random.Generator, grain: float) -> _Hand:
    return _Hand(
        rng.uniform(0.06, 0.14), rng.uniform(0.3, 0.6), rng.uniform(0.5, 0.8),
        grain * rng.uniform(0.8, 1.2), rng.normal(0.06, 0.06),
    )  # fmt: skip


def _deposit(rng: np.random.Generator, box: Box, around: Box, hand: _Hand, tooth: Pixels) -> Pixels:
    """(rows, cols) paint by the mean amount of the swatch; tooth: the paper's, unit spread."""
    inner = _inside(_outline(rng, box), around)
    cloud = smooth_field(rng, inner.shape, 4.0)
    down = np.linspace(-1, 1, len(inner), dtype=np.float32)[:, None]
    speck = smooth_field(rng, inner.shape, max(inner.shape) / DENSITY / 0.35)
    grain = hand.grain * (0.75 * tooth + 0.66 * speck)
    lying = np.exp(hand.uneven * cloud + hand.run * down + grain)
    lying *= 1 + hand.rim * np.exp(-((inner / np.float32(hand.rim_mm)) ** 4))
    lying *= np.clip(inner / 0.15, 0, 1)
    return np.asarray(lying / max(float(lying[inner > 0].mean()), 1e-6))


# ------------------------------------------------------------------ colour tables


@cache
def _spline(coats: int) -> Floats:
    """(levels, knots): values at even steps of the root of amount, from those at the knots."""
    knots = _KNOTS[coats - 1]
    steps = np.linspace(0.0, knots[-1], LEVELS[coats - 1])
    return np.asarray(CubicSpline(knots, np.eye(len(knots)))(steps))


def _table(card: tuple[Pigments, Paper, Floats], coats: Sequence[Floats]) -> Pixels:
    """Reflectance (levels, ..., 36) of coats that lie thinner or thicker than meant."""
    pigments, sheet, lift = card
    times = _KNOTS[len(coats) - 1] ** 2
    grids = np.meshgrid(*[times] * len(coats), indexing="ij")
    lying = [g[..., None] * c for g, c in zip(grids, coats, strict=True)]
    # Amount after the logarithm: nearly straight, so that few knots serve.
    seen = np.log(stack(pigments, sheet, _stirred(lying, lift)) + 0.02)
    for axis in range(len(coats)):
        seen = np.moveaxis(np.tensordot(_spline(len(coats)), seen, (1, axis)), 0, axis)
    return np.asarray(np.exp(seen) - 0.02, np.float32)


def _ink_table(card: tuple[Pigments, Paper, Floats], coats: Sequence[Floats]) -> Pixels:
    """The same over a pen line, whose ink keeps paint out of the fibres; all coats alike."""
    pigments, sheet, lift = card
    ink = Paper(np.full(N_BANDS, _INK), 0.0, 0.0, sheet.sheen)
    lying = [(_KNOTS[1] ** 2)[:, None] * c for c in coats]
    seen = np.log(stack(pigments, ink, _stirred(lying, lift), sealed=True) + 0.02)
    steps = np.linspace(0, _KNOTS[1][-1], LEVELS[0])
    return np.asarray(np.exp(CubicSpline(_KNOTS[1], seen)(steps)) - 0.02, np.float32)


def _level(times: Pixels, coats: int) -> NDArray[np.uint16]:
    top = LEVELS[coats - 1] - 1
    return np.asarray(np.clip(np.sqrt(times / MOST) * top + 0.5, 0, top), np.uint16)


# ------------------------------------------------------------------ the card


class _Painter:
    """Paints one card."""

    def __init__(self, rng: np.random.Generator, variety: float) -> None:
        self.rng = rng
        pigments = measured_pigments()
        self.pigments = _varied(pigments, rng, variety) if variety else pigments
        soak = rng.uniform(0.15, 0.45)
        self.sheet = Paper(_white(rng), soak, 0.3 * soak, MATT)
        self.lift = rng.uniform(0.0, 0.15, len(KEYS)) * (rng.random(len(KEYS)) < 0.7)
        self.cups = _Cups(rng)
        self.grain = dict(zip(KEYS, rng.uniform(0.05, 0.25, len(KEYS)), strict=True))
        self.optics = (self.pigments, self.sheet, self.lift)

    def patch(self, swatch: Swatch, tooth: Pixels) -> tuple[Patch, tuple[Coat, ...], Floats]:
        """A swatch, the mean amounts in its sample box and the mean reflectance there."""
        coats = tuple(self.cups.coat(c) for c in swatch.coats)
        box = swatch_box(swatch.row, swatch.column)
        around = box.shrunk(-MARGIN)
        maps = [self._map(coat, box, around, tooth) for coat in coats]
        levels = tuple(_level(m, len(coats)) for m in maps)
        vectors = _vectors(coats)
        patch = Patch(
            around, levels, _table(self.optics, vectors), _ink_table(self.optics, vectors)
        )
        part = _cut(around, sample_of(swatch.row, swatch.column))
        means = [float(m[part].mean()) for m in maps]
        lying = tuple(
            tuple((k, a * mean) for k, a in coat) for coat, mean in zip(coats, means, strict=True)
        )
        colour = patch.colours[tuple(v[part] for v in levels)]
        return patch, lying, colour.reshape(-1, N_BANDS).mean(axis=0, dtype=float)

    def _map(self, coat: Coat, box: Box, around: Box, tooth: Pixels) -> Pixels:
        grain = np.average([self.grain[k] for k, _ in coat], weights=[a for _, a in coat])
        return _deposit(self.rng, box, around, _hand(self.rng, float(grain)), tooth)


def _cut(whole: Box, part: Box) -> tuple[slice, slice]:
    """Rows and columns of a part of a box."""
    y, x = round((part.y - whole.y) * DENSITY), round((part.x - whole.x) * DENSITY)
    return (
        slice(y, y + round(part.height * DENSITY)), slice(x, x + round(part.width * DENSITY)),
    )  # fmt: skip


def random_card(
    rng: np.random.Generator,
    paints: Sequence[str] | None = None,
    rows: Sequence[CardRow] | None = None,
    *,
    variety: float = 0.0,
) -> PaintedCard:
    """A card as somebody paints it.

    paints: keys from KEYS with a row each, 1 to 8; None draws them. rows: what to paint
    instead of what `rows_for` proposes. variety: spread of the logarithm by which the paints
    differ from the measured ones along the spectrum, 0 for none.
    """
    if paints is None:
        paints = rng.permutation(KEYS)[: int(rng.integers(1, 9))].tolist()
    if rows is None:
        chosen = [paint(k) for k in paints]
        rest = [paint(k) for k in KEYS if k not in paints] if len(paints) < 6 else []
        rows = rows_for(chosen, rest)
    painter = _Painter(rng, variety)
    amounts: dict[str, tuple[Coat, ...]] = {}
    colours: dict[str, Floats] = {}
    patches: dict[str, Patch] = {}
    for swatch in swatches_of(rows):
        if not swatch.coats:
            amounts[swatch.name], colours[swatch.name] = (), painter.sheet.seen
            continue
        tooth = smooth_field(rng, _shape(swatch), 17.2 / 0.6)
        found = painter.patch(swatch, tooth)
        patches[swatch.name], amounts[swatch.name], colours[swatch.name] = found
    return PaintedCard(
        tuple(rows), painter.sheet.seen, amounts, colours, painter.pigments, painter.sheet,
        painter.lift, patches, int(rng.integers(2**32)),
    )  # fmt: skip


def _shape(swatch: Swatch) -> tuple[int, int]:
    around = swatch_box(swatch.row, swatch.column).shrunk(-MARGIN)
    return round(around.height * DENSITY), round(around.width * DENSITY)
