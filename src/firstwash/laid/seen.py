"""The colour of every area on the sheet, from a photo laid over the plan."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, IntArray
from firstwash.optics.difference import delta_e_1976
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.plan.result import Plan

__all__ = ["AreasSeen", "areas_seen", "bare_boxes", "glare", "stacks_of"]

# Own judgement, tried on made-up photos (tools/easel_trials.py).
AWAY_MM: Final = 2.0  # from the border of other paint: a hand is off by as much
HEART: Final = 0.35  # share of an area that counts at least, however narrow
PLAIN: Final = 2.5  # CIELAB by which the plan's own picture may differ from an area's flat colour
TRIMMED: Final = 0.1  # share of the darkest, and of the lightest: pencil, tooth, glare
EVEN: Final = 0.6  # CIELAB of the mean of a large even area: noise and the light's unevenness
LEAK: Final = (7.0, 0.8)  # CIELAB at the very border, and mm in which it falls off
PATCH_MM: Final = 15.0  # over which uneven paint goes together
FEWEST: Final = 12  # pixels
BOX_MM: Final = 4.0  # of bare paper by which the light is judged
SHINE: Final = 0.35  # share by which a wet place outshines what lies round it
SHINE_MM: Final = 12.0  # how far round
LIGHTER: Final = 6.0  # L* above the area's own, from which a place may be glare


@dataclass(frozen=True, eq=False)
class AreasSeen:
    """Colours as photographed, bare paper as the plan has it.

    labs: (cells, 3) CIELAB, NaN where nothing of an area can be seen. sigmas: (cells,) CIELAB
    units by which they may be off, infinite there.
    """

    labs: NDArray[np.float64]
    sigmas: NDArray[np.float64]


def stacks_of(plan: Plan, done: int) -> NDArray[np.int64]:
    """(cells,) number of what lies on each after `done` layers: the same where it looks alike."""
    number: dict[tuple[tuple[int, int, float], ...], int] = {}
    under = [tuple(c for c in own if c[0] <= done) for own in plan.coats]
    return np.array([number.setdefault(u, len(number)) for u in under], dtype=np.int64)


def areas_seen(
    plan: Plan, done: int, picture: NDArray[np.float32], hidden: BoolArray | None = None
) -> AreasSeen:
    """What shows in every area after `done` layers.

    picture: (rows, cols, 3) linear light on the plan's own pixels, white paper's as the plan has
    it; NaN where the photo does not reach. hidden: (rows, cols) where something else is in the way.
    """
    lab = np.asarray(xyz_to_lab(linear_srgb_to_xyz(np.maximum(np.nan_to_num(picture), 1e-5))))
    open_ = np.isfinite(picture).all(axis=2)
    if hidden is not None:
        open_ &= ~hidden
    open_ &= _plain(plan, done)
    away = _away_from_borders(plan, done)
    order = np.argsort(plan.cells.index.ravel(), kind="stable")
    ends = np.cumsum(np.bincount(plan.cells.index.ravel(), minlength=plan.cells.count))
    labs, sigmas = np.full((plan.cells.count, 3), np.nan), np.full(plan.cells.count, np.inf)
    flat, free, mm = lab.reshape(-1, 3), open_.ravel(), away.ravel()
    for cell, pixels in enumerate(np.split(order, ends[:-1])):
        own = pixels[free[pixels]]
        if len(own) < FEWEST:
            continue
        least = min(AWAY_MM, float(np.quantile(mm[own], 1.0 - HEART)))
        heart = own[mm[own] >= least]
        if len(heart) < FEWEST:
            continue
        labs[cell], spread = _middle(flat[heart])
        patches = max(len(heart) / (plan.cells.ppmm * PATCH_MM) ** 2, 1.0)
        leak = LEAK[0] * np.exp(-least / LEAK[1])
        sigmas[cell] = np.sqrt(EVEN**2 + leak**2 + spread**2 / patches)
    return AreasSeen(labs, sigmas)


def _middle(labs: NDArray[np.float64]) -> tuple[NDArray[np.float64], float]:
    """Mean (3,) without the lightest and the darkest, and how uneven the rest is."""
    low, high = np.quantile(labs[:, 0], (TRIMMED, 1.0 - TRIMMED))
    kept = labs[(labs[:, 0] >= low) & (labs[:, 0] <= high)]
    mean = kept.mean(axis=0)
    return mean, float(np.sqrt(((kept - mean) ** 2).sum(axis=1).mean()))


def _plain(plan: Plan, done: int) -> NDArray[np.bool_]:
    """Where the plan's own picture shows the areas' flat colours: no soft edge, no fine stroke."""
    drawn = xyz_to_lab(plan.stage_xyz[done])
    flat = plan.stage_labs[done][plan.cells.index]
    return np.asarray(delta_e_1976(drawn, flat) < PLAIN)


def _away_from_borders(plan: Plan, done: int) -> NDArray[np.float32]:
    """(rows, cols) mm to the next place where other paint lies, or to the picture's edge."""
    stacks = stacks_of(plan, done)[plan.cells.index]
    inside = np.pad(~_borders(stacks), 1, constant_values=False).astype(np.uint8)
    far = cv2.distanceTransform(inside, cv2.DIST_L2, 5)[1:-1, 1:-1]
    return np.asarray(far / plan.cells.ppmm, dtype=np.float32)


def _borders(labels: IntArray) -> NDArray[np.bool_]:
    out = np.zeros(labels.shape, dtype=np.bool_)
    out[:-1] |= labels[:-1] != labels[1:]
    out[:, :-1] |= labels[:, :-1] != labels[:, 1:]
    return out


def bare_boxes(plan: Plan, done: int) -> list[tuple[float, float, float]]:
    """Middles (x, y) and half sides, in mm, of squares that the plan keeps bare so far."""
    bare = np.array([not any(c[0] <= done for c in own) for own in plan.coats])
    free = bare[plan.cells.index] & (_away_from_borders(plan, done) > AWAY_MM + 0.5 * BOX_MM)
    step = max(round(2 * BOX_MM * plan.cells.ppmm), 1)
    rows, cols = free.shape
    return [
        ((x + 0.5) / plan.cells.ppmm, (y + 0.5) / plan.cells.ppmm, 0.5 * BOX_MM)
        for y in range(step // 2, rows, step)
        for x in range(step // 2, cols, step)
        if free[y, x]
    ]


def glare(plan: Plan, done: int, picture: NDArray[np.float32]) -> NDArray[np.bool_]:
    """(rows, cols) places that shine: much lighter than the paint round them, and colourless.

    Only over paint can it be told; over bare paper a shine does no harm.
    """
    light = np.nan_to_num(picture).mean(axis=2)
    size = 2 * round(0.5 * SHINE_MM * plan.cells.ppmm) + 1
    small = cv2.resize(light, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    coded = np.asarray(255 * np.clip(small, 0, 1), np.uint8)
    near = np.asarray(cv2.medianBlur(coded, min(size // 4 | 1, 255)), np.float32) / 255.0
    round_ = np.asarray(cv2.resize(near, light.shape[::-1], interpolation=cv2.INTER_LINEAR))
    bare = plan.stage_labs[0][:, 0] - plan.stage_labs[done][:, 0] < LIGHTER
    expected = plan.stage_xyz[done][..., 1]
    over = ~bare[plan.cells.index]
    shines = (light > round_ * (1.0 + SHINE) + 0.05) & (light > expected + 0.15) & over
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))
    return np.asarray(cv2.morphologyEx(shines.astype(np.uint8), cv2.MORPH_OPEN, brush) > 0)
