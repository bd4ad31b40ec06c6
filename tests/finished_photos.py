"""A small plan and a photo of its painting as it would be on a board, for the whole way through."""

import io
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from skimage import data
from tests.drawn_sheets import Drawn, Light, camera, sideways

from firstwash.optics.observer import xyz_to_linear_srgb
from firstwash.picture.profile import encode_jpeg, linear_to_srgb8
from firstwash.plan.bench import Bench
from firstwash.plan.problem import Limits
from firstwash.usecases import PhotoPlan, Wishes, plan_photo, write_plan

MARGIN = (10.0, 12.0, 16.0, 12.0)


@cache
def planned() -> PhotoPlan:
    """A cup on a sheet of 18 × 12 cm, whose border is painted all round."""
    file = io.BytesIO()
    Image.fromarray(data.coffee()).save(file, "png")
    limits = Limits(shapes=30, puddles=6, washes=14, layers=3)
    return plan_photo(file.getvalue(), Wishes(sheet="18x12cm", limits=limits))


def folder_in(place: Path) -> Path:
    """The plan's folder."""
    return write_plan(planned(), place / "plan").parent


@cache
def painted() -> Drawn:
    """The finished painting with its margin."""
    plan = planned().plan
    wide, high = plan.sheet.width_mm, plan.sheet.height_mm
    upper, right, lower, left = MARGIN
    white = xyz_to_linear_srgb(Bench.of([], plan.paper).white_xyz())
    return Drawn(
        wide + left + right, high + upper + lower, MARGIN,
        patches=np.asarray(xyz_to_linear_srgb(plan.finished_xyz)), paper=np.asarray(white),
    )  # fmt: skip


@cache
def photo(light: Light = sideways, turns: int = 0) -> bytes:
    """A JPEG of it, turned anticlockwise so often."""
    sheet = painted()
    plane = camera(sheet.wide, sheet.high, size=(1280, 960), tilt=14.0, towards=50.0, k1=0.01)
    seen: Any = np.rot90(sheet.photo(plane, light), turns)
    return encode_jpeg(linear_to_srgb8(np.ascontiguousarray(np.clip(seen, 0, 1))), quality=95)
