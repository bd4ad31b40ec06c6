"""Pictures for the page: exact where the page counts on it, clean, and told in words."""

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import maximum_filter, minimum_filter
from skimage import data

from firstwash.errors import RequestError
from firstwash.handout.pictures import cells_at
from firstwash.picture.reference import shrink_xyz
from firstwash.plan.edits import change_strength
from firstwash.plan.problem import Limits
from firstwash.usecases import PhotoPlan, Wishes, plan_photo
from firstwash.worksheet import prints
from firstwash.worksheet.print_words import difference_words, share_words
from firstwash.worksheet.prints import (
    Picture,
    difference_picture_soft,
    index_picture,
    reference_picture,
    stage_picture,
    thumbnail,
)


@pytest.fixture(scope="module")
def planned() -> PhotoPlan:
    out = io.BytesIO()
    Image.fromarray(data.coffee()).save(out, "png")
    limits = Limits(shapes=30, puddles=8, washes=20)
    wishes = Wishes(sheet="12x9cm", limits=limits, crop=(0.2, 0.1, 0.6, 0.7))
    return plan_photo(out.getvalue(), wishes)


def opened(picture: Picture) -> np.ndarray:
    with Image.open(io.BytesIO(picture.data)) as image:
        assert Image.MIME[str(image.format)] == picture.media_type
        assert image.size == (picture.width, picture.height)
        return np.array(image)


# --- stages ----------------------------------------------------------------------------


@pytest.mark.parametrize("fmt", ["jpeg", "png", "webp"])
def test_a_stage_comes_in_every_form_with_its_profile(planned: PhotoPlan, fmt: prints.Form) -> None:
    picture = stage_picture(planned.plan, None, 400, fmt)
    assert opened(picture).shape == (300, 400, 3)
    with Image.open(io.BytesIO(picture.data)) as image:
        assert image.info["icc_profile"]


def test_flat_washes_stay_clean(planned: PhotoPlan) -> None:
    """Away from borders next to nothing is off; WebP carries a trace from block to block."""
    exact = opened(stage_picture(planned.plan, 1, 600, "png")).astype(int)
    block = (17, 17, 1)  # a JPEG's blocks, of 8 pixels, lie within so much of a pixel
    flat = (maximum_filter(exact, block) == minimum_filter(exact, block)).all(axis=2)
    assert flat.any()
    most: dict[prints.Form, int] = {"jpeg": 2, "webp": 6}
    for fmt, codes in most.items():
        off = np.abs(opened(stage_picture(planned.plan, 1, 600, fmt)).astype(int) - exact)[flat]
        assert off.max() <= codes
        assert np.mean(off <= 1) > 0.98


def test_bare_paper_is_one_colour_and_layers_darken(planned: PhotoPlan) -> None:
    plan = planned.plan
    stages = [opened(stage_picture(plan, n, 200, "png")) for n in range(plan.layers + 1)]
    assert np.ptp(stages[0].reshape(-1, 3), axis=0).max() == 0
    means = [s.mean() for s in stages]
    assert means == sorted(means, reverse=True)


def test_the_reference_lies_upon_the_painting(planned: PhotoPlan) -> None:
    one = opened(stage_picture(planned.plan, None, 300, "png")).astype(float)
    other = opened(reference_picture(planned.reference, 300, "png")).astype(float)
    assert one.shape == other.shape
    # A painting resembles its own photo far more than the photo turned round.
    assert np.abs(one - other).mean() < 0.5 * np.abs(one - other[::-1, ::-1]).mean()


def test_what_no_page_needs_is_refused(planned: PhotoPlan) -> None:
    plan = planned.plan
    for width in (0, -5, 15, 3001, 10**9):
        for make in (
            lambda w: stage_picture(plan, 1, w),
            lambda w: index_picture(plan, w),
            lambda w: reference_picture(planned.reference, w),
            lambda w: difference_picture_soft(plan, planned.reference, w),
        ):
            with pytest.raises(RequestError, match="pixels wide"):
                make(width)
    for stage in (-1, plan.layers + 1):
        with pytest.raises(RequestError, match="layers"):
            stage_picture(plan, stage, 200)


# --- cells -----------------------------------------------------------------------------


def test_a_pixel_s_code_is_its_cell(planned: PhotoPlan) -> None:
    picture = index_picture(planned.plan, 500)
    codes = opened(picture).astype(int)
    np.testing.assert_array_equal(
        codes[..., 0] + 256 * codes[..., 1], cells_at(planned.plan.cells, 500, 375)
    )
    assert not codes[..., 2].any()
    with Image.open(io.BytesIO(picture.data)) as image:
        assert image.mode == "RGB"  # no alpha, which a canvas would multiply in
        assert "icc_profile" not in image.info  # nothing a browser would convert
        assert "gamma" not in image.info


def test_more_than_256_cells_fit(planned: PhotoPlan) -> None:
    rows, cols = np.indices(planned.plan.cells.index.shape)
    index = ((rows // 6) * 40 + cols // 6).astype(np.int32)
    n = int(index.max()) + 1
    cells = replace(
        planned.plan.cells,
        index=index,
        shape_of=np.arange(n, dtype=np.int32),
        level_of=np.zeros(n, np.int32),
    )
    many = replace(planned.plan, cells=cells)
    codes = opened(index_picture(many, index.shape[1])).astype(int)
    np.testing.assert_array_equal(codes[..., 0] + 256 * codes[..., 1], index)


def test_a_stronger_wash_keeps_its_cells_and_changes_its_picture(planned: PhotoPlan) -> None:
    plan = planned.plan
    wash = max(plan.washes_of(plan.layers), key=lambda w: w.area_mm2)
    other = change_strength(plan, (wash.layer, wash.number), 0.5 * wash.strength)
    assert index_picture(other, 300) == index_picture(plan, 300)
    assert stage_picture(other, None, 300) != stage_picture(plan, None, 300)


def test_few_grids_are_kept_and_none_of_plans_that_are_gone(planned: PhotoPlan) -> None:
    for width in range(100, 110):
        index_picture(planned.plan, width)
    assert len(prints._grids) <= prints.KEPT_GRIDS
    copied = replace(planned.plan.cells, index=planned.plan.cells.index.copy())
    index_picture(replace(planned.plan, cells=copied), 64)
    del copied
    index_picture(planned.plan, 65)
    assert all(of() is not None for of, _ in prints._grids.values())


# --- differences -----------------------------------------------------------------------


def test_no_difference_is_told_as_none(planned: PhotoPlan) -> None:
    plan, reference = planned.plan, planned.reference
    same = replace(
        reference,
        judge_xyz=shrink_xyz(plan.finished_xyz, reference.judge_xyz),
    )
    found = difference_picture_soft(plan, same, 200)
    assert (found.close, found.half_step, found.clear) == (1.0, 0.0, 0.0)
    assert set(np.unique(opened(found.picture))) == {prints.GREYS[0]}
    assert found.words == (
        "All of the sheet comes close to the reference. Hardly anything is further off."
    )


def test_a_darkened_corner_is_found_and_named(planned: PhotoPlan) -> None:
    plan, reference = planned.plan, planned.reference
    wanted = shrink_xyz(plan.finished_xyz, reference.judge_xyz).copy()
    rows, cols = wanted.shape[:2]
    wanted[: rows // 3, : cols // 3] *= 0.3
    found = difference_picture_soft(plan, replace(reference, judge_xyz=wanted), 200)
    # A ninth of the sheet, less what the averaging takes off its edge.
    assert 0.07 < found.clear < 0.14
    assert "most of it in the upper left" in found.words
    assert "the painting is lighter than the reference" in found.words
    assert opened(found.picture)[10, 10] == prints.GREYS[2]


def test_shares_are_all_of_the_sheet(planned: PhotoPlan) -> None:
    found = difference_picture_soft(planned.plan, planned.reference)
    assert found.close + found.half_step + found.clear == pytest.approx(1.0)
    assert not any(c.isdigit() for c in found.words)
    assert set(found.numbers) == {"mean", "p95"}
    assert 0.0 < found.numbers["mean"] < found.numbers["p95"]


def test_shares_in_words() -> None:
    assert share_words(0.0) == "hardly any"
    assert share_words(1.0) == "all"
    for share, words in ((0.25, "a quarter"), (1 / 3, "a third"), (0.5, "half"), (0.1, "a tenth")):
        assert share_words(share) == words


def test_colour_alone_is_told_as_colour() -> None:
    off = np.zeros((9, 9), dtype=np.bool_)
    off[4, :] = True
    change = np.zeros((9, 9, 3))
    change[..., 1] = 12.0
    words = difference_words(np.array([0.7, 0.19, 0.11]), off, change)
    assert words.endswith("in several places: there the colour differs more than the value.")


# --- thumbnails ------------------------------------------------------------------------


def test_thumbnails_fit_their_square(planned: PhotoPlan) -> None:
    for subject in (planned.plan, planned.reference):
        picture = thumbnail(subject, 160)
        assert (picture.width, picture.height) == (160, 120)
        assert opened(picture).shape == (120, 160, 3)
        assert len(picture.data) < 30_000
