"""Which first washes go by an object's own colour and not by the shadow's: with and without."""

from html import escape

import numpy as np

from firstwash.handout.markup import folded, table
from firstwash.handout.words import area_words, colour_words
from firstwash.optics.observer import lab_to_srgb8
from firstwash.plan.local_first import TintChange
from firstwash.plan.result import Plan

__all__ = ["local_first_section", "local_first_words"]

ALIKE = 0.3  # CIEDE2000 between two errors that is neither gain nor loss


def local_first_words(plan: Plan) -> str:
    """What the split of light and local colour changed, in a sentence or two."""
    found = plan.report.local_first
    if found is None:
        return "First washes go by the colours as seen, as you asked."
    if not found.changes:
        return "Light and local colour were told apart; that changed no first wash of this picture."
    count = len(found.changes)
    areas = "one area" if count == 1 else f"{count} areas"
    return (
        f"In {areas}, {_share(found.share)} of the sheet, the pale wash under a shadow goes by the "
        "object’s own colour, not by the shadow’s, so that light and shadow belong together. "
        f"{_gain(found.changes)}"
    )


def _share(share: float) -> str:
    return "less than a hundredth" if share < 0.01 else f"{share:.0%}"


def _gain(changes: tuple[TintChange, ...]) -> str:
    area = np.array([c.area_mm2 for c in changes])
    saved = np.array([c.error_without - c.error_with for c in changes])
    mean = float(area @ saved / area.sum())
    if abs(mean) < ALIKE:
        return "In the end these areas come as near to the photo as without it."
    way = "nearer to the photo" if mean > 0 else "further from the photo"
    return f"In the end these areas come {way}, by about {abs(mean):.1f} (CIEDE2000)."


def local_first_section(plan: Plan) -> str:
    """The words, and a table of the areas with both washes, folded away; HTML."""
    words = f"<h3>Under the shadows</h3><p>{escape(local_first_words(plan))}</p>"
    found = plan.report.local_first
    if found is None or not found.changes:
        return words
    head = ("First wash", "Area", "By its own colour", "As the shadow has it", "Off in the end")
    return words + folded("Each area with and without", table(head, _rows(plan, found.changes)))


def _rows(plan: Plan, changes: tuple[TintChange, ...]) -> list[list[str]]:
    wash_of = {s: str(w.number) for w in plan.washes_of(1) for s in w.shapes}
    return [
        [
            wash_of.get(c.shape, "none"),
            area_words(c.area_mm2),
            _tint(c.tint_with),
            _tint(c.tint_without),
            f"{c.error_with:.1f}, without {c.error_without:.1f}",
        ]
        for c in changes
    ]


def _tint(lab: tuple[float, float, float]) -> str:
    r, g, b = (int(v) for v in lab_to_srgb8(lab))
    swatch = f'<span class="swatch" style="background: #{r:02x}{g:02x}{b:02x}"></span>'
    return f"{swatch} {escape(colour_words(lab))}"
