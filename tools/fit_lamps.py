"""Fit how far each sign of a lamp's colour is to be trusted, on drawn pictures with known lamps.

Writes lamps.csv and lamp_likes.csv in src/firstwash/light/data. Four kinds of pictures count
alike: balls (`light_balls`), rooms (`practice_rooms`) and still lifes (`still_lifes`), set up by
chance and by hand. Seeds in `APART`, and the named still lifes kept apart, are not looked at here.

Run: python tools/fit_lamps.py
"""

import pickle
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from firstwash.light.lamp_grid import Belief, Evidence, Fitted, believed, evidence
from firstwash.light.lamp_likes import Likes, kernel
from firstwash.light.lamp_words import angle_between, log_colour, rgb_of
from firstwash.light.lamps import LampCues, lamp_cues
from firstwash.optics.observer import srgb_decode, srgb_encode
from light_balls import random_balls
from practice_rooms import _lamps, practice_room
from still_lifes.gallery import TUNING, rendered
from still_lifes.random_scene import random_scene
from still_lifes.render import render

__all__ = ["APART", "Sample", "sample"]

ROOT: Final = Path(__file__).parents[1]
STORE: Final = ROOT / ".cache" / "light_cues"
DATA: Final = ROOT / "src" / "firstwash" / "light" / "data"
FITTED: Final = {
    "balls": range(236),
    "rooms": range(36),
    "stills": [*range(1000, 1036), *range(1060, 1082)],
    "named": range(15),
}
APART: Final = {"balls": range(250, 330), "rooms": range(36, 48), "stills": range(1036, 1057)}
RIDGE, NARROW = 0.2, 0.003  # settled by leaving out one renderer in turn
RENDERER: Final = {"named": "stills"}  # of kinds whose renderer has another kind's name
NEAR_ENOUGH: Final = 1.5  # degrees: what counts as having told the lamp
Floats = NDArray[np.float64]


class Sample(NamedTuple):
    """What one picture shows, and its true lamp and shade as log colours (2,)."""

    cues: LampCues
    key: Floats
    shade: Floats


def _balls(seed: int) -> tuple[NDArray[np.float32], Floats, Floats]:
    made = random_balls(seed, 180, 240)
    # A lens blurs a little; borders of patterns as sharp as the drawn ones are no camera's.
    return np.asarray(cv2.GaussianBlur(made.rgb, (0, 0), 0.6)), made.key, made.fill


def _rooms(seed: int) -> tuple[NDArray[np.float32], Floats, Floats]:
    lamps, sky = _lamps(np.random.default_rng(seed))
    return practice_room(seed).rgb, lamps[0, 4:], sky


def _stills(seed: int) -> tuple[NDArray[np.float32], Floats, Floats]:
    made = render(random_scene(seed), 240)
    return made.rgb, made.key, made.fill


def _named(number: int) -> tuple[NDArray[np.float32], Floats, Floats]:
    made = rendered(TUNING[number])
    return made.rgb, made.key, made.fill


MAKERS: Final[dict[str, Callable[[int], tuple[NDArray[np.float32], Floats, Floats]]]] = {
    "balls": _balls,
    "rooms": _rooms,
    "stills": _stills,
    "named": _named,
}


def camera(rgb: NDArray[np.float32]) -> NDArray[np.float32]:
    """The picture as an 8-bit file holds it: clipped and in 256 steps."""
    return np.asarray(srgb_decode(np.round(srgb_encode(rgb) * 255) / 255), dtype=np.float32)


def sample(kind: str, seed: int) -> Sample:
    """What the picture of that renderer and seed shows, drawn now or read from the store."""
    path = STORE / f"{kind}-{seed}.pkl"
    if path.exists():
        return Sample(*pickle.loads(path.read_bytes()))
    rgb, key, fill = MAKERS[kind](seed)
    made = Sample(lamp_cues(camera(rgb)), log_colour(key), log_colour(fill))
    STORE.mkdir(parents=True, exist_ok=True)
    path.write_bytes(pickle.dumps(tuple(made)))
    return made


def _likes(signs: Floats, truths: Floats, weights: Floats) -> Likes:
    """Kernel ridge regression, each example counting by its weight."""
    mean, width = signs.mean(axis=0), signs.std(axis=0) + 1e-6
    z, middle = (signs - mean) / width, truths.mean(axis=0)
    like = kernel(z, z, NARROW) + np.diag(RIDGE / weights)
    return Likes(mean, width, z, np.linalg.solve(like, truths - middle), middle, NARROW)


class Judged(NamedTuple):
    """What the search looks at of one picture."""

    seen: Evidence
    angles: Floats  # (n,) degrees from each candidate to the true lamp
    weight: float


def _judged(found: list[Sample], told: Floats, spread: Floats, weights: Floats) -> list[Judged]:
    out = []
    for one, middle, weight in zip(found, told, weights, strict=True):
        seen = evidence(one.cues.rises, middle[:2], spread[:2, :2])
        unit = rgb_of(one.key) / np.linalg.norm(rgb_of(one.key))
        angles = np.degrees(np.arccos(np.clip(seen.units @ unit, -1.0, 1.0)))
        out.append(Judged(seen, angles, float(weight)))
    return out


def _searched(judged: list[Judged], plain: Fitted) -> Fitted:
    """The settings under which the true lamps are believed most."""
    asked = np.vstack([j.seen.asked for j in judged])
    middle, width = asked.mean(axis=0), asked.std(axis=0)
    middle[0], width[0] = 0.0, 1.0

    def settings(values: Floats) -> Fitted:
        near, tail, power, alone, most = (float(v) for v in np.exp(values[:5]))
        trust = values[5:] / width
        trust[0] -= float((values[6:] * middle[1:] / width[1:]).sum())
        return replace(
            plain, near=near, tail=tail, power=power, alone=alone / (1 + alone), most=most,
            trust=trust,
        )  # fmt: skip

    def cost(values: Floats) -> float:
        use = settings(values)
        missed = sum(j.weight * _missed(believed(j.seen, use), j.angles) for j in judged)
        total = sum(j.weight for j in judged)
        return missed / total + 0.003 * float((values[6:] ** 2).sum())

    start = np.concatenate([np.log([0.1, 4.0, 1.0, 8.0, 10.0]), [-2.5], np.zeros(11)])
    best = minimize(cost, start, method="L-BFGS-B", options={"maxiter": 25})
    print(f"cost {cost(start):.3f} to {best.fun:.3f}")
    return settings(best.x)


def _missed(belief: Belief, angles: Floats) -> float:
    """Minus the logarithm of the belief in lamps as near as counts."""
    near = np.exp(-0.5 * (angles / NEAR_ENOUGH) ** 2)
    return -float(np.log(belief.likely @ near + 1e-5))


def _quantile(values: Floats, weights: Floats, share: float) -> float:
    order = np.argsort(values)
    reached = np.cumsum(weights[order]) / weights.sum()
    return float(values[order][np.searchsorted(reached, share)])


def _stated(found: list[Sample], told: Floats, weights: Floats, use: Fitted) -> Fitted:
    """With how far off 80 of 100 answers are, as shares of their own spreads."""
    key_off, spreads, shade_off = [], [], []
    for one, row in zip(found, told, strict=True):
        belief = believed(evidence(one.cues.rises, row[:2], use.spread[:2, :2]), use)
        unit = belief.mean()
        key_off.append(angle_between(unit, rgb_of(one.key)))
        spreads.append(belief.spread())
        shade = rgb_of(log_colour(unit) - np.clip(row[2:], -3.0, 3.0))
        shade_off.append(angle_between(shade, rgb_of(one.shade)))
    errors, wide, dim = np.array(key_off), np.array(spreads), np.array(shade_off)
    within = _quantile(errors / wide, weights, 0.8)
    rest = np.sqrt(np.maximum(dim**2 - (within * wide) ** 2, 0.0))
    return replace(use, within=within, shade=_quantile(rest, weights, 0.8))


def _write(use: Fitted, likes: Likes) -> None:
    lines = ["name,values"] + [_line("spread", row) for row in use.spread]
    lines.append(_line("trust", use.trust))
    single = ("near", "tail", "power", "alone", "most", "within", "shade")
    lines += [_line(name, [getattr(use, name)]) for name in single]
    (DATA / "lamps.csv").write_text("\n".join(lines) + "\n", "utf-8")
    lines = ["name,values", _line("mean", likes.mean), _line("width", likes.width)]
    lines += [_line("middle", likes.middle), _line("narrow", [likes.narrow])]
    both = np.hstack([likes.examples, likes.weights])
    lines += [_line("example", row) for row in both]
    (DATA / "lamp_likes.csv").write_text("\n".join(lines) + "\n", "utf-8")


def _line(name: str, values: Iterable[float]) -> str:
    return ",".join([name, *(f"{v:.4g}" for v in values)])


def main() -> None:
    """Fit and write."""
    kinds = [(kind, seed) for kind, seeds in FITTED.items() for seed in seeds]
    found = [sample(*k) for k in kinds]
    count = {kind: sum(k == kind for k, _ in kinds) for kind in FITTED}
    weights = np.array([len(kinds) / len(count) / count[k] for k, _ in kinds])
    signs = np.array([s.cues.signs() for s in found])
    truths = np.array([np.concatenate([s.key, s.key - s.shade]) for s in found])
    told = np.zeros_like(truths)
    drawn_by = np.array([RENDERER.get(kind, kind) for kind, _ in kinds])
    for renderer in sorted(set(drawn_by)):  # judged by what was learned from the others' pictures
        apart = drawn_by == renderer
        told[apart] = _likes(signs[~apart], truths[~apart], weights[~apart]).told(signs[apart])
    spread = np.cov((told - truths).T, aweights=weights)
    plain = Fitted(spread, 0, 0, 0, 0, 0, np.zeros(12), 0, 0)
    use = _searched(_judged(found, told, spread, weights), plain)
    _write(_stated(found, told, weights, use), _likes(signs, truths, weights))


if __name__ == "__main__":
    main()
