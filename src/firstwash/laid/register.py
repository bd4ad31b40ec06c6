"""The plan laid over a photo of the half-painted sheet, to a fraction of a millimetre.

The sheet's edges and the border of the paint give a first map. Then pieces of the picture that the
plan expects are looked for near where they should be; strength does not matter for that, only
where light meets dark. A hand's borders are off by a millimetre or two, each its own way, so many
pieces together tell the place better than any of them is painted.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.easel.flat_sheet import flatten
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.picture.plane_map import PlaneMap

__all__ = ["BORDER_MM", "GUESS_MM", "Placed", "place"]

# Own judgement, tried on made-up photos (tools/easel_trials.py).
FINE_PPMM: Final = 2.0
PIECE_MM: Final = 36.0
STEP_MM: Final = 18.0
REACH_MM: Final = (7.0, 3.5, 2.0)  # round by round
FLAT: Final = 1.5  # L* spread of a piece below which it tells nothing
LIKE: Final = 0.45  # correlation from which a piece was found
NEAR_MM: Final = 1.2  # from the common map: a piece that agrees
FEWEST: Final = 6
SOFTEN_MM: Final = 0.8
BORDER_MM: Final = 0.8  # σ of corners found by the border of the paint
GUESS_MM: Final = 4.0  # and of corners that are only guessed


@dataclass(frozen=True, eq=False)
class Placed:
    """Where the picture lies in the photo.

    plane: from mm on the picture to pixels. pieces: how many pieces tell of it; agree: share of
    them within a millimetre or so; error_mm: standard error of the places they say, over the
    picture; off_mm: median distance of single pieces. like: correlation of lightness.
    """

    plane: PlaneMap
    pieces: int
    agree: float
    error_mm: float
    off_mm: float
    like: float


def place(
    linear: NDArray[np.float32],
    plane: PlaneMap,
    expected: FloatArray,
    ppmm: float,
    first_mm: float = BORDER_MM,
) -> Placed:
    """The map moved until the picture lies over the plan's.

    linear: (rows, cols, 3) linear light, evenly lit or not. plane: a first map from mm on the
    picture, whose corners may be off by `first_mm` (σ). expected: (rows, cols, 3) XYZ of the stage
    as planned, ppmm pixels per mm.
    """
    meant = _light_of(xyz_to_lab(expected)[..., 0], ppmm)
    fine = _scaled(meant, FINE_PPMM / ppmm)
    size = expected.shape[1] / ppmm, expected.shape[0] / ppmm
    found = _Pieces.none()
    for reach in REACH_MM:
        seen = _seen(linear, plane, size)
        found = _matched(seen, fine, reach)
        if found.count < FEWEST:
            break
        moved = _fitted(found, size, first_mm)
        plane = PlaneMap(plane.homography @ moved, plane.k1, plane.size)
    seen = _seen(linear, plane, size)
    found = _matched(seen, fine, REACH_MM[-1])
    off = np.linalg.norm(found.shift, axis=1)
    near = off < NEAR_MM
    return Placed(
        plane, found.count, float(near.mean()) if found.count else 0.0,
        _standard_error(found, size, first_mm),
        float(np.median(off)) if found.count else np.inf, _correlation(seen, fine),
    )  # fmt: skip


def _seen(
    linear: NDArray[np.float32], plane: PlaneMap, size: tuple[float, float]
) -> NDArray[np.float32]:
    """Lightness (rows, cols) of the picture's place, NaN beyond the photo."""
    flat = flatten(linear, plane, (0.0, 0.0, *size), FINE_PPMM)
    beyond = ~np.isfinite(flat).all(axis=2)
    light = xyz_to_lab(linear_srgb_to_xyz(np.maximum(np.nan_to_num(flat), 1e-5)))[..., 0]
    out = _light_of(light, FINE_PPMM)
    out[beyond] = np.nan
    return out


def _light_of(lightness: FloatArray, ppmm: float) -> NDArray[np.float32]:
    return np.asarray(cv2.GaussianBlur(np.asarray(lightness, np.float32), (0, 0), SOFTEN_MM * ppmm))


def _scaled(picture: NDArray[np.float32], by: float) -> NDArray[np.float32]:
    rows, cols = picture.shape[:2]
    size = max(round(cols * by), 2), max(round(rows * by), 2)
    how = cv2.INTER_AREA if by < 1 else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(picture, size, interpolation=how))


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Found pieces. at: (n, 2) mm of their middles; shift: (n, 2) mm from there; trust: (n, 2, 2)
    information about the shift, per mm².
    """

    at: NDArray[np.float64]
    shift: NDArray[np.float64]
    trust: NDArray[np.float64]

    @classmethod
    def none(cls) -> "_Pieces":
        return cls(np.empty((0, 2)), np.empty((0, 2)), np.empty((0, 2, 2)))

    @property
    def count(self) -> int:
        return len(self.at)


def _matched(seen: NDArray[np.float32], meant: NDArray[np.float32], reach: float) -> _Pieces:
    rows, cols = min(seen.shape[0], meant.shape[0]), min(seen.shape[1], meant.shape[1])
    whole = np.isfinite(seen)
    filled = np.where(whole, seen, float(np.nanmedian(seen)) if whole.any() else 0.0)
    around = round(reach * FINE_PPMM)
    half = round(0.5 * PIECE_MM * FINE_PPMM)
    padded = cv2.copyMakeBorder(filled, around, around, around, around, cv2.BORDER_REPLICATE)
    at, shift, trust = [], [], []
    for y, x in _middles(rows, cols):
        box = (
            slice(max(y - half, 0), min(y + half, rows)),
            slice(max(x - half, 0), min(x + half, cols)),
        )
        piece = meant[box]
        if piece.std() < FLAT or whole[box].mean() < 0.9:
            continue
        window = padded[
            box[0].start : box[0].stop + 2 * around, box[1].start : box[1].stop + 2 * around
        ]
        score = cv2.matchTemplate(
            np.ascontiguousarray(window, np.float32), np.ascontiguousarray(piece, np.float32),
            cv2.TM_CCOEFF_NORMED,
        )  # fmt: skip
        peak = _peak(np.asarray(score, np.float32))
        if peak is None:
            continue
        where, bend = peak
        at.append(
            (
                0.5 * (box[1].start + box[1].stop) / FINE_PPMM,
                0.5 * (box[0].start + box[0].stop) / FINE_PPMM,
            )
        )
        shift.append((where - around) / FINE_PPMM)
        trust.append(bend * FINE_PPMM**2)
    if not at:
        return _Pieces.none()
    return _Pieces(np.array(at), np.array(shift), np.array(trust))


def _middles(rows: int, cols: int) -> Iterator[tuple[int, int]]:
    step = round(STEP_MM * FINE_PPMM)
    for y in range(step // 2, rows, step):
        for x in range(step // 2, cols, step):
            yield y, x


def _peak(score: NDArray[np.float32]) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Place (x, y) of the highest score to a fraction of a pixel, and how sharply it falls off
    (2, 2) as information per pixel²; None where there is none inside.
    """
    y, x = np.unravel_index(int(np.argmax(score)), score.shape)
    best = float(score[y, x])
    if best < LIKE or not (2 <= y < score.shape[0] - 2 and 2 <= x < score.shape[1] - 2):
        return None
    near = score[y - 2 : y + 3, x - 2 : x + 3].astype(np.float64)
    v, u = np.mgrid[-2:3, -2:3]
    design = np.stack([np.ones(25), u.ravel(), v.ravel(), u.ravel() ** 2, u.ravel() * v.ravel(),
                       v.ravel() ** 2], axis=1)  # fmt: skip
    _, b, c, d, e, f = np.linalg.lstsq(design, near.ravel(), rcond=None)[0]
    curve = -np.array([[2 * d, e], [e, 2 * f]])
    values, vectors = np.linalg.eigh(curve)
    if values[1] <= 1e-6:
        return None
    values = np.maximum(values, 1e-3 * values[1])
    solid = (vectors * values) @ vectors.T
    step = np.clip(np.linalg.solve(solid, np.array([b, c])), -1.0, 1.0)
    noise = max(1.0 - best, 0.02)  # what the two do not share
    return np.array([x, y]) + step, solid / noise


def _fitted(found: _Pieces, size: tuple[float, float], first_mm: float) -> NDArray[np.float64]:
    """(3, 3) from mm as planned to mm as seen, robust; held to no change at the four corners."""
    rows = _projective_rows(found.at, size)
    corners = np.array([[0.0, 0.0], [size[0], 0.0], size, [0.0, size[1]]])
    held = _projective_rows(corners, size).reshape(-1, 8) / first_mm
    weight = np.ones(found.count)
    root = _roots(found.trust)
    x = np.zeros(8)
    for _ in range(12):
        scaled = np.einsum("nij,njk->nik", root, rows) * weight[:, None, None]
        right = np.einsum("nij,nj->ni", root, found.shift) * weight[:, None]
        design = np.concatenate([scaled.reshape(-1, 8), held])
        aim = np.concatenate([right.ravel(), np.zeros(len(held))])
        x = np.linalg.lstsq(design, aim, rcond=None)[0]
        off = np.einsum("nij,nj->ni", root, found.shift - rows @ x)
        square = (off**2).sum(axis=1)
        scale = max(float(np.median(square)), 1e-9)
        weight = np.sqrt(1.0 / (1.0 + square / (3.0 * scale)))
    return _projective(x, size)


def _roots(trust: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 2, 2) of which the product with their transposes is the information, capped."""
    values, vectors = np.linalg.eigh(trust)
    return np.asarray(np.sqrt(np.clip(values, 0.0, 4.0))[:, :, None] * np.swapaxes(vectors, 1, 2))


def _projective_rows(at: FloatArray, size: tuple[float, float]) -> NDArray[np.float64]:
    """(n, 2, 8) shift in mm by eight small changes of a projective map."""
    half = 0.5 * np.array(size)
    u, v = ((np.asarray(at) - half) / half).T
    one, none, skew = np.ones_like(u), np.zeros_like(u), half[1] / half[0]
    return np.stack(
        [
            np.stack([one, u, v, none, none, none, u * u, u * v], axis=1),
            np.stack([none, none, none, one, u, v, skew * u * v, skew * v * v], axis=1),
        ],
        axis=1,
    )


def _projective(x: NDArray[np.float64], size: tuple[float, float]) -> NDArray[np.float64]:
    """The map (3, 3) whose first-order change is that of `_projective_rows`."""
    half = 0.5 * np.array(size)
    into = np.array([[1 / half[0], 0, -1.0], [0, 1 / half[1], -1.0], [0, 0, 1.0]])
    a, b = half
    moved = np.array(
        [
            [1 + x[1] / a, x[2] / a, x[0] / a],
            [x[4] / b, 1 + x[5] / b, x[3] / b],
            [-x[6] / a, -x[7] / a, 1.0],
        ]
    )
    return np.asarray(np.linalg.inv(into) @ moved @ into)


def _standard_error(found: _Pieces, size: tuple[float, float], first_mm: float) -> float:
    """mm by which the map may still be off, the worst of nine places; pieces taken as apart."""
    corners = np.array([[0.0, 0.0], [size[0], 0.0], size, [0.0, size[1]]])
    held = _projective_rows(corners, size).reshape(-1, 8) / first_mm
    known = held.T @ held
    if found.count >= FEWEST:
        near = np.linalg.norm(found.shift, axis=1) < 3.0 * NEAR_MM
        design = _projective_rows(found.at[near], size).reshape(-1, 8)
        noise = float(np.sqrt((found.shift[near] ** 2).mean())) if near.any() else first_mm
        known = known + design.T @ design / max(noise, 0.2) ** 2
    spread = np.linalg.inv(known)
    spots = np.stack(np.meshgrid((0.1, 0.5, 0.9), (0.1, 0.5, 0.9)), axis=-1).reshape(-1, 2) * size
    there = _projective_rows(spots, size)
    return float(np.sqrt(np.einsum("nij,jk,nik->n", there, spread, there).max()))


def _correlation(seen: NDArray[np.float32], meant: NDArray[np.float32]) -> float:
    rows, cols = min(seen.shape[0], meant.shape[0]), min(seen.shape[1], meant.shape[1])
    a, b = seen[:rows, :cols], meant[:rows, :cols]
    both = np.isfinite(a) & np.isfinite(b)
    one, other = a[both].astype(np.float64), b[both].astype(np.float64)
    if both.sum() < 100 or min(one.std(), other.std()) < 0.05:  # L*: nothing is painted
        return 0.0
    return float(np.corrcoef(one, other)[0, 1])
