"""The stages of a painting as pictures of one size, made once for screen and layered image."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.handout.pictures import cells_at, paint_stage
from firstwash.pack.captions import stage_images
from firstwash.parallel import in_parallel
from firstwash.plan.result import Plan

__all__ = ["LONG_PX", "Stages", "paint_stages", "size_of"]

LONG_PX: Final = 1600  # of the longer side: as large as most sheets lie on a wide screen
FINER: Final = 2  # times finer than shown that cells are drawn, so that edges look smooth


@dataclass(frozen=True, eq=False)
class Stages:
    """Pictures of a plan's stages, the bare sheet first.

    names, layers: of each, as `stage_images` tells them. pictures: uint8 (rows, cols, 3), sRGB.
    cells: int32 (rows, cols), the cell of each pixel.
    """

    names: tuple[str, ...]
    layers: tuple[int | None, ...]
    pictures: tuple[NDArray[np.uint8], ...]
    cells: NDArray[np.int32]


def size_of(plan: Plan, long_px: int = LONG_PX) -> tuple[int, int]:
    """Width and height in pixels of the sheet with its longer side at long_px, 16 to 4000.

    Raises ValueError beyond.
    """
    if not 16 <= long_px <= 4000:
        raise ValueError(f"long_px: {long_px} is not within 16 to 4000")
    wide, high = plan.sheet.width_mm, plan.sheet.height_mm
    scale = long_px / max(wide, high)
    return max(math.floor(scale * wide + 0.5), 8), max(math.floor(scale * high + 0.5), 8)


def paint_stages(plan: Plan, long_px: int = LONG_PX) -> Stages:
    """All stages of a plan, longer side long_px (16 to 4000)."""
    width, height = size_of(plan, long_px)
    fine = cells_at(plan.cells, FINER * width, FINER * height)
    names, layers = zip(*stage_images(plan), strict=True)
    _ = plan.washes_xyz  # worked out once, before two threads ask for it
    cells = np.ascontiguousarray(fine[::FINER, ::FINER])

    def painted(stage: int | None) -> NDArray[np.uint8]:
        plain = stage == 0  # bare paper has no edge to look smooth
        return paint_stage(plan, stage, cells if plain else fine, 1 if plain else FINER)

    pictures = in_parallel(painted, layers)
    return Stages(names, layers, tuple(pictures), cells)
