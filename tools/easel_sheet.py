"""A half-painted sheet, pixel by pixel, and the truth about it.

    sheet = painting(plan, Hand(seed=7), done=2)
    sheet.truth.ratios, sheet.labs()

Borders wander, washes lie unevenly, dry darker at hard borders and settle in the paper's tooth;
pencil lines show through. Fine strokes are left out. The colours are those of `easel_optics`,
which shares nothing with the planner's own. Layers count from 1; (row, column) order; the
picture's upper left corner is (0, 0) mm.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from card_camera import Pixels, lab_of, smooth_field, xyz_d65
from card_optics import Floats
from card_pigments import KEYS
from easel_hand import BORDER, NOTHING, RIM, TOOTH, Hand, Lay, Lays, lays_of, uneven
from easel_optics import Table, sheet_of, table_of
from firstwash.plan.result import Plan

__all__ = ["Painting", "Truth", "hearts", "painting"]

Labels = NDArray[np.int32]

BUMP_MM: Final = 25.0  # from one bulge of a border to the next
RIM_MM: Final = 0.7
DRAINED_MM: Final = 2.0  # next to the rim, from where its paint came
TOOTH_MM: Final = 0.8
LINE_MM: Final = 0.4
DRAWN_MM: Final = 2.0  # σ of the softest border that gets a pencil line
LINE_SOFT: Final = 0.15  # mm
LINE_LEFT: Final = 0.75  # of the reflectance under a pencil line
SOFT_MM: Final = (0.0, 0.5, 1.0, 2.0, 4.0)  # blurs between which soft borders are told
HEART_MM: Final = 3.0  # from a cell's border


@dataclass(frozen=True, eq=False)
class Truth:
    """What really lies there. ratios: (cells, done) laid by meant, the mean over the cell's own
    pixels: 0 where forgotten, NaN where nothing was meant. washes: the same by (layer, number), of
    the whole wash. labs: (cells, 3) CIELAB (D65, 2°) of the mean light of every cell's heart.
    """

    ratios: Floats
    washes: Mapping[tuple[int, int], float]
    labs: Floats


@dataclass(frozen=True, eq=False)
class Painting:
    """A sheet after `done` layers. number, times: what `Table.colours` asks for.
    shade: (rows, cols) share that pencil leaves. softness: (rows, cols) σ in mm of soft borders.
    """

    plan: Plan
    done: int
    ppmm: float
    lays: Lays
    laid: tuple[Labels, ...]
    table: Table
    number: Labels
    times: NDArray[np.float32]
    shade: Pixels
    softness: Pixels

    def colours(self, weights: Floats) -> Pixels:
        """(rows, cols, 3) linear colours by the weights (36, 3) of the spectrum."""
        sharp = self.table.colours(weights, self.number, self.times)
        return np.asarray(_softened(sharp, self.softness, self.ppmm) * self.shade[..., None])

    def labs(self) -> Floats:
        """(rows, cols, 3) CIELAB in D65."""
        return lab_of(self.colours(xyz_d65(np.eye(36))).astype(float))

    @cached_property
    def truth(self) -> Truth:
        """The truth about every cell and wash."""
        xyz = self.colours(xyz_d65(np.eye(36)))
        index = self.plan.cells.index
        small = np.asarray(cv2.resize(xyz, index.shape[::-1], interpolation=cv2.INTER_AREA), float)
        mean = self.plan.cells.mean(small, hearts(self.plan).astype(float))
        ratios, washes = self._ratios()
        return Truth(ratios, washes, lab_of(mean))

    def _ratios(self) -> tuple[Floats, dict[tuple[int, int], float]]:
        index = self.plan.cells.index
        ratios = np.full((self.plan.cells.count, self.done), np.nan)
        sums: dict[tuple[int, int], list[float]] = {}
        for layer in range(self.done):
            labels = cv2.resize(self.laid[layer], index.shape[::-1], interpolation=0)
            times = cv2.resize(self.times[layer], index.shape[::-1], interpolation=cv2.INTER_AREA)
            own = labels == self.lays.of[index, layer]
            flat = index[own]
            count = np.bincount(flat, minlength=len(ratios))
            mean = np.bincount(flat, times[own], minlength=len(ratios)) / np.maximum(count, 1)
            for number, lay in enumerate(self.lays.lays):
                if lay.layer != layer + 1:
                    continue
                load = float(lay.laid.sum() / lay.meant.sum())
                cells = self.lays.of[:, layer] == number
                ratios[cells, layer] = load * np.where(count[cells] > 0, mean[cells], 1.0)
                share = times[labels == number]
                kept = sums.setdefault((lay.layer, lay.number), [0.0, 0.0])
                kept[0] += load * float(share.sum())
                kept[1] += share.size
            gone = (self.lays.of[:, layer] == NOTHING) & (self.lays.meant[:, layer] != NOTHING)
            ratios[gone, layer] = 0.0
        return ratios, {k: a / n for k, (a, n) in sums.items() if n}


def hearts(plan: Plan) -> NDArray[np.bool_]:
    """(rows, cols) of the cells' index: away from the cell's border, or its deepest part."""
    index = plan.cells.index
    depth = cv2.distanceTransform((~_borders(index)).astype(np.uint8), cv2.DIST_L2, 5)
    most = np.zeros(plan.cells.count)
    np.maximum.at(most, index.ravel(), depth.ravel())
    return np.asarray(depth >= np.minimum(HEART_MM * plan.cells.ppmm, 0.6 * most)[index])


def _borders(index: NDArray[np.int32]) -> NDArray[np.bool_]:
    """(rows, cols) pixels with another label to the right or below, and those themselves."""
    out = np.zeros(index.shape, bool)
    across, down = index[:, 1:] != index[:, :-1], index[1:] != index[:-1]
    out[:, 1:] |= across
    out[:, :-1] |= across
    out[1:] |= down
    out[:-1] |= down
    return out


# ------------------------------------------------------------------ where washes lie


@dataclass(frozen=True, eq=False)
class _Frame:
    """The pixels to paint. x, y: (rows, cols) where they lie in the plan's cells, pixels."""

    ppmm: float
    size_mm: tuple[float, float]
    x: Pixels
    y: Pixels


def _frame(plan: Plan, ppmm: float) -> _Frame:
    rows, cols = plan.cells.index.shape
    own = plan.cells.ppmm
    size = cols / own, rows / own
    y, x = np.mgrid[0 : round(size[1] * ppmm), 0 : round(size[0] * ppmm)].astype(np.float32)
    scale = np.float32(own / ppmm)
    return _Frame(ppmm, size, (x + 0.5) * scale - 0.5, (y + 0.5) * scale - 0.5)


def _wander(frame: _Frame, hand: Hand, layer: int, own_ppmm: float) -> tuple[Pixels, Pixels]:
    """Where each pixel's paint was meant to lie: less than `border_mm` away."""
    rng = hand.rng(BORDER, layer)
    bumps = max(frame.size_mm) / BUMP_MM
    two = [0.45 * hand.border_mm * smooth_field(rng, frame.x.shape, bumps) for _ in range(2)]
    far = np.maximum(np.hypot(*two), 1e-6)
    less = hand.border_mm * np.tanh(far / max(hand.border_mm, 1e-6)) / far * own_ppmm
    return frame.x + two[0] * less, frame.y + two[1] * less


def _laid(plan: Plan, of: NDArray[np.int64], at: tuple[Pixels, Pixels]) -> Labels:
    """(rows, cols) lays of one layer, of (cells,), with smooth borders."""
    own = of[plan.cells.index]
    best = np.zeros(at[0].shape, np.float32)
    out = np.full(at[0].shape, NOTHING, np.int32)
    for number in np.unique(of):
        mask = cv2.GaussianBlur((own == number).astype(np.float32), (0, 0), 1.0)
        there = cv2.remap(mask, *at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        more = there > best
        best[more], out[more] = there[more], number
    return out


def _hard(plan: Plan) -> NDArray[np.uint8]:
    """(rows, cols) of the cells' index: 1 beside a hard border."""
    out = np.zeros(plan.cells.index.shape, bool)
    out[:, 1:] |= plan.edges.hard_across
    out[:, :-1] |= plan.edges.hard_across
    out[1:] |= plan.edges.hard_down
    out[:-1] |= plan.edges.hard_down
    return np.asarray(cv2.dilate(out.astype(np.uint8), np.ones((3, 3), np.uint8)))


def _rim(labels: Labels, hard: NDArray[np.uint8], most: Pixels, ppmm: float) -> Pixels:
    """(rows, cols) multiplier: darker at hard borders, lighter beside; most: (rows, cols)."""
    border = _borders(labels) & (hard > 0)
    mm = cv2.distanceTransform((~border).astype(np.uint8), cv2.DIST_L2, 5) / np.float32(ppmm)
    mm = np.minimum(mm, 20.0)  # a sheet without borders is infinitely far from them
    dark = np.exp(-((mm / RIM_MM) ** 4))
    beside = np.exp(-(((mm - RIM_MM - 0.5 * DRAINED_MM) / (0.5 * DRAINED_MM)) ** 4))
    return np.asarray(1 + most * (dark - RIM_MM / DRAINED_MM * beside))


def _times(
    frame: _Frame, hand: Hand, lays: tuple[Lay, ...], labels: Labels, hard: NDArray[np.uint8],
    tooth: Pixels,
) -> Pixels:  # fmt: skip
    """(rows, cols) multiplier of what one layer lays."""
    out = np.ones(labels.shape, np.float32)
    most = np.zeros(labels.shape, np.float32)
    grain = np.zeros(labels.shape, np.float32)
    for number in np.unique(labels[labels != NOTHING]).tolist():
        lay, own = lays[number], labels == number
        field = cv2.resize(uneven(hand, lay, frame.size_mm), labels.shape[::-1])
        out[own] = field[own]
        dries = hand.rng(RIM, lay.layer, lay.number).uniform(0.3, 1.0)
        most[own] = 0.0 if lay.wet else hand.rim * dries
        grain[own] = hand.grain * lay.grain
    return np.asarray(out * _rim(labels, hard, most, frame.ppmm) * np.exp(grain * tooth))


def _tooth(frame: _Frame, hand: Hand) -> Pixels:
    """(rows, cols) the paper's hollows, unit spread."""
    rng = hand.rng(TOOTH)
    shape = frame.x.shape
    fine = sum(smooth_field(rng, shape, max(frame.size_mm) / mm) for mm in (TOOTH_MM, 3 * TOOTH_MM))
    return np.asarray(fine / np.float32(np.std(fine)), np.float32)


def _pencil(plan: Plan, frame: _Frame, hand: Hand) -> Pixels:
    """(rows, cols) share of the light that pencil lines along the cells leave."""
    if not hand.pencil:
        return np.ones(frame.x.shape, np.float32)
    nearest = (np.round(v).astype(np.int32) for v in (frame.y, frame.x))
    there = tuple(nearest)
    drawn = (_hard(plan) > 0) | (plan.edges.softness < DRAWN_MM)  # nobody draws a lost edge
    border = _borders(plan.cells.index[there]) & drawn[there]
    line = cv2.GaussianBlur(border.astype(np.float32), (0, 0), LINE_SOFT * frame.ppmm)
    width = 2.0 / frame.ppmm  # of what `_borders` finds, mm
    inside = np.clip(line * max(LINE_MM / width, 1.0), 0, 1)
    press = 1 + 0.25 * smooth_field(hand.rng(TOOTH, 1), frame.x.shape, 12)
    return np.asarray(1 - (1 - LINE_LEFT) * np.clip(press, 0.4, 1.4) * inside, np.float32)


def _softness(plan: Plan, frame: _Frame) -> Pixels:
    """(rows, cols) σ in mm by which borders run into each other, 0 along hard ones."""
    soft = cv2.remap(plan.edges.softness, frame.x, frame.y, cv2.INTER_LINEAR)
    if not soft.any():
        return np.asarray(soft)
    hard = cv2.remap(_hard(plan), frame.x, frame.y, cv2.INTER_NEAREST)
    mm = cv2.distanceTransform(1 - hard, cv2.DIST_L2, 5) / np.float32(frame.ppmm)
    return np.asarray(np.minimum(soft, 0.5 * mm))


def _softened(sharp: Pixels, softness: Pixels, ppmm: float) -> Pixels:
    """Colours that run into each other where borders are soft."""
    if not softness.any():
        return sharp
    logs = np.log(np.maximum(sharp, 1e-3))
    level = np.interp(softness, SOFT_MM, np.arange(len(SOFT_MM))).astype(np.float32)
    out = logs * np.clip(1 - level, 0, 1)[..., None]
    for n, sigma in enumerate(SOFT_MM[1:], 1):
        share = np.clip(1 - abs(level - n), 0, 1) if n < len(SOFT_MM) - 1 else np.clip(
            level - n + 1, 0, 1
        )  # fmt: skip
        if share.any():
            out += share[..., None] * _blurred(logs, sigma * ppmm)
    return np.asarray(np.exp(out))


def _blurred(pixels: Pixels, sigma: float) -> Pixels:
    """Blurred in a smaller size where that loses nothing."""
    factor = max(int(sigma / 2.5), 1)
    size = pixels.shape[1::-1]
    small = cv2.resize(pixels, (size[0] // factor, size[1] // factor), interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(small, (0, 0), sigma / factor)
    return np.asarray(cv2.resize(soft, size, interpolation=cv2.INTER_LINEAR))


def painting(plan: Plan, hand: Hand, done: int, ppmm: float = 4.0) -> Painting:
    """The sheet after `done` layers (0 …) at ppmm pixels per mm.

    Raises ValueError for a plan with paints that are not in `card_pigments.KEYS`.
    """
    if not 0 <= done <= plan.layers:
        raise ValueError(f"A plan of {plan.layers} layers has no stage {done}.")
    frame, lays = _frame(plan, ppmm), lays_of(plan, hand)
    hard, tooth = _hard(plan), _tooth(frame, hand)
    laid: list[Labels] = []
    times: list[Pixels] = []
    for layer in range(done):
        at = _wander(frame, hand, layer + 1, plan.cells.ppmm)
        laid.append(_laid(plan, lays.of[:, layer], at))
        near = cv2.remap(hard, *at, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REPLICATE)
        beside = np.asarray(near, np.uint8)
        times.append(_times(frame, hand, lays.lays, laid[-1], beside, tooth))
    number, stacks = _stacks(frame.x.shape, laid, lays)
    table = table_of(sheet_of(np.asarray(plan.paper.reflectance)), stacks)
    pile = np.stack(times) if times else np.empty((0, *frame.x.shape), np.float32)
    return Painting(
        plan, done, ppmm, lays, tuple(laid), table, number, pile, _pencil(plan, frame, hand),
        _softness(plan, frame),
    )  # fmt: skip


def _stacks(shape: tuple[int, ...], laid: list[Labels], lays: Lays) -> tuple[Labels, Floats]:
    """(rows, cols) number of every pixel's stack, and the stacks (n, layers, 13)."""
    base = len(lays.lays) + 1
    code = np.zeros(shape, np.int64)
    for labels in laid:
        code = code * base + labels + 1
    found, number = np.unique(code, return_inverse=True)
    amounts = np.vstack([np.zeros(len(KEYS)), *[lay.laid for lay in lays.lays]])
    digits = [found // base**n % base for n in reversed(range(len(laid)))]
    stacks = amounts[np.array(digits, int).T.reshape(len(found), len(laid))]
    return number.reshape(shape).astype(np.int32), stacks
