"""Paint plans to the end by hands that err, with and without looking after each layer.

The painter and the colours come from a simulator (`tools/easel_painter.py`) that shares no optics
with the planner. After each layer the colours of the areas are seen as by a phone that bends them
and errs; the way to go on is the one predicted to end nearest. Told per painting: the mean
CIEDE2000 from the picture without any error of the hand, painted blindly, and painted with looking.

Run: python tools/easel_rounds.py [--paintings 30] [--first 0] [--ways anew,strength]
"""

import argparse
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from easel_hand import cell_amounts
from easel_painter import Hand, cell_labs, repaint
from easel_subjects import SUBJECTS, planned, subject_reference
from firstwash.laid.amounts import amounts_laid
from firstwash.optics.observer import xyz_to_lab
from firstwash.plan.bench import Bench
from firstwash.plan.locks import NO_LOCKS
from firstwash.plan.rest import as_laid, ending_error, plan_rest, strengths_refitted
from firstwash.plan.result import Plan

__all__ = ["Round", "paint", "summed"]

Floats = NDArray[np.float64]

PHONE: Final = (0.06, 0.03)  # σ of how colours are scaled, and turned, away from paper
SEEN: Final = 1.5  # CIELAB σ of an area's own error in a photo


@dataclass(frozen=True)
class Round:
    """One painting: mean CIEDE2000 of a steady hand, painted blindly, and with looking."""

    seed: int
    subject: str
    steady: float
    blind: float
    looked: float
    ways: tuple[str, ...]


def _seen(plan: Plan, amounts: Floats, rng: np.random.Generator) -> Floats:
    """CIELAB (cells, 3) as a phone tells it."""
    true = cell_labs(plan, amounts)
    white = xyz_to_lab(Bench.of([], plan.paper).white_xyz())
    bend = np.eye(3) * (1.0 + rng.normal(0.0, PHONE[0], 3)) + rng.normal(0.0, PHONE[1], (3, 3))
    return np.asarray(white + (true - white) @ bend.T + rng.normal(0.0, SEEN, true.shape))


def _go_on(
    plan: Plan, log_ratio: Floats, done: int, subject: str, allowed: str
) -> tuple[Plan, str]:
    ground = as_laid(plan, log_ratio, done)
    ways = {"as planned": ground}
    if "strength" in allowed:
        ways["by strength"] = strengths_refitted(ground, done)
    if "anew" in allowed:
        ways["anew"] = plan_rest(ground, subject_reference(subject), done, NO_LOCKS)
    best = min(ways, key=lambda name: ending_error(ways[name]))
    return ways[best], best


def paint(seed: int, allowed: str = "anew,strength") -> Round:
    """One painting by one hand."""
    subject = tuple(SUBJECTS)[seed % len(SUBJECTS)]
    first, aims = planned(subject)
    hand = Hand(seed, by_eye=True)
    rng = np.random.default_rng((seed, 21))
    steady = repaint(first, Hand.steady(by_eye=True), None, aims).error
    blind = repaint(first, hand, None, aims).error
    plan, lying, ways = first, np.zeros((first.cells.count, 0, 13)), []
    for done in range(1, first.layers):
        new = cell_amounts(plan, hand)[:, done - 1 : done]
        lying = np.concatenate([lying, new], axis=1)
        labs = _seen(plan, lying, rng)
        laid = amounts_laid(plan, labs, np.full(len(labs), SEEN), done)
        plan, way = _go_on(plan, laid.log_ratio, done, subject, allowed)
        ways.append(way)
    return Round(seed, subject, steady, blind, repaint(plan, hand, lying, aims).error, tuple(ways))


def summed(rounds: list[Round]) -> list[str]:
    """What looking saves of what hands cost."""
    cost = np.array([r.blind - r.steady for r in rounds])
    saved = np.array([r.blind - r.looked for r in rounds])
    return [
        f"paintings {len(rounds)}: steady {np.mean([r.steady for r in rounds]):.2f}, blind "
        f"{np.mean([r.blind for r in rounds]):.2f}, with looking "
        f"{np.mean([r.looked for r in rounds]):.2f}",
        f"saved {100 * saved.mean() / max(cost.mean(), 1e-9):.0f} % of what hands added; worst "
        f"{-saved.min():+.2f}; worse by over 0.2: {(saved < -0.2).sum()}",
    ]


def main() -> None:
    """Paint and print."""
    parser = argparse.ArgumentParser(description="Paint with and without looking.")
    parser.add_argument("--paintings", type=int, default=30)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--ways", default="anew,strength")
    asked = parser.parse_args()
    rounds = []
    for seed in range(asked.first, asked.first + asked.paintings):
        rounds.append(paint(seed, asked.ways))
        print(rounds[-1], flush=True)
    print("\n".join(summed(rounds)))


if __name__ == "__main__":
    main()
