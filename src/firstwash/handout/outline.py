"""The outline of a drawing's shapes as SVG, in millimetres and pencil grey."""

from typing import Final

import numpy as np

from firstwash.handout.contours import Contours, trace_contours
from firstwash.picture.drawing import Drawing

__all__ = ["outline_svg"]

LINE_MM, FINE = 0.35, 100  # width of the line; units in a millimetre
GREY: Final = "#5c5c5c"
HATCH_MM: Final = 2.2  # between the strokes that mark bare paper


def outline_svg(drawing: Drawing) -> str:
    """Every border once; places left bare are hatched. Standalone, without styles."""
    contours = trace_contours(drawing.shapes, drawing.ppmm)
    rows, cols = drawing.shapes.shape
    wide, high = cols / drawing.ppmm, rows / drawing.ppmm
    lines = "".join(_arc(contours, i) for i in range(contours.arcs))
    bare = _bare(drawing, contours)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.2f}mm" height="{high:.2f}mm" '
        f'viewBox="0 0 {wide:.2f} {high:.2f}" role="img"><title>Outline of the shapes</title>'
        f'<g transform="scale({1 / FINE:g})" fill="none" stroke="{GREY}" '
        f'stroke-width="{LINE_MM * FINE:g}" stroke-linecap="round" stroke-linejoin="round">'
        f'{bare}<path d="{lines}"/></g></svg>'
    )


def _arc(contours: Contours, number: int) -> str:
    curves, straight = contours.curves_of((number, False))
    whole = np.rint(curves * FINE).astype(np.int64).reshape(-1, 8).tolist()
    out = [f"M{whole[0][0]} {whole[0][1]}"]
    for row, is_straight in zip(whole, straight.tolist(), strict=True):
        out.append(f"L{row[6]} {row[7]}" if is_straight else "C" + " ".join(map(str, row[2:])))
    return "".join(out)


def _bare(drawing: Drawing, contours: Contours) -> str:
    """A pattern of fine strokes over what is left bare."""
    if not drawing.reserves:
        return ""
    inside = np.zeros(drawing.count, dtype=np.bool_)
    inside[sorted(drawing.reserves)] = True
    shapes = []
    for walk in contours.loops(inside):
        points = np.rint(contours.points(walk) * FINE).astype(np.int64).tolist()
        shapes.append("M" + "L".join(f"{x} {y}" for x, y in points) + "z")
    side, width = HATCH_MM * FINE, 0.6 * LINE_MM * FINE
    return (
        f'<defs><pattern id="bare" width="{side:g}" height="{side:g}" '
        f'patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<path d="M0 0V{side:g}" stroke="{GREY}" stroke-width="{width:g}"/></pattern></defs>'
        f'<path fill="url(#bare)" fill-rule="evenodd" stroke="none" d="{"".join(shapes)}"/>'
    )
