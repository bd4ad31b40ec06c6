"""Pictures of a plan: smooth enlargement, nested masks, sizes that print right."""

import io
import json
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from firstwash.handout import pictures
from firstwash.picture.shapes import Cells
from firstwash.usecases import PhotoPlan


def cells(index: np.ndarray, ppmm: float = 1.0) -> Cells:
    n = int(index.max()) + 1
    return Cells(index.astype(np.int32), np.arange(n, dtype=np.int32), np.zeros(n, np.int32), ppmm)


def picture(path: Path) -> np.ndarray:
    with Image.open(path) as opened:
        return np.array(opened)


# --- enlarging ---------------------------------------------------------------------


def disc(size: int, radius: float) -> np.ndarray:
    rows, cols = np.indices((size, size)) - (size - 1) / 2
    return (np.hypot(rows, cols) < radius).astype(np.int32)


def perimeter(mask: np.ndarray) -> float:
    outlines, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return sum(cv2.arcLength(o, True) for o in outlines)


def test_the_same_size_changes_nothing() -> None:
    index = np.random.default_rng(2).integers(0, 9, (30, 40)).astype(np.int32)
    np.testing.assert_array_equal(pictures.cells_at(cells(index), 40, 30), index)


@pytest.mark.parametrize(("width", "height"), [(61, 61), (60, 90), (480, 480), (997, 731)])
def test_areas_keep_their_share(width: int, height: int) -> None:
    """Within 1 % of the sheet, at whole and at odd factors, and never off the grid."""
    rows, cols = np.indices((60, 60))
    index = (rows // 20) * 3 + cols // 20
    index[disc(60, 12) == 1] = 9
    grown = pictures.cells_at(cells(index), width, height)
    assert grown.shape == (height, width)
    before = np.bincount(index.ravel()) / index.size
    after = np.bincount(grown.ravel(), minlength=10) / grown.size
    np.testing.assert_allclose(after, before, atol=0.01)


def test_no_cell_is_lost_in_enlarging() -> None:
    """Even cells of single pixels, the hardest case a planner would never make."""
    index = np.arange(12 * 9).reshape(9, 12)
    grown = pictures.cells_at(cells(index), 120, 90)
    assert len(np.unique(grown)) == index.size


def test_a_real_plan_keeps_every_cell(planned: PhotoPlan) -> None:
    plan = planned.plan
    grown = pictures.cells_at(plan.cells, *plan.photo_px)
    assert len(np.unique(grown)) == plan.cells.count
    before = plan.cells.areas_mm2() / plan.cells.areas_mm2().sum()
    after = np.bincount(grown.ravel(), minlength=plan.cells.count) / grown.size
    np.testing.assert_allclose(after, before, atol=0.01)


def test_a_border_becomes_a_line_and_not_a_staircase() -> None:
    """A disc 8 times as large: a staircase is 4/π = 27 % longer than the circle.

    6 % longer is left for chains of pixels, which cannot follow a circle exactly.
    """
    factor, radius = 8, 24.0
    grown = pictures.cells_at(cells(disc(64, radius)), 64 * factor, 64 * factor)
    circle = 2 * np.pi * radius * factor
    stairs = np.kron(disc(64, radius), np.ones((factor, factor), dtype=np.int32))
    assert perimeter(stairs) > 1.15 * circle
    assert perimeter(grown) == pytest.approx(circle, rel=0.06)
    ideal = disc(64 * factor, radius * factor)
    # A working pixel is 8 of these wide: the border stays within a third of one on average.
    assert np.abs(grown - ideal).sum() / circle < factor / 3


def test_a_straight_border_stays_where_it_is() -> None:
    index = np.zeros((20, 20), dtype=np.int32)
    index[:, 7:] = 1
    grown = pictures.cells_at(cells(index), 200, 200)
    assert (np.diff(grown, axis=0) == 0).all()
    assert abs(int((grown[0] == 0).sum()) - 70) <= 1


# --- masks -------------------------------------------------------------------------


def test_layers_nest_inside_every_shape(planned: PhotoPlan, folder: Path) -> None:
    """Once a shape is begun, the next layer in it lies within the one before."""
    plan = planned.plan
    shape = plan.cells.shape_of[plan.cells.index]
    masks = [picture(folder / f"masks/layer-{n}.png") > 0 for n in range(1, plan.layers + 1)]
    for s in range(plan.cells.shapes):
        own = [mask[shape == s] for mask in masks]
        laid = [mask for mask in own if mask.any()]
        for before, after in pairwise(laid):
            assert not (after & ~before).any()


def test_wash_numbers_say_which_wash_lies_where(planned: PhotoPlan, folder: Path) -> None:
    plan = planned.plan
    for n in range(1, plan.layers + 1):
        numbers = picture(folder / f"masks/layer-{n}-washes.png")
        np.testing.assert_array_equal(numbers > 0, picture(folder / f"masks/layer-{n}.png") > 0)
        for wash in plan.washes_of(n):
            area = (numbers == wash.number).sum() / plan.cells.ppmm**2
            assert area == pytest.approx(wash.area_mm2)


def test_a_layer_nobody_paints_is_an_empty_mask() -> None:
    index = np.array([[0, 1], [1, 0]])
    assert not pictures.layer_mask(index, ((), ()), 3).any()
    assert pictures.layer_mask(index, ((), ((3, 0, 0.5),)), 3).tolist() == [
        [False, True],
        [True, False],
    ]


# --- files -------------------------------------------------------------------------


def test_every_picture_prints_at_the_size_of_the_sheet(planned: PhotoPlan, folder: Path) -> None:
    sheet = planned.plan.sheet
    for file in sorted(folder.rglob("*.png")):
        if file.name == "comparison.png":
            continue
        with Image.open(file) as opened:
            # PNG keeps whole pixels per metre; a pixel's rounding is all else.
            for pixels, dpi, mm in zip(
                opened.size, opened.info["dpi"], (sheet.width_mm, sheet.height_mm), strict=True
            ):
                assert pixels / dpi * 25.4 == pytest.approx(mm, rel=0.01), file.name


def test_stages_have_the_pixels_of_the_crop(planned: PhotoPlan, folder: Path) -> None:
    for n in range(planned.plan.layers + 1):
        stage = picture(folder / f"stages/stage-{n}.png")
        assert stage.shape[1::-1] == tuple(planned.photo["crop"][2:])


def test_stages_darken_from_bare_paper(planned: PhotoPlan, folder: Path) -> None:
    stages = [
        picture(folder / f"stages/stage-{n}.png").mean() for n in range(planned.plan.layers + 1)
    ]
    assert np.ptp(picture(folder / "stages/stage-0.png").reshape(-1, 3), axis=0).max() == 0
    assert all(after < before for before, after in pairwise(stages))


def test_cells_on_disk_are_the_cells_of_the_document(planned: PhotoPlan, folder: Path) -> None:
    stored = picture(folder / "masks/cells.png")
    np.testing.assert_array_equal(stored, planned.plan.cells.index)
    told = json.loads((folder / "plan.json").read_text("utf-8"))
    assert len(told["cells"]) == stored.max() + 1


def test_a_difference_is_white_where_there_is_none() -> None:
    one = np.array([[[50.0, 0, 0], [0, 0, 0]]])
    other = np.array([[[50.0, 0, 0], [100.0, 0, 0]]])
    assert pictures.difference_picture(one, other).tolist() == [[255, 0]]


def test_panels_lie_side_by_side_on_grey() -> None:
    red, blue = (np.full((50, 60, 3), c, dtype=np.uint8) for c in ((200, 0, 0), (0, 0, 200)))
    png = pictures.comparison_picture([("One", red), ("Other", blue)], 2.0)
    seen = np.array(Image.open(io.BytesIO(png)))
    assert seen[0, 0].tolist() == [119, 119, 119]
    for colour in ((200, 0, 0), (0, 0, 200)):
        assert (seen == colour).all(axis=2).sum() == 50 * 60
