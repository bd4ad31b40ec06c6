"""Every line drawn on a PDF's page, in mm from its upper left corner, as the file tells it.

Read with qpdf (pikepdf) and plain arithmetic, drawings inside drawings as well: nothing of the
program that set the page is used.
"""

import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pikepdf
from numpy.typing import NDArray

MM = 72.0 / 25.4
DRAWS = {"m": 1, "l": 1, "c": 3, "v": 2, "y": 2}  # points that each takes
ENDS = {"S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "n"}
Matrix = NDArray[np.float64]


@dataclass(frozen=True)
class Drawn:
    """One path: points (n, 2), mm; of curves their ends and handles. how: it is painted."""

    points: NDArray[np.float64]
    how: str

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, width and height, mm."""
        low, high = self.points.min(axis=0), self.points.max(axis=0)
        return (*map(float, low), *map(float, high - low))  # type: ignore[return-value]


def paths(pdf: bytes) -> list[list[Drawn]]:
    """The painted paths of each page."""
    with pikepdf.open(io.BytesIO(pdf)) as read:
        return [list(_page(page)) for page in read.pages]


def _page(page: Any) -> Iterator[Drawn]:
    low, bottom, _, top = (float(v) for v in page.mediabox)
    flip = np.array([[1.0 / MM, 0.0, 0.0], [0.0, -1.0 / MM, 0.0], [-low / MM, top / MM, 1.0]])
    del bottom
    yield from _content(page, page.obj.get("/Resources", {}), flip)


def _content(holder: Any, resources: Any, matrix: Matrix) -> Iterator[Drawn]:
    kept: list[Matrix] = []
    points: list[tuple[float, float]] = []
    for operands, operator in pikepdf.parse_content_stream(holder):
        name = str(operator)
        if name == "q":
            kept.append(matrix)
        elif name == "Q":
            matrix = kept.pop()
        elif name == "cm":
            matrix = _matrix(operands) @ matrix
        elif name in DRAWS:
            values = [float(v) for v in operands]
            points += list(zip(values[::2], values[1::2], strict=True))
        elif name == "re":
            x, y, wide, high = (float(v) for v in operands)
            points += [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
        elif name in ENDS:
            if points and name != "n":
                yield Drawn((np.array(points) @ matrix[:2, :2]) + matrix[2, :2], name)
            points = []
        elif name == "Do":
            inside = resources.XObject[str(operands[0])]
            if inside.get("/Subtype") == "/Form":
                own = _matrix(inside.get("/Matrix", (1, 0, 0, 1, 0, 0))) @ matrix
                yield from _content(inside, inside.get("/Resources", resources), own)


def _matrix(values: Any) -> Matrix:
    a, b, c, d, e, f = (float(v) for v in values)
    return np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]])
