"""Fine strokes over a sheet that changed under them.

A stroke stays where it is. What it shows is told again by how far the ground under it moved: a
reserve shows the stage it keeps, a touch its puddle over the finished place. A touch whose
puddle is no longer mixed is laid with the puddle and strength that come closest to its colour.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.stroke_render import Cover, stroke_covers
from firstwash.plan.bench import Bench
from firstwash.plan.result import Plan
from firstwash.plan.touches import CORE, STRENGTHS, Touch

__all__ = ["retouched"]


@dataclass(frozen=True, eq=False)
class _Under:
    """Cells under a stroke's core and the share (sum 1) of each."""

    cells: NDArray[np.int64]
    share: NDArray[np.float64]

    @classmethod
    def of(cls, plan: Plan, cover: Cover) -> "_Under":
        core = cover.share >= min(CORE, float(cover.share.max(initial=0.0)))
        cells, count = np.unique(plan.cells.index[cover.window][core], return_counts=True)
        return cls(cells.astype(np.int64), count / max(int(count.sum()), 1))


def retouched(
    plan: Plan,
    bench: Bench,
    recipes: FloatArray,
    kept: Mapping[int, int],
    stage_labs: FloatArray,
    changed: BoolArray,
) -> tuple[Touch, ...]:
    """The plan's strokes for a sheet with other colours.

    recipes: (puddles, paints) after the change; kept: new number → old number of puddles that
    are as they were. stage_labs: (layers + 1, cells, 3) after the change; changed: (cells,).
    """
    now = {old: new for new, old in kept.items()}
    strokes = [t.stroke for t in plan.touches]
    covers = stroke_covers(strokes, plan.cells.index.shape, plan.cells.ppmm)
    out = []
    for touch, cover in zip(plan.touches, covers, strict=True):
        under = _Under.of(plan, cover)
        same_ground = not changed[under.cells].any()
        if touch.puddle is None:
            after = touch.after or 0
            out.append(touch if same_ground else _shifted(plan, touch, under, stage_labs, after))
        elif same_ground and touch.puddle in now:
            new = now[touch.puddle]
            out.append(touch if new == touch.puddle else replace(touch, puddle=new))
        elif len(recipes):  # where nothing is mixed any more, nothing is touched in either
            out.append(_laid(plan, bench, recipes, touch, under, stage_labs, now))
    return tuple(out)


def _moved(plan: Plan, under: _Under, stage_labs: FloatArray, stage: int) -> FloatArray:
    """CIELAB (3,) by which the ground of a stroke moves at a stage."""
    return np.asarray(
        under.share @ (stage_labs[stage][under.cells] - plan.stage_labs[stage][under.cells])
    )


def _shifted(plan: Plan, touch: Touch, under: _Under, stage_labs: FloatArray, stage: int) -> Touch:
    return replace(touch, lab=_triple(np.array(touch.lab) + _moved(plan, under, stage_labs, stage)))


def _laid(
    plan: Plan,
    bench: Bench,
    recipes: FloatArray,
    touch: Touch,
    under: _Under,
    stage_labs: FloatArray,
    now: Mapping[int, int],
) -> Touch:
    """A touch over another ground, or out of another puddle where its own is gone."""
    ground = under.share @ stage_labs[-1][under.cells]
    assert touch.puddle is not None
    assert touch.strength is not None
    if touch.puddle not in now:
        q, strength, shown = _closest(bench, recipes, ground, np.array(touch.lab))
        return replace(touch, puddle=q, strength=strength, lab=_triple(shown))
    before = under.share @ plan.stage_labs[-1][under.cells]
    coat = (recipes[now[touch.puddle]] * touch.strength)[None]
    shift = _over(bench, ground, coat)[0] - _over(bench, before, coat)[0]
    return replace(touch, puddle=now[touch.puddle], lab=_triple(np.array(touch.lab) + shift))


def _over(bench: Bench, ground: FloatArray, coats: FloatArray) -> NDArray[np.float64]:
    """CIELAB (n, 3) of each of the coats (n, paints) over a ground of that colour.

    The ground's spectrum is taken as the one that the palette's paints give its colour, as
    where strokes are chosen.
    """
    aims = np.array([[1.0, *ground, 1.0]])
    base, _ = bench.fit(np.full((1, bench.colours), 2e-3), aims, rounds=20)
    return np.array([bench.labs(np.vstack([base, coat[None]]))[-1] for coat in coats])


def _closest(
    bench: Bench, recipes: FloatArray, ground: FloatArray, wanted: FloatArray
) -> tuple[int, float, NDArray[np.float64]]:
    rows = (STRENGTHS[None, :, None] * recipes[:, None, :]).reshape(-1, bench.colours)
    labs = _over(bench, ground, rows)
    best = int(np.argmin(delta_e_2000(labs, wanted)))
    puddle, level = divmod(best, len(STRENGTHS))
    return puddle, float(STRENGTHS[level]), labs[best]


def _triple(lab: FloatArray) -> tuple[float, float, float]:
    light = float(np.clip(lab[0], 0.0, 100.0))
    return light, float(lab[1]), float(lab[2])
