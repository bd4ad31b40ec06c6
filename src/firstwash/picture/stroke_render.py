"""A stroke of a pointed brush: its line, how wide it is along it, and how it covers paper.

Places are in mm on the sheet, x to the right and y down; the centre of pixel (row, col)
lies at ((col + 0.5) / ppmm, (row + 0.5) / ppmm), so a stroke fits any size of the picture.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, as_float, check_last_axis
from firstwash.optics.observer import lab_to_xyz, xyz_to_lab

__all__ = ["Cover", "Stroke", "cover_of", "draw_strokes", "stroke_cover", "stroke_covers"]


@dataclass(frozen=True, eq=False)
class Stroke:
    """One touch of a pointed brush.

    points_mm, half_widths_mm: (n, 2) and (n,), n ≥ 1, the centre line and half the width at
    each of its points; between them both change evenly, and the ends are round. One point
    is a round dot, three a long one. polarity: "dark" if a clear glaze over what is painted
    there goes at least half the way to the colour wanted, so that the stroke is laid last;
    "light" if not, so that it is reserved or lifted. lab: CIELAB (3,) wanted there. gain:
    squared CIEDE2000 × mm² × importance that it takes away in that colour, after the strokes
    picked before it. contrast: L* (or as much in chroma) by which it stands out from both
    its sides in the photo.
    """

    points_mm: NDArray[np.float64]
    half_widths_mm: NDArray[np.float64]
    polarity: Literal["light", "dark"]
    lab: tuple[float, float, float]
    gain: float
    contrast: float
    kind: Literal["line", "dot"] = "line"

    def __post_init__(self) -> None:
        """Refuse what no brush can draw."""
        check_last_axis(self.points_mm, 2, "points_mm")
        if self.points_mm.ndim != 2 or self.half_widths_mm.shape != self.points_mm.shape[:1]:
            raise ValueError("half_widths_mm: one number for each point")
        if not self.points_mm.size or not np.isfinite(self.points_mm).all():
            raise ValueError("points_mm: at least one point, all finite")
        if not (np.isfinite(self.half_widths_mm) & (self.half_widths_mm > 0.0)).all():
            raise ValueError("half_widths_mm: finite and above 0")

    @cached_property
    def length_mm(self) -> float:
        """Length from tip to tip, mm."""
        run = np.linalg.norm(np.diff(self.points_mm, axis=0), axis=1).sum()
        return float(run + self.half_widths_mm[0] + self.half_widths_mm[-1])

    @cached_property
    def area_mm2(self) -> float:
        """Area of a stroke that does not cross itself, mm²: trapezia and two half discs."""
        run = np.linalg.norm(np.diff(self.points_mm, axis=0), axis=1)
        w = self.half_widths_mm
        return float((run * (w[:-1] + w[1:])).sum() + 0.5 * np.pi * (w[0] ** 2 + w[-1] ** 2))

    @cached_property
    def width_mm(self) -> float:
        """Width where the stroke is widest, mm."""
        return float(2.0 * self.half_widths_mm.max())


@dataclass(frozen=True, eq=False)
class Cover:
    """How much of each pixel a stroke covers, in its own box of the picture.

    top, left: row and column of the box; share: float32 (rows, cols) in [0, 1], may be empty.
    """

    top: int
    left: int
    share: NDArray[np.float32] = field(repr=False)

    @property
    def window(self) -> tuple[slice, slice]:
        """The box as an index into the picture."""
        rows, cols = self.share.shape
        return slice(self.top, self.top + rows), slice(self.left, self.left + cols)


@njit(cache=True, nogil=True)
def _covered(distance, radius):  # type: ignore[no-untyped-def]
    """Share of a pixel one unit wide, `distance` from the line, inside ±radius of it.

    Exact for a straight line along the pixels; a line thinner than a pixel covers its own
    width of it, no more.
    """
    inside = min(distance + 0.5, radius) - max(distance - 0.5, -radius)
    return min(max(inside, 0.0), 1.0)


@njit(cache=True, nogil=True)
def _cover_lines(points, radii, top, left, out):  # type: ignore[no-untyped-def]
    """Cover of a line of points (n, 2: x, y) with radii (n,), all in pixels, into `out`."""
    rows, cols = out.shape
    n = points.shape[0]
    for k in range(max(n - 1, 1)):
        m = min(k + 1, n - 1)
        x0, y0, r0 = points[k, 0] - left, points[k, 1] - top, radii[k]
        x1, y1, r1 = points[m, 0] - left, points[m, 1] - top, radii[m]
        reach = max(r0, r1) + 1.0
        i0, i1 = int(max(min(y0, y1) - reach, 0.0)), int(min(max(y0, y1) + reach, rows - 1.0))
        j0, j1 = int(max(min(x0, x1) - reach, 0.0)), int(min(max(x0, x1) + reach, cols - 1.0))
        dx, dy = x1 - x0, y1 - y0
        long2 = dx * dx + dy * dy
        for i in range(i0, i1 + 1):
            for j in range(j0, j1 + 1):
                px, py = j + 0.5 - x0, i + 0.5 - y0
                t = 0.0
                if long2 > 0.0:
                    t = min(max((px * dx + py * dy) / long2, 0.0), 1.0)
                away = np.hypot(px - t * dx, py - t * dy)
                share = _covered(away, r0 + t * (r1 - r0))
                if t == 0.0 or t == 1.0:  # beyond an end: a round tip, thin in both directions
                    share *= min(1.0, 2.0 * (r1 if t == 1.0 else r0))
                if share > out[i, j]:
                    out[i, j] = share


def cover_of(
    points_mm: FloatArray, half_widths_mm: FloatArray, shape: tuple[int, int], ppmm: float
) -> Cover:
    """Cover of a line (n, 2) mm with half-widths (n,) mm on a picture of that (rows, cols)."""
    if not ppmm > 0.0:
        raise ValueError("ppmm must be above 0")
    points, radii = as_float(points_mm) * ppmm, as_float(half_widths_mm) * ppmm
    reach = float(radii.max()) + 1.0
    low = np.clip(np.floor(points.min(axis=0) - reach), 0, [shape[1], shape[0]]).astype(int)
    high = np.clip(np.ceil(points.max(axis=0) + reach), 0, [shape[1], shape[0]]).astype(int)
    left, top = int(low[0]), int(low[1])
    share = np.zeros((max(int(high[1]) - top, 0), max(int(high[0]) - left, 0)), np.float32)
    if share.size:
        _cover_lines(points, radii, float(top), float(left), share)
    return Cover(top, left, share)


def stroke_covers(
    strokes: Sequence[Stroke], shape: tuple[int, int], ppmm: float
) -> tuple[Cover, ...]:
    """Cover of each stroke by itself on a picture of (rows, cols) at `ppmm` pixels per mm."""
    return tuple(cover_of(s.points_mm, s.half_widths_mm, shape, ppmm) for s in strokes)


def stroke_cover(
    strokes: Sequence[Stroke], shape: tuple[int, int], ppmm: float
) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
    """Which stroke covers each pixel most (−1 for none), and how much of the pixel it covers.

    Both (rows, cols); where two cover a pixel equally, the earlier one has it.
    """
    labels = np.full(shape, -1, dtype=np.int32)
    share = np.zeros(shape, dtype=np.float32)
    for number, cover in enumerate(stroke_covers(strokes, shape, ppmm)):
        wins = cover.share > share[cover.window]
        labels[cover.window][wins] = number
        share[cover.window][wins] = cover.share[wins]
    return labels, share


def draw_strokes(
    lab: FloatArray, strokes: Sequence[Stroke], labs: FloatArray | None, ppmm: float
) -> NDArray[np.float64]:
    """The picture (rows, cols, 3) CIELAB with strokes drawn over it, the first one first.

    labs: CIELAB (n_strokes, 3) as drawn, None for what each stroke wants. In a pixel that is
    covered in part, colours mix as light does: XYZ is averaged.
    """
    picture = as_float(lab)
    check_last_axis(picture, 3, "lab")
    wanted = np.array([s.lab for s in strokes] if labs is None else labs, dtype=float)
    if wanted.reshape(-1, 3).shape[0] != len(strokes):
        raise ValueError("labs: one colour for each stroke")
    out = np.array(picture)
    colours = lab_to_xyz(wanted.reshape(-1, 3))
    for xyz, cover in zip(colours, stroke_covers(strokes, picture.shape[:2], ppmm), strict=True):
        touched = cover.share > 0.0
        share = cover.share[touched][:, None].astype(np.float64)
        under = lab_to_xyz(out[cover.window][touched])
        out[cover.window][touched] = xyz_to_lab(under + share * (xyz - under))
    return out
