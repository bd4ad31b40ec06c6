"""Choosing six of 24 paints: time, the gap to the bound, and every choice mixed anew.

First for real photographs, beside the plain way: mixing every palette anew, of which a
sample is run and the rest worked out. Then four of ten paints, where all 210 palettes are
mixed anew from four sides: how far the chosen one and the bound lie from the best of them.

Holds: gap at most 1 %, and the chosen four within 1 % of the best; exit code 1 otherwise.

Run: python benchmarks/palette.py
"""

import sys
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray
from skimage import data
from sklearn.datasets import load_sample_image

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.parallel import in_parallel
from firstwash.picture.profile import srgb8_to_linear
from firstwash.plan.bench import Bench
from firstwash.plan.palette import choose_palette, colour_groups, mix_freely
from firstwash.plan.palette_addition import best_addition
from machine import busy, measured, table

Colours = tuple[NDArray[np.float64], NDArray[np.float64]]

PHOTOS = ("coffee", "chelsea", "flower", "astronaut")
BOX, MOST = 24, 6
SAMPLE = 60  # palettes mixed anew of all there are
STARTS = (2e-4, 2e-3, 2e-2, 0.2)  # amounts of every paint that a full solve begins with
WITHIN = 0.01


def colours_of(name: str) -> Colours:
    """The photo's colours gathered, from means of 6 × 6 pixels, as many as the planner takes."""
    photo = load_sample_image("flower.jpg") if name == "flower" else getattr(data, name)()
    rows, cols = (n // 6 * 6 for n in photo.shape[:2])
    linear = srgb8_to_linear(photo[:rows, :cols]).reshape(rows // 6, 6, cols // 6, 6, 3)
    lab = xyz_to_lab(linear_srgb_to_xyz(linear.mean(axis=(1, 3)))).reshape(-1, 3)
    return colour_groups(lab, np.ones(len(lab)))


def anew(bench: Bench, chosen: tuple[int, ...], colours: Colours, starts: int = 4) -> float:
    """Score of a palette with every colour mixed anew from all its paints."""
    targets, weights = colours
    found = mix_freely(bench.only(chosen), targets, rounds=60, starts=STARTS[:starts])
    return float(weights @ delta_e_2000(found, targets))


def six_of_24(box: Bench, name: str) -> tuple[tuple[str, ...], bool]:
    """A row of figures for one photo, and whether the gap is small enough."""
    colours = colours_of(name)
    choice = choose_palette(box, *colours, MOST)
    timing = measured(lambda: choose_palette(box, *colours, MOST), 3)
    rng = np.random.default_rng(1)
    sample = [tuple(sorted(rng.choice(BOX, MOST, replace=False))) for _ in range(SAMPLE)]
    scores: list[float] = []
    plain = measured(lambda: scores.extend(anew(box, s, colours, 1) for s in sample), 1)
    hours = plain.cpu / SAMPLE * comb(BOX, MOST) / 3600
    row = (
        name, str(len(colours[1])), f"{timing.seconds:.2f}", f"{timing.cpu:.2f}",
        f"{choice.score:.3f}", f"{choice.bound:.3f}", f"{choice.gap:.2%}", f"{choice.whole:.3f}",
        f"{anew(box, choice.chosen, colours):.3f}", f"{min(scores):.3f}", f"{hours:.1f}",
        f"{hours * 3600 / timing.cpu:.0f} ×",
    )  # fmt: skip
    return row, choice.gap <= WITHIN


def four_of_ten(box: Bench, name: str, seed: int) -> tuple[tuple[str, ...], bool]:
    """A row: all 210 palettes of ten paints mixed anew, beside the choice and its bound."""
    colours = colours_of(name)
    ten = box.only(sorted(np.random.default_rng(seed).choice(BOX, 10, replace=False)))
    choice = choose_palette(ten, *colours, 4)
    fours = list(combinations(range(10), 4))
    scores = dict(zip(fours, in_parallel(lambda s: anew(ten, s, colours), fours), strict=True))
    best = min(scores.values())
    over = scores[choice.chosen] / best - 1.0
    row = (
        name, str(seed), f"{choice.score:.3f}", f"{choice.bound:.3f}", f"{best:.3f}",
        f"{over:.2%}", f"{choice.bound / best - 1.0:+.2%}",
    )  # fmt: skip
    return row, over <= WITHIN


def addition(box: Bench) -> str:
    """How long it takes to ask which of twelve paints to add to twelve."""
    colours = colours_of("coffee")
    timing = measured(lambda: best_addition(box, range(0, BOX, 2), *colours, MOST), 1)
    return f"Which of 12 to add to 12: {timing.seconds:.1f} s, {timing.cpu:.1f} s of processor time"


def main() -> None:
    """Print both tables."""
    box = Bench.of(load_set("all").paints[:BOX], default_paper())
    print(f"{busy()}\n")
    rows, holds = zip(*(six_of_24(box, name) for name in PHOTOS), strict=True)
    head = ("six of 24", "colours", "s", "processor s", "score", "bound", "gap", "all 24",
            "mixed anew", f"best of {SAMPLE}", "plain h", "ratio")  # fmt: skip
    print(table(list(rows), head))
    rows, near = zip(*(four_of_ten(box, n, seed) for n in PHOTOS for seed in (1, 2)), strict=True)
    head = ("four of ten", "seed", "score", "bound", "best anew", "chosen over it", "bound over it")
    print("\n" + table(list(rows), head))
    print("\n" + addition(box))
    print(f"Gaps at most {WITHIN:.0%}: {all(holds)}; chosen within {WITHIN:.0%}: {all(near)}")
    sys.exit(not (all(holds) and all(near)))


if __name__ == "__main__":
    main()
