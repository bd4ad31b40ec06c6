"""A small plan painted in part by a hand that errs by known amounts, and photos of its sheet."""

from functools import cache
from typing import Any

import numpy as np
from tests.drawn_sheets import Drawn, Light, camera, even
from tests.finished_photos import MARGIN, planned

from firstwash.laid.amounts import wash_of_coat
from firstwash.optics.observer import xyz_to_lab, xyz_to_linear_srgb
from firstwash.picture.plane_map import PlaneMap
from firstwash.picture.profile import encode_jpeg, linear_to_srgb8
from firstwash.plan.bench import Bench
from firstwash.plan.fields import amounts_by_cell, paint_amounts
from firstwash.plan.result import Plan

VIEW = {"size": (1600, 1200), "tilt": 12.0, "towards": 50.0, "k1": 0.01}


def small() -> Plan:
    """Three layers on 18 × 12 cm."""
    return planned().plan


def hand(seed: int, sigma: float = 0.25) -> np.ndarray:
    """(washes,) ln(laid / meant)."""
    return np.random.default_rng(seed).normal(0.0, sigma, len(small().washes))


def by_coat(log: np.ndarray, plan: Plan | None = None) -> np.ndarray:
    """(cells, layers) of errors by wash, 0 where there is no coat."""
    wash = wash_of_coat(plan or small())
    return np.where(wash >= 0, log[np.maximum(wash, 0)], 0.0)


def laid_xyz(log: np.ndarray, done: int) -> np.ndarray:
    """XYZ (cells, 3) after `done` layers, every wash off by as much."""
    plan = small()
    meant = amounts_by_cell(plan.coats, plan.recipes, plan.layers)[:, :done]
    bench = Bench.of(plan.paints, plan.paper)
    return paint_amounts(bench, meant * np.exp(by_coat(log)[:, :done])[..., None])[:, -1]


def laid_labs(log: np.ndarray, done: int) -> np.ndarray:
    """CIELAB (cells, 3) of the same."""
    return np.asarray(xyz_to_lab(laid_xyz(log, done)))


def sheet_of(log: np.ndarray, done: int) -> Drawn:
    """The sheet with its bare margin, areas flat."""
    plan = small()
    upper, right, lower, left = MARGIN
    white = xyz_to_linear_srgb(Bench.of([], plan.paper).white_xyz())
    return Drawn(
        plan.sheet.width_mm + left + right, plan.sheet.height_mm + upper + lower, MARGIN,
        patches=np.asarray(xyz_to_linear_srgb(laid_xyz(log, done)))[plan.cells.index],
        paper=np.asarray(white),
    )  # fmt: skip


def camera_over(sheet: Drawn, **view: Any) -> PlaneMap:
    return camera(sheet.wide, sheet.high, **(VIEW | view))


def seen(log: np.ndarray, done: int, light: Light = even, **view: Any) -> np.ndarray:
    """(rows, cols, 3) linear light of a photo."""
    sheet = sheet_of(log, done)
    return np.asarray(sheet.photo(camera_over(sheet, **view), light) * 0.9)


@cache
def jpeg(seed: int = 1, done: int = 2, turns: int = 0) -> bytes:
    """A photo as a file, turned anticlockwise so often."""
    picture: Any = np.rot90(seen(hand(seed), done), turns)
    return encode_jpeg(linear_to_srgb8(np.ascontiguousarray(np.clip(picture, 0, 1))), quality=95)
