"""Why a glaze looks as it does: what the prediction says of a coat over what lies there.

Everything here is found by predicting: the light that is left and taken in each third of the
spectrum (`glaze_light`), whether the two are opposites (`glaze_path`), which way a little more or
less leans, the same paints in one puddle, the same coats in the other order and what makes the
difference, and how far the paints' own doubt lets any of it be said (`glaze_sure`). Words are
made of it in `glaze_words`, a drawing in `glaze_chart`. Design: docs/decisions/0019.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.advice.glaze_light import LightTold, light_told
from firstwash.advice.glaze_order import Order, order_told, over_all
from firstwash.advice.glaze_path import Path, grey_path
from firstwash.advice.glaze_shift import Lab, Shift, shift
from firstwash.advice.glaze_sure import MORE, Sure, sure_told
from firstwash.arrays import FloatArray, triple
from firstwash.errors import RequestError
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, default_paper
from firstwash.plan.bench import Bench
from firstwash.plan.glaze import Coat
from firstwash.plan.result import Plan

__all__ = ["LESS", "MORE", "Leans", "WhyGlaze", "explain_cell", "explain_glaze", "why_glaze"]

LESS: Final = (
    0.75  # times the strength, and `MORE`: a quarter weaker and stronger, as in a spot's answer
)
MOST_COATS: Final = 12


@dataclass(frozen=True)
class Leans:
    """Where the colour goes with a quarter less and a quarter more of one thing."""

    less: Shift
    more: Shift


@dataclass(frozen=True, eq=False)
class WhyGlaze:
    """A glaze explained: the last coat of a stack over all that lies beneath.

    amounts: (coats, paints) bottom to top. spectra: (3, 36) reflectance of the bare paper, of what
    lies under the glaze and of all. labs: CIELAB (D65) of the same three. stroke: of the glaze
    alone on the paper; beneath: of each coat beneath alone. glaze, under: what a little less and
    more of the glaze, and of all beneath, do. For a coat on bare paper `under`, `path`, `puddle`
    and `order` are None. puddle: the same amounts of all the paints mixed and laid as one coat,
    beside what is painted.
    """

    paper: Paper
    paints: tuple[Paint, ...]
    amounts: NDArray[np.float64]
    spectra: NDArray[np.float64]
    labs: tuple[Lab, Lab, Lab]
    stroke: Lab
    beneath: tuple[Lab, ...]
    light: LightTold
    glaze: Leans
    under: Leans | None
    path: Path | None
    puddle: Shift | None
    order: Order | None
    sure: Sure

    @property
    def on_paper(self) -> bool:
        """Whether nothing but bare paper lies under the glaze."""
        return len(self.amounts) == 1

    @property
    def change(self) -> Shift:
        """What the glaze does to what lies there."""
        return shift(self.labs[1], self.labs[2], self.labs[0])

    def parts(self, coat: int) -> tuple[tuple[Paint, float], ...]:
        """(paint, share of a full coat) of one coat, most first."""
        own = zip(self.paints, self.amounts[coat].tolist(), strict=True)
        found = [(paint, amount / paint.full_coat) for paint, amount in own if amount > 0.0]
        return tuple(sorted(found, key=lambda part: -part[1]))


def explain_glaze(
    under: Sequence[Coat] | Coat, glaze: Coat, paper: Paper | None = None
) -> WhyGlaze:
    """Why a coat looks as it does over the coats beneath, bottom to top, all laid over dry paint.

    under: none for a coat on bare paper. paper: the measured paper if left out. Coats come from
    `plan.glaze.parse_coat`. Raises RequestError for more than 12 coats.
    """
    coats = (*((under,) if isinstance(under, Coat) else under), glaze)
    paints = tuple({p.key: p for coat in coats for p, _ in coat.parts}.values())
    place = {p.key: i for i, p in enumerate(paints)}
    amounts = np.zeros((len(coats), len(paints)))
    for row, coat in zip(amounts, coats, strict=True):
        for one, strength in coat.parts:
            row[place[one.key]] += strength * one.full_coat
    return why_glaze(paper or default_paper(), paints, amounts)


def explain_cell(plan: Plan, cell: int, layer: int) -> WhyGlaze:
    """Why a cell of a finished plan looks as it does once a layer (1 …) is dry.

    Raises RequestError where the plan has no such cell, or lays nothing there in that layer.
    """
    if not 0 <= cell < len(plan.coats):
        raise RequestError("There is no such place on the sheet; touch the sheet again.")
    coats = [coat for coat in plan.coats[cell] if coat[0] <= layer]
    if not coats or coats[-1][0] != layer:
        raise RequestError(
            f"Layer {layer} lays nothing here; ask for a layer that has a coat here."
        )
    amounts = np.array([strength * plan.recipes[q] for _, q, strength in coats])
    used = np.flatnonzero(amounts.any(axis=0))
    return why_glaze(plan.paper, tuple(plan.paints[p] for p in used), amounts[:, used])


def why_glaze(paper: Paper, paints: Sequence[Paint], amounts: FloatArray) -> WhyGlaze:
    """Why the last coat of a stack looks as it does.

    amounts: (coats, paints) bottom to top, in units of the paints' own curves, finite and ≥ 0;
    coats without paint are left out. Raises RequestError for no or too many coats.
    """
    laid = _checked(paints, amounts)
    bench = Bench.of(paints, paper)
    spectra = stages(paper, laid @ bench.k, laid @ bench.s)[[0, -2, -1]]
    labs = reflectance_to_lab(spectra)
    over = len(laid) > 1
    return WhyGlaze(
        paper=paper,
        paints=tuple(paints),
        amounts=laid,
        spectra=spectra,
        labs=(triple(labs[0]), triple(labs[1]), triple(labs[2])),
        stroke=triple(bench.labs(laid[-1:])[-1]),
        beneath=tuple(triple(bench.labs(coat[None])[-1]) for coat in laid[:-1]),
        light=light_told(paper, spectra, laid[-1] @ bench.k, laid[-1] @ bench.s),
        glaze=_leans(bench, laid, slice(-1, None)),
        under=_leans(bench, laid, slice(None, -1)) if over else None,
        path=grey_path(bench, laid) if over else None,
        puddle=shift(labs[2], over_all(bench, laid.sum(axis=0)[None]), labs[0]) if over else None,
        order=order_told(bench, laid) if over else None,
        sure=sure_told(paper, paints, laid),
    )


def _checked(paints: Sequence[Paint], amounts: FloatArray) -> NDArray[np.float64]:
    """The coats that hold paint."""
    given = np.array(amounts, dtype=np.float64)
    if given.ndim != 2 or given.shape[1] != len(paints):
        raise ValueError("amounts must be (coats, paints)")
    if not np.isfinite(given).all() or (given < 0.0).any():
        raise ValueError("amounts must be finite and not negative")
    laid = given[given.any(axis=1)]
    if not 1 <= len(laid) <= MOST_COATS:
        raise RequestError(f"Give 1 to {MOST_COATS} coats that hold paint.")
    return laid


def _leans(bench: Bench, amounts: FloatArray, which: slice) -> Leans:
    """A quarter less and more of some coats of a stack."""
    paper, *_, plain = bench.labs(amounts)
    moved = []
    for by in (LESS, MORE):
        changed = np.array(amounts)
        changed[which] *= by
        moved.append(shift(plain, over_all(bench, changed), paper))
    return Leans(*moved)
