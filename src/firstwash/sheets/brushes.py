"""Which brushes a plan wants, by the width of its narrowest and its widest passages."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import find_objects

from firstwash.picture.regions import connected_parts
from firstwash.plan.board.practice import PATCH_PER_BRUSH
from firstwash.plan.result import Plan

__all__ = ["Brushes", "Span", "brushes_for", "passage_widths", "span_of"]

# Marks of common round and flat brushes, mm across: common practice, no source.
ROUNDS_MM: Final = (1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
FLATS_MM: Final = (6.0, 12.0, 20.0, 25.0, 38.0, 50.0, 75.0)
GAP: Final = 3.0  # times a brush's mark, from which one more comes between it and the next
LEAST_MM2: Final = 4.0  # smaller areas are dots for the tip of any brush; own judgement
NARROW: Final = 0.1  # share of the areas that are narrower than is told


@dataclass(frozen=True)
class Span:
    """Widths, mm: of the narrowest passages that matter, of a usual one and of the widest."""

    narrow: float
    usual: float
    wide: float


@dataclass(frozen=True)
class Brushes:
    """Marks of the brushes, mm: rounds from small to large, one flat or None, a pointed one.

    pointed: of the fine strokes' widest, None where there are none to lay.
    """

    rounds: tuple[float, ...]
    flat: float | None
    pointed: float | None


def passage_widths(plan: Plan) -> NDArray[np.float64]:
    """(n, 2) width and area (mm, mm²) of every separate area of every wash.

    The width is twice the radius of the largest circle inside: how broad a stroke fits there.
    """
    ppmm = plan.cells.ppmm
    boxes = find_objects(plan.cells.index.astype(np.int32) + 1, plan.cells.count)
    found: list[tuple[float, float]] = []
    for wash in plan.washes:
        within = [box for cell in wash.cells if (box := boxes[cell])]
        if not within:
            continue
        own = np.zeros(plan.cells.count, dtype=np.bool_)
        own[list(wash.cells)] = True
        rows, cols = (_whole(sides) for sides in zip(*within, strict=True))
        found += _areas(own[plan.cells.index[rows, cols]], ppmm)
    return np.array(found, dtype=np.float64).reshape(-1, 2)


def _whole(slices: Sequence[slice]) -> slice:
    return slice(min(s.start for s in slices), max(s.stop for s in slices))


def _areas(inside: NDArray[np.bool_], ppmm: float) -> list[tuple[float, float]]:
    """Width and area of the separate areas of one mask (rows, cols)."""
    framed = np.pad(inside, 1).astype(np.uint8)
    room = np.asarray(cv2.distanceTransform(framed, cv2.DIST_L2, 5))[1:-1, 1:-1]
    parts = connected_parts(inside.astype(np.int64))
    count = int(parts.max()) + 1
    widest = np.zeros(count)
    np.maximum.at(widest, parts[inside], room[inside])
    pixels = np.bincount(parts[inside], minlength=count)
    # A distance is to the middle of the nearest pixel outside, half a pixel too far.
    pairs = zip((2.0 * widest - 1.0) / ppmm, pixels / ppmm**2, strict=True)
    return [(float(w), float(a)) for w, a in pairs if a > 0.0]


def span_of(widths: NDArray[np.float64]) -> Span | None:
    """The span of widths (n, 2); None where nothing is painted. Half the paint lies in passages
    narrower than the usual one.
    """
    large = widths[widths[:, 1] >= LEAST_MM2]
    own = large if len(large) else widths
    if not len(own):
        return None
    narrow = float(np.quantile(own[:, 0], NARROW, method="lower"))
    order = np.argsort(own[:, 0], kind="stable")
    share = np.cumsum(own[order, 1]) / own[:, 1].sum()
    usual = own[order[int(np.argmax(share >= 0.5))], 0]
    return Span(narrow, max(float(usual), narrow), float(own[:, 0].max()))


def brushes_for(plan: Plan) -> tuple[Brushes, Span] | None:
    """The brushes a plan wants and the widths they go by; None where nothing is painted.

    A brush is about a third as wide as the passage it fills (`board.practice`), and never wider
    than the passage it has to go into.
    """
    span = span_of(passage_widths(plan))
    if span is None:
        return None
    laid = [t.stroke.width_mm for t in plan.touches if not t.reserved]
    small = _at_most(ROUNDS_MM, max(span.narrow / 2.0, ROUNDS_MM[0]))
    middle = _nearest(ROUNDS_MM, span.usual / PATCH_PER_BRUSH)
    wide = span.wide / PATCH_PER_BRUSH
    flat = _nearest(FLATS_MM, wide) if wide >= FLATS_MM[0] else None
    rounds = {small, max(middle, small)}
    if middle >= GAP * small:
        rounds.add(_nearest(ROUNDS_MM, float(np.sqrt(small * middle))))
    if flat is None:
        rounds.add(max(_nearest(ROUNDS_MM, wide), small))
    return Brushes(tuple(sorted(rounds)), flat, max(laid) if laid else None), span


def _nearest(sizes: tuple[float, ...], width: float) -> float:
    return min(sizes, key=lambda size: abs(np.log(size / max(width, 1e-3))))


def _at_most(sizes: tuple[float, ...], width: float) -> float:
    return max(size for size in sizes if size <= width)
