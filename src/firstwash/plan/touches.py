"""The detail pass: fine strokes reserved from the start, or laid last with a pointed brush.

What is lighter than its surroundings cannot be added, so it is kept: from all washes, or only
from those after some layer, whichever stage shows the colour wanted best. What is darker is
touched in when everything is dry, with a puddle that is mixed anyway, at whatever strength comes
closest. A stroke that helps too little in the colour it can really have is left out.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, triple
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import lab_to_xyz, xyz_to_lab
from firstwash.picture.stroke_render import Stroke, stroke_covers
from firstwash.picture.strokes import StrokeLimits, find_strokes
from firstwash.plan.bench import Bench

__all__ = ["Touch", "choose_touches", "draw_touches", "masked_where_worth"]

STRENGTHS = np.geomspace(0.02, 1.0, 12)  # of a full coat, tried for a touch
CORE = 0.5  # share of a pixel that a stroke must cover for it to speak for the stroke
LEAST_GAIN = 0.3  # of the gain in the wanted colour that the colour it gets must keep
PAINT_ROUND_MM = 1.2  # width from which a reserve is painted round; finer ones want masking fluid
FEW_MASKED = 3  # finer reserves of one stage that are not worth opening the bottle for, if they
FEW_MASKED_MM = 60.0  # are this long in all: they are painted round too
HAIR_WIDE_MM = (
    0.6  # but nobody paints round a line as fine as this. All: common practice, no source
)
LIGHT_SHARE = 0.6  # reserves at most, for each dark touch allowed


@dataclass(frozen=True, eq=False)
class Touch:
    """One fine stroke.

    way: "painted round" or "masked" (both reserved), or "laid last". after: for a reserve, the
    layer whose dry look it keeps, 0 for bare paper. puddle, strength: of a touch laid last,
    otherwise None. lab: CIELAB it shows when the painting is finished. gain: squared CIEDE2000
    × mm² × importance it takes away, in that colour.
    """

    stroke: Stroke
    way: Literal["painted round", "masked", "laid last"]
    after: int | None
    puddle: int | None
    strength: float | None
    lab: tuple[float, float, float]
    gain: float

    @property
    def reserved(self) -> bool:
        """Whether it is kept free rather than laid."""
        return self.after is not None


@dataclass(frozen=True, eq=False)
class _Place:
    """What is known where a stroke lies: photo and stages (layers + 1) as mean CIELAB (3,)."""

    photo: NDArray[np.float64]
    stages: NDArray[np.float64]
    weight: float


def choose_touches(
    bench: Bench,
    recipes: FloatArray,
    stages_xyz: FloatArray,
    wanted_lab: FloatArray,
    ppmm: float,
    most: int,
    weight: FloatArray | None = None,
) -> tuple[Touch, ...]:
    """Up to `most` dark touches and somewhat fewer reserves, those that help most first.

    bench: the palette's paints; recipes: (puddles, paints). stages_xyz: (layers + 1, rows, cols,
    3) the sheet stage by stage; wanted_lab, weight: (rows, cols, 3) and (rows, cols).
    """
    if most <= 0:
        return ()
    painted = xyz_to_lab(stages_xyz[-1])
    limits = StrokeLimits(most_dark=most, most_light=round(LIGHT_SHARE * most))
    strokes = find_strokes(wanted_lab, painted, ppmm, weight, limits)
    found = [
        touch
        for stroke, place in _places(strokes, stages_xyz, wanted_lab, ppmm, weight)
        if (touch := _touch(bench, recipes, stroke, place)) is not None
    ]
    return masked_where_worth(found)


def masked_where_worth(touches: Sequence[Touch]) -> tuple[Touch, ...]:
    """The touches, those reserves painted round that are too few to be masked.

    Masking fluid is for lights that are many, or too fine to go round.
    """
    alone: set[int | None] = set()
    for after in {t.after for t in touches if t.way == "masked"}:
        own = [t.stroke for t in touches if t.way == "masked" and t.after == after]
        short = sum(s.length_mm for s in own) <= FEW_MASKED_MM
        if len(own) <= FEW_MASKED and short and min(s.width_mm for s in own) >= HAIR_WIDE_MM:
            alone.add(after)
    return tuple(
        replace(t, way="painted round") if t.way == "masked" and t.after in alone else t
        for t in touches
    )


def _places(
    strokes: Sequence[Stroke],
    stages_xyz: FloatArray,
    wanted_lab: FloatArray,
    ppmm: float,
    weight: FloatArray | None,
) -> Iterator[tuple[Stroke, _Place]]:
    for stroke, cover in zip(
        strokes, stroke_covers(strokes, wanted_lab.shape[:2], ppmm), strict=True
    ):
        share = np.where(cover.share >= min(CORE, float(cover.share.max(initial=0.0))), 1.0, 0.0)
        total = float(share.sum())
        if total <= 0.0:
            continue
        box = cover.window
        seen = stages_xyz[(slice(None), *box)].astype(np.float64)
        means = np.einsum("srcx,rc->sx", seen, share) / total
        photo = np.einsum("rcx,rc->x", wanted_lab[box], share) / total
        importance = 1.0 if weight is None else float((weight[box] * share).sum() / total)
        yield stroke, _Place(photo, xyz_to_lab(means), importance)


def _touch(bench: Bench, recipes: FloatArray, stroke: Stroke, place: _Place) -> Touch | None:
    before = _squared(place.stages[-1], place)
    if stroke.polarity == "light":
        errors = [_squared(stage, place) for stage in place.stages[:-1]]
        after = int(np.argmin(errors))
        shown, error = place.stages[after], errors[after]
        masked = stroke.width_mm < PAINT_ROUND_MM
        found = Touch(
            stroke, "masked" if masked else "painted round", after, None, None,
            triple(shown), (before - error) * stroke.area_mm2 * place.weight,
        )  # fmt: skip
    else:
        puddle, strength, shown = _best_glaze(bench, recipes, place)
        gain = (before - _squared(shown, place)) * stroke.area_mm2 * place.weight
        found = Touch(stroke, "laid last", None, puddle, strength, triple(shown), gain)
    return found if found.gain >= LEAST_GAIN * max(stroke.gain, 1e-9) else None


def _squared(lab: FloatArray, place: _Place) -> float:
    return float(delta_e_2000(lab, place.photo)) ** 2


def _best_glaze(
    bench: Bench, recipes: FloatArray, place: _Place
) -> tuple[int, float, NDArray[np.float64]]:
    """Puddle, strength and CIELAB of the glaze over the finished place that comes closest.

    The ground's spectrum is taken as the one that the palette's own paints give its colour.
    """
    start = np.full((1, bench.colours), 2e-3)
    aims = np.array([[1.0, *place.stages[-1], 1.0]])
    ground, _ = bench.fit(start, aims, rounds=20)
    rows = STRENGTHS[None, :, None] * recipes[:, None, :]
    flat = rows.reshape(-1, bench.colours)
    labs = np.array([bench.labs(np.vstack([ground, row[None]]))[-1] for row in flat])
    errors = delta_e_2000(labs, place.photo)
    best = int(np.argmin(errors))
    puddle, level = divmod(best, len(STRENGTHS))
    return puddle, float(STRENGTHS[level]), labs[best]


def draw_touches(
    light: FloatArray,
    touches: Sequence[Touch],
    ppmm: float,
    stage: int | None = None,
    to_light: Callable[[FloatArray], FloatArray] = lab_to_xyz,
) -> NDArray[np.float32]:
    """The sheet (rows, cols, 3) with its fine strokes, as light mixes in part-covered pixels.

    light: XYZ, or any linear light that `to_light` turns CIELAB into. stage: draw only what is
    reserved after an earlier layer than this one; None: the finished sheet.
    """
    out = np.array(light, dtype=np.float32)
    shown = [t for t in touches if stage is None or (t.reserved and (t.after or 0) < stage)]
    covers = stroke_covers([t.stroke for t in shown], out.shape[:2], ppmm)
    for touch, cover in zip(shown, covers, strict=True):
        share = cover.share[..., None]
        colour = np.asarray(to_light(np.array(touch.lab)), dtype=np.float32)
        out[cover.window] += share * (colour - out[cover.window])
    return out
