"""The trade's words that the sheets use, for those who meet them for the first time."""

from collections.abc import Mapping
from typing import Final

from firstwash.sheets.pages import Pages, heading, page_of, soft, strong, table_of

__all__ = ["GLOSSARY", "glossary_page"]

# Common practice, no source; as docs and worksheet use the words.
GLOSSARY: Final[Mapping[str, str]] = {
    "Backrun": "A pale blot with a dark rim: water ran into a wash that was drying already.",
    "Consistency": "How runny a puddle is, from tinted water over broth and syrup to honey.",
    "Cut in": "Paint along a border with a loaded brush so that it stays sharp.",
    "First wash": "The palest layer, on dry or damp paper, before any glaze.",
    "Glaze": "A transparent layer over paint that is dry; what lies beneath shows through.",
    "Graded": "Running from strong to weak within one wash, by adding water.",
    "Granulate": "Settle in the hollows of the paper, so that a wash looks grained.",
    "Hard, soft, lost edge": "A border that is sharp, that fades over some millimetres, or that is "
    "not to be seen at all.",
    "Lift": "Take paint off again with a clean damp brush, as far as the paint allows.",
    "Lightfast": "Keeping its colour in daylight for years.",
    "Local colour": "The thing's own colour, without what light and shadow make of it.",
    "Puddle": "One mixture on the palette; several washes may be laid from it.",
    "Reserve": "Paper kept bare to the end: the whites.",
    "Soften": "Draw a damp clean brush along a border while it is wet, so that it fades.",
    "Stain": "Go into the fibre of the paper, so that it cannot be lifted.",
    "Value": "How light or dark, whatever the colour; ten steps here, ten is white paper.",
    "Wash": "One passage of paint, laid without a stop.",
    "Wet-in-wet": "Paint dropped into paint or paper that is wet; it runs, and its edges are soft.",
}


def glossary_page() -> Pages:
    """The words in order, each with a sentence."""
    rows = [(strong(word), f"#{soft(told)}") for word, told in GLOSSARY.items()]
    return page_of([heading(1, "Words"), table_of(("Word", "What it means"), "36mm, 1fr", rows)])
