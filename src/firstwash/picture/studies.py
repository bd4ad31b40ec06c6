"""Small studies of a picture: squinted at, in a few values, hue without value, bare paper.

Lightness is CIELAB L* (D65), 0 to 100. Pictures for the page are uint8 sRGB (rows, cols, 3).
Squinting is done with medians: they drop detail and keep masses, and, unlike a blur, put no
middle value along the border of a light mass and a dark one.
"""

from dataclasses import dataclass
from functools import cache
from typing import Literal, NamedTuple

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from firstwash.arrays import BoolArray, FloatArray, as_float, triple
from firstwash.errors import RequestError
from firstwash.language import mark, tr, tr_count
from firstwash.optics.observer import (
    lab_to_srgb8,
    lab_to_xyz,
    xyz_to_lab,
    xyz_to_linear_srgb,
)
from firstwash.picture.values import value_step

__all__ = [
    "FEWEST_STEPS",
    "MOST_STEPS",
    "BesideGrey",
    "StepName",
    "Whites",
    "hue_against_grey",
    "hue_beside_grey",
    "in_value_steps",
    "numbered",
    "squinted",
    "squinted_lab",
    "squinted_lightness",
    "step_grey",
    "step_names",
    "step_shares",
    "whites",
    "without_islets",
    "without_specks",
]

FEWEST_STEPS, MOST_STEPS = 2, 10
# Own judgement, by looking at photos; no source.
SQUINT_SHARE = 0.045  # of the shorter side: the widest detail the hardest squint loses, halved
HUE_LIGHTNESS = 60.0  # the L* at which screens show strong warm and cool colours about alike
NumberedFrom = Literal["light", "dark"]

# --- squinting ---------------------------------------------------------------------


def squinted_lab(lab: FloatArray, strength: float) -> NDArray[np.float32]:
    """CIELAB (rows, cols, 3) as seen through half closed eyes, 0 (open) to 1 (nearly shut)."""
    picture = np.asarray(lab, dtype=np.float32)
    radius = _radius(picture, strength)
    if radius < 1:
        return picture.copy()
    # Texture finer than the masses melts as light does, not as lightness.
    light = lab_to_xyz(picture).astype(np.float32)
    melted = xyz_to_lab(cv2.GaussianBlur(light, (0, 0), max(radius / 6.0, 0.4)))
    codes = _codes(melted)
    for _ in range(2):  # the second one rounds what the first leaves ragged
        codes = _median(codes, 2 * radius + 1)
    smooth = cv2.GaussianBlur(_from_codes(codes), (0, 0), max(radius / 12.0, 0.6))
    return np.asarray(smooth, dtype=np.float32)


def squinted(lab: FloatArray, strength: float) -> NDArray[np.uint8]:
    """The picture (rows, cols, 3) of `squinted_lab` for the screen."""
    return lab_to_srgb8(squinted_lab(lab, strength))


def squinted_lightness(lightness: FloatArray, strength: float) -> NDArray[np.float32]:
    """L* (rows, cols) as seen through half closed eyes, 0 (open) to 1 (nearly shut)."""
    plane = np.asarray(lightness, dtype=np.float32)
    radius = _radius(plane, strength)
    if radius < 1:
        return plane.copy()
    codes = np.clip(np.rint(plane * 2.55), 0, 255).astype(np.uint8)
    for _ in range(2):
        codes = _median(codes, 2 * radius + 1)
    return np.asarray(codes / 2.55, dtype=np.float32)


def _radius(picture: FloatArray, strength: float) -> int:
    """Reach of the medians in pixels. Raises RequestError outside 0 to 1."""
    if not 0.0 <= strength <= 1.0:
        raise RequestError("Squint between 0, eyes open, and 1, nearly shut.")
    # Bent, so that the first half of the way is fine control.
    return min(round(SQUINT_SHARE * int(min(picture.shape[:2])) * float(strength**1.5)), 127)


def _median(codes: NDArray[np.uint8], size: int) -> NDArray[np.uint8]:
    """Median of 8-bit planes (rows, cols[, channels]) in squares of an odd size up to 255."""
    return np.asarray(cv2.medianBlur(codes, size), dtype=np.uint8)


def _codes(lab: FloatArray) -> NDArray[np.uint8]:
    """CIELAB in 8 bits, as large medians need it: L* by 0.4, a* and b* by 1."""
    scaled = as_float(lab) * [2.55, 1.0, 1.0] + [0.0, 128.0, 128.0]
    return np.asarray(np.clip(np.rint(scaled), 0, 255), dtype=np.uint8)


def _from_codes(codes: NDArray[np.uint8]) -> NDArray[np.float32]:
    values = codes.astype(np.float32)
    values[..., 0] /= 2.55
    values[..., 1:] -= 128.0
    return values


# --- value steps -------------------------------------------------------------------


class StepName(NamedTuple):
    """A value step as the painter counts it: its number, and a name."""

    number: int
    words: str


def in_value_steps(lightness: FloatArray, steps: int, squint: float = 0.0) -> NDArray[np.uint8]:
    """L* (rows, cols) in equal steps, each drawn as a neutral grey at its middle.

    steps: 2 to 10. squint: 0 to 1, before the steps are told apart.
    """
    found = _steps_of(lightness, steps, squint)
    greys = np.array([step_grey(step, steps) for step in range(1, steps + 1)], dtype=np.uint8)
    return np.asarray(greys[found - 1])


def step_shares(lightness: FloatArray, steps: int, squint: float = 0.0) -> tuple[float, ...]:
    """Share (0-1) of the picture in each step, the darkest first."""
    found = _steps_of(lightness, steps, squint)
    counts = np.bincount(found.ravel(), minlength=steps + 1)[1:]
    return tuple(float(n) / found.size for n in counts)


def step_grey(step: int, steps: int) -> tuple[int, int, int]:
    """8-bit sRGB of the grey that stands for a step, 1 the darkest."""
    code = int(lab_to_srgb8([(step - 0.5) * 100.0 / steps, 0.0, 0.0])[0])
    return code, code, code


def _steps_of(lightness: FloatArray, steps: int, squint: float) -> NDArray[np.int64]:
    _check_steps(steps)
    plane = np.asarray(lightness, dtype=np.float32)
    radius = _radius(plane, squint)
    found = value_step(squinted_lightness(plane, squint), steps)
    return found if radius < 1 else without_islets(found, np.pi * (2.0 * radius) ** 2)


def without_islets(found: NDArray[np.int64], least_px: float) -> NDArray[np.int64]:
    """Steps (rows, cols) in which pieces of fewer pixels take the step of what is nearest."""
    keep = np.zeros(found.shape, dtype=np.bool_)
    for step in np.unique(found):
        keep |= without_specks(found == step, least_px)
    if not keep.any():
        return found
    _, nearest = cv2.distanceTransformWithLabels(
        (~keep).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    step_of = np.zeros(int(nearest.max()) + 1, dtype=np.int64)
    step_of[nearest[keep]] = found[keep]
    return np.asarray(step_of[nearest])


def _check_steps(steps: int) -> None:
    if not FEWEST_STEPS <= steps <= MOST_STEPS:
        raise RequestError(f"Choose {FEWEST_STEPS} to {MOST_STEPS} value steps.")


# From the darkest to the middle; the light half mirrors it. Common practice, no source.
DARKS = {
    1: ("dark",),
    2: ("darkest", "dark"),
    3: ("darkest", "dark", "middle dark"),
    4: ("darkest", "very dark", "dark", "middle dark"),
    5: ("darkest", "very dark", "dark", "fairly dark", "middle dark"),
}
MIRRORED = {
    mark("darkest"): mark("lightest"),
    mark("very dark"): mark("very light"),
    mark("dark"): mark("light"),
    mark("fairly dark"): mark("fairly light"),
    mark("middle dark"): mark("middle light"),
}


def numbered(step: int, steps: int, numbered_from: NumberedFrom = "dark") -> int:
    """The number painters who count from that end give to a step (1 the darkest)."""
    return step if numbered_from == "dark" else steps + 1 - step


def step_names(steps: int, numbered_from: NumberedFrom = "dark") -> tuple[StepName, ...]:
    """Number and name of each step, the darkest first."""
    _check_steps(steps)
    dark = DARKS[steps // 2]
    middle = (mark("middle"),) if steps % 2 else ()
    words = (*dark, *middle, *(MIRRORED[word] for word in reversed(dark)))
    return tuple(
        StepName(numbered(step, steps, numbered_from), tr(word))
        for step, word in enumerate(words, start=1)
    )


# --- hue ---------------------------------------------------------------------------


@cache
def _most_chroma() -> NDArray[np.float64]:
    """Largest C* (361,) a screen can show at `HUE_LIGHTNESS`, for each degree of hue angle."""
    angle = np.radians(np.arange(361.0))
    low, high = np.zeros(361), np.full(361, 150.0)
    for _ in range(20):
        middle = 0.5 * (low + high)
        lab = np.stack(
            [np.full(361, HUE_LIGHTNESS), middle * np.cos(angle), middle * np.sin(angle)], axis=-1
        )
        rgb = xyz_to_linear_srgb(lab_to_xyz(lab))
        fits = ((rgb >= 0.0) & (rgb <= 1.0)).all(axis=-1)
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return low


def hue_against_grey(lab: FloatArray, tolerance: float = 4.0) -> NDArray[np.uint8]:
    """The picture (rows, cols, 3) with every place at one lightness, so that only hue is seen.

    Hue angle and chroma are kept, chroma as far as the screen can show it at that lightness;
    below `tolerance` (C*) a place counts as grey and is shown so, fading in to twice that.
    """
    values = as_float(lab)
    a, b = values[..., 1], values[..., 2]
    chroma = np.hypot(a, b)
    most = np.interp(np.degrees(np.arctan2(b, a)) % 360.0, np.arange(361.0), _most_chroma())
    seen = np.clip(chroma / max(tolerance, 1e-6) - 1.0, 0.0, 1.0)
    shown = np.minimum(chroma * seen, most)
    gain = np.divide(shown, chroma, out=np.zeros_like(chroma), where=chroma > 1e-9)
    return lab_to_srgb8(np.stack([np.full_like(a, HUE_LIGHTNESS), a * gain, b * gain], axis=-1))


@dataclass(frozen=True)
class BesideGrey:
    """A touched colour beside the grey that is as light.

    lab, grey: L*, a*, b*. step: value step (1 darkest) of how many. leans: "warm", "cool",
    "neither". strength: how colourful, in words. words: one sentence about it.
    """

    lab: tuple[float, float, float]
    grey: tuple[float, float, float]
    step: int
    steps: int
    leans: str
    strength: str
    words: str


# C* below which a word holds; common practice, no source.
STRENGTHS = (
    (3.0, "grey"), (10.0, "almost grey"), (25.0, "quiet"), (50.0, "clear"), (1e9, "strong"),
)  # fmt: skip
WARMEST_HUE = 55.0  # CIELAB hue angle, as in `plan.reasons`; common practice, no source


def hue_beside_grey(
    lab: ArrayLike, steps: int = 10, numbered_from: NumberedFrom = "dark"
) -> BesideGrey:
    """What a touched colour (3,) is beside the grey of its own lightness."""
    _check_steps(steps)
    lightness, a, b = triple(as_float(lab))
    step = int(value_step(lightness, steps))
    chroma = float(np.hypot(a, b))
    strength = next(word for limit, word in STRENGTHS if chroma < limit)
    leans = _lean(a, b)
    place = f"value step {numbered(step, steps, numbered_from)} of {steps} from {numbered_from}"
    beside = f"{_hue_told(strength, leans)}, {place}."
    return BesideGrey(
        (lightness, a, b), (lightness, 0.0, 0.0), step, steps, leans, strength, beside
    )


def _lean(a: float, b: float) -> str:
    chroma = float(np.hypot(a, b))
    if chroma < STRENGTHS[0][0]:
        return "neither"
    warmth = float(np.cos(np.arctan2(b, a) - np.radians(WARMEST_HUE)))
    return "neither" if abs(warmth) < 0.25 else ("warm" if warmth > 0 else "cool")


def _hue_told(strength: str, leans: str) -> str:
    if strength == "grey":
        return "A grey"
    way = "between warm and cool" if leans == "neither" else f"on the {leans} side"
    if strength == "almost grey":
        return f"Almost grey, {way}"
    return f"A {strength} colour, {way}"


# --- whites ------------------------------------------------------------------------

# Own judgement, by looking at photos; no source.
WHITE_WITHIN = 7.0  # L* below the lightest place that still reads as its white
WHITE_CHROMA = 9.0  # C* from the paper's colour that still reads as white
NO_WHITES = 80.0  # L*: a picture whose lightest place is darker has no whites to keep
SMOOTH_MM = 1.0  # finer ragged edges than that no brush keeps


@dataclass(frozen=True, eq=False)
class Whites:
    """Where the paper should stay bare.

    mask: (rows, cols), True where bare. share: of the picture, 0 to 1. places: how many
    separate whites. words: one sentence.
    """

    mask: BoolArray
    share: float
    places: int
    words: str


def whites(lab: FloatArray, paper_lab: ArrayLike, ppmm: float, at_least_mm2: float = 4.0) -> Whites:
    """The whites of a picture: as light as its lightest places, and without colour.

    lab: (rows, cols, 3); paper_lab: (3,) of the bare sheet; ppmm: pixels per mm.
    at_least_mm2: whites smaller than that are left out, and gaps in them closed.
    """
    size = 2 * min(round(SMOOTH_MM * ppmm / 2), 127) + 1
    picture, paper = _from_codes(_median(_codes(lab), size)), as_float(paper_lab)
    least = at_least_mm2 * ppmm**2
    mask = _light_and_plain(picture, paper, least)
    mask = without_specks(mask, least)
    mask = ~without_specks(~mask, least)
    places = cv2.connectedComponents(mask.astype(np.uint8), connectivity=8)[0] - 1
    share = float(mask.mean())
    return Whites(mask, share, places, _whites_told(share, places))


def _light_and_plain(picture: NDArray[np.float32], paper: FloatArray, least_px: float) -> BoolArray:
    lightness = picture[..., 0]
    # A smaller light than the smallest white is a glint, and no measure for whites.
    rank = min(max(1, round(least_px)), lightness.size)
    brightest = float(np.partition(lightness.ravel(), -rank)[-rank])
    lightest = min(brightest, float(paper[0]))
    if lightest < NO_WHITES:
        return np.zeros(lightness.shape, dtype=np.bool_)
    # Light in the picture's own white may be tinted; near paper white nothing is left of a tint.
    plain = np.hypot(picture[..., 1] - paper[1], picture[..., 2] - paper[2]) < WHITE_CHROMA
    return np.asarray((lightness > lightest - WHITE_WITHIN) & plain)


def without_specks(mask: BoolArray, least_px: float) -> BoolArray:
    """The mask without 8-connected pieces of fewer pixels."""
    flat = mask.astype(np.uint8)
    _, pieces, stats, _ = cv2.connectedComponentsWithStats(flat, connectivity=8)
    keep = stats[:, cv2.CC_STAT_AREA] >= least_px
    keep[0] = False
    return np.asarray(keep[pieces])


def _whites_told(share: float, places: int) -> str:
    if places == 0:
        return tr("Nothing here is as light as the paper; no white has to be kept.")
    return tr_count(
        "One place stays bare paper, {part}.",
        "{count} places stay bare paper, {part}.",
        places,
        part=tr(next(word for limit, word in PARTS if share < limit)),
    )


PARTS = (
    (0.01, mark("less than a hundredth of the sheet")),
    (0.04, mark("a few hundredths of the sheet")),
    (0.08, mark("about a twentieth of the sheet")),
    (0.15, mark("about a tenth of the sheet")),
    (0.29, mark("about a fifth of the sheet")),
    (0.42, mark("about a third of the sheet")),
    (0.60, mark("about half of the sheet")),
    (2.00, mark("most of the sheet")),
)
