"""Lines of an outline to trace, in millimetres on the sheet."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["KINDS", "Kind", "Line", "Tracing"]

Kind = Literal["contour", "inner", "reserve", "wash"]
KINDS: tuple[Kind, ...] = ("contour", "inner", "reserve", "wash")


@dataclass(frozen=True, eq=False)
class Line:
    """One line of an outline.

    curves: (n, 4, 2) cubic Bézier curves, x and y in mm from the sheet's upper left corner; one
    begins where the one before ends. closed: whether the last ends where the first begins.
    weight: width in mm. importance: 0-1. broken: drawn in dashes, for an edge that is soft.
    """

    curves: NDArray[np.float64]
    closed: bool
    weight: float
    importance: float
    kind: Kind
    broken: bool = False

    def points(self, per_curve: int = 8) -> NDArray[np.float64]:
        """Points (n · per_curve + 1, 2) in mm along it, `per_curve` to a curve and the end."""
        t = np.arange(per_curve) / per_curve
        basis = np.stack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3], axis=1)
        inner = np.einsum("tk,nkx->ntx", basis, self.curves).reshape(-1, 2)
        return np.concatenate([inner, self.curves[-1:, 3]])

    @property
    def length_mm(self) -> float:
        """Its length, mm."""
        return float(np.linalg.norm(np.diff(self.points(), axis=0), axis=1).sum())


@dataclass(frozen=True, eq=False)
class Tracing:
    """An outline: lines, the most important first, on a sheet of width_mm × height_mm.

    detail: 0-1, how much was asked for.
    """

    lines: tuple[Line, ...]
    width_mm: float
    height_mm: float
    detail: float

    def mirrored(self) -> "Tracing":
        """Left and right changed."""
        turned = (
            replace(line, curves=np.array([self.width_mm, 0.0]) + line.curves * [-1.0, 1.0])
            for line in self.lines
        )
        return replace(self, lines=tuple(turned))

    def of(self, kind: Kind) -> tuple[Line, ...]:
        """The lines of one kind, the most important first."""
        return tuple(line for line in self.lines if line.kind == kind)
