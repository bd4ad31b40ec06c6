"""Show what planning for erring hands and measuring dry layers are worth, on open photos.

Four photos, the starter set, default limits with 60 washes. Two plans with the same limits:
the best for hands that never err (`hand=0`) and the one for hands of some sigma. Both are
painted by painters never planned for, and judged pixel by pixel at 1 px per mm against the
photo, one painter at a time. Then the plan for erring hands is painted again by the same
painters, who now measure every dry layer, perfectly or with noise, and adapt the next one.

A painter makes the same errors in both plans, as far as washes and puddles of one plan can be
found again in the other: by the area they share. That narrows the interval of the difference
and cannot move its mean.

    python tools/hands.py [painters, 200 unless given]
"""

import sys
import time
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from firstwash import Limits, PhotoPlan, Plan, Wishes, plan_photo
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import lab_to_xyz
from firstwash.parallel import in_parallel
from firstwash.plan.adapt import adapted_labs
from firstwash.plan.hands import Handiwork, Painters, Slips, handiwork_of_plan
from firstwash.plan.report import as_judged
from firstwash.plan.spots import Spots, halfway, photo_spots
from results import PHOTOS, photo

SIGMAS = (0.2, 0.4)
NOISE = 1.5  # mean CIEDE2000 by which a measured colour is off
JUDGING = 10_000  # seed of the painters; plans are made with other ones


def planned(name: str, hand: float) -> tuple[PhotoPlan, float]:
    """The plan for hands of one sigma, and the seconds it took with everything."""
    wishes = Wishes(paints="starter", limits=Limits(washes=60, hand=hand))
    start = time.perf_counter()
    return plan_photo(photo(name), wishes), time.perf_counter() - start


def judged(made: PhotoPlan, labs: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean CIEDE2000 (painters,) against the photo of pictures in cell colours (painters, n, 3).

    Edges are as soft as the plan's; the light at them is mixed from the finished colours.
    """
    plan, reference = made.plan, made.reference
    target = reference.judge_lab

    def judge(own: NDArray[np.float64]) -> float:
        picture = lab_to_xyz(plan.edges.spread(own[plan.cells.index]))
        return float(delta_e_2000(as_judged(picture, reference), target).mean())

    return np.array(in_parallel(judge, labs))


def counterparts(plan: Plan, other: Plan) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """For each puddle and wash of a plan, the number of the one most like it in another.

    No two get the same; those without a counterpart get numbers of their own.
    """
    areas = plan.cells.areas_mm2()
    shared = np.zeros((len(plan.washes), len(other.washes)))
    puddles = np.zeros((len(plan.puddles), len(other.puddles)))
    for i, one in enumerate(plan.washes):
        for j, two in enumerate(other.washes):
            area = areas[np.intersect1d(one.cells, two.cells)].sum()
            shared[i, j] = area if one.layer == two.layer else 0.0
            puddles[one.puddle, two.puddle] += shared[i, j]
    return _matched(puddles), _matched(shared)


def _matched(shared: NDArray[np.float64]) -> NDArray[np.int64]:
    rows, columns = linear_sum_assignment(-shared)
    out = np.full(len(shared), -1)
    out[rows] = columns
    alone = out < 0
    out[alone] = shared.shape[1] + np.arange(alone.sum())
    return out


def same_errors(
    work: Handiwork, painters: Painters, puddles: NDArray[np.int64], washes: NDArray[np.int64]
) -> Slips:
    """The errors these painters make in a plan's counterparts, by the plan's own numbers."""
    colours = work.bench.colours
    drawn = painters.slips(int(puddles.max()) + 1, colours, int(washes.max()) + 1)
    return Slips(
        np.ascontiguousarray(drawn.parts[:, puddles]),
        np.ascontiguousarray(drawn.loads[:, washes]),
    )


def goal(made: PhotoPlan) -> Spots:
    """What the painters try to come close to: the photo and its tone-mapped self."""
    spots = photo_spots(made.plan.cells, made.reference)
    return halfway(spots, spots.mapped(made.plan.tone(spots.labs)))


def interval(gain: NDArray[np.float64]) -> str:
    """Mean of paired differences with its 95 % interval (normal, over the painters)."""
    half = 1.96 * gain.std(ddof=1) / np.sqrt(len(gain))
    mark = "" if gain.mean() - half > 0.0 else " **not above 0**"
    return f"{gain.mean():.3f} ± {half:.3f}{mark}"


def _rows(name: str, count: int) -> Iterator[str]:
    steady, seconds = planned(name, 0.0)
    for sigma in SIGMAS:
        erring, longer = planned(name, sigma)
        painters = Painters(sigma, count, JUDGING)
        work, calm = handiwork_of_plan(erring.plan), handiwork_of_plan(steady.plan)
        again = same_errors(calm, painters, *counterparts(steady.plan, erring.plan))
        one = judged(steady, calm.labs(again)[:, calm.cell_nodes])
        two = judged(erring, work.labs(work.slips(painters))[:, work.cell_nodes])
        looks = [
            two - judged(erring, adapted_labs(work, painters, goal(erring), n)[:, work.cell_nodes])
            for n in (0.0, NOISE)
        ]
        plain = [judged(m, m.plan.stage_labs[-1:])[0] for m in (steady, erring)]
        low, high = np.percentile(two, (5, 95))
        yield (
            f"| {name} | {sigma} | {one.mean():.2f} | {two.mean():.2f} | {low:.2f} to {high:.2f} "
            f"| {interval(one - two)} | {interval(looks[0])} | {interval(looks[1])} "
            f"| {plain[0]:.2f} / {plain[1]:.2f} "
            f"| {len(steady.plan.washes)}, {len(erring.plan.washes)} "
            f"| {seconds:.1f}, {longer:.1f} |"
        )


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    print(f"{count} painters with seeds never planned for; CIEDE2000 against the photo.\n")
    print(
        "| photo | sigma | plan for steady hands | plan for erring hands | 90 % of painters "
        "| difference | gained by measuring | by measuring with noise "
        "| without errors: steady / erring | washes | seconds |"
    )
    print(f"|{'---|' * 11}")
    for name in PHOTOS:
        for row in _rows(name, count):
            print(row, flush=True)


if __name__ == "__main__":
    main()
