"""The trade's words that the sheets use, for those who meet them for the first time."""

import unicodedata
from collections.abc import Mapping
from typing import Final

from firstwash.language import mark, tr
from firstwash.sheets.pages import Pages, heading, page_of, soft, strong, table_of

__all__ = ["GLOSSARY", "glossary_page"]

# Common practice, no source; as docs and worksheet use the words.
GLOSSARY: Final[Mapping[str, str]] = {
    mark("Backrun"): mark(
        "A pale blot with a dark rim: water ran into a wash that was drying already."
    ),
    mark("Consistency"): mark(
        "How runny a puddle is, from tinted water over broth and syrup to honey."
    ),
    mark("Cut in"): mark("Paint along a border with a loaded brush so that it stays sharp."),
    mark("Dry-brush"): mark(
        "A brush with little paint, skimmed over the grain, so that paper sparkles through; go "
        "over it twice where it should close."
    ),
    mark("First wash, lay-in"): mark(
        "The palest layer, on dry or damp paper, before any glaze: layer 1 of the sheets."
    ),
    mark("Glaze"): mark(
        "A transparent layer over paint that is dry; what lies beneath shows through."
    ),
    mark("Graded"): mark("Running from strong to weak within one wash, by adding water."),
    mark("Granulate"): mark("Settle in the hollows of the paper, so that a wash looks grained."),
    mark("Hard, soft, lost edge"): mark(
        "A border that is sharp, that fades over some millimetres, or that is not to be seen "
        "at all."
    ),
    mark("Lift"): mark("Take paint off again with a clean damp brush, as far as the paint allows."),
    mark("Lightfast"): mark("Keeping its colour in daylight for years."),
    mark("Local colour"): mark("The thing's own colour, without what light and shadow make of it."),
    mark("Layer"): mark("All that is painted before the whole sheet dries again."),
    mark("Masking fluid"): mark(
        "A rubbery liquid that keeps paint off the paper; rubbed away when all is dry."
    ),
    mark("Parts"): mark(
        "How much of each paint goes into a puddle, counted as it leaves the tube."
    ),
    mark("Pea, lentil, pinhead"): mark(
        "Beads of paint as they leave the tube, by size: see the kitchen words."
    ),
    mark("Puddle"): mark("One mixture on the palette; several washes may be laid from it."),
    mark("Reserve"): mark("Paper kept bare to the end: the whites."),
    mark("Soften"): mark(
        "Draw a damp clean brush along a border while it is wet, so that it fades."
    ),
    mark("Stain"): mark("Go into the fibre of the paper, so that it cannot be lifted."),
    mark("Test stroke"): mark(
        "A stroke on a strip of the same paper, judged when it is dry, before the painting."
    ),
    mark("Value"): mark(
        "How light or dark, whatever the colour; ten steps here, ten is white paper."
    ),
    mark("Wash"): mark("One passage of paint, laid without a stop."),
    mark("Wet-in-wet"): mark(
        "Paint dropped into paint or paper that is wet; it runs, and its edges are soft."
    ),
}


def glossary_page(used: str = "") -> Pages:
    """The words in order, each with a sentence.

    used: the source of the pages that they are for, so that no other words are told; "" for all.
    """
    known = ((tr(word), tr(told)) for word, told in GLOSSARY.items())
    words = sorted((entry for entry in known if _is_used(entry[0], used)), key=_place)
    rows = [(strong(word), f"#{soft(told)}") for word, told in words]
    heads = (tr("Word"), tr("What it means"))
    return page_of([heading(1, tr("Words")), table_of(heads, "36mm, 1fr", rows)])


def _is_used(word: str, source: str) -> bool:
    """Whether one of the names of an entry, such as "Hard, soft, lost edge", is in a source."""
    low = source.casefold()
    return not source or any(name.strip() in low for name in word.casefold().split(","))


def _place(entry: tuple[str, str]) -> str:
    """By its letters, accents apart, in whatever language."""
    flat = unicodedata.normalize("NFKD", entry[0].casefold())
    return "".join(c for c in flat if not unicodedata.combining(c))
