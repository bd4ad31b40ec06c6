"""A wash laid stronger or weaker, seen at once: what a slider shows before anything is accepted.

Only the stacks the wash lies in are worked out again. What is accepted goes through
`plan.edits.change_strength`, which gives the same colours.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.plan.bench import Bench
from firstwash.plan.edits import LIGHTENS
from firstwash.plan.locks import NO_LOCKS, Locks, WashKey, find_wash
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash
from firstwash.plan.whatif import as_planned, footprint
from firstwash.worksheet.other_mixtures import stronger_end
from firstwash.worksheet.section import section_of
from firstwash.worksheet.words import Colour, Numbers, apart_words, colour_of, hex_of, hexes

__all__ = ["Moved", "moved_stages", "moved_strength"]

LEAST = 1e-6  # strength that `plan.edits` takes


@dataclass(frozen=True)
class Moved:
    """A wash at another strength.

    strength: for `edits.change_strength`; factor: against the plan's. step, stroke: value step
    and "#rrggbb" of a dry test stroke. cells: of the wash; colours: per cell "#rrggbb" after
    layer 1, 2, … cell: the one the rest tells of; seen: after 0, 1, … coats there; lighter,
    darker: ends of what nine of ten lie between at the end. end: at the end, words: against the
    plan.
    """

    layer: int
    number: int
    strength: float
    factor: float
    step: int
    stroke: str
    cells: tuple[int, ...]
    colours: tuple[tuple[str, ...], ...]
    cell: int
    seen: tuple[str, ...]
    lighter: str
    darker: str
    end: Colour
    words: str
    numbers: Numbers


def moved_stages(plan: Plan, key: WashKey, strength: float) -> NDArray[np.float64]:
    """CIELAB (cells of the wash, layers + 1, 3) after 0, 1, … layers with it at a strength.

    key: (layer, number). strength: above 0, at most 1; of a graded wash, at its stronger end.
    Raises RequestError for what cannot be, or what would lighten the sheet.
    """
    wash = find_wash(plan, key)
    _check(strength)
    foot = footprint(plan, wash)
    planned = as_planned(plan, foot)
    rows = np.arange(len(foot.coats))
    strengths = planned.strengths.copy()
    strengths[rows, foot.place] = _laid(wash, strengths[rows, foot.place], strength)
    coats = replace(planned, strengths=strengths).labs()
    stages = _by_layer(coats, planned.layers, planned.counts, plan.layers)[foot.stack_of]
    _only_darker(plan.stage_labs[:, foot.cells].transpose(1, 0, 2), stages)
    return stages


def _check(strength: float) -> None:
    if not (isinstance(strength, int | float) and LEAST < strength <= 1.0):
        raise RequestError(
            f"A strength lies above 0 and at most at 1, a full coat, not {strength}."
        )


def _laid(wash: Wash, planned: FloatArray, strength: float) -> NDArray[np.float64]:
    """Strengths (stacks,) of the wash's coats; a graded wash keeps its grade."""
    if wash.end_strength is None:
        return np.full(len(planned), float(strength))
    factor = float(strength) / stronger_end(wash)
    return np.asarray(planned * factor)


def _by_layer(
    coats: FloatArray, layers: NDArray[np.int64], counts: NDArray[np.int64], last: int
) -> NDArray[np.float64]:
    """(stacks, layers + 1, 3) from colours after each coat (stacks, most coats + 1, 3)."""
    within = np.arange(layers.shape[1])[None] < counts[:, None]
    done = [((layers <= n) & within).sum(axis=1) for n in range(last + 1)]
    rows = np.arange(len(coats))
    return np.stack([coats[rows, n] for n in done], axis=1)


def _only_darker(before: FloatArray, after: FloatArray) -> None:
    """Refuse what `plan.edits` refuses: a coat that would lighten the sheet and did not before."""
    risen, was = (np.diff(s[..., 0], axis=1).max(axis=1) for s in (after, before))
    wrong = (risen > LIGHTENS) & (risen > was + 1e-9)
    if wrong.any():
        cell = int(np.argmax(np.where(wrong, risen, 0.0)))
        layer = int(np.argmax(np.diff(after[cell, :, 0]))) + 1
        raise RequestError(
            f"That paint would dry lighter than the sheet under it in layer {layer}, and "
            "watercolour only darkens; take a more transparent puddle or lay it weaker."
        )


def moved_strength(
    plan: Plan,
    key: WashKey,
    strength: float | None = None,
    factor: float | None = None,
    cell: int | None = None,
    locks: Locks = NO_LOCKS,
) -> Moved:
    """What changes when a wash is laid stronger or weaker; nothing is accepted by it.

    key: (layer, number). strength: as in `moved_stages`, or factor: times as strong as planned,
    kept within a full coat; give one of the two. cell: one of the wash's own that is told in
    full; its largest if left out. locks: what the painter keeps.
    Raises RequestError for what cannot be, what is locked, or what would lighten the sheet.
    """
    wash = find_wash(plan, key)
    if key in locks.washes or wash.layer in locks.layers:
        raise RequestError(
            f"Wash {wash.layer}.{wash.number} is kept as it is; stop keeping it first."
        )
    now = stronger_end(wash)
    wanted = _wanted(now, strength, factor)
    areas = plan.cells.areas_mm2()[list(wash.cells)]
    where = wash.cells[int(np.argmax(areas))] if cell is None else cell
    if where not in wash.cells:
        raise RequestError(f"Wash {key[0]}.{key[1]} does not lie there; touch one of its areas.")
    return _told(plan, wash, moved_stages(plan, key, wanted), wanted, now, where)


def _wanted(now: float, strength: float | None, factor: float | None) -> float:
    if (strength is None) == (factor is None):
        raise RequestError("Say either how strong the wash is to be, or how many times as strong.")
    if strength is not None:
        return strength
    if not (isinstance(factor, int | float) and np.isfinite(factor) and factor > 0.0):
        raise RequestError(f"A wash is laid some times as strong, a number above 0, not {factor}.")
    return min(now * float(factor), 1.0)


def _told(
    plan: Plan, wash: Wash, stages: FloatArray, strength: float, now: float, cell: int
) -> Moved:
    row = wash.cells.index(cell)
    before, end = plan.stage_labs[-1, cell], stages[row, -1]
    coats = [
        (layer, q, s * strength / now if layer == wash.layer else s)
        for layer, q, s in plan.coats[cell]
    ]
    section = section_of(plan, coats)
    flat = hexes(stages[:, 1:].reshape(-1, 3))
    n = plan.layers
    stroke = _stroke(plan, wash, strength)
    return Moved(
        layer=wash.layer,
        number=wash.number,
        strength=float(strength),
        factor=float(strength / now),
        step=stroke.step,
        stroke=stroke.hex,
        cells=wash.cells,
        colours=tuple(flat[i : i + n] for i in range(0, len(flat), n)),
        cell=cell,
        seen=hexes(section.labs),
        lighter=hex_of(section.lighter[-1]),
        darker=hex_of(section.darker[-1]),
        end=colour_of(end),
        words=_words(end, before),
        numbers=(
            ("strength, share of a full coat", f"{strength:.3f}"),
            ("times as strong as planned", f"{strength / now:.2f}"),
        ),
    )


def _words(end: FloatArray, before: FloatArray) -> str:
    told = apart_words(end, before)
    return "as planned" if told == "the same to the eye" else f"{told} than planned"


def _stroke(plan: Plan, wash: Wash, strength: float) -> Colour:
    coat = plan.recipes[wash.puddle] * strength
    return colour_of(Bench.of(plan.paints, plan.paper).labs(coat[None])[1])
