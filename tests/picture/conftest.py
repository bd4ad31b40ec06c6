"""References and drawings that the tests of drawings share."""

from collections.abc import Callable

import numpy as np
import pytest

from firstwash.optics.observer import lab_to_xyz
from firstwash.picture.drawing import Drawing
from firstwash.picture.reference import Background, Reference
from firstwash.picture.sheet import parse_sheet

Made = Callable[..., Reference]


@pytest.fixture(scope="session")
def made_reference() -> Made:
    """A reference of given CIELAB (rows, cols, 3), or of even grey, at 1 pixel per mm."""

    def make(
        shape: tuple[int, int] = (90, 120),
        lab: np.ndarray | None = None,
        zone: np.ndarray | None = None,
        background: Background = "painted",
        ppmm: float = 1.0,
    ) -> Reference:
        colours = np.full((*shape, 3), (60.0, 0.0, 0.0)) if lab is None else lab
        rows, cols = colours.shape[:2]
        xyz = lab_to_xyz(colours).astype(np.float32)
        return Reference(
            xyz=xyz,
            judge_xyz=xyz,
            weight=np.ones((rows, cols), dtype=np.float32),
            zone=np.zeros((rows, cols), dtype=np.int32) if zone is None else zone.astype(np.int32),
            ppmm=ppmm,
            judge_ppmm=ppmm,
            sheet=parse_sheet(f"{cols / ppmm:g}x{rows / ppmm:g}mm"),
            photo_px=(cols, rows),
            background=background,
        )

    return make


@pytest.fixture(scope="session")
def squares() -> Drawing:
    """Twelve squares of 30 mm, four in a row, numbered in reading order, at 1 pixel per mm."""
    rows, cols = np.mgrid[0:90, 0:120] // 30
    return Drawing((4 * rows + cols).astype(np.int32), 1.0)
