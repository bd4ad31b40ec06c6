"""Which common paints could stand in for one on the palette, by their predicted colour."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.language import tr
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, all_paints
from firstwash.plan.bench import Bench
from firstwash.plan.result import Plan
from firstwash.sheets.told import apart_words

__all__ = ["Replacement", "replacements"]

# Own judgement.
PALE: Final = 0.15  # of a full coat, for the pale stroke
MOST: Final = 2  # told for one paint
NEAR: Final = 12.0  # mean CIEDE2000 of the two strokes beyond which a paint is no replacement
COLOUR_KEPT: Final = 0.5  # of the pale stroke's chroma, at least: no black for a dark blue
CLOSE_BEHIND: Final = 1.6  # times the nearest one's difference, up to which a second is told


@dataclass(frozen=True, eq=False)
class Replacement:
    """A paint that could stand in for another.

    off: mean CIEDE2000 of a full and a pale stroke. full, pale: how each differs, in words.
    """

    paint: Paint
    off: float
    full: str
    pale: str

    @property
    def words(self) -> str:
        """How it differs: "half a value step lighter; pale, a touch warmer"."""
        if self.full == self.pale:
            return self.full
        return tr("at full strength {full}; pale, {pale}", full=self.full, pale=self.pale)


def replacements(plan: Plan) -> dict[str, tuple[Replacement, ...]]:
    """By the key of each paint on the palette, the nearest others that come near enough.

    Others are those of the catalogue that are not on the palette, nor the same pigment under
    the same name.
    """
    others = _others(plan.paints)
    theirs = _strokes(others, plan.paper)
    mine = _strokes(plan.paints, plan.paper)
    return {
        paint.key: _nearest(own, others, theirs)
        for paint, own in zip(plan.paints, mine, strict=True)
    }


def _others(palette: Sequence[Paint]) -> list[Paint]:
    keys = {p.key for p in palette}
    same = {(p.name.casefold(), p.pigments) for p in palette}
    return [
        p for p in all_paints() if p.key not in keys and (p.name.casefold(), p.pigments) not in same
    ]


def _strokes(paints: Sequence[Paint], paper: Paper) -> NDArray[np.float64]:
    """CIELAB (paints, 2, 3) of a full and a pale stroke of each on bare paper."""
    out = np.zeros((len(paints), 2, 3))
    for row, one in zip(out, paints, strict=True):
        bench = Bench.of([one], paper)
        for i, strength in enumerate((1.0, PALE)):
            row[i] = bench.labs(np.array([[strength * one.full_coat]]))[1]
    return out


def _nearest(
    own: NDArray[np.float64], others: Sequence[Paint], theirs: NDArray[np.float64]
) -> tuple[Replacement, ...]:
    if not others:
        return ()
    off = delta_e_2000(theirs, own[None]).mean(axis=1)
    chroma = np.hypot(theirs[:, 1, 1], theirs[:, 1, 2])
    off = np.where(chroma < COLOUR_KEPT * np.hypot(*own[1, 1:]), np.inf, off)
    order = np.argsort(off, kind="stable")[:MOST]
    most = min(NEAR, CLOSE_BEHIND * float(off[order[0]]))
    return tuple(
        Replacement(
            others[i],
            float(off[i]),
            apart_words(theirs[i, 0], own[0]),
            apart_words(theirs[i, 1], own[1]),
        )
        for i in order.tolist()
        if off[i] <= most
    )
