"""The newcomer's page: from a photo to the first wash and on to the darks, in the order of work.

Told with the lessons' still life and the plan that firstwash makes of it. The still life is drawn
from formulas, so that its true local colour is known and stands beside what was made of the
picture alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.handout import pictures
from firstwash.handout.markup import table
from firstwash.handout.reasons import reason_words
from firstwash.handout.steps import board_words
from firstwash.handout.words import parts_words
from firstwash.lessons import draw
from firstwash.lessons.page import Boxes, Lesson
from firstwash.lessons.workshop import Workshop, labs_of
from firstwash.light.split import LightSplit, split_light
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.picture.profile import encode_png, linear_to_srgb8
from firstwash.picture.studies import in_value_steps, step_shares
from firstwash.plan.bench import Bench
from firstwash.plan.local_first import SURE
from firstwash.plan.reasons import why
from firstwash.plan.wash import Wash

__all__ = ["Told", "palette_ramps", "told_of", "tutorial"]

STEPS: Final = 5  # of the value study
SQUINT: Final = 0.3
REASONS: Final = 4  # first washes that are explained
UNSURE: Final = SURE[0]  # mean sureness below which the split changes no first wash
HELPS: Final = 1.0  # CIEDE2000 by which the split comes nearer to the truth than the picture
STRIP: Final = (1.0, 0.5, 0.25, 0.12, 0.06, 0.03, 0.015, 0.004, 0.0)


@dataclass(frozen=True, eq=False)
class Told:
    """What the page says, and from what.

    shares: (5,) of the sheet in each value step, darkest first. split_off, picture_off: mean
    CIEDE2000 of the local colour found, and of the picture itself, against the true local colour,
    both brought to its lightness. covered: share of the sheet painted in each layer. lightness:
    mean L* of the sheet after 0, 1, … layers.
    """

    shares: tuple[float, ...]
    sure: float
    split_off: float
    picture_off: float
    covered: tuple[float, ...]
    lightness: tuple[float, ...]
    sentences: tuple[str, ...]


def _as_light(shown: NDArray[np.float32], truth: NDArray[np.float32]) -> NDArray[np.float64]:
    """A linear picture (rows, cols, 3) times the one number that brings it nearest to another:
    no picture tells a bright thing in dim light from a dark one in bright light.
    """
    one, other = shown.astype(np.float64), truth.astype(np.float64)
    return np.asarray(one * (one * other).sum() / max(float((one * one).sum()), 1e-9))


def _off(shown: NDArray[np.float32], truth: NDArray[np.float32]) -> float:
    """Mean CIEDE2000 of a linear sRGB picture (rows, cols, 3) from a true one, as light as it."""
    both = (_as_light(shown, truth), truth)
    labs = (xyz_to_lab(np.maximum(linear_srgb_to_xyz(p), 0.0)) for p in both)
    return float(delta_e_2000(*labs).mean())


def _at_work_size(shop: Workshop, plane: NDArray[np.float32]) -> NDArray[np.float32]:
    rows, cols = shop.reference.xyz.shape[:2]
    high, wide = plane.shape[:2]
    down = ((np.arange(rows) + 0.5) * high / rows).astype(int)
    across = ((np.arange(cols) + 0.5) * wide / cols).astype(int)
    return np.asarray(plane[np.ix_(down, across)])


def told_of(shop: Workshop, split: LightSplit) -> Told:
    """The numbers of the page and its sentences."""
    plan, light = shop.plan, shop.reference.lab[..., 0]
    truth = _at_work_size(shop, shop.scene.local)
    seen = _at_work_size(shop, shop.scene.rgb)
    whole = float(shop.areas.sum())
    covered = tuple(
        float(sum(w.area_mm2 for w in plan.washes_of(n))) / whole for n in range(1, plan.layers + 1)
    )
    lightness = tuple(float(np.average(labs[:, 0], weights=shop.areas)) for labs in plan.stage_labs)
    shares = step_shares(light, STEPS, SQUINT)
    sure = float(split.sure.mean())
    split_off, picture_off = _off(split.local, truth), _off(seen, truth)
    said = (
        _values_told(shares),
        _split_told(sure, split_off, picture_off),
        _reach_told(shop),
        _layers_told(covered, lightness),
        f"In the end the painting is {plan.report.against_photo.mean:.1f} from the photo on "
        "average (CIEDE2000, where about 1 can just be seen).",
    )
    return Told(shares, sure, split_off, picture_off, covered, lightness, said)


def _values_told(shares: tuple[float, ...]) -> str:
    most = int(np.argmax(shares))
    where = ("darkest", "second darkest", "middle", "second lightest", "lightest")[most]
    return (
        f"The largest part of the picture, {shares[most]:.0%}, lies in the {where} of five values; "
        f"the darkest takes {shares[0]:.0%}, the lightest {shares[-1]:.0%}."
    )


def _split_told(sure: float, split_off: float, picture_off: float) -> str:
    if sure < UNSURE:
        return (
            "On the whole the split of light and local colour is not sure here, so first washes go "
            "by the colours as seen."
        )
    if split_off < picture_off - HELPS:
        return (
            "The local colour that was found comes nearer to the true one than the picture itself: "
            f"{split_off:.1f} off instead of {picture_off:.1f} (CIEDE2000)."
        )
    if split_off > picture_off + HELPS:
        return (
            f"The local colour that was found is {split_off:.1f} off the true one, the picture "
            f"itself only {picture_off:.1f} (CIEDE2000): here the split does harm."
        )
    return (
        f"The local colour that was found is {split_off:.1f} off the true one, the picture itself "
        f"{picture_off:.1f} (CIEDE2000): here the split helps little."
    )


def _reach_told(shop: Workshop) -> str:
    darkest = float(np.percentile(shop.reference.lab[..., 0], 1.0))
    floor = shop.plan.tone.floor
    if floor <= darkest + 1.0:
        return "These paints reach the darkest dark of the picture on this paper."
    return (
        f"The picture’s darkest dark is L* {darkest:.0f}, these paints reach {floor:.0f} on this "
        "paper; the darks are lifted to it."
    )


def _layers_told(covered: tuple[float, ...], lightness: tuple[float, ...]) -> str:
    first, last = covered[0], covered[-1]
    drop = [a - b for a, b in pairwise(lightness)]
    most = int(np.argmax(drop)) + 1
    less = "less of it" if last < first - 0.01 else "more" if last > first + 0.01 else "as much"
    return (
        f"The first layer covers {first:.0%} of the sheet, the last {last:.0%}, {less}. The "
        f"largest step to dark is layer {most}."
    )


def _photo(rgb: FloatArray) -> bytes:
    return encode_png(linear_to_srgb8(np.clip(rgb, 0.0, 1.0).astype(np.float32)))


def _figure(png: bytes, alt: str, caption: str) -> str:
    return draw.picture(png, alt, f"<strong>{escape(caption)}</strong>")


def _stages(shop: Workshop) -> list[str]:
    plan = shop.plan
    rows, cols = plan.cells.index.shape
    index = pictures.cells_at(plan.cells, cols * 2, rows * 2)
    out = []
    for stage in range(1, plan.layers + 1):
        png = encode_png(pictures.paint_stage(plan, stage, index, 1))
        name = "the first wash" if stage == 1 else f"layer {stage}"
        washes = len(plan.washes_of(stage))
        alt = f"The sheet as predicted when {name} is dry"
        caption = f"When {name} is dry: {washes} wash{'es' * (washes != 1)}"
        out.append(_figure(png, alt, caption))
    return out


def palette_ramps(shop: Workshop) -> str:
    """The paints of the plan, each from full strength into paper."""
    rows = []
    for one in shop.palette:
        bench = Bench.of([one], shop.paper)
        labs = labs_of(bench, (np.array(STRIP) * one.full_coat)[:, None, None])[:, -1]
        rows.append(
            f"<div><p><strong>{escape(one.name.capitalize())}</strong></p>"
            f"{draw.ramp(labs, f'{one.name} from full strength to paper')}</div>"
        )
    return f'<div class="strips two">{"".join(rows)}</div>'


def _first_washes(shop: Workshop) -> list[Wash]:
    own = [w for w in shop.plan.washes_of(1) if w.kind != "graded wash"]
    return sorted(own, key=lambda w: -w.area_mm2)[:REASONS]


def _reasons(shop: Workshop) -> str:
    plan = shop.plan
    rows = [
        [
            f'<span class="letter">{plan.puddles[w.puddle].name}</span>',
            escape(parts_words(plan.puddles[w.puddle], plan)),
            escape(reason_words(why(plan, w), plan)),
        ]
        for w in _first_washes(shop)
    ]
    if not rows:
        return "<p>With these paints the first layer stays bare paper.</p>"
    return table(("Puddle", "Parts at full strength", "Why it comes first"), rows)


def _seeing(shop: Workshop, split: LightSplit) -> tuple[str, str]:
    """Pictures of the values, and of light and local colour."""
    photo = _figure(
        _photo(shop.scene.rgb),
        "The subject: an enamel jug, two lemons, a plum and a folded linen towel by a window",
        "The photo",
    )
    steps = in_value_steps(shop.reference.lab[..., 0], STEPS, SQUINT)
    grey = steps if steps.ndim == 3 else np.repeat(steps[..., None], 3, axis=2)
    values = _figure(
        encode_png(np.ascontiguousarray(grey)),
        "The same picture squinted at, in five greys from dark to light",
        "In five values, squinting a little",
    )
    light = split.light / max(float(np.percentile(split.light, 99.0)), 1e-6)
    local = _as_light(split.local, _at_work_size(shop, shop.scene.local))
    found = [
        _figure(_photo(local), "The local colour as found", "Local colour as found"),
        _figure(_photo(light), "The light as found, on a white world", "The light as found"),
        _figure(
            _photo(shop.scene.local),
            "The true local colour, without any light and shadow",
            "The true local colour",
        ),
    ]
    return draw.pictures([photo, values], few=True), draw.pictures(found)


def _body(shop: Workshop, split: LightSplit, sentences: Sequence[str]) -> str:
    values, split_said, reach, layers_said, end = sentences
    study, parted = _seeing(shop, split)
    stages = _stages(shop)
    return (
        "<p>On the table by the window stand an enamel jug, two lemons, a plum and a folded linen "
        "towel. This is how firstwash goes from a photo of them to a painting, and how you can. "
        "Nothing can be made lighter again, so everything is thought of from the light end.</p>"
        "<h2>1. Squint: the values</h2><p>Half close your eyes until detail goes and only masses "
        f"of light and dark are left. {escape(values)} Decide now what stays bare paper.</p>{study}"
        "<h2>2. Tell the light from the thing</h2><p>A lemon in shadow is still yellow. Ask of "
        f"each thing: what is its own colour, and what does the light add? {escape(split_said)}"
        f"</p>{parted}"
        f"<h2>3. What your paints can do</h2><p>{escape(reach)} {_chosen(shop)}, shown from full "
        f"strength into paper:</p>{palette_ramps(shop)}"
        "<h2>4. The first wash</h2><p>Watery and pale, under everything but the whites, the "
        "palest tint that is seen in each area. It is also chosen for what it does under the "
        f"glazes to come.</p>{draw.pictures(stages[:1], few=True)}{_reasons(shop)}"
        f"<h2>5. Glazes, then the darks</h2><p>{escape(layers_said)} Each layer dries before "
        f"the next. {escape(end)} At the board {escape(board_words(shop.plan))}, drying included."
        f"</p>{draw.pictures(stages[1:])}"
        "<h2>Now your own photo</h2><p>Run <code>firstwash plan PHOTO</code> with your list of "
        "paints, or open the worksheet with <code>firstwash open</code>, and read down the page "
        "in the same order.</p>"
    )


def _chosen(shop: Workshop) -> str:
    """What the palette is out of what is owned."""
    if len(shop.palette) == len(shop.owned):
        return "This is all you own"
    return f"Of your {len(shop.owned)} paints these are chosen"


def _numbers(shop: Workshop, found: Told) -> dict[str, Any]:
    return {
        "value_shares": [round(s, 4) for s in found.shares],
        "split_off": round(found.split_off, 2),
        "picture_off": round(found.picture_off, 2),
        "covered": [round(c, 3) for c in found.covered],
        "lightness": [round(v, 2) for v in found.lightness],
        "against_photo": round(shop.plan.report.against_photo.mean, 2),
    }


def tutorial(shop: Workshop) -> Lesson:
    """The page, worked out."""
    split = split_light(shop.reference.xyz)
    found = told_of(shop, split)
    return Lesson(
        key="from-photo-to-first-wash",
        title="From a photo to the first wash",
        lead="The order of work, told with a still life and your own paints.",
        body=_body(shop, split, found.sentences),
        sentences=found.sentences,
        numbers=_numbers(shop, found),
        asks=(
            "What stays bare paper, and how do you know before you begin?",
            "Where is the lemon’s own colour seen, and where only its shadow?",
            "Why does the first wash go under the darks too?",
        ),
        task=(
            "Make a value study of the still life in five greys, as large as a postcard. Then "
            "guess: which of the five values covers most of the sheet?"
        ),
        answer=f"<p>{escape(found.sentences[0])}</p>",
        sheet=(Boxes("Five values", ("darkest", "dark", "middle", "light", "paper")),),
        paints=shop.palette,
    )
