"""What painters change in the picture before it is planned: parts left out, lightened, recoloured.

Areas are polygons in fractions (across, down) of the sheet; their edges fade over about a
millimetre. Changes are made one after the other at the working size and brought down to the
judging size; places outside them keep their own pixels in both.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, as_float
from firstwash.errors import RequestError
from firstwash.optics.observer import lab_to_xyz, xyz_to_lab
from firstwash.picture.reference import Reference, shrink_xyz

__all__ = ["Change", "ChangeKind", "area_mask", "changed", "filled"]

ChangeKind = Literal["leave out", "lighten", "darken", "recolour"]
Point = tuple[float, float]
Area = tuple[Point, ...]

# Own choice, by eye on photos; no source.
FEATHER_MM = 0.4  # standard deviation: 10 to 90 % of an edge within 1.0 mm
RIM_MM = 1.5  # what surrounds a part left out, averaged so that its grain makes no streaks
WHITE_LAB = (100.0, 0.0, 0.0)
CHROMA_FLOOR = 3.0  # C* at which a recoloured place starts to count as coloured
FINER = 4  # times the working size at which areas are drawn
SWEEPS = 12  # of the fill at each size; the next size starts from it


@dataclass(frozen=True)
class Change:
    """One change the painter makes to a part of the picture.

    kind: "leave out" fills the area from what surrounds it; "lighten" thins it towards
    the paper and "darken" takes it towards black, its hue kept; "recolour" gives it another
    colour and keeps its own lights and darks. area: at least three corners in fractions of
    the sheet. amount: 0 nothing to 1 all of it.
    lab: for "recolour", the wanted a*, b* and, with `with_light`, L* of the area's mean.
    Raises RequestError for a change that makes no sense.
    """

    kind: ChangeKind
    area: Area
    amount: float = 1.0
    lab: tuple[float, float, float] | None = None
    with_light: bool = False

    def __post_init__(self) -> None:
        """Check what was asked."""
        if self.kind not in get_args(ChangeKind):
            raise RequestError("A part can be left out, lightened, darkened or recoloured.")
        if len(self.area) < 3 or not all(math.isfinite(v) for point in self.area for v in point):
            raise RequestError("Draw round the part you want to change; three corners at least.")
        if not 0.0 <= self.amount <= 1.0:
            raise RequestError("How much a part changes lies between 0, nothing, and 1, all of it.")
        if self.kind == "recolour" and not _is_colour(self.lab):
            raise RequestError("Choose the colour that part should get.")


def _is_colour(lab: tuple[float, float, float] | None) -> bool:
    return lab is not None and len(lab) == 3 and all(abs(v) <= 200.0 for v in lab)


def changed(
    reference: Reference,
    changes: Sequence[Change],
    paper_lab: tuple[float, float, float] = WHITE_LAB,
) -> Reference:
    """The reference with the changes made in their order; zones and weights stay.

    paper_lab: L*, a*, b* of the bare sheet; lightening ends there.
    Raises RequestError when an area lies off the sheet, or leaves nothing to fill it from.
    """
    for change in changes:
        reference = _with(reference, change, as_float(paper_lab))
    return reference


def _with(reference: Reference, change: Change, paper: FloatArray) -> Reference:
    cover = area_mask(reference, change.area)
    if not (cover > 0.0).any():
        raise RequestError("The part to change lies off the sheet; draw it on the picture.")
    box = _box(cover > 0.0, math.ceil(3 * RIM_MM * reference.ppmm) + 2)
    part = xyz_to_lab(reference.xyz[box])
    new = _new(part, cover[box], change, paper, reference.ppmm)
    # Mixed as light is mixed, as an edge seen from afar would be.
    share = (cover[box] * _share(change))[..., None]
    light = np.maximum(lab_to_xyz(new), 0.0)
    xyz = reference.xyz.copy()
    xyz[box] += (light - xyz[box]) * share
    small = shrink_xyz(xyz, reference.judge_xyz)
    touched = shrink_xyz((cover > 0.0).astype(np.float32), reference.judge_xyz) > 0.0
    judge = np.where(touched[..., None], small, reference.judge_xyz)
    return replace(reference, xyz=xyz, judge_xyz=judge.astype(np.float32))


def _share(change: Change) -> float:
    """How much of the new colour is mixed in; the others already went part of the way."""
    return change.amount if change.kind == "leave out" else 1.0


def _new(
    lab: FloatArray, cover: FloatArray, change: Change, paper: FloatArray, ppmm: float
) -> FloatArray:
    if change.kind == "leave out":
        return filled(lab, cover > 0.0, RIM_MM * ppmm)
    if change.kind == "recolour":
        return _recoloured(lab, cover, change, paper)
    return _thinned(lab, change.amount, paper if change.kind == "lighten" else np.zeros(3))


def _box(inside: BoolArray, margin: int) -> tuple[slice, slice]:
    """The rows and columns that hold what is inside, and a margin."""
    sides = []
    for axis in (1, 0):
        found = np.flatnonzero(inside.any(axis=axis))
        sides.append(slice(max(0, int(found[0]) - margin), int(found[-1]) + 1 + margin))
    return sides[0], sides[1]


def area_mask(reference: Reference, area: Area) -> NDArray[np.float32]:
    """How much (0-1) of each pixel (rows, cols) at working size an area covers, edges faded."""
    rows, cols = reference.xyz.shape[:2]
    # Drawn finer and averaged: drawn at this size, areas come out half a pixel too wide.
    mask = np.zeros((rows * FINER, cols * FINER), dtype=np.uint8)
    # Corners far outside would overflow the sixteenths of a pixel that are drawn in.
    corners = np.clip(as_float(area), -4.0, 5.0) * [cols * FINER, rows * FINER] - 0.5
    cv2.fillPoly(mask, [np.rint(corners * 16).astype(np.int32)], 255, cv2.LINE_8, shift=4)
    sharp = cv2.resize(mask, (cols, rows), interpolation=cv2.INTER_AREA)
    sharp = np.asarray(sharp, dtype=np.float32) / np.float32(255.0)
    sigma = FEATHER_MM * reference.ppmm
    soft = cv2.GaussianBlur(sharp, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE)
    return np.where(soft < 1e-3, np.float32(0.0), np.minimum(soft, np.float32(1.0)))


# --- lighter, darker, another colour -------------------------------------------------


def _thinned(lab: FloatArray, amount: float, end: FloatArray) -> FloatArray:
    """Lightness an equal part of the way to `end`; the colour lasts longer than the way is.

    A glaze thinned to half keeps more than half of its chroma; 1 - t² is near to what the
    density of a dye does (a choice, compared by eye).
    """
    out = as_float(lab).copy()
    way = end[0] - out[..., 0]
    # What is past the end already, a glint lighter than the paper, stays as it is.
    way = np.maximum(way, 0.0) if end[0] > 0.0 else np.minimum(way, 0.0)
    out[..., 0] += amount * way
    out[..., 1:] += (end[1:] - out[..., 1:]) * amount**2
    return out


def _recoloured(
    lab: FloatArray, cover: FloatArray, change: Change, paper: FloatArray
) -> FloatArray:
    """The area's mean moved to the wanted colour, each place with its own difference from it.

    Places without colour in a coloured thing (glints, deep shadows) are moved less, so that a
    light on an apple stays a light when the apple turns green.
    """
    out = as_float(lab).copy()
    wanted = as_float(change.lab if change.lab is not None else WHITE_LAB)
    weight = cover / cover.sum()
    mean = np.tensordot(weight, out, axes=2)
    chroma = np.hypot(out[..., 1], out[..., 2])
    colourful = float((weight * chroma).sum())
    follow = np.minimum((chroma + CHROMA_FLOOR) / (colourful + CHROMA_FLOOR), 1.0)
    follow /= float((weight * follow).sum())
    out[..., 1:] += follow[..., None] * (change.amount * (wanted - mean)[1:])
    if change.with_light:
        light = out[..., 0] + change.amount * (wanted[0] - mean[0])
        out[..., 0] = np.clip(light, 0.0, np.maximum(out[..., 0], paper[0]))
    return out


# --- left out ------------------------------------------------------------------------


def filled(picture: FloatArray, hole: BoolArray, rim_px: float) -> NDArray[np.float64]:
    """The picture (rows, cols, channels) with the hole spanned like a skin from its rim.

    hole: (rows, cols), True where the picture is to be replaced. rim_px: how far around the
    hole the rim is averaged. The skin is harmonic: every place inside is the mean of its
    neighbours, so nothing inside is lighter, darker or of more colour than the rim.
    Source: [Perez2003], the membrane without a guiding gradient; solved from coarse to fine.
    Raises RequestError where no rim is left.
    """
    if hole.all():
        raise RequestError("Leave something around the part you leave out, to fill it from.")
    values = as_float(picture)
    known = (~hole).astype(np.float64)
    sigma = max(rim_px / 2.0, 0.5)
    near = cv2.GaussianBlur(known, (0, 0), sigma)[..., None]
    calm = cv2.GaussianBlur(values * known[..., None], (0, 0), sigma) / np.maximum(near, 1e-6)
    rim = np.where(hole[..., None] | (near < 0.02), values, calm)
    skin = _spanned(rim.astype(np.float32), hole)
    return np.where(hole[..., None], skin, values)


def _spanned(picture: NDArray[np.float32], hole: BoolArray) -> NDArray[np.float32]:
    """The hole filled at half the size first, then smoothed at this one."""
    rows, cols = hole.shape
    if not hole.any():
        return picture
    known = (~hole).astype(np.float32)
    if min(rows, cols) <= 4:
        mean = (picture * known[..., None]).sum(axis=(0, 1)) / max(float(known.sum()), 1e-6)
        start = np.broadcast_to(mean, picture.shape)
    else:
        size = ((cols + 1) // 2, (rows + 1) // 2)
        share = cv2.resize(known, size, interpolation=cv2.INTER_AREA)
        total = cv2.resize(picture * known[..., None], size, interpolation=cv2.INTER_AREA)
        small = np.asarray(total / np.maximum(share, 1e-6)[..., None], dtype=np.float32)
        start = np.asarray(cv2.resize(_spanned(small, share < 1e-3), (cols, rows)))
    return _relaxed(np.where(hole[..., None], start, picture).astype(np.float32), hole)


def _relaxed(picture: NDArray[np.float32], hole: BoolArray) -> NDArray[np.float32]:
    """A few rounds of every place in the hole becoming the mean of its four neighbours."""
    cross = np.array([[0, 0.25, 0], [0.25, 0, 0.25], [0, 0.25, 0]], dtype=np.float32)
    place = hole[..., None]
    for _ in range(SWEEPS):
        mean = cv2.filter2D(picture, -1, cross, borderType=cv2.BORDER_REPLICATE)
        picture = np.where(place, mean, picture)
    return picture
