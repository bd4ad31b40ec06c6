"""The borders of a map of labels as smooth curves, in millimetres.

The sides between pixels of different labels make a net of lines. It is cut at its junctions
(and at the sheet's corners), so that every border is drawn once and its neighbours meet it in
the very same point. Each piece is followed by the fewest straight stretches that stay beside
it, their corners are moved to where the stretches' best lines meet, and a curve replaces a
corner unless the turn is sharp. Source for this way from steps to curves: [Selinger2003].
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.handout.contour_kernels import fit_arcs, trace_arcs

__all__ = ["OUTSIDE", "Arc", "Contours", "trace_contours"]

OUTSIDE = -1  # the label beyond the sheet
PER_CURVE = 6  # straight pieces that a curve is shown by where curves are no use

Arc = tuple[int, bool]
"""A piece of border, and whether it is walked from its end to its start."""


@dataclass(frozen=True, eq=False)
class Contours:
    """Borders of a label map as curves.

    curves: (n, 4, 2) cubic Bézier curves, x and y in mm from the sheet's upper left corner;
    straight: (n,) bool, whether it is a straight line. start: (arcs + 1,) the curves of arc i
    are start[i]:start[i + 1]; one begins where the one before ends. left, right: (arcs,) labels
    beside it as it is walked, `OUTSIDE` beyond the sheet. ends: (arcs, 2) numbers of the
    points where it starts and ends, the same for a closed one. steps: (m, 2) the same borders
    from corner to corner of the pixels (row, column); step_start: (arcs + 1,); span: (n, 2)
    first and last step of each curve.
    """

    curves: NDArray[np.float64]
    straight: NDArray[np.bool_]
    start: NDArray[np.int64]
    left: NDArray[np.int32]
    right: NDArray[np.int32]
    ends: NDArray[np.int64]
    steps: NDArray[np.int32]
    step_start: NDArray[np.int64]
    span: NDArray[np.int64]
    ppmm: float

    @property
    def arcs(self) -> int:
        """How many pieces of border there are."""
        return len(self.left)

    def between(self, groups: IntArray) -> NDArray[np.bool_]:
        """(arcs,) whether a border parts two groups of labels; groups: (labels,)."""
        own = _with_outside(groups)
        return np.asarray(own[self.left] != own[self.right])

    def loops(self, inside: BoolArray) -> list[list[Arc]]:
        """Closed outlines of the labels marked in inside (labels,), what is inside on the left.

        Holes are outlines too, so fill by the even-odd rule.
        """
        within = _with_outside(inside.astype(np.int64), 0).astype(np.bool_)
        left, right = within[self.left], within[self.right]
        leaving: dict[int, list[Arc]] = {}
        for i in np.flatnonzero(left != right).tolist():
            back = not bool(left[i])
            leaving.setdefault(int(self.ends[i, 1 if back else 0]), []).append((i, back))
        return list(self._walks(leaving))

    def _walks(self, leaving: dict[int, list[Arc]]) -> Iterator[list[Arc]]:
        """As many lines arrive at a point as leave it, so every walk comes home."""
        for first in sorted(leaving):
            while leaving[first]:
                walk: list[Arc] = []
                at = first
                while not walk or at != first:
                    arc, back = leaving[at].pop(0)
                    walk.append((arc, back))
                    at = int(self.ends[arc, 0 if back else 1])
                yield walk

    def curves_of(self, arc: Arc) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
        """Curves (n, 4, 2) of an arc in the order they are walked, and which are straight."""
        number, back = arc
        own = slice(self.start[number], self.start[number + 1])
        if back:
            return self.curves[own][::-1, ::-1], self.straight[own][::-1]
        return self.curves[own], self.straight[own]

    def points(self, walk: list[Arc]) -> NDArray[np.float64]:
        """Corners (n, 2) in mm of a closed outline as a polygon."""
        return np.concatenate([self._flat(arc) for arc in walk])

    def _flat(self, arc: Arc) -> NDArray[np.float64]:
        curves, straight = self.curves_of(arc)
        t = np.arange(PER_CURVE) / PER_CURVE
        basis = np.stack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3], axis=1)
        points = np.einsum("tk,nkx->ntx", basis, curves)
        keep = np.ones(points.shape[:2], dtype=np.bool_)
        keep[straight, 1:] = False
        return np.asarray(points[keep], dtype=np.float64)

    @cached_property
    def areas_mm2(self) -> NDArray[np.float64]:
        """Area (labels,) inside each label's curves, mm²."""
        out = np.zeros(int(max(self.left.max(), self.right.max())) + 2)
        signed = _signed_areas(self.curves)
        total = np.add.reduceat(signed, self.start[:-1])
        np.add.at(out, self.left, total)  # label −1 falls into the spare last place
        np.add.at(out, self.right, -total)
        return out[:-1]


def _with_outside(values: IntArray, outside: int = OUTSIDE) -> IntArray:
    """Values by label with one more at the end, where label −1 looks."""
    return np.append(np.asarray(values, dtype=np.int64), outside)


def _signed_areas(curves: FloatArray) -> NDArray[np.float64]:
    """∫ x dy − y dx, halved, along each cubic Bézier curve (n, 4, 2); left of the walk counts.

    With y downwards the left of a walk is on its right hand in the usual axes, hence the sign.
    """
    x, y = curves[..., 0], curves[..., 1]
    # ∫ B_i dB_j over [0, 1] of the cubic Bernstein polynomials, antisymmetric, in twentieths.
    table = np.array([[0, 6, 3, 1], [-6, 0, 3, 3], [-3, -3, 0, 6], [-1, -3, -6, 0]]) / 20.0
    return np.asarray(-np.einsum("ni,ij,nj->n", x, table, y))


def trace_contours(labels: IntArray, ppmm: float) -> Contours:
    """The borders of a map of labels ≥ 0 (rows, cols) at ppmm pixels per mm.

    99 of 100 sides of pixels lie within 0.7 pixels of their curve, the others, at tight turns,
    within 1.2. The same map always gives the same curves.
    """
    padded = np.pad(np.asarray(labels, dtype=np.int32), 1, constant_values=OUTSIDE)
    steps, step_start, left, right = trace_arcs(padded)
    curves, straight, start, span = fit_arcs(steps, step_start)
    wide = padded.shape[1]
    first, last = steps[step_start[:-1]], steps[step_start[1:] - 1]
    ends = np.column_stack([p[:, 0].astype(np.int64) * wide + p[:, 1] for p in (first, last)])
    return Contours(
        curves=curves[..., ::-1] / ppmm,
        straight=straight,
        start=start,
        left=left,
        right=right,
        ends=ends,
        steps=steps,
        step_start=step_start,
        span=span,
        ppmm=ppmm,
    )
