"""Kitchen words in figures: beads of paint, loads of a brush, how runny a puddle is.

Counts of small measures are told in larger ones, for nobody counts nineteen pinheads.
"""

from collections.abc import Sequence
from math import pi
from typing import Final

from firstwash.language import tr
from firstwash.plan.board.amounts import BEADS, LOADS, STEPS
from firstwash.sheets.pages import Pages, heading, kept_whole, page_of, para, soft, strong, table_of

__all__ = ["MOST_COUNTED", "bead_mm", "beads_words", "measures_page"]

MOST_COUNTED: Final = 9  # of one measure; beyond, the next larger one is taken with it
LOST: Final = 0.08  # of an amount, that no hand tells: less than this is not told in small beads


def bead_mm(ml: float) -> float:
    """Width of a round bead of so much paint, mm."""
    return float((6.0 * 1000.0 * ml / pi) ** (1.0 / 3.0))


def beads_words(count: int, measure: str) -> str:
    """So many of a measure, as a hand counts them: "7 × pinhead", "2 × lentil + 2 × pinhead"."""
    sizes = BEADS if measure in dict(BEADS) else LOADS
    if count <= MOST_COUNTED:
        told = [(count, measure)]
    else:
        told = _in_larger(count * dict(sizes)[measure], sizes)
    return " + ".join(tr("{count} × {measure}", count=n, measure=tr(name)) for n, name in told if n)


def _in_larger(ml: float, sizes: Sequence[tuple[str, float]]) -> list[tuple[int, str]]:
    """Counts of the coarsest measures that come within what a hand can tell."""
    left = ml
    told: list[tuple[int, str]] = []
    for name, size in sizes:
        nearest = int(left / size + 0.5)
        if nearest and abs(left - nearest * size) <= LOST * ml:
            return [*told, (nearest, name)]
        whole = int(left / size + 1e-9)
        if whole:
            told.append((whole, name))
            left -= whole * size
    return told


def measures_page() -> Pages:
    """What the kitchen words of these sheets mean."""
    return page_of([kept_whole(f"{heading(1, tr('Kitchen words'))}\n\n{_beads()}"), _runny()])


def _beads() -> str:
    told = para(
        tr(
            "Beads of paint are told by the size of what lies on the palette; count them, they "
            "need not be exact. A drop is what falls from a dropper, 20 to the millilitre. Loads "
            "are what a wet brush picks up from a pan in one full turn."
        )
    )
    beads = [
        (strong(tr(name)), f"#{soft(tr('{mm} mm across, {ml} ml', mm=_mm(ml), ml=f'{ml:g}'))}")
        for name, ml in reversed(BEADS)
    ]
    loads = [
        (strong(tr(name)), f"#{soft(tr('{ml} ml of paint', ml=f'{ml:g}'))}")
        for name, ml in reversed(LOADS)
    ]
    heads = (tr("Measure"), tr("How much"))
    return f"{told}\n\n{table_of(heads, '44mm, 1fr', [*beads, *loads])}"


def _mm(ml: float) -> str:
    return f"{bead_mm(ml):.0f}"


def _runny() -> str:
    """Consistencies from the thinnest, with water to one part of tube paint."""
    above = [None, *(least for least, _, _ in STEPS)]
    rows = [
        (strong(tr(name)), f"#{soft(_share(least, most))}", f"#{soft(tr(test))}")
        for (least, name, test), most in zip(STEPS, above, strict=False)
    ]
    heads = (tr("Like"), tr("Water to 1 of paint"), tr("On the palette it"))
    return kept_whole(table_of(heads, "44mm, 44mm, 1fr", rows))


def _share(least: float, most: float | None) -> str:
    if most is None:
        return tr("{least} or more", least=f"{least:g}")
    if least <= 0.0:
        return tr("less than {most}", most=f"{most:g}")
    return tr("{least} to {most}", least=f"{least:g}", most=f"{most:g}")
