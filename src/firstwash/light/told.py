"""The light told shape by shape: own colour, what the light adds, whose shadow lies over it.

Lightness in value steps of 10 L* (`picture.values`), leans as warmer or cooler. Words come from
the numbers beside them; where the split is unsure, the words say so first.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray, triple
from firstwash.light.highlights import Highlights
from firstwash.light.shadows import Shadows
from firstwash.light.split import LightSplit
from firstwash.light.turns import Station, Turn, station_weights, turn_from
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.picture.values import steps_words, value_step

__all__ = ["NAMES", "UNSURE", "Part", "ShapeLight", "change_words", "tell_shapes"]

Lab = tuple[float, float, float]

# Own judgement; no source.
OVER: Final = 0.25  # share of a shape from which a cast shadow is said to lie over it
SOME: Final = 0.05  # share from which gloss or reflected light is told
UNSURE: Final = 0.5  # of the split: below it own colour and light are told with a warning
CAST_UNSURE: Final = 0.4  # of the shadows: below it cast and form are hard to tell apart
STEP: Final = 10.0  # L* of one value step
LEAST_CHANGE: Final = 3.0  # L* that is told as a change
OTHER_COLOUR: Final = 15.0  # L*a*b* from which two own colours are surely two
CAST: Final = 32  # column of the sums with the share in cast shadow
NEAR: Final = 0.012  # of the shorter side: how far off the thing that throws a shadow may lie
NAMES: Final = {
    "light": "In the light", "halftone": "Where it turns", "shadow": "In the shadow",
    "reflected": "Where light is thrown back",
}  # fmt: skip


@dataclass(frozen=True)
class Part:
    """What the light does to a shape's own colour in one part of it.

    name: "light", "halftone", "shadow" or "reflected". share: of the shape, 0-1. seen: CIELAB.
    times: the light, linear sRGB, which the own colour is multiplied with. steps: value steps
    (10 L*) that it adds. warmth: b* + a*/2 of white in that light.
    """

    name: str
    share: float
    seen: Lab
    times: tuple[float, float, float]
    steps: float
    warmth: float


@dataclass(frozen=True)
class ShapeLight:
    """The light on one shape.

    local: CIELAB of its own colour in white light as bright as on the lit quarter of the picture.
    cast: share (0-1) under a cast shadow; edge_of:
    the shape whose shadow it probably is, None if it is not told. highlight, reflected: shares
    (0-1) with gloss, and with light thrown back. sure: 0-1. words: sentences. numbers: (what it is,
    its value) pairs.
    """

    shape: int
    local: Lab
    parts: tuple[Part, ...]
    turn: Turn
    cast: float
    edge_of: int | None
    highlight: float
    reflected: float
    sure: float
    words: str
    numbers: tuple[tuple[str, str], ...]

    def part(self, name: str) -> Part | None:
        """The part of that name, if the shape has one."""
        return next((p for p in self.parts if p.name == name), None)


def tell_shapes(
    split: LightSplit,
    shadows: Shadows,
    highlights: Highlights,
    shapes: IntArray,
    called: Callable[[int], str] = "shape {}".format,
) -> tuple[ShapeLight, ...]:
    """The light on every shape, in the order of their numbers.

    shapes: (rows, cols) whole numbers, 0 or more; below 0 belongs to no shape. called: what the
    words call a shape. Raises ValueError where the size of shapes is not the picture's.
    """
    if shapes.shape != shadows.lit.shape:
        raise ValueError(f"shapes: must be {shadows.lit.shape}, got {shapes.shape}")
    numbers, index = np.unique(shapes, return_inverse=True)
    index = index.reshape(shapes.shape)
    sums = _sums(split, shadows, highlights, index, len(numbers))
    casters = _casters(shadows, index, numbers, sums)
    return tuple(
        _told(int(number), sums[i], casters.get(int(number)), called)
        for i, number in enumerate(numbers)
        if number >= 0
    )


def _sums(
    split: LightSplit, shadows: Shadows, highlights: Highlights, index: IntArray, count: int
) -> NDArray[np.float64]:
    """Mean over each shape (count, 37): own colour, stations, their light and seen, and more."""
    flat = index.ravel()
    weights = _planes(station_weights(shadows, highlights))
    level = np.float32(linear_srgb_to_xyz(split.key())[1])  # own colours as light as they are lit
    light, local = _planes(split.light / level), _planes(split.local * level)
    trusted = split.sure + np.float32(0.02)

    def total(plane: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(flat, plane.ravel(), count), dtype=np.float64)

    told = [total(trusted), *(total(plane * trusted) for plane in local)]
    told += [total(weight) for weight in weights]
    for picture in (light, light * local):
        told += [total(weight * plane) for weight in weights for plane in picture]
    told += [total(p) for p in (shadows.cast, highlights.gloss, highlights.reflected)]
    told += [total(split.sure), total(shadows.sure)]
    return np.column_stack(told) / np.bincount(flat, minlength=count)[:, None]


def _planes(picture: FloatArray) -> NDArray[np.float32]:
    """(channels, rows, cols) of (rows, cols, channels), each plane in one piece."""
    return np.ascontiguousarray(np.moveaxis(picture, -1, 0), dtype=np.float32)


def _casters(
    shadows: Shadows, index: IntArray, numbers: IntArray, sums: FloatArray
) -> dict[int, int]:
    """For each shape the neighbour that probably throws a shadow on it.

    The one that touches most of its shadow, is less in cast shadow itself, and has another
    own colour: what goes on beside a shadow in the same colour is the same ground, lit.
    """
    own = sums[:, CAST]
    local = np.array([_lab(row[1:4] / max(row[0], 1e-9)) for row in sums])
    best: dict[int, tuple[float, int]] = {}
    for (one, two), contact in _contacts(shadows.cast, index, len(numbers)).items():
        lit = max(0.0, 1.0 - float(own[two]) / max(float(own[one]), 1e-6))
        other = min(1.0, float(np.linalg.norm(local[one] - local[two])) / OTHER_COLOUR)
        worth = contact * lit * other
        if numbers[two] >= 0 and worth > best.get(one, (1.0, 0))[0]:
            best[one] = worth, int(numbers[two])
    return {int(numbers[i]): caster for i, (_, caster) in best.items()}


def _contacts(cast: FloatArray, index: IntArray, count: int) -> dict[tuple[int, int], float]:
    """(shape, neighbour) → how much cast shadow of the shape lies next to the neighbour."""
    reach = max(1, round(NEAR * min(index.shape)))
    found: dict[tuple[int, int], float] = {}
    for axis in (0, 1):
        size = index.shape[axis]
        first, last = range(max(0, size - reach)), range(min(reach, size), size)
        here, there = np.take(index, first, axis), np.take(index, last, axis)
        other = here != there
        for one, two, span in ((here, there, first), (there, here, last)):
            keys, where = np.unique(one[other] * count + two[other], return_inverse=True)
            amounts = np.bincount(where, np.take(cast, span, axis)[other], len(keys))
            for key, amount in zip(keys, amounts, strict=True):
                place = int(key) // count, int(key) % count
                found[place] = found.get(place, 0.0) + float(amount)
    return found


def _lab(rgb: FloatArray) -> NDArray[np.float64]:
    return xyz_to_lab(np.maximum(linear_srgb_to_xyz(rgb), 0.0))


def _told(
    number: int, sums: FloatArray, caster: int | None, called: Callable[[int], str]
) -> ShapeLight:
    local = _lab(sums[1:4] / max(sums[0], 1e-9))
    share = sums[4:8]
    lights = sums[8:20].reshape(4, 3) / np.maximum(share, 1e-9)[:, None]
    seen = sums[20:32].reshape(4, 3) / np.maximum(share, 1e-9)[:, None]
    cast, gloss, reflected, sure, shadow_sure = (float(v) for v in sums[32:37])
    turn = turn_from(share, lights, seen, sure)
    parts = tuple(_part(s, float(local[0])) for s in turn.stations)
    edge = caster if cast >= OVER else None
    whose = "" if edge is None else f", probably that of {called(edge)}"
    words = _words(local, parts, turn, whose, (cast, gloss, reflected, sure, shadow_sure))
    return ShapeLight(
        number, triple(local), parts, turn, cast, edge, gloss, reflected, sure, words,
        _numbers(local, parts, cast, sure),
    )  # fmt: skip


def _part(station: Station, own: float) -> Part:
    steps = (station.seen[0] - own) / STEP
    return Part(station.name, station.share, station.seen, station.light, steps, station.warmth)


def change_words(steps: float) -> str:
    """What the light makes of a thing's own lightness: "half a value step darker"."""
    if abs(steps) * STEP < LEAST_CHANGE:
        return "as light as it is"
    return f"{steps_words(abs(steps) * STEP)} {'lighter' if steps > 0 else 'darker'}"


def _words(
    local: FloatArray,
    parts: tuple[Part, ...],
    turn: Turn,
    whose: str,
    over: tuple[float, float, float, float, float],
) -> str:
    cast, gloss, reflected, sure, shadow_sure = over
    sentences = [f"Its own colour is of value {int(value_step(float(local[0])))}."]
    shown = ", ".join(
        f"{NAMES[p.name].lower()} {'it shows ' * (i == 0)}{change_words(p.steps)}"
        for i, p in enumerate(_chief(parts))
    )
    if shown:
        sentences.append(f"{shown[0].upper()}{shown[1:]}.")
    if turn.by is not None:
        sentences.append(f"The form {turn.words}.")
    if cast >= OVER:
        sentences.append(f"A cast shadow lies over {_much(cast)} of it{whose}.")
        if shadow_sure < CAST_UNSURE:
            sentences.append("Whether it is cast or the form's own is hard to tell here.")
    if gloss >= SOME:
        sentences.append("It has a highlight of gloss to keep.")
    if reflected >= SOME:
        sentences.append("Light is thrown back into its shadow.")
    if sure < UNSURE:
        sentences.insert(0, "Here the photo does not tell light and own colour apart well.")
    return " ".join(sentences)


def _chief(parts: tuple[Part, ...]) -> list[Part]:
    """The light and the shadow, or what there is."""
    chief = [p for p in parts if p.name in ("light", "shadow")]
    return chief or list(parts[:1])


def _much(share: float) -> str:
    limits = ((0.4, "a third"), (0.6, "half"), (0.85, "most"), (2.0, "all"))
    return next(word for limit, word in limits if share < limit)


def _numbers(
    local: FloatArray, parts: tuple[Part, ...], cast: float, sure: float
) -> tuple[tuple[str, str], ...]:
    told = [("Own colour, L*, a*, b*", ", ".join(f"{v:.0f}" for v in local))]
    for part in parts:
        name = NAMES[part.name]
        told.append((f"{name}, L*, a*, b*", ", ".join(f"{v:.0f}" for v in part.seen)))
        told.append((f"{name}, the light in red, green, blue", _times(part.times)))
        told.append((f"{name}, value steps", f"{part.steps:+.1f}"))
        told.append((f"{name}, warmth of the light", f"{part.warmth:+.0f}"))
    told.append(("Under a cast shadow", f"{cast:.0%}"))
    told.append(("Sure of own colour", f"{sure:.0%}"))
    return tuple(told)


def _times(light: tuple[float, float, float]) -> str:
    return ", ".join(f"× {v:.2f}" for v in light)
