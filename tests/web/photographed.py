"""A kept painting as it would look on its sheet, photographed by a made-up phone."""

import importlib
import io
import sys
from pathlib import Path

import numpy as np
from PIL import Image
from skimage.data import coffee
from tests.worksheet.small import studio_in, the_cup

from firstwash.optics.stack import stages
from firstwash.plan.fields import amounts_by_cell
from firstwash.plan.result import Plan

ROOT = Path(__file__).parents[2]
MARGIN_MM = 15.0
SEED = 3


def plan_in(folder: Path) -> Plan:
    """The plan of the painting in a data folder that no server has open."""
    studio = studio_in(folder)
    try:
        return studio.desk(the_cup(studio).brief).plan
    finally:
        studio.store.close()


def painting_photo(plan: Plan, seed: int = SEED) -> bytes:
    """A JPEG of 2 megapixels of the sheet, its margin bare, on some table."""
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        scene = importlib.import_module("board_scene")
    finally:
        sys.path.remove(str(ROOT / "tools"))
    amounts = amounts_by_cell(plan.coats, plan.recipes, plan.layers)
    k, s = (np.array([getattr(p, name) for p in plan.paints]) for name in ("k", "s"))
    spectra = np.array([stages(plan.paper, a @ k, a @ s)[-1] for a in amounts])
    painted = scene.Painted(
        plan.cells.index.astype(np.int64), spectra, np.asarray(plan.paper.reflectance),
        plan.cells.ppmm, MARGIN_MM,
    )  # fmt: skip
    photo = scene.photograph_sheet(painted, np.random.default_rng(seed), megapixels=2.0)
    return bytes(photo.jpeg)


def cup_photo() -> bytes:
    """A photo of something that is no sheet at all."""
    out = io.BytesIO()
    Image.fromarray(coffee()).save(out, "JPEG", quality=92)
    return out.getvalue()
