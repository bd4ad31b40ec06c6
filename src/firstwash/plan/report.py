"""How good a plan is: told against the photo and against the tone-mapped photo.

The ladder is a fixed row of paintings, each with fewer freedoms than the one before:
any paints in any amount at every pixel; the same in cells with soft edges; this plan. A rung's cost
is the difference of two means, and no other sum is claimed: means of CIEDE2000 do not add.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import lab_to_xyz, xyz_to_lab
from firstwash.parallel import in_parallel
from firstwash.picture.reference import Reference, shrink_xyz
from firstwash.picture.shapes import Cells
from firstwash.picture.values import value_steps_agree
from firstwash.plan.bench import Bench
from firstwash.plan.hands import Painters, expected_misses, handiwork_of_plan, outlook
from firstwash.plan.outlook import Outlook
from firstwash.plan.palette import mix_freely
from firstwash.plan.result import Agreement, Errors, Plan, Report, Rung
from firstwash.plan.spots import photo_spots

__all__ = ["as_judged", "edges_agree", "flat_xyz", "make_report", "mean_error"]

VALUE_STEPS = 5
EDGE_SHARE = 0.08  # the strongest edges: this share of the picture's area
EDGE_REACH_MM = 1.5
GAMUT_MISS = 5.0
JUDGED_CLOSELY = 12  # painters
JUDGED_BY = 0  # seed of the painters, other ones than a plan is made for
FREE_STARTS = (2e-4, 2e-3, 2e-2)  # amounts to search from: this rung is to be a bound


def errors(lab: FloatArray, reference_lab: FloatArray) -> Errors:
    """Mean, median and 95th percentile of CIEDE2000 between two pictures."""
    e = delta_e_2000(lab, reference_lab)
    return Errors(float(e.mean()), float(np.median(e)), float(np.percentile(e, 95)))


def as_judged(xyz: FloatArray, reference: Reference) -> NDArray[np.float64]:
    """CIELAB (rows, cols, 3) at judging size of a picture (rows, cols, 3) at working size.

    Colours mix at borders as light does: XYZ is averaged, not CIELAB.
    """
    return xyz_to_lab(shrink_xyz(np.asarray(xyz, dtype=np.float32), reference.judge_xyz))


def mean_error(plan: Plan, reference: Reference) -> float:
    """Mean CIEDE2000 of the painting as predicted against the photo."""
    painted = as_judged(plan.finished_xyz, reference)
    return errors(painted, reference.judge_lab).mean


def flat_xyz(cells: Cells, cell_labs: FloatArray) -> NDArray[np.float32]:
    """XYZ (rows, cols, 3) of cells in these colours (n, 3), all edges hard."""
    return np.asarray(lab_to_xyz(cell_labs).astype(np.float32)[cells.index])


def _soft_xyz(plan: Plan, cell_labs: FloatArray) -> NDArray[np.float64]:
    """XYZ (rows, cols, 3) of cells in these colours, edges as soft as the plan's."""
    return lab_to_xyz(plan.edges.spread(cell_labs[plan.cells.index]))


def _strong_edges(lightness: FloatArray, ppmm: float) -> BoolArray:
    plane = cv2.GaussianBlur(np.asarray(lightness, dtype=np.float32), (0, 0), 0.7 * ppmm)
    slope = np.hypot(cv2.Sobel(plane, -1, 1, 0), cv2.Sobel(plane, -1, 0, 1))
    return np.asarray(slope > max(float(np.quantile(slope, 1 - EDGE_SHARE)), 1e-3))


def edges_agree(lightness: FloatArray, target: FloatArray, ppmm: float) -> tuple[float, float]:
    """(found, true): share of the target's strong edges near one of ours, and of ours near its.

    lightness, target: L* planes of one size. Near means within 1.5 mm on the sheet.
    """
    ours, theirs = _strong_edges(lightness, ppmm), _strong_edges(target, ppmm)
    if not theirs.any() or not ours.any():
        return (1.0, 1.0) if theirs.any() == ours.any() else (0.0, 0.0)
    reach = EDGE_REACH_MM * ppmm
    return (
        float((_distance(ours)[theirs] <= reach).mean()),
        float((_distance(theirs)[ours] <= reach).mean()),
    )


def _distance(edges: BoolArray) -> NDArray[np.float32]:
    """Pixels (rows, cols) to the nearest edge."""
    beside = (~edges).astype(np.uint8)
    return np.asarray(cv2.distanceTransform(beside, cv2.DIST_L2, cv2.DIST_MASK_PRECISE))


def _mixed(box: Bench, wanted: FloatArray) -> NDArray[np.float64]:
    """CIELAB (n, 3) of the best single patch for each colour wanted; two threads, same result."""
    parts = np.array_split(wanted, 2)
    return np.concatenate(in_parallel(lambda p: mix_freely(box, p, starts=FREE_STARTS), parts))


def _free_pixels(reference_lab: FloatArray, box: Bench) -> NDArray[np.float64]:
    """CIELAB of every pixel mixed freely, worked out on groups of nearly equal colours."""
    flat = reference_lab.reshape(-1, 3)
    centres, index = _grouped(flat)
    shift = _mixed(box, centres) - centres
    return np.asarray((flat + shift[index]).reshape(reference_lab.shape))


def _grouped(flat: FloatArray, grain: float = 5.0) -> tuple[FloatArray, NDArray[np.int64]]:
    """Means (n, 3) of the colours in each cube of side `grain`, and the cube of each colour."""
    cubes = np.floor(flat / grain).astype(np.int64)
    cubes -= cubes.min(axis=0)
    sizes = cubes.max(axis=0) + 1
    keys = (cubes[:, 0] * sizes[1] + cubes[:, 1]) * sizes[2] + cubes[:, 2]
    _, index, counts = np.unique(keys, return_inverse=True, return_counts=True)
    sums = [np.bincount(index, weights=flat[:, c]) for c in range(3)]
    return np.column_stack(sums) / counts[:, None], index


def _rung(
    name: str,
    lab: FloatArray,
    target_lab: FloatArray,
    photo: FloatArray,
    target: FloatArray,
    counts: tuple[int | None, int | None] = (None, None),
) -> Rung:
    return Rung(name, errors(lab, photo), errors(target_lab, target), *counts)


def _agreement(lab: FloatArray, target: FloatArray, ppmm: float) -> Agreement:
    same = value_steps_agree(lab[..., 0], target[..., 0], VALUE_STEPS)
    return Agreement(same, *edges_agree(lab[..., 0], target[..., 0], ppmm))


def _by_hand(plan: Plan, reference: Reference, strokes: float) -> Outlook | None:
    """What hands that err make of the plan; strokes: mean CIEDE2000 that fine strokes add.

    All painters are judged by spots of the photo, and a few by its pixels, soft edges and all:
    by what these differ the range of all is moved.
    """
    if not plan.limits.hand:
        return None
    work, spots = handiwork_of_plan(plan), photo_spots(plan.cells, reference)
    few = work.slips(Painters(plan.limits.hand, JUDGED_CLOSELY, JUDGED_BY))
    labs = work.labs(few)[:, work.cell_nodes]

    def look(own: FloatArray) -> float:
        painted = as_judged(_soft_xyz(plan, own), reference)
        return float(delta_e_2000(painted, reference.judge_lab).mean())

    off = np.array(in_parallel(look, labs)) - expected_misses(work, few, spots)
    painters = Painters(plan.limits.hand, seed=JUDGED_BY)
    return outlook(work, painters, spots).judged(float(off.mean()) + strokes)


def make_report(plan: Plan, reference: Reference, box: Bench) -> Report:
    """Judge a plan; box: the bench with all the painter's paints."""
    photo = reference.judge_lab
    target = plan.tone(photo)
    painted = as_judged(plan.finished_xyz, reference)
    washed = as_judged(plan.washes_xyz[-1], reference)
    free, free_target = _free_pixels(photo, box), _free_pixels(target, box)
    flat, flat_target = (
        as_judged(_soft_xyz(plan, _mixed(box, wanted)), reference)
        for wanted in (plan.targets, plan.aims)
    )
    counts = (len(plan.puddles), len(plan.washes))
    rungs = (
        _rung("any paints, any amount, every pixel", free, free_target, photo, target),
        _rung("the same, in areas with soft edges", flat, flat_target, photo, target),
        _rung("this plan, washes alone", washed, washed, photo, target, counts),
        _rung("this plan with its fine strokes", painted, painted, photo, target, counts),
    )
    lift = plan.tone.knees[0]
    return Report(
        rungs=rungs,
        agreement=_agreement(painted, target, reference.judge_ppmm),
        washes_alone=_agreement(washed, target, reference.judge_ppmm),
        darkened_from=lift,
        lifted_share=float((photo[..., 0] < lift).mean()),
        off_gamut_share=float((delta_e_2000(free, photo) > GAMUT_MISS).mean()),
        by_hand=_by_hand(
            plan, reference, rungs[-1].against_photo.mean - rungs[-2].against_photo.mean
        ),
        doubt=float(plan.doubts @ plan.cells.areas_mm2() / plan.cells.areas_mm2().sum()),
    )
