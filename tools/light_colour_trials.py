"""How near the lamp's colour is told, on pictures whose lamp is known.

Prints the table that docs/decisions quotes: angular error in degrees between
linear sRGB vectors (median, mean, share within 3), how often the stated "right within" holds (it
should in 80 of 100), the error of the shadow's light, and the published rules by themselves.

Run: python tools/light_colour_trials.py [--apart]   (--apart: the named still lifes kept apart too)
"""

import argparse

import numpy as np
from numpy.typing import NDArray

from firstwash.light.averages import RULES
from firstwash.light.lamp_words import angle_between, log_colour, rgb_of
from firstwash.light.lamps import lamp_cues, lamps_from
from fit_lamps import APART, STORE, Sample, camera, sample
from still_lifes.gallery import KEPT_APART, TUNING, rendered

__all__ = ["Errors", "errors_of"]

Errors = NDArray[np.float64]
PLAIN = ("mean", "power", "edges", "bright")


def errors_of(one: Sample) -> list[float]:
    """Key, stated, shade, and the plain rules' errors, in degrees."""
    found = lamps_from(one.cues)
    key = rgb_of(one.key)
    plain = [angle_between(rgb_of(one.cues.averages[RULES.index(r)]), key) for r in PLAIN]
    told = angle_between(np.array(found.key.rgb), key)
    shade = angle_between(np.array(found.shade.rgb), rgb_of(one.shade))
    return [told, found.key.within, shade, found.shade.within, *plain]


def _named(names: tuple[str, ...]) -> list[Sample]:
    out = []
    for name in names:
        try:
            made = rendered(name)
        except KeyError:
            continue
        cues = lamp_cues(camera(made.rgb))
        out.append(Sample(cues, log_colour(made.key), log_colour(made.fill)))
    return out


def _row(name: str, found: list[Sample]) -> str:
    table = np.array([errors_of(s) for s in found])
    key, stated, shade, dim = table[:, :4].T
    figures = [
        f"{np.median(key):.1f}", f"{key.mean():.1f}", f"{np.mean(key < 3):.0%}",
        f"{np.mean(key <= stated):.0%}", f"{np.median(stated):.1f}", f"{np.median(shade):.1f}",
        f"{np.mean(shade <= dim):.0%}", *(f"{np.median(p):.1f}" for p in table[:, 4:].T),
    ]  # fmt: skip
    return f"| {name} | {len(found)} | {' | '.join(figures)} |"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--apart", action="store_true")
    parser.add_argument("--drawn-only", action="store_true", help="only what is in the store")
    asked = parser.parse_args()
    heads = ["median", "mean", "within 3", "held", "stated", "shade", "held", *PLAIN]
    print(f"| pictures | n | {' | '.join(heads)} |\n|{'---|' * (len(heads) + 2)}")
    for kind, seeds in APART.items():
        ready = [s for s in seeds if not asked.drawn_only or (STORE / f"{kind}-{s}.pkl").exists()]
        if ready:
            print(_row(kind, [sample(kind, s) for s in ready]), flush=True)
    print(_row("named still lifes", _named(TUNING)), flush=True)
    if asked.apart:
        print(_row("named, kept apart", _named(KEPT_APART)))


if __name__ == "__main__":
    main()
