"""What to mind with paints that are not harmless, in the words every page shares."""

from collections.abc import Sequence

from firstwash.paints.catalogue import Paint

__all__ = ["CAUTIONS", "caution_lines", "caution_words"]

CAUTIONS = (
    "Read the label first; it and your local rules come before this page. Do not point brushes "
    "with your lips, do not eat or drink at the palette, do not sand or spray dry paint. Rinse "
    "water of paints with heavy metals belongs where your local rules send it, not down the sink."
)


def caution_words(paint: Paint) -> str:
    """One paint's caution: "cadmium red: toxic, holds Cd"; "" where none is known."""
    h = paint.handling
    if h.hazard not in ("caution", "toxic"):
        return ""
    word = "toxic" if h.hazard == "toxic" else "handle with care"
    return f"{paint.name}: {word}{f', holds {h.hazard_elements}' if h.hazard_elements else ''}"


def caution_lines(paints: Sequence[Paint]) -> tuple[str, ...]:
    """The cautions of those paints that have any, in their order."""
    return tuple(words for p in paints if (words := caution_words(p)))
