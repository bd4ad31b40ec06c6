"""What to mind with paints that are not harmless, in the words every page shares."""

from collections.abc import Sequence

from firstwash.language import mark, tr
from firstwash.paints.catalogue import Paint

__all__ = ["CAUTIONS", "MASKING", "UNMASKING", "caution_lines", "caution_words", "hazard_words"]

# Common practice, no source; what a label says ([ASTMD4236]) comes first.
CAUTIONS = mark(
    "Read the label first, with what it says by ASTM D4236; it and your local rules come before "
    "this page. Do not point brushes with your lips, do not eat or drink at the palette, and wash "
    "your hands afterwards. Keep paints from children, and spoons and cups that have measured "
    "paint out of the kitchen. Do not sand or spray dry paint. Rinse water of paints with heavy "
    "metals belongs where your local rules send it, not down the sink."
)
MASKING = mark(
    "Let masking fluid dry by itself, never with a hair dryer, and open a window; read its label, "
    "for some kinds hold ammonia or latex. It stays on as long as the label allows, commonly hours "
    "to a day; longer, and it may tear the paper."
)
UNMASKING = mark("When all is dry and cool, rub the masking fluid off with a clean finger.")

ELEMENTS = {
    "As": mark("arsenic"), "Ba": mark("barium"), "Cd": mark("cadmium"), "Co": mark("cobalt"),
    "Cr": mark("chromium"), "Cu": mark("copper"), "Hg": mark("mercury"), "Mn": mark("manganese"),
    "Ni": mark("nickel"), "Pb": mark("lead"), "Sb": mark("antimony"), "Se": mark("selenium"),
    "Sn": mark("tin"), "V": mark("vanadium"), "Zn": mark("zinc"),
}  # fmt: skip


def hazard_words(paint: Paint) -> str:
    """What to mind with one paint: "toxic, holds cadmium"; "" where nothing is known."""
    h = paint.handling
    if h.hazard not in ("caution", "toxic"):
        return ""
    word = tr("toxic") if h.hazard == "toxic" else tr("handle with care")
    elements = [e.strip() for e in (h.hazard_elements or "").split(";") if e.strip()]
    holds = ", ".join(tr(ELEMENTS[e]) if e in ELEMENTS else e for e in elements)
    return tr("{danger}, holds {elements}", danger=word, elements=holds) if holds else word


def caution_words(paint: Paint) -> str:
    """One paint's caution: "cadmium red: toxic, holds cadmium"; "" where none is known."""
    mind = hazard_words(paint)
    return f"{paint.name}: {mind}" if mind else ""


def caution_lines(paints: Sequence[Paint]) -> tuple[str, ...]:
    """The cautions of those paints that have any, in their order."""
    return tuple(words for p in paints if (words := caution_words(p)))
