"""Lost and found: which edges of things are edges of the big masses, and which run inside one.

Edges are looked for in colour at the size of the masses, after a squint that drops texture:
steep places [Canny1986] of CIELAB with chroma compressed. An edge of a thing is found where a
mass ends close by; it is lost where light runs into light, or dark into dark.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, as_float
from firstwash.picture.places import place_words, share_words
from firstwash.picture.studies import squinted_lab
from firstwash.picture.value_pattern import ValuePattern
from firstwash.picture.values import even_space

__all__ = ["LostEdges", "lost_edges"]

# Own judgement, by looking at photos; no source.
SQUINT: Final = 0.35
STEEP: Final = 12.0  # height of a step, in compressed CIELAB, that begins an edge
FADING: Final = 6.0  # down to which it goes on
SIGMA: Final = 1.2  # px
NEAR: Final = 0.011  # of the shorter side: a mass that ends so near makes an edge found
LEAST: Final = 0.07  # of the shorter side: shorter edges are detail
SCALE: Final = 100.0  # slopes in whole numbers


@dataclass(frozen=True, eq=False)
class LostEdges:
    """Edges of things against the edges of masses.

    lost, found: (rows, cols) thin lines at the pattern's size. share: of the edges' length that is
    lost, 0-1. words: one to three sentences.
    """

    lost: NDArray[np.bool_]
    found: NDArray[np.bool_]
    share: float
    words: str


def lost_edges(lab: FloatArray, pattern: ValuePattern) -> LostEdges:
    """Edges of things in CIELAB (rows, cols, 3) that the pattern of the same picture keeps, or not.

    Holds: an edge is lost only where all around within the reach of NEAR is one tone.
    """
    rows, cols = pattern.tones.shape
    picture = np.asarray(lab, dtype=np.float32)
    small = as_float(cv2.resize(picture, (cols, rows), interpolation=cv2.INTER_AREA))
    edges = _edges(even_space(squinted_lab(small, SQUINT)))
    near = max(round(NEAR * min(rows, cols)), 1)
    square = np.ones((2 * near + 1,) * 2, dtype=np.uint8)
    border = cv2.dilate(pattern.tones, square) != cv2.erode(pattern.tones, square)
    # Parted into pieces, so that a border missed by a pixel or two is no lost edge.
    lost = _long_enough(edges & ~border, LEAST * min(rows, cols))
    found = edges & border
    length = int(lost.sum()) + int(found.sum())
    share = float(lost.sum()) / length if length else 0.0
    return LostEdges(lost, found, share, _told(lost, share, pattern))


def _edges(picture: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Thin lines (rows, cols) where the picture (rows, cols, 3) is steepest."""
    soft = cv2.GaussianBlur(picture, (0, 0), SIGMA)
    across = [cv2.Sobel(soft, cv2.CV_32F, *way, ksize=3, scale=1 / 8) for way in ((1, 0), (0, 1))]
    steepest = np.argmax(across[0] ** 2 + across[1] ** 2, axis=-1)[..., None]
    dx, dy = (
        np.rint(SCALE * np.take_along_axis(slope, steepest, axis=-1)[..., 0]).astype(np.int16)
        for slope in across
    )
    # The slope in the middle of a step that is so blurred; the operator blurs a little more.
    slope = SCALE / (np.sqrt(2.0 * np.pi) * np.hypot(SIGMA, 0.6))
    low, high = float(FADING * slope), float(STEEP * slope)
    thin = cv2.Canny(dx, dy, low, high, L2gradient=True) > 0
    return _long_enough(thin, LEAST * min(thin.shape))


def _long_enough(lines: NDArray[np.bool_], least: float) -> NDArray[np.bool_]:
    _, pieces, stats, _ = cv2.connectedComponentsWithStats(lines.astype(np.uint8), connectivity=8)
    keep = stats[:, cv2.CC_STAT_AREA] >= least
    keep[0] = False
    return np.asarray(keep[pieces])


def _told(lost: NDArray[np.bool_], share: float, pattern: ValuePattern) -> str:
    if not lost.any():
        return "Every edge that is plain to see is an edge of a mass too."
    much = share_words(share)
    part = f"{much[0].upper()}{much[1:]} of the edges to be seen"
    if len(pattern.shares) == 1:
        return f"{part} are lost: they part colours, not values."
    tones = np.bincount(pattern.tones[lost], minlength=len(pattern.shares))
    most = int(tones.argmax())
    count = "All" if tones[most] == lost.sum() else "Most" if 2 * tones[most] > lost.sum() else ""
    inside = f"inside the {pattern.names[most]} value"
    return (
        f"{part} are lost: one value runs on across them. "
        + (f"{count} of those lie {inside}; " if count else f"More lie {inside} than elsewhere; ")
        + f"more {_where(lost)} than anywhere else."
    )


def _where(lost: NDArray[np.bool_]) -> str:
    """The ninth of the picture with the greatest length of them."""
    rows, cols = np.nonzero(lost)
    ninth = 3 * (3 * rows // lost.shape[0]) + 3 * cols // lost.shape[1]
    row, col = divmod(int(np.bincount(ninth, minlength=9).argmax()), 3)
    return place_words((col + 0.5) / 3.0, (row + 0.5) / 3.0)
