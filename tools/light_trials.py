"""How well pictures with known truth are split into local colour and light.

The local mean squared error of local colour ([Grosse2009], `firstwash.light.measure`), windows of
20 px every 10 px, one factor per window: of the plain Retinex, of the colour Retinex and of ours,
in colour (a wrong hue counts) and in grey (mean of the three channels, as there). Then how
`sure` ranks the error: Spearman's correlation over pixels of `sure` and the error of the
logarithm of local colour against its surroundings; below 0 is right.

The still lifes of `tools/still_lifes` were not fitted on: the judgement
comes from another renderer's pictures (`tools/practice_rooms.py`). Those kept apart, and chance
set-ups with seeds from 1000, were not looked at while anything was settled.

Run: python tools/light_trials.py [--random 1000 1008] [--width 160] [--tune]
     --tune: the best thresholds of the baselines over the tuning scenes
"""

import argparse
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.light.measure import lmse, rank_correlation
from firstwash.light.retinex import colour_retinex, grey_retinex
from firstwash.light.split import split_light
from firstwash.optics.observer import linear_srgb_to_xyz
from still_lifes.gallery import KEPT_APART, TUNING, rendered
from still_lifes.random_scene import random_scene
from still_lifes.render import render

__all__ = ["Scene", "Trial", "trial"]

NAMES = ("plain Retinex", "colour Retinex", "ours")
NEAR = 7.0  # px, of the surroundings that the error is told against
DARKEST = 0.005
GREY = (0.03, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 1.0, 1.3, 2.0)
COLOUR = (0.03, 0.05, 0.08, 0.12, 0.16, 0.2, 0.3)


@dataclass(frozen=True, eq=False)
class Scene:
    """A picture (rows, cols, 3) in linear light, its true reflectance, and where that is true."""

    name: str
    rgb: NDArray[np.float32]
    reflectance: NDArray[np.float32]
    valid: NDArray[np.bool_]


@dataclass(frozen=True)
class Trial:
    """Errors of one scene, one per method: colour and grey; and how `sure` ranks ours."""

    name: str
    colour: tuple[float, ...]
    grey: tuple[float, ...]
    sure: float


def _still_lifes(names: Iterable[str]) -> list[Scene]:
    found = ((name, rendered(name)) for name in names)
    return [Scene(name, r.rgb, r.reflectance, r.valid) for name, r in found]


def _random(first: int, last: int, width: int) -> list[Scene]:
    found = ((seed, render(random_scene(seed), width)) for seed in range(first, last))
    return [Scene(f"random {seed}", r.rgb, r.reflectance, r.valid) for seed, r in found]


def _errors(scene: Scene, guess: NDArray[np.floating]) -> tuple[float, float]:
    true = scene.reflectance
    return (
        lmse(true, guess, scene.valid),
        lmse(true.mean(axis=-1), guess.mean(axis=-1), scene.valid),
    )


def trial(scene: Scene) -> Trial:
    """All three methods on one scene."""
    split = split_light(linear_srgb_to_xyz(scene.rgb).astype(np.float32))
    guesses = (grey_retinex(scene.rgb), colour_retinex(scene.rgb), split.local)
    colour, grey = zip(*(_errors(scene, guess) for guess in guesses), strict=True)
    error = _error_near(scene, split.local)
    return Trial(scene.name, colour, grey, rank_correlation(split.sure[scene.valid], error))


def _error_near(scene: Scene, local: NDArray[np.float32]) -> NDArray[np.float64]:
    """Size of the logarithmic error at each valid pixel, less its mean about there."""
    logs = [np.log(np.maximum(p.mean(axis=-1), 0.0) + DARKEST) for p in (local, scene.reflectance)]
    off = np.where(scene.valid, logs[0] - logs[1], 0.0)
    inside = cv2.GaussianBlur(scene.valid.astype(np.float64), (0, 0), NEAR)
    mean = cv2.GaussianBlur(off, (0, 0), NEAR) / np.maximum(inside, 1e-3)
    return np.asarray(np.abs(off - mean)[scene.valid])


def _told(title: str, scenes: list[Scene]) -> None:
    """Print a table; the last line is the mean and what ours has less than each baseline."""
    if not scenes:
        return
    print(f"\n{title}\n{'':18}" + "".join(f"{name:>24}" for name in NAMES) + "    sure")
    done = [trial(scene) for scene in scenes]
    for t in done:
        pairs = "".join(f"{c:14.4f}{g:10.4f}" for c, g in zip(t.colour, t.grey, strict=True))
        print(f"{t.name:18}{pairs}{t.sure:8.2f}")
    colour, grey = (
        np.mean([getattr(t, kind) for t in done], axis=0) for kind in ("colour", "grey")
    )
    pairs = "".join(f"{c:14.4f}{g:10.4f}" for c, g in zip(colour, grey, strict=True))
    print(f"{'mean':18}{pairs}{np.mean([t.sure for t in done]):8.2f}")
    for k in (0, 1):
        less = (f"{100 * (1 - kind[2] / kind[k]):.0f} %" for kind in (colour, grey))
        print(f"ours is less than the {NAMES[k]} by " + " (colour), ".join(less) + " (grey)")


def _plain(threshold: float, scene: Scene) -> NDArray[np.float64]:
    return grey_retinex(scene.rgb, threshold)


def _colour(thresholds: tuple[float, float], scene: Scene) -> NDArray[np.float64]:
    return colour_retinex(scene.rgb, thresholds)


def _tune(scenes: list[Scene]) -> None:
    """Print the baselines' best thresholds, by the mean error in grey as in [Grosse2009]."""

    def mean(guess: Callable[[Scene], NDArray[np.float64]]) -> float:
        return float(np.mean([_errors(scene, guess(scene))[1] for scene in scenes]))

    plain = {t: mean(partial(_plain, t)) for t in GREY}
    both = {t: mean(partial(_colour, t)) for t in product(GREY[5:], COLOUR)}
    error, best = min((error, t) for t, error in plain.items())
    print(f"plain Retinex: best {best}, mean {error:.4f}")
    error, best_pair = min((error, t) for t, error in both.items())
    print(f"colour Retinex: best {best_pair}, mean {error:.4f}")


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--random", type=int, nargs=2, metavar=("FIRST", "LAST"), default=(0, 0))
    parser.add_argument("--width", type=int, default=160, help="of the chance set-ups, px")
    parser.add_argument("--tune", action="store_true")
    asked = parser.parse_args()
    if asked.tune:
        _tune(_still_lifes(TUNING))
        return
    _told("Still lifes", _still_lifes(TUNING))
    _told("Still lifes kept apart", _still_lifes(KEPT_APART))
    first, last = asked.random
    _told("Chance set-ups", _random(first, last, asked.width))


if __name__ == "__main__":
    main()
