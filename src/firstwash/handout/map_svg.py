"""Maps as SVG: in millimetres, in pencil greys, without a style sheet or a style attribute.

A strict content policy lets neither styles nor scripts into a page; presentation attributes
pass. Drawings are written in hundredths of a millimetre, whole numbers being short.
"""

from collections.abc import Iterable, Sequence
from html import escape
from typing import Final, Literal

import numpy as np

from firstwash.arrays import FloatArray, IntArray
from firstwash.handout.border_kinds import Run, whole_runs
from firstwash.handout.hatching import hatched
from firstwash.handout.layer_map import (
    HATCH,
    LayerMap,
    MapWash,
    Ruling,
    TonedArea,
    frame_for,
    ruling,
)
from firstwash.handout.layer_map import wash_letters as letters_of
from firstwash.handout.map_letters import Frame, Lead
from firstwash.handout.tones import SPACING, Tone, tone_lines
from firstwash.handout.words import colour_words
from firstwash.language import tr
from firstwash.optics.observer import lab_to_srgb8
from firstwash.picture.edges import EDGE_KINDS, EdgeKind
from firstwash.plan.result import Plan
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Wash

__all__ = ["KeyPart", "key_svg", "layer_map_svg", "strokes_map_svg", "wash_map_svg"]

KeyPart = Literal["hard", "soft", "lost", "faint", "reserve", "hatch", "white"]
"""What a map's key shows: lines by kind, a fine stroke kept free, bare paper, unpainted paper."""

FONT: Final = "sans-serif"  # a picture loads no font of the page around it
FINE: Final = 100  # units of a drawing in a millimetre
LETTERS, LINES, LEADS, PENCIL, HATCHING = "#222222", "#5c5c5c", "#8c8c8c", "#d4d4d4", "#b4b4b4"
TONE_LINES: Final = "#a4a4a4"  # lines and dots over a tint, in print as they are
TONE_DOT: Final = 0.07
NEIGHBOURS: Final = "#b8b8b8"  # pencil on the paper's own colour, at arm's length
# Widths and dashes are parts of the letters' size.
LINE_WIDTH, LEAD_WIDTH, FAINT_WIDTH, HATCH_WIDTH = 0.045, 0.024, 0.024, 0.02
DASHES: Final[dict[EdgeKind, tuple[float, ...]]] = {
    "hard": (), "soft": (0.26, 0.17), "lost": (0.0, 0.26)
}  # fmt: skip
FADED: Final[dict[EdgeKind, float]] = {"hard": 1.0, "soft": 1.0, "lost": 0.55}
DOT: Final = 0.085
STUB: Final = 0.3  # from the drawing's border to the letter's room
SMALL: Final = 0.66  # a small number beside its capital
CAPITAL: Final = 0.68  # height of a capital
EM: Final = 0.68  # width of a capital, about; of a digit, 0.56


def layer_map_svg(drawn: LayerMap, width_mm: float | None = None) -> str:
    """A layer's map as a standalone SVG; width_mm: of it all, None for the sheet's true size.

    Each wash is twice a <g data-wash="layer.number">: its area, not filled, below the lines, and
    its letters above them, so that a page can mark it. Names are escaped.
    """
    frame = drawn.frame
    size = frame.letter
    areas = "".join(_area(w) for w in drawn.washes)
    letters = "".join(_letters(w, frame) for w in drawn.washes)
    inside = (
        f'<g transform="translate({drawn.margin:.2f} {drawn.margin:.2f})">'
        + _drawing(
            areas
            + "".join(_toned(area, size) for area in drawn.toned)
            + _path(_lines(drawn.hatch), HATCHING, HATCH_WIDTH * size)
            + _path(_runs(drawn.faint), PENCIL, FAINT_WIDTH * size)
            + _edges(drawn.lines, size)
            + _reserves(drawn.reserves, size, "#ffffff")
            + _border(frame)
        )
        + f'<g font-family="{FONT}" font-size="{size:.2f}" fill="{LETTERS}" stroke-width="'
        f'{LEAD_WIDTH * size:.3f}" stroke-linecap="round">{letters}</g></g>'
    )
    title = tr("Map of layer {layer}", layer=drawn.layer)
    return _svg(frame, drawn.margin, width_mm, title, _told(drawn), inside)


def wash_map_svg(
    plan: Plan, wash: Wash, width_mm: float | None = None, ruled: Ruling | None = None
) -> str:
    """One wash on the sheet, for the board: filled with the colour seen when it is dry.

    Its edges are drawn by kind, the rest of the drawing faintly, and what stays bare paper is
    hatched. ruled: this plan's borders, if they are traced already.
    """
    traced = ruled or ruling(plan)
    frame = frame_for(plan)
    size = frame.letter
    inside = np.zeros(plan.cells.count, dtype=np.int64)
    inside[list(wash.cells)] = 1
    area = whole_runs(traced.contours, inside == 1)
    kept = [t for t in traced.kept_from(wash.layer) if _lies_in(t, inside, plan)]
    letter, index = letters_of(plan, wash.layer)[wash.number]
    paper = _hex(plan.stage_labs[0][0])
    drawing = _drawing(
        _border(frame, paper)
        + f'<g data-wash="{wash.layer}.{wash.number}"><path fill="{_hex(wash.after)}" '
        f'fill-rule="evenodd" d="{_runs(area)}"/></g>'
        + _path(_lines(traced.bare_hatch(wash.layer, HATCH * size)), HATCHING, HATCH_WIDTH * size)
        + _path(_runs(traced.faint(inside, 1)), NEIGHBOURS, FAINT_WIDTH * size)
        + _edges(traced.lines(inside), size, 1.6)  # half of it lies on the wash, unseen if dark
        + _reserves(kept, size, paper)
    )
    room = 0.5 * LINE_WIDTH * size
    title = f"Wash {letter}{index or ''}, {colour_words(wash.after)}"
    told = "The area of this wash in its own colour; hatched paper stays bare."
    whole = f'<g transform="translate({room:.2f} {room:.2f})">{drawing}</g>'
    return _svg(frame, room, width_mm, title, told, whole)


def strokes_map_svg(plan: Plan, numbers: Sequence[int], ruled: Ruling | None = None) -> str:
    """Some of a plan's fine strokes on its outline: kept lights between two lines, darks filled.

    numbers: of the plan's touches; one it does not have is left out.
    """
    traced = ruled or ruling(plan)
    frame = frame_for(plan)
    size = frame.letter
    own = [plan.touches[n] for n in numbers if 0 <= n < len(plan.touches)]
    kept, laid = [t for t in own if t.reserved], [t for t in own if not t.reserved]
    drawing = _drawing(
        _border(frame, "#ffffff")
        + _path(
            _runs(traced.faint(np.zeros(plan.cells.count, dtype=np.int64))), PENCIL, 0.03 * size
        )
        + _reserves(kept, size, "#ffffff", LETTERS)
        + "".join(_stroke(t, size, LETTERS) for t in laid)
    )
    told = tr(
        "{lights} fine lights to keep, {darks} fine darks to lay, on the outline.",
        lights=len(kept),
        darks=len(laid),
    )
    room = 0.5 * LINE_WIDTH * size
    whole = f'<g transform="translate({room:.2f} {room:.2f})">{drawing}</g>'
    return _svg(frame, room, None, tr("Fine strokes"), told, whole)


def key_svg(part: KeyPart | Tone, size: float, wide: float = 2.4, high: float = 0.95) -> str:
    """A small piece of a map for its key, drawn as the map is whose letters are `size` mm.

    wide, high: in letter sizes.
    """
    frame = Frame(wide * size, high * size, size)
    return _svg(frame, 0.0, None, "", "", _drawing(_key(part, frame)))


def _key(part: KeyPart | Tone, frame: Frame) -> str:
    size, wide, high = frame.letter, frame.width, frame.height
    level = f"M{round(8 * size)} {round(FINE * high / 2)}H{round(FINE * wide - 8 * size)}"
    if part == "faint":
        return _path(level, PENCIL, FAINT_WIDTH * size)
    if part == "reserve":
        edge = 2 * LEAD_WIDTH * size
        return _path(level, LEADS, 0.2 * size + edge) + _path(level, "#ffffff", 0.2 * size)
    if part in ("hard", "soft", "lost"):
        dashes = [round(share * size * FINE, 1) for share in DASHES[part]]
        return _path(level, LINES, LINE_WIDTH * size, dashes, FADED[part])
    box = np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]])
    if isinstance(part, Tone):
        lines = tone_lines(part, [box], SPACING * size)
        return _border(frame, part.grey) + _tone_lines(part, lines, size)
    hatch = _lines(hatched([box], HATCH * size)) if part == "hatch" else ""
    return _border(frame, "#ffffff") + _path(hatch, HATCHING, HATCH_WIDTH * size)


def _svg(
    frame: Frame, margin: float, width_mm: float | None, title: str, told: str, inside: str
) -> str:
    wide, high = frame.width + 2 * margin, frame.height + 2 * margin
    scale = 1.0 if width_mm is None else width_mm / wide
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide * scale:.2f}mm" '
        f'height="{high * scale:.2f}mm" viewBox="0 0 {wide:.2f} {high:.2f}" role="img">'
        f"<title>{escape(title)}</title><desc>{escape(told)}</desc>{inside}</svg>"
    )


def _told(drawn: LayerMap) -> str:
    names = ", ".join(
        f"{w.letter}{w.index or ''} {colour_words(w.wash.after)}" for w in drawn.washes
    )
    told = [
        tr("Outlines of the washes, named in the margin: {names}.", names=names),
        tr("Hatched: bare paper.") if len(drawn.hatch) else "",
        tr("Whole lines are hard edges, broken lines soft ones."),
    ]
    return " ".join(words for words in told if words)


def _drawing(inside: str) -> str:
    return f'<g transform="scale({1 / FINE:g})" fill="none">{inside}</g>'


def _border(frame: Frame, paper: str = "none") -> str:
    width, height = round(frame.width * FINE), round(frame.height * FINE)
    thin = round(FAINT_WIDTH * frame.letter * FINE)
    return (
        f'<rect width="{width}" height="{height}" fill="{paper}" stroke="{LEADS}" '
        f'stroke-width="{thin}"/>'
    )


def _path(d: str, grey: str, width: float, dashes: Sequence[float] = (), faded: float = 1.0) -> str:
    if not d:
        return ""
    broken = f' stroke-dasharray="{" ".join(f"{x:g}" for x in dashes)}"' if dashes else ""
    pale = f' stroke-opacity="{faded:g}"' if faded < 1.0 else ""
    return (
        f'<path stroke="{grey}" stroke-width="{round(width * FINE)}"{broken}{pale} '
        f'stroke-linejoin="round" stroke-linecap="round" d="{d}"/>'
    )


def _toned(area: TonedArea, size: float) -> str:
    tone = area.tone
    tint = f'<path fill="{tone.grey}" fill-rule="evenodd" d="{_runs(area.outlines)}"/>'
    return tint + _tone_lines(tone, area.lines, size)


def _tone_lines(tone: Tone, lines: FloatArray, size: float) -> str:
    if tone.dotted:
        dots = (0.0, round(SPACING * size * FINE, 1))
        return _path(_lines(lines), TONE_LINES, TONE_DOT * size, dots)
    return _path(_lines(lines), TONE_LINES, HATCH_WIDTH * size)


def _edges(lines: dict[EdgeKind, list[Run]], size: float, times: float = 1.0) -> str:
    return "".join(
        _path(
            _runs(lines[kind]),
            LINES,
            times * LINE_WIDTH * size,
            [round(part * size * FINE, 1) for part in DASHES[kind]],
            FADED[kind],
        )
        for kind in EDGE_KINDS
    )


def _runs(runs: Iterable[Run]) -> str:
    """Path data of curves, relative to the point before, in hundredths of a mm."""
    out = []
    for run in runs:
        if run.straight.all():
            out.append(_corners(run))
            continue
        whole = np.rint(run.curves * FINE).astype(np.int64)
        moves = (whole[:, 1:] - whole[:, :1]).reshape(-1, 6).tolist()
        out.append(f"M{whole[0, 0, 0]} {whole[0, 0, 1]}")
        for move, straight in zip(moves, run.straight.tolist(), strict=True):
            out.append("l" if straight else "c")
            out.append(" ".join(map(str, move[4:] if straight else move)))
        out.append("z" if run.closed else "")
    return "".join(out)


def _corners(run: Run) -> str:
    """Path data of straight pieces one after another; corners that fall together are one."""
    pieces = np.rint(run.curves[:, ::3] * FINE).astype(np.int64).tolist()
    told = " ".join([f"{c - a} {d - b}" for (a, b), (c, d) in pieces if a != c or b != d])
    (x, y), _ = pieces[0]
    return f"M{x} {y}l{told or '0 0'}{'z' if run.closed else ''}"


def _lines(lines: FloatArray) -> str:
    whole = np.rint(lines * FINE).astype(np.int64).tolist()
    return "".join(f"M{a} {b}L{c} {d}" for a, b, c, d in whole)


def _lies_in(touch: Touch, inside: IntArray, plan: Plan) -> bool:
    """Whether a fine stroke begins, bends or ends in the cells marked 1."""
    x, y = (touch.stroke.points_mm * plan.cells.ppmm).astype(np.int64).T
    rows, cols = plan.cells.index.shape
    own = plan.cells.index[np.clip(y, 0, rows - 1), np.clip(x, 0, cols - 1)]
    return bool(inside[own].any())


def _reserves(touches: Sequence[Touch], size: float, paper: str, line: str = LEADS) -> str:
    """Fine strokes kept free: paper between two thin lines."""
    edge = LEAD_WIDTH * size
    return "".join(_stroke(t, size, line, 2 * edge) + _stroke(t, size, paper) for t in touches)


def _stroke(touch: Touch, size: float, colour: str, wider: float = 0.0) -> str:
    """A fine stroke as one line as wide as its widest place, and so much wider."""
    points = np.rint(touch.stroke.points_mm * FINE).astype(np.int64).tolist()
    d = "M" + "L".join(f"{x} {y}" for x, y in points) + ("h0" if len(points) == 1 else "")
    return _path(d, colour, max(touch.stroke.width_mm, LEAD_WIDTH * size) + wider)


def _hex(lab: FloatArray | tuple[float, float, float]) -> str:
    return "#" + "".join(f"{int(c):02x}" for c in lab_to_srgb8(np.array(lab)))


def _name(w: MapWash) -> str:
    return escape(f"{w.letter}{w.index or ''}: {colour_words(w.wash.after)}")


def _area(w: MapWash) -> str:
    return (
        f'<g data-wash="{w.key}" data-part="area" pointer-events="all"><title>{_name(w)}'
        f'</title><path fill="none" fill-rule="evenodd" d="{_runs(w.outlines)}"/></g>'
    )


def _letters(w: MapWash, frame: Frame) -> str:
    leads = "".join(_lead(lead, w, frame) for lead in w.leads)
    return f'<g data-wash="{w.key}" data-part="letters"><title>{_name(w)}</title>{leads}</g>'


def _lead(lead: Lead, w: MapWash, frame: Frame) -> str:
    size = frame.letter
    px, py = lead.port
    dx, dy = {"left": (-1, 0), "right": (1, 0), "top": (0, -1), "bottom": (0, 1)}[lead.side]
    sx, sy = px + dx * STUB * size, py + dy * STUB * size
    wide = size * (EM * len(w.letter) + (0.56 * SMALL * len(str(w.index)) if w.index else 0.0))
    gap = 0.16 * size
    cx = sx + dx * (gap + wide / 2)
    cy = sy + dy * (gap + CAPITAL * size / 2) + CAPITAL * size / 2
    small = (
        f'<tspan font-size="{SMALL * size:.2f}" dy="{0.12 * size:.2f}">{w.index}</tspan>'
        if w.index
        else ""
    )
    lines = "".join(f"M{ax:.2f} {ay:.2f}L{px:.2f} {py:.2f}" for ax, ay in lead.ends)
    dots = "".join(
        f'<circle cx="{ax:.2f}" cy="{ay:.2f}" r="{DOT * size:.2f}" fill="{LEADS}"/>'
        for ax, ay in lead.ends
    )
    return (
        f'<path fill="none" stroke="{LEADS}" d="{lines}L{sx:.2f} {sy:.2f}"/>{dots}'
        f'<text x="{cx:.2f}" y="{cy:.2f}" text-anchor="middle">{escape(w.letter)}{small}</text>'
    )
