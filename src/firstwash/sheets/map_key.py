"""The key below a layer's map: each kind of line and tone that it has, drawn small, and named."""

from collections.abc import Iterator, Mapping
from typing import Final

from firstwash.handout.layer_map import LayerMap
from firstwash.handout.map_svg import KeyPart
from firstwash.handout.tones import Tone
from firstwash.language import listed, mark, tr, tr_count
from firstwash.picture.edges import EDGE_KINDS
from firstwash.sheets.drawn import Drawn
from firstwash.sheets.pages import NOTE_PT, note, soft
from firstwash.sheets.typeset import lit

__all__ = ["map_key", "map_words"]

PART_MM: Final = 8.0  # width of a drawn piece
WORDS: Final[Mapping[KeyPart, str]] = {
    "hard": mark("hard edge"),
    "soft": mark("soft edge"),
    "lost": mark("lost edge, left to run"),
    "faint": mark("border of another layer"),
    "reserve": mark("fine light to go round"),
    "hatch": mark("bare paper"),
    "white": mark("not painted now"),
}


def map_key(ready: Drawn, layer: int, asked: bool = False) -> tuple[str, dict[str, bytes]]:
    """Markup of the key to a layer's map, and its pictures; asked: of the map for students."""
    drawn = ready.map_of(layer)
    files, items = {}, []
    for part, words in _lines(drawn) if asked else _parts(drawn):
        name, svg = ready.key(part)
        files[name] = svg
        # The words beside it say all: read out, the piece itself would only say them twice.
        shown = f"box(baseline: 15%, pdf.artifact(image({lit(name)}, width: {PART_MM}mm)))"
        items.append(f"#box[#{shown}#h(1.5mm)#{soft(words)}]")
    told = "#h(5mm, weak: true) ".join(items)
    return f"#par(justify: false)[#set text({NOTE_PT}pt)\n{told}]", files


def _lines(drawn: LayerMap) -> Iterator[tuple[KeyPart | Tone, str]]:
    """The lines that are on a map, with their names."""
    for kind in EDGE_KINDS:
        if drawn.lines[kind]:
            yield kind, tr(WORDS[kind])
    if drawn.faint:
        yield "faint", tr(WORDS["faint"])


def _parts(drawn: LayerMap) -> Iterator[tuple[KeyPart | Tone, str]]:
    """What is on a map, with its name: lines, paper, then the tones with their puddles."""
    yield from _lines(drawn)
    if drawn.reserves:
        yield "reserve", tr(WORDS["reserve"])
    if len(drawn.hatch):
        yield "hatch", tr(WORDS["hatch"])
    if _waits(drawn):
        yield "white", tr(WORDS["white"])
    for area in drawn.toned:
        yield area.tone, listed(sorted(drawn.plan.puddles[q].name for q in area.puddles))


def _waits(drawn: LayerMap) -> bool:
    """Whether something painted before or later is not painted in this layer."""
    cells = {c for wash in drawn.plan.washes_of(drawn.layer) for c in wash.cells}
    older = [any(coat[0] < drawn.layer for coat in own) for own in drawn.plan.coats]
    return any(old and n not in cells for n, old in enumerate(older))


def map_words(drawn: LayerMap) -> str:
    """What the key cannot show, as markup: letters, small numbers, areas without a letter."""
    told = [tr("Letters name the puddles; a letter may have several lines.")]
    if any(w.index for w in drawn.washes):
        told.append(tr("A small number tells the strengths of one puddle in painting order."))
    told.append(tr("Greys and fine lines tell the puddles apart, not their colours."))
    if drawn.unnamed:
        told.append(
            tr_count(
                "{count} area without a letter, small or crowded out, has the tone of its puddle.",
                "{count} areas without a letter, small or crowded out, have the tones of their "
                "puddles.",
                drawn.unnamed,
            )
        )
    return note(" ".join(told))
