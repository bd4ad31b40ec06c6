"""What swatches are thought to be before they are seen, and what is told of them afterwards."""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.card.recipe import Swatch
from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.paints.posterior import Belief
from firstwash.paints.spread import N_CURVES, plain_spread, smooth_factors, squeezed
from firstwash.paints.swatches import Part

__all__ = [
    "PAPER_SPREAD",
    "SwatchFound",
    "Taught",
    "belief_before",
    "named_paper",
    "parts_of",
    "poor_fit",
    "strange_rows",
    "taught_paint",
]

# Spreads of logarithms: how far hands are off. The dilution law is held tighter than hands hold
# it, or the cups would explain what is the paints' own doing; chosen by trials on made-up cards
# (tools/card_trials.py).
HALVING: Final = 0.03  # of each "half as strong"
LAYING: Final = 0.10  # of how much one swatch takes up
MIXING: Final = 0.10  # of each part of a mixture
FULL: Final = 0.50  # of what a painter calls full strength
OTHER_TUBE: Final = 0.50  # of another make's curves, smooth over wavelength
SCATTER: Final = 2.00  # of its scattering
PAPER_SPREAD: Final = (0.3, 0.2, 0.1)  # of logit soak, ln fibre scattering, logit k2
MODEL: Final = 0.16  # of ln K and ln S: what the layer model itself cannot tell [Chen2019]
GUESSED: Final = 1.0  # sigma from which a paint's hue is only a guess
COLOURED: Final = 15.0  # C*ab from which a hue is to be spoken of
OTHER_HUE: Final = 50.0  # degrees of CIELAB hue; makes differ by far less (from memory)
GRAIN_GRADES: Final = (0.015, 0.03, 0.06, 0.10)  # speckle from which grades 1 to 4 begin; a guess
POOR_FIT: Final = 2.0  # CIEDE2000 of the middle swatch; good photos leave 0.5 to 1.8
REPAINT: Final = 6.0  # CIEDE2000 off the fit above which a swatch is worth painting again


@dataclass(frozen=True, eq=False)
class SwatchFound:
    """One swatch: lab (3,) found and predicted, how far apart (CIEDE2000), the amounts found.

    grain: share by which it is speckled, None where an instrument measured it. repaint: it does
    not fit with the others.
    """

    swatch: Swatch
    found: NDArray[np.float64]
    predicted: NDArray[np.float64]
    off: float
    amounts: Mapping[str, float]
    grain: float | None
    repaint: bool

    @classmethod
    def of(
        cls,
        swatch: Swatch,
        found: FloatArray,
        predicted: FloatArray,
        off: float,
        parts: Sequence[tuple[str, float]],
        grain: float | None,
    ) -> "SwatchFound":
        """A swatch with the amounts of its parts, by key, added up over its coats."""
        amounts: dict[str, float] = {}
        for key, amount in parts:
            amounts[key] = amounts.get(key, 0.0) + float(amount)
        return cls(
            swatch, np.asarray(found), np.asarray(predicted), off, amounts, grain, off > REPAINT
        )


@dataclass(frozen=True, eq=False)
class Taught:
    """What a card taught: paints with a row of their own, and the paper they were painted on.

    before: the same paints as they were thought of. noise: by what factor the swatches stray
    more than expected. notes: sentences. texture: share by which the bare paper is speckled, None
    where no photo told it.
    """

    paints: tuple[Paint, ...]
    before: tuple[Paint, ...]
    paper: Paper
    swatches: tuple[SwatchFound, ...]
    noise: float
    notes: tuple[str, ...]
    texture: float | None = None


def strange_rows(
    swatches: Sequence[SwatchFound], paints: Mapping[str, Paint], paper: Paper
) -> tuple[str, ...]:
    """A sentence for every row that does not look like its paint, as thought of before.

    Either a third of its swatches do not fit with each other, or the paint by itself has quite
    another hue.
    """
    out = []
    for row in sorted({s.swatch.row for s in swatches}):
        own = [s for s in swatches if s.swatch.row == row]
        alone = [s for s in own if s.swatch.kind == "dilution"]
        misfits = 3 * sum(s.repaint for s in own) >= len(own)
        if not (misfits or (alone and _other_hue(alone, paints, paper))):
            continue
        one = paints[own[0].swatch.coats[-1][0][0]]
        out.append(
            f"Row {'ABCDEFGH'[row]} does not look like {one.name}: is this the file of that card?"
        )
    return tuple(out)


def poor_fit(swatches: Sequence[SwatchFound]) -> tuple[str, ...]:
    """A sentence if the swatches on the whole do not fit what any such paint would look like."""
    if not swatches or float(np.median([s.off for s in swatches])) <= POOR_FIT:
        return ()
    return (
        "The swatches fit their paints poorly on the whole; photograph the card by daylight, and "
        "check that the card's file is the right one.",
    )


def _other_hue(alone: Sequence[SwatchFound], paints: Mapping[str, Paint], paper: Paper) -> bool:
    """Whether most swatches of a paint by itself are far from its hue, where both have one."""
    far = []
    for s in alone:
        ((key, amount),) = s.swatch.coats[0]
        one = paints[key]
        if one.sigma >= GUESSED:
            return False
        depth = amount * one.full_coat
        seen = stages(paper, depth * one.k[None], depth * one.s[None])[1]
        a, b = (lab[1] + 1j * lab[2] for lab in (s.found, reflectance_to_lab(seen)))
        coloured = min(abs(a), abs(b)) > COLOURED
        turn = abs(np.degrees(np.angle(a / b))) if coloured else 0.0
        far.append(turn > OTHER_HUE)
    return bool(2 * sum(far) > len(far))


def belief_before(paint: Paint) -> Belief:
    """What is thought of the painter's own tube of a paint before any swatch is seen.

    Amount 1 is the painter's full strength from here on, whatever the catalogue calls so. Of a
    paint that an earlier card taught only the strength of today's puddle is open.
    """
    log = np.concatenate([np.log(paint.k), np.log(paint.s)]) + np.log(paint.full_coat)
    factors = [paint.doubt, np.full((1, N_CURVES), FULL)]
    if paint.provenance != "calibrated":
        tube = smooth_factors(OTHER_TUBE, 0.3, 50.0)
        scatter = smooth_factors(SCATTER, 0.8, 100.0)
        factors.append(np.hstack([tube, np.zeros_like(tube)]))
        factors.append(np.hstack([np.zeros_like(scatter), scatter]))
    return Belief(log, squeezed(np.vstack(factors)))


def parts_of(
    number: int, swatch: Swatch, keys: Sequence[str], own: Mapping[str, int]
) -> list[Part]:
    """The parts of a swatch with the slips of the hand that may have changed their amounts.

    number: of the swatch in the data. keys: paints in the order of the data. own: the row of
    each paint that has one; what is laid from one cup shares its slips.
    """
    out = []
    for c, coat in enumerate(swatch.coats):
        for key, amount in coat:
            slips: dict[Hashable, float] = {("lay", swatch.row, swatch.column, c): LAYING}
            if len(coat) > 1:
                slips["part", swatch.row, swatch.column, key] = MIXING
            strength = amount * (2.0 if len(coat) > 1 else 1.0)
            for cup in range(round(-np.log2(strength))):
                slips["cup", own.get(key, f"of {key}"), cup] = HALVING
            out.append(Part(number, c, keys.index(key), amount, slips))
    return out


def named_paper(paper: Paper) -> Paper:
    """The paper after swatches told its soak, under a name of its own."""
    return replace(
        paper, name="your paper",
        provenance=f"{paper.provenance}; soak, fibres and inner reflection as the swatch card "
        "shows them",
    )  # fmt: skip


def taught_paint(before: Paint, belief: Belief, found: Sequence[SwatchFound], source: str) -> Paint:
    """The paint as its swatches show it; its amount 1 is the painter's full strength."""
    key = before.key
    own = [f for f in found if key in f.amounts]
    thinnest = min(f.amounts[key] for f in own if f.swatch.kind == "dilution")
    spread = squeezed(np.vstack([belief.spread, plain_spread(MODEL)]))
    grain = [f.grain for f in own if f.swatch.kind == "dilution" and f.grain is not None]
    return replace(
        before,
        k=belief.k,
        s=belief.s,
        provenance="calibrated",
        source=source,
        full_coat=1.0,
        fit_error=round(float(np.median([f.off for f in own])), 2),
        sigma=round(float(np.sqrt((spread[:, :N_BANDS] ** 2).sum(axis=0).mean())), 3),
        spread=spread,
        thinnest_measured=round(thinnest, 4),
        handling=replace(before.handling, granulation=_grain_grade(grain, before)),
    )


def _grain_grade(grain: Sequence[float], before: Paint) -> int | None:
    """The granulation grade, moved one step where the swatches clearly say so."""
    grade = before.handling.granulation
    if not grain:
        return grade
    seen = int(np.digitize(np.median(grain), GRAIN_GRADES))
    if grade is None:
        return seen
    return grade + int(np.sign(seen - grade)) if abs(seen - grade) > 1 else grade
