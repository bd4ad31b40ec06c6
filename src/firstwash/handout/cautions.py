"""What to mind with paints that are not harmless, in the words every page shares."""

from collections.abc import Sequence

from firstwash.paints.catalogue import Paint

__all__ = ["CAUTIONS", "caution_lines", "caution_words"]

CAUTIONS = (
    "Read the label first; it and your local rules come before this page. Do not point brushes "
    "with your lips, do not eat or drink at the palette, do not sand or spray dry paint. Rinse "
    "water of paints with heavy metals belongs where your local rules send it, not down the sink."
)

ELEMENTS = {
    "As": "arsenic", "Ba": "barium", "Cd": "cadmium", "Co": "cobalt", "Cr": "chromium",
    "Cu": "copper", "Hg": "mercury", "Mn": "manganese", "Ni": "nickel", "Pb": "lead",
    "Sb": "antimony", "Se": "selenium", "Sn": "tin", "V": "vanadium", "Zn": "zinc",
}  # fmt: skip


def caution_words(paint: Paint) -> str:
    """One paint's caution: "cadmium red: toxic, holds cadmium"; "" where none is known."""
    h = paint.handling
    if h.hazard not in ("caution", "toxic"):
        return ""
    word = "toxic" if h.hazard == "toxic" else "handle with care"
    elements = [e.strip() for e in (h.hazard_elements or "").split(";") if e.strip()]
    holds = ", ".join(ELEMENTS.get(e, e) for e in elements)
    return f"{paint.name}: {word}{f', holds {holds}' if holds else ''}"


def caution_lines(paints: Sequence[Paint]) -> tuple[str, ...]:
    """The cautions of those paints that have any, in their order."""
    return tuple(words for p in paints if (words := caution_words(p)))
