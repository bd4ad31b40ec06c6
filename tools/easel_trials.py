"""Photograph made-up half-painted sheets, read them, and say how well it went.

The sheets and photos come from a simulator (`tools/easel_painter.py`) that shares neither optics
nor camera with what reads them. For each photo: whether it was taken, how far the plan was laid
beside it (mm over a grid of the picture: median and largest), the colours of the areas (CIEDE2000,
median by area, as photographed and with the phone's ways undone), and the amounts (share by which
laid by meant is wrong, median over areas and layers). Spoiled photos should be refused; one that is
taken without a word counts as silent, unless its spoiling does no harm.

Run: python tools/easel_trials.py [--photos 60] [--first 0] [--megapixels 12] [--spoiled 40]
"""

import argparse
import time
from dataclasses import dataclass, field
from typing import Any, Final, get_args

import numpy as np
from numpy.typing import NDArray

from easel_painter import USABLE, Hand, Spoil, progress_photo
from easel_subjects import SUBJECTS, planned
from firstwash.errors import PhotoError
from firstwash.laid.amounts import amounts_laid
from firstwash.laid.seen import areas_seen
from firstwash.laid.sheet_photo import sheet_photo
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.load import load_photo

__all__ = ["Trial", "summed", "trial"]

Floats = NDArray[np.float64]

GRID: Final = np.linspace(0.04, 0.96, 9)


@dataclass(frozen=True)
class Trial:
    """One photo; see the module."""

    seed: int
    subject: str
    done: int
    spoil: str | None
    refused: str = ""
    places: tuple[float, float] = (np.nan, np.nan)
    colours: tuple[float, float] = (np.nan, np.nan)
    amounts: float = np.nan
    seconds: float = np.nan
    notes: tuple[str, ...] = field(default=())


def trial(seed: int, megapixels: float, spoil: Spoil | None = None) -> Trial:
    """Paint a part of a subject, photograph it, read the photo, and compare."""
    names = tuple(SUBJECTS)
    subject = names[seed % len(names)]
    plan, _ = planned(subject)
    rng = np.random.default_rng((seed, 8))
    done = int(rng.integers(1, plan.layers + 1))
    other = planned(names[(seed + 1) % len(names)])[0] if spoil == "other" else None
    photo = progress_photo(
        plan, Hand(seed, by_eye=True), done, rng, megapixels, spoil=spoil, other=other
    )
    begun = time.perf_counter()
    try:
        linear = load_photo(photo.jpeg).linear
        found = sheet_photo(linear, plan, done)
    except PhotoError as error:
        return Trial(seed, subject, done, spoil, str(error))
    seen = areas_seen(plan, done, found.picture, found.hidden)
    laid = amounts_laid(plan, seen.labs, seen.sigmas, done)
    seconds = time.perf_counter() - begun
    size = np.array([plan.sheet.width_mm, plan.sheet.height_mm])
    spots = np.stack(np.meshgrid(GRID, GRID), axis=-1).reshape(-1, 2) * size
    scale = found.placed.plane.scale_at(0.5 * size[None]).mean()
    off = np.linalg.norm(found.placed.plane.pixels(spots) - photo.to_photo(spots), axis=1) / scale
    return Trial(
        seed, subject, done, spoil, "", (float(np.median(off)), float(off.max())),
        _colours(seen.labs, laid.labs, photo.truth.labs, plan.cells.areas_mm2()),
        _amounts(np.exp(laid.log_ratio[:, :done]), photo.truth.ratios), seconds, found.notes,
    )  # fmt: skip


def _colours(seen: Floats, told: Floats, true: Floats, areas: Floats) -> tuple[float, float]:
    known = np.isfinite(seen).all(axis=1) & np.isfinite(true).all(axis=1)
    if not known.any():
        return np.nan, np.nan
    first, second = (delta_e_2000(labs[known], true[known]) for labs in (seen, told))
    return _weighted(first, areas[known]), _weighted(second, areas[known])


def _weighted(values: Floats, weights: Floats) -> float:
    order = np.argsort(values)
    return float(values[order][np.searchsorted(np.cumsum(weights[order]), 0.5 * weights.sum())])


def _amounts(found: Floats, true: Floats) -> float:
    known = np.isfinite(true) & (true > 0)
    return float(np.median(np.abs(found[known] / true[known] - 1.0)))


def summed(trials: list[Trial]) -> list[str]:
    """Lines of a table over good and spoiled photos."""
    good = [t for t in trials if t.spoil is None or t.spoil in USABLE]
    taken = [t for t in good if not t.refused]
    bad = [t for t in trials if t.spoil is not None and t.spoil not in USABLE]
    silent = [t for t in bad if not t.refused and not t.notes]

    def over(values: list[Any], what: float) -> float:
        return float(np.nanpercentile(values, what)) if values else float("nan")

    return [
        f"usable photos {len(good)}, taken {len(taken)}",
        f"places, mm: median {over([t.places[0] for t in taken], 50):.2f}, largest of a photo, "
        f"95th of 100 {over([t.places[1] for t in taken], 95):.2f}",
        f"colours, CIEDE2000: as photographed {over([t.colours[0] for t in taken], 50):.1f}, told "
        f"{over([t.colours[1] for t in taken], 50):.1f}",
        f"amounts: median {100 * over([t.amounts for t in taken], 50):.0f} %, 90th of 100 "
        f"{100 * over([t.amounts for t in taken], 90):.0f} %",
        f"seconds: median {over([t.seconds for t in taken], 50):.1f}",
        f"unusable photos {len(bad)}, silent {len(silent)}: "
        + ", ".join(f"{t.seed} {t.spoil}" for t in silent),
    ]


def main() -> None:
    """Run trials and print them."""
    parser = argparse.ArgumentParser(description="Read made-up photos of half-painted sheets.")
    parser.add_argument("--photos", type=int, default=60)
    parser.add_argument("--spoiled", type=int, default=40)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--megapixels", type=float, default=12.0)
    asked = parser.parse_args()
    trials = []
    kinds = get_args(Spoil)
    jobs = [(asked.first + n, None) for n in range(asked.photos)]
    jobs += [(asked.first + 1000 + n, kinds[n % len(kinds)]) for n in range(asked.spoiled)]
    for seed, spoil in jobs:
        done = trial(seed, asked.megapixels, spoil)
        print(done, flush=True)
        trials.append(done)
    print("\n".join(summed(trials)))


if __name__ == "__main__":
    main()
