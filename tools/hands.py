"""Show what planning for erring hands and measuring dry layers are worth, on open photos.

Four photos, the starter set, default limits with 60 washes. Two plans of the same washes and
puddles, refined by the same code for the same measure: one for steady hands, one for painters
who err. Both are then painted by painters never planned for and judged pixel by pixel at 1 px
per mm against the photo, one painter at a time with the same errors. Then the plan for erring
hands is painted again with every dry layer measured, perfectly or with noise, and the next
one adapted. Run: python tools/hands.py [painters, 200 unless given]
"""

import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash import Limits, Wishes, plan_photo
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.reference import Reference
from firstwash.plan.adapt import adapted_misses
from firstwash.plan.bench import Bench
from firstwash.plan.exchange import refine
from firstwash.plan.hands import Handiwork, Painters, expected_misses, handiwork_of_coats
from firstwash.plan.polish import HANDS
from firstwash.plan.puddles import Mixing, drop_idle_coats, share_puddles
from firstwash.plan.report import as_judged, flat_xyz
from firstwash.plan.result import Plan
from firstwash.plan.spots import Spots, halfway, photo_spots
from firstwash.plan.stacks import Stack, in_parallel, prune, solve_stack
from firstwash.plan.washes import share_washes
from results import PHOTOS, photo

SIGMAS = (0.2, 0.4)
NOISE = 1.5  # mean CIEDE2000 by which a measured colour is off
TRAINING, JUDGING = 1, 10_000  # seeds
FINE = 12  # spots per cell to judge adapted paintings by; both sides of a difference alike
LIMITS = Limits(washes=60)

Coats = tuple[list[Stack], Mixing]


@dataclass(frozen=True, eq=False)
class Case:
    """A photo on its sheet, with the washes its plans start from."""

    plan: Plan
    reference: Reference
    bench: Bench
    coats: Coats

    @classmethod
    def of(cls, name: str) -> "Case":
        """The case of a photo by name."""
        made = plan_photo(photo(name), Wishes(paints="starter", limits=LIMITS))
        plan = made.plan
        bench = Bench.of(plan.paints, plan.paper)
        areas = plan.cells.areas_mm2()

        def stack(shape: int) -> Stack:
            own = np.flatnonzero(plan.cells.shape_of == shape)
            found = solve_stack(bench, shape, own, plan.aims[own], areas[own], LIMITS.layers)
            return prune(bench, found, LIMITS.paints_per_puddle)

        stacks = in_parallel(stack, range(plan.cells.shapes))
        assert LIMITS.puddles is not None
        assert LIMITS.washes is not None
        most = LIMITS.paints_per_puddle
        mixing = share_puddles(bench, stacks, LIMITS.puddles, most)
        stacks, mixing = drop_idle_coats(bench, stacks, mixing)
        coats = share_washes(bench, stacks, mixing, LIMITS.washes, most)
        return cls(plan, made.reference, bench, coats)

    def goal(self) -> Spots:
        """The photo and its tone-mapped self, half and half."""
        spots = photo_spots(self.plan.cells, self.reference, 4)
        return halfway(spots, spots.mapped(self.plan.tone(spots.labs)))

    def work(self, coats: Coats) -> Handiwork:
        """What hands are asked to do."""
        return handiwork_of_coats(self.bench, *coats, self.plan.cells.count)

    def refined(self, sigma: float) -> tuple[Handiwork, float]:
        """The plan for painters of one sigma, and the seconds it took."""
        painters = Painters(sigma, HANDS if sigma else 1, TRAINING)
        goal, start = self.goal(), time.perf_counter()
        found = refine(self.bench, *self.coats, goal, self.plan.cells.count, painters)
        return self.work(found), time.perf_counter() - start

    def by_pixels(self, work: Handiwork, painters: Painters) -> NDArray[np.float64]:
        """Mean CIEDE2000 (painters,) of their pictures against the photo's pixels."""
        pictures = work.labs(work.slips(painters))[:, work.cell_nodes]
        target = self.reference.judge_lab

        def judge(labs: NDArray[np.float64]) -> float:
            painted = as_judged(flat_xyz(self.plan.cells, labs), self.reference)
            return float(delta_e_2000(painted, target).mean())

        return np.array(in_parallel(judge, pictures))


def interval(gain: NDArray[np.float64]) -> str:
    """Mean of paired differences with its 95 % interval (normal, over the painters)."""
    half = 1.96 * gain.std(ddof=1) / np.sqrt(len(gain))
    mark = "" if gain.mean() - half > 0.0 else " **not above 0**"
    return f"{gain.mean():.3f} ± {half:.3f}{mark}"


def _rows(name: str, count: int) -> Iterator[str]:
    case = Case.of(name)
    steady = Painters(0.0, 1)
    calm, seconds = case.refined(0.0)
    as_shared = case.by_pixels(case.work(case.coats), steady)[0]
    for sigma in SIGMAS:
        erring, longer = case.refined(sigma)
        painters = Painters(sigma, count, JUDGING)
        one, two = (case.by_pixels(w, painters) for w in (calm, erring))
        low, high = np.percentile(two, (5, 95))
        spots = photo_spots(case.plan.cells, case.reference, FINE)
        blind = expected_misses(erring, erring.slips(painters), spots)
        looks = [blind - adapted_misses(erring, painters, spots, n) for n in (0.0, NOISE)]
        plain = [case.by_pixels(w, steady)[0] for w in (calm, erring)]
        yield (
            f"| {name} | {sigma} | {one.mean():.2f} | {two.mean():.2f} | {low:.2f} to {high:.2f} "
            f"| {interval(one - two)} | {interval(looks[0])} | {interval(looks[1])} "
            f"| {as_shared:.2f} / {plain[0]:.2f} / {plain[1]:.2f} "
            f"| {len(calm.wash_layer)}, {len(erring.wash_layer)} | {seconds:.1f}, {longer:.1f} |"
        )


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    print(f"{count} painters with seeds never planned for; CIEDE2000 against the photo.\n")
    print(
        "| photo | sigma | plan for steady hands | plan for erring hands | 90 % of painters "
        "| difference | gained by measuring | by measuring with noise "
        "| without errors: as shared / steady / erring | washes | seconds |"
    )
    print(f"|{'---|' * 11}")
    for name in PHOTOS:
        for row in _rows(name, count):
            print(row, flush=True)


if __name__ == "__main__":
    main()
