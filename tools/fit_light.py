"""Fit the judgement of steps to the practice rooms and write src/firstwash/light/data/steps.csv.

Every link between neighbouring pixels has a truth: the share of its step that is the light's. The
network is fitted to it by least squares, a link weighing as much as its step squared, for that is
what it costs when the light is put together, but a large step no more than a middling one. Each
room is shown as it is and spoiled three times: other exposure, tone curve, balance, size, blur and
grain, since nobody knows what camera comes.
The order of chance is fixed; the same machine gives the same table. Source of the descent:
[Kingma2015].

Run: python tools/fit_light.py [--rooms 96]      (half an hour of drawing at the first time, 3 GB)
"""

import argparse
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.light.clues import clues, logs_of
from practice_rooms import Room, practice_room

__all__ = ["fit"]

OUT: Final = Path(__file__).parents[1] / "src/firstwash/light/data/steps.csv"
HIDDEN: Final = (24, 12)
SPOILED, PER_PICTURE = 3, 12_000  # spoiled copies of each room; links taken across and down
EPOCHS, BATCH, RATE = 14, 4096, 3e-3
LARGE: Final = 0.12  # a step larger than this weighs no more: the putting together doubts it anyway
DARK: Final = 1e-4

Floats = NDArray[np.float32]
Links = tuple[NDArray[Any], NDArray[Any], NDArray[Any]]
Layers = list[tuple[Floats, Floats]]


def _spoiled(room: Room, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Picture and light as another camera would have them."""
    gain = np.exp(rng.normal(0.0, 0.15, 3))
    curve, smaller = rng.uniform(0.75, 1.2), rng.uniform(0.6, 1.0)
    pair = [np.maximum(p * gain, 1e-5) ** curve for p in (room.rgb, room.light)]
    size = int(room.rgb.shape[1] * smaller), int(room.rgb.shape[0] * smaller)
    rgb, light = (
        cv2.resize(p.astype(np.float32), size, interpolation=cv2.INTER_AREA) for p in pair
    )
    if rng.random() < 0.5:
        rgb = np.asarray(cv2.GaussianBlur(rgb, (0, 0), rng.uniform(0.4, 1.0)), np.float32)
    rgb = np.clip(rgb * np.float32(rng.uniform(0.7, 1.2)), np.float32(0.0), np.float32(1.0))
    grain = np.sqrt(1e-6 + rng.uniform(0.0, 1e-4) * rgb)
    grainy = np.clip(rgb + rng.normal(size=rgb.shape) * grain, 0.0, 1.0)
    return np.asarray(grainy, np.float32), np.asarray(light, np.float32)


def _links(rgb: Floats, light: Floats, rng: np.random.Generator) -> list[Links]:
    """Clues (n, 25), truths (n, 2) and weights (n, 2) of some links; large steps the more often."""
    white = np.quantile(rgb.max(axis=-1), 0.99)
    seen, true = logs_of(rgb / white), logs_of(np.maximum(light, DARK) * 1e3)
    told, out = clues(seen), []
    for axis in (1, 0):
        ends = (told[:, 1:], told[:, :-1]) if axis else (told[1:], told[:-1])
        both = [
            [np.diff(plane, axis=axis).ravel() for plane in (logs.level, logs.red, logs.blue)]
            for logs in (seen, true)
        ]
        (level, *colour), (light_level, *light_colour) = both
        size = np.sqrt(level**2 + colour[0] ** 2 + colour[1] ** 2)
        odds = np.where(size > 0.002, np.minimum(size, 0.2) + 0.005, 0.0)
        many = min(PER_PICTURE, int((odds > 0).sum()))
        at = rng.choice(len(odds), many, replace=False, p=odds / odds.sum())
        square = (colour[0] ** 2 + colour[1] ** 2)[at]
        along = (colour[0] * light_colour[0] + colour[1] * light_colour[1])[at]
        nonzero = np.where(np.abs(level[at]) < 1e-5, 1e-5, level[at])
        truth = np.stack([light_level[at] / nonzero, along / np.maximum(square, 1e-8)], axis=-1)
        weight = np.minimum(np.stack([level[at] ** 2, square], axis=-1), LARGE**2)
        mean = 0.5 * (ends[0] + ends[1]).reshape(-1, told.shape[-1])[at]
        out.append((mean, np.clip(truth, 0.0, 1.0), weight / odds[at, None]))
    return out


def _forward(layers: Layers, x: Floats) -> list[Floats]:
    """What each layer gives, the input first."""
    values = [x]
    for k, (matrix, offset) in enumerate(layers):
        z = values[-1] @ matrix + offset
        values.append(np.tanh(z) if k < len(layers) - 1 else 1.0 / (1.0 + np.exp(-z)))
    return values


def _slopes(layers: Layers, x: Floats, y: Floats, weight: Floats) -> list[Floats]:
    """Slopes of the mean weighted square by matrices and offsets, layer by layer."""
    values = _forward(layers, x)
    out: list[Floats] = []
    back = weight * (values[-1] - y) * values[-1] * (1.0 - values[-1]) * (2.0 / len(x))
    for k in range(len(layers) - 1, -1, -1):
        out = [values[k].T @ back + 1e-5 * layers[k][0], back.sum(axis=0), *out]
        back = (back @ layers[k][0].T) * (1.0 - values[k] ** 2)
    return out


def fit(x: Floats, y: Floats, weight: Floats, seed: int = 0) -> Layers:
    """Layers fitted by Adam, for clues as they are (their scaling is taken into the first)."""
    rng = np.random.default_rng(seed)
    middle, spread = x.mean(axis=0), x.std(axis=0) + 1e-6
    x, weight = (x - middle) / spread, (weight / weight.mean(axis=0)).astype(np.float32)
    sizes = (x.shape[1], *HIDDEN, y.shape[1])
    layers = [
        (rng.normal(0, a**-0.5, (a, b)).astype(np.float32), np.zeros(b, np.float32))
        for a, b in pairwise(sizes)
    ]
    parts = [part for layer in layers for part in layer]
    mean, square = ([np.zeros_like(p) for p in parts] for _ in range(2))
    rounds = EPOCHS * (len(x) // BATCH)
    order = np.arange(0)
    for t in range(1, rounds + 1):
        k = (t - 1) % (len(x) // BATCH)
        order = rng.permutation(len(x)) if k == 0 else order
        some = order[k * BATCH : (k + 1) * BATCH]
        rate = 0.5 * RATE * (1.0 + np.cos(np.pi * t / rounds))
        for p, g, m, v in zip(
            parts, _slopes(layers, x[some], y[some], weight[some]), mean, square, strict=True
        ):
            m += 0.1 * (g - m)
            v += 0.001 * (g * g - v)
            p -= (rate * (m / (1 - 0.9**t)) / (np.sqrt(v / (1 - 0.999**t)) + 1e-8)).astype(p.dtype)
    first = layers[0][0] / spread[:, None]
    return [(first, layers[0][1] - middle @ first), *layers[1:]]


def _write(layers: Layers, path: Path) -> None:
    """One row per value that comes in, the offsets last; five digits."""
    widest = max(matrix.shape[1] for matrix, _ in layers)
    lines = ["layer,from," + ",".join(f"to{k + 1}" for k in range(widest))]
    for number, (matrix, offset) in enumerate(layers, 1):
        for name, row in [*((str(i + 1), r) for i, r in enumerate(matrix)), ("offset", offset)]:
            lines.append(f"{number},{name}," + ",".join(f"{v:.5g}" for v in row))
    path.write_text("\n".join(lines) + "\n", "utf-8")


def main() -> None:
    """Draw, gather, fit, write."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rooms", type=int, default=96)
    parser.add_argument("--to", type=Path, default=OUT)
    asked = parser.parse_args()
    rng, gathered = np.random.default_rng(1), []
    for seed in range(asked.rooms):
        room = practice_room(seed)
        shown = [(room.rgb, room.light), *(_spoiled(room, rng) for _ in range(SPOILED))]
        gathered += [links for rgb, light in shown for links in _links(rgb, light, rng)]
    x, y, weight = (np.concatenate(part).astype(np.float32) for part in zip(*gathered, strict=True))
    layers = fit(x, y, weight)
    off = (weight * (_forward(layers, x)[-1] - y) ** 2).sum(axis=0) / weight.sum(axis=0)
    print(f"{len(x)} links of {asked.rooms} rooms; mean square error of shares {off.round(4)}")
    _write(layers, asked.to)


if __name__ == "__main__":
    main()
