"""The planner's solver beside a plain one: scipy's least squares, colour-science, no numba.

Both get the same problems: stacks of four coats of six paints fitted to four aims each,
single patches mixed for many colours. The plain side is written from the published
formulas alone: Kubelka-Munk by hyperbolic functions, CIELAB and CIEDE2000 by
colour-science, derivatives by differences, bounds by scipy. It first fits CIELAB, which
has no corners, then CIEDE2000 from there: started on CIEDE2000 at once it is slower and
ends far worse. Costs are compared by one measure (`Bench.cost`); both sides must predict
the same colours before anything is timed.

Holds: our cost is nowhere worse than the plain one by more than COST_TOLERANCE, nor our
mixes, from the report's three starts, on average by more than MIX_TOLERANCE.

Run: python benchmarks/plain.py
"""

import sys
import warnings
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from skimage import data

from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.profile import srgb8_to_linear
from firstwash.plan.bench import Bench
from firstwash.plan.kernels import CAP_PRICE, LIGHTNESS_PRICE
from firstwash.plan.palette import choose_palette, colour_groups, mix_freely
from firstwash.plan.palette_table import mixtures_of, thick
from firstwash.plan.report import FREE_STARTS
from firstwash.plan.stacks import FIRST_WASH_LIGHTNESS, STARTS, best_amounts
from machine import Timing, busy, measured, table

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it misses a plotting library nobody needs here
    import colour

Float64 = NDArray[np.float64]

SIX = ("lemon-yellow", "PBr7-raw", "PBr7-burnt", "PR83", "PB29", "PB27")  # measured paints
COATS = 4
COST_TOLERANCE = 0.05  # of mean squared CIEDE2000, and as a share of it: far below what shows
MIX_TOLERANCE = 0.05  # of mean CIEDE2000
MIX_START = 2e-3  # what mix_freely starts from when paints are ranked
PALETTE, BOX = 6, 24

# CIELAB light to dark of one shape each: invented, of the kind a still life asks for.
RAMPS: Final[dict[str, list[tuple[float, float, float]]]] = {
    "lemon": [(89, -4, 38), (78, 0, 62), (60, 4, 50), (40, 6, 32)],
    "leaf": [(82, -12, 28), (62, -18, 34), (44, -16, 26), (28, -9, 14)],
    "enamel": [(84, -6, -6), (68, -9, -12), (50, -9, -18), (32, -5, -18)],
    "wood": [(80, 6, 20), (60, 12, 30), (42, 13, 25), (26, 9, 14)],
    "plum": [(76, 10, -6), (52, 20, -8), (34, 18, -8), (22, 10, -8)],
    "linen": [(90, 0, 5), (77, 0, 5), (62, -1, 2), (46, -1, -2)],
}


# --- the plain side --------------------------------------------------------------


def _layer(k: Float64, s: Float64) -> tuple[Float64, Float64]:
    """Reflectance and transmittance of a layer. [Kubelka1948]"""
    s = np.maximum(s, 1e-9)
    a = 1.0 + k / s
    b = np.sqrt(np.maximum(a * a - 1.0, 1e-12))
    y = np.minimum(b * s, 300.0)  # thicker cannot be told apart, and would overflow
    d = a * np.sinh(y) + b * np.cosh(y)
    return np.sinh(y) / d, b / d


def _over(layer: tuple[Float64, Float64], ground: Float64) -> Float64:
    r, t = layer
    return np.asarray(r + t * t * ground / (1.0 - r * ground))


def plain_labs(bench: Bench, amounts: Float64) -> Float64:
    """CIELAB (coats + 1, 3) of a stack after 0, 1, … coats."""
    ground, fibre_k, soak, fibre_s, k1, k2 = bench.sheet
    inside = [np.asarray(ground)]
    for i, row in enumerate(amounts):
        k, s = row @ bench.k, row @ bench.s
        below = inside[-1]
        if i == 0:
            below = _over(_layer(soak * k + fibre_k, soak * s + fibre_s), below)
            k, s = (1.0 - soak) * k, (1.0 - soak) * s
        inside.append(_over(_layer(k, s), below))
    seen = np.array(inside)
    seen = k1 + (1.0 - k1) * (1.0 - k2) * seen / (1.0 - k2 * seen)
    return np.asarray(colour.XYZ_to_Lab(seen @ bench.weights, colour.XYZ_to_xy(bench.white)))


def _penalties(bench: Bench, amounts: Float64, labs: Float64, cap: float) -> Float64:
    over = np.maximum(amounts @ bench.loads - 1.0, 0.0)
    dark = max(cap - float(labs[1, 0]), 0.0)
    rises = np.maximum(np.diff(labs[:, 0]), 0.0)
    return np.concatenate([CAP_PRICE * over, LIGHTNESS_PRICE * np.append(rises, dark)])


def lab_residuals(bench: Bench, amounts: Float64, aims: Float64, cap: float) -> Float64:
    """Weighted CIELAB differences, and the penalties."""
    labs = plain_labs(bench, amounts)
    gaps = np.sqrt(aims[:, 4:]) * (labs[aims[:, 0].astype(int)] - aims[:, 1:4])
    return np.concatenate([gaps.ravel(), _penalties(bench, amounts, labs, cap)])


def plain_residuals(bench: Bench, amounts: Float64, aims: Float64, cap: float) -> Float64:
    """Residuals whose squares sum to the cost, but for the tiny price of paint itself."""
    labs = plain_labs(bench, amounts)
    errors = colour.delta_E(labs[aims[:, 0].astype(int)], aims[:, 1:4], method="CIE 2000")
    return np.concatenate([np.sqrt(aims[:, 4]) * errors, _penalties(bench, amounts, labs, cap)])


def plain_fit(bench: Bench, start: Float64, aims: Float64, cap: float) -> Float64:
    """The best amounts near `start` by scipy alone."""
    found = start
    for residuals, precision in ((lab_residuals, 1e-4), (plain_residuals, 1e-6)):
        found = least_squares(
            lambda x: residuals(bench, x.reshape(start.shape), aims, cap),  # noqa: B023
            np.maximum(found.ravel(), 1e-6),  # scipy wants to start inside the bounds
            bounds=(0.0, np.inf),
            x_scale="jac",
            ftol=precision,
            max_nfev=100,
        ).x
    return np.asarray(found.reshape(start.shape))


# --- the problems ----------------------------------------------------------------


def _bench() -> Bench:
    known = {p.key: p for p in load_set("measured-all").paints}
    return Bench.of([known[k] for k in SIX], default_paper())


def _aims(ramp: list[tuple[float, float, float]]) -> Float64:
    return np.array([[n, *lab, 1.0 / len(ramp)] for n, lab in enumerate(ramp, 1)])


def _colours(count: int = 60) -> Float64:
    """Colours to mix: the coffee photo's own."""
    picture = np.ascontiguousarray(data.coffee()[::4, ::4])
    lab = xyz_to_lab(linear_srgb_to_xyz(srgb8_to_linear(picture))).reshape(-1, 3)
    centres, weights = colour_groups(lab, np.ones(len(lab)), most=96)
    return centres[np.argsort(-weights, kind="stable")[:count]]


def _check_same_physics(bench: Bench) -> None:
    """Both sides must predict the same colours before their speed means anything."""
    random = np.random.default_rng(5)
    for _ in range(20):
        amounts = random.uniform(0, 0.2, (COATS, bench.colours))
        gap = np.abs(plain_labs(bench, amounts) - bench.labs(amounts)).max()
        if gap > 1e-5:  # colour-science rounds its CIELAB constants
            sys.exit(f"the two predictions differ by {gap:.2g}: nothing to compare")


# --- the comparisons -------------------------------------------------------------


def _plain_stack(bench: Bench, aims: Float64) -> float:
    shape = (COATS, bench.colours)
    fits = [plain_fit(bench, np.full(shape, s), aims, FIRST_WASH_LIGHTNESS) for s in STARTS]
    return min(bench.cost(f, aims, FIRST_WASH_LIGHTNESS) for f in fits)


def compare_stacks(bench: Bench) -> tuple[list[tuple[str, ...]], bool]:
    """A row per ramp: seconds and cost of both sides; whether ours hold."""
    rows, holds, ratios = [], True, []
    for name, ramp in RAMPS.items():
        aims = _aims(ramp)
        costs: list[float] = []
        plain = measured(lambda: costs.append(_plain_stack(bench, aims)), 1)  # noqa: B023
        best = best_amounts(bench, aims, FIRST_WASH_LIGHTNESS, COATS)[1]
        ours = measured(lambda: best_amounts(bench, aims, FIRST_WASH_LIGHTNESS, COATS), 9)  # noqa: B023
        holds &= best <= costs[0] * (1 + COST_TOLERANCE) + COST_TOLERANCE
        ratios.append(plain.cpu / ours.cpu)
        rows.append((name, *_times(plain, ours), f"{costs[0]:.3f}", f"{best:.3f}"))
    rows.append(("median", "", "", f"{np.median(ratios):.0f} ×", "", ""))
    return rows, holds


def _times(plain: Timing, ours: Timing) -> tuple[str, str, str]:
    return f"{plain.cpu:.2f}", f"{1000 * ours.cpu:.2f}", f"{plain.cpu / ours.cpu:.0f} ×"


def _plain_mix(thick: Bench, lab: Float64) -> Float64:
    aims = np.array([[1.0, *lab, 1.0]])
    found = plain_fit(thick, np.full((1, thick.colours), MIX_START), aims, 0.0)
    return thick.labs(found)[1]


def _mean_error(labs: object, targets: Float64) -> float:
    return float(np.mean(colour.delta_E(np.asarray(labs), targets, method="CIE 2000")))


def compare_mixing(bench: Bench) -> tuple[list[tuple[str, ...]], float, bool]:
    """Rows for mixing many colours, plain seconds per colour, and whether ours hold.

    Ours twice: from one start, as paints are ranked, and from the report's three.
    """
    targets = _colours()
    roomy = thick(bench)
    found: list[Float64] = []
    plain = measured(lambda: found.extend(_plain_mix(roomy, t) for t in targets), 1)
    reached, rows, ours = _mean_error(found, targets), [], 0.0
    for starts in ((MIX_START,), FREE_STARTS):
        timing = measured(lambda: mix_freely(bench, targets, starts=starts), 9)  # noqa: B023
        ours = _mean_error(mix_freely(bench, targets, starts=starts), targets)
        name = f"{len(targets)} patches, {len(starts)} start{'s'[: len(starts) > 1]}"
        rows.append((name, *_times(plain, timing), f"{reached:.3f}", f"{ours:.3f}"))
    return rows, plain.cpu / len(targets), ours <= reached + MIX_TOLERANCE


def palette_line(per_colour: float) -> str:
    """How long choosing six of 24 paints takes, and would take the plain way."""
    box = Bench.of(load_set("all").paints[:BOX], default_paper())
    targets = _colours(96)
    weights = np.full(len(targets), 1.0 / len(targets))
    ours = measured(lambda: choose_palette(box, targets, weights, PALETTE), 5)
    mixtures = len(mixtures_of(BOX, BOX))
    plain = mixtures * len(targets) * per_colour
    return (
        f"Palette of {PALETTE} from {BOX}, {len(targets)} colours, {mixtures} mixtures: "
        f"{ours.seconds:.2f} s by the clock, {ours.cpu:.2f} s of processor time; the plain way "
        f"would take about {plain / 60:.0f} minutes (worked out, not run)."
    )


def main() -> None:
    bench = _bench()
    _check_same_physics(bench)
    print(f"{busy()}\n")
    head = ("", "plain s", "ours ms", "ratio", "plain reached", "ours reached")
    rows, stacks_hold = compare_stacks(bench)
    mixing, per_colour, mixes_hold = compare_mixing(bench)
    print(table([*rows, *mixing], head))
    print("\nProcessor time. Stacks: mean squared CIEDE2000 and prices; patches: mean CIEDE2000.")
    print(palette_line(per_colour))
    print(f"Ours not worse than tolerated: stacks {stacks_hold}, patches {mixes_hold}")
    sys.exit(not (stacks_hold and mixes_hold))


if __name__ == "__main__":
    main()
