"""Fit what tells light from shadow and cast from form shadow, on drawn pictures of known light.

Writes src/firstwash/light/data/shadows.csv and prints how often it is right. The named still
lifes are not looked at, except by --trials, which only measures.

Run: python tools/fit_shadows.py [--trials]
"""

import argparse
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sklearn.linear_model import LogisticRegression

from firstwash.light.shadow_signs import shadow_signs
from firstwash.light.shadows import FAR, find_shadows
from firstwash.light.split import LightSplit, split_light
from firstwash.optics.observer import linear_srgb_to_xyz
from fit_lamps import camera
from light_balls import random_balls
from still_lifes.gallery import KEPT_APART, TUNING, rendered
from still_lifes.random_scene import random_scene
from still_lifes.render import render

__all__ = ["kind_of_light", "right"]

ROOT: Final = Path(__file__).parents[1]
OUT: Final = ROOT / "src" / "firstwash" / "light" / "data" / "shadows.csv"
STORE: Final = ROOT / ".cache" / "shadow_signs"
FITTED: Final = {"balls": range(40), "stills": range(1000, 1040)}
APART: Final = {"balls": range(300, 320), "stills": range(1040, 1057)}
SAMPLES: Final = 1500
LIT, FORM, CAST, NEITHER = 0, 1, 2, -1


def kind_of_light(made: Any) -> NDArray[np.int64]:
    """(rows, cols): 0 lit, 1 form shadow, 2 cast shadow, -1 in between or without truth."""
    kind = np.where(made.facing <= 0, FORM, np.where(made.shadow >= 0.5, CAST, LIT))
    between = (made.facing > 0) & (made.shadow > 0.3) & (made.shadow < 0.7)
    between |= np.abs(made.facing) < 0.05
    between |= ~np.asarray(getattr(made, "valid", np.ones(kind.shape, bool)))
    return np.where(between, NEITHER, kind)


def _made(name: str, seed: int) -> Any:
    return random_balls(seed) if name == "balls" else render(random_scene(seed), 240)


def split_of(made: Any) -> LightSplit:
    """The split of the picture as an 8-bit file holds it."""
    return split_light(linear_srgb_to_xyz(camera(made.rgb)).astype(np.float32))


def _sampled(name: str, seed: int) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
    """Signs (n, signs) and kinds (n,) at places by chance."""
    path = STORE / f"{name}-{seed}.npz"
    if path.exists():
        with np.load(path) as kept:
            return kept["signs"], kept["kinds"]
    made = _made(name, seed)
    split = split_of(made)
    signs, kinds = shadow_signs(split.light, split.local), kind_of_light(made).ravel()
    known = np.flatnonzero(kinds != NEITHER)
    rng = np.random.default_rng(seed)
    pick = rng.choice(known, min(SAMPLES, len(known)), replace=False)
    found = signs.reshape(-1, signs.shape[-1])[pick], kinds[pick]
    STORE.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(path, signs=found[0], kinds=found[1])
    return found


def _fit(z: NDArray[np.float64], truth: NDArray[np.bool_], weights: NDArray[np.float64]) -> Any:
    for side in (False, True):  # both count alike
        weights = np.where(truth == side, weights / weights[truth == side].sum(), weights)
    model = LogisticRegression(C=0.3 * len(z) / 2, max_iter=400)
    return model.fit(z, truth, sample_weight=weights * 2)


def right(truth: NDArray[np.int64], found: NDArray[np.int64]) -> tuple[float, float]:
    """Balanced accuracy (0-1) of light against shadow, and of cast against form
    where shadow was found and is."""
    lit, dark = truth == LIT, truth > LIT
    first = 0.5 * (np.mean(found[lit] == LIT) + np.mean(found[dark] > LIT))
    both = dark & (found > LIT)
    form, cast = both & (truth == FORM), both & (truth == CAST)
    second = 0.5 * (np.mean(found[form] == FORM) + np.mean(found[cast] == CAST))
    return float(first), float(second)


def fit() -> None:
    """Fit and write."""
    parts, kinds, weights = [], [], []
    for name, seeds in FITTED.items():
        for seed in seeds:
            signs, kind = _sampled(name, seed)
            parts.append(signs)
            kinds.append(kind)
            weights.append(np.full(len(kind), 1.0 / len(seeds) / max(len(kind), 1)))
    signs, kind, weight = np.vstack(parts), np.concatenate(kinds), np.concatenate(weights)
    mean, width = signs.mean(axis=0), signs.std(axis=0)
    z = np.clip((signs - mean) / width, -FAR, FAR)
    dark = kind > LIT
    shadow = _fit(z, dark, weight)
    cast = _fit(z[dark], kind[dark] == CAST, weight[dark])
    lines = ["name,values", _line("mean", mean), _line("width", width)]
    for name, model in (("shadow", shadow), ("cast", cast)):
        lines.append(_line(name, np.concatenate([model.intercept_, model.coef_[0]])))
    OUT.write_text("\n".join(lines) + "\n", "utf-8")


def _line(name: str, values: NDArray[np.floating]) -> str:
    return ",".join([name, *(f"{v:.5g}" for v in values)])


def _found(split: LightSplit) -> NDArray[np.int64]:
    told = find_shadows(split)
    dark = np.where(told.cast > told.form, CAST, FORM)
    return np.where(told.lit >= 0.5, LIT, dark)


def trials() -> None:
    """Print how often the masks are right, over all places of each group of pictures."""
    groups: dict[str, list[Any]] = {
        name: [_made(name, seed) for seed in seeds[:16]] for name, seeds in APART.items()
    }
    groups["named still lifes"] = [rendered(n) for n in TUNING]
    groups["named, kept apart"] = [rendered(n) for n in KEPT_APART]
    for name, pictures in groups.items():
        kinds = [kind_of_light(p).ravel() for p in pictures]
        found = [_found(split_of(p)).ravel() for p in pictures]
        truth, told = np.concatenate(kinds), np.concatenate(found)
        first, second = right(truth[truth >= 0], told[truth >= 0])
        print(f"{name}: light or shadow {first:.2f}, cast or form {second:.2f}", flush=True)


def main() -> None:
    """Fit, or with --trials measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", action="store_true")
    if parser.parse_args().trials:
        trials()
    else:
        fit()


if __name__ == "__main__":
    main()
