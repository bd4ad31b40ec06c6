"""What every shell can do: plans of ordinary and of odd wishes, and folders left in order."""

import errno
import json
import os
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from skimage import data

from firstwash import usecases
from firstwash.errors import (
    Cancelled,
    FirstwashError,
    OutputError,
    PaintError,
    PhotoError,
    RequestError,
    SheetError,
)
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.reference import BACKGROUND, Background
from firstwash.plan.problem import Limits
from firstwash.plan.replan import replan
from firstwash.plan.report import as_judged
from firstwash.usecases import PhotoPlan, Wishes, open_plan, plan_photo, write_plan

FEW = Limits(shapes=12, layers=3, puddles=6, washes=12)
QUICK = Wishes(sheet="9x7cm", limits=FEW)  # planned in under a second
ROWS, COLS = 140, 180


def save(path: Path, pixels: np.ndarray) -> Path:
    Image.fromarray(pixels).save(path)
    return path


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A pale sky over a dark red block on a green ground, with a white patch."""
    pixels = np.full((ROWS, COLS, 3), (190, 210, 235), dtype=np.uint8)
    pixels[90:] = (90, 120, 60)
    pixels[50:120, 60:110] = (140, 40, 35)
    pixels[20:45, 120:160] = 255
    noise = np.random.default_rng(5).integers(-8, 9, pixels.shape)
    return save(
        tmp_path_factory.mktemp("scene") / "scene.png",
        np.clip(pixels + noise, 0, 255).astype(np.uint8),
    )


@pytest.fixture(scope="module")
def planned(scene: Path) -> PhotoPlan:
    return plan_photo(scene, QUICK)


# --- photos ------------------------------------------------------------------------


def test_a_photo_is_judged_by_what_it_is_not_by_its_name(tmp_path: Path) -> None:
    Image.fromarray(data.coffee()[::3, ::3]).save(tmp_path / "really-a-jpeg.png", "JPEG")
    result = plan_photo(tmp_path / "really-a-jpeg.png", QUICK)
    assert result.plan.washes
    assert result.photo["name"] == "really-a-jpeg.png"


def test_bytes_are_as_good_as_a_file(scene: Path, planned: PhotoPlan, tmp_path: Path) -> None:
    result = plan_photo(scene.read_bytes(), QUICK)
    assert result.photo["name"] is None
    np.testing.assert_array_equal(result.plan.stage_labs, planned.plan.stage_labs)
    assert "<h1>painting</h1>" in write_plan(result, tmp_path / "plan").read_text("utf-8")


def make_useless(kind: str, scene: Path, path: Path) -> None:
    if kind == "huge":  # few bytes, 400 million pixels
        Image.new("1", (20_000, 20_000)).save(path, "PNG")
    elif kind == "animated":
        frames = [Image.new("RGB", (80, 80), (60 * i, 0, 0)) for i in range(3)]
        frames[0].save(path, "PNG", save_all=True, append_images=frames[1:])
    elif kind == "small":
        Image.new("RGB", (63, 200)).save(path, "PNG")
    elif kind == "folder":
        path.mkdir()
    elif kind != "missing":
        whole = scene.read_bytes()
        content = {"empty": b"", "text": b"not a photo at all", "cut short": whole[:2000]}
        path.write_bytes(content[kind])


@pytest.mark.parametrize(
    "kind", ["missing", "empty", "text", "cut short", "huge", "animated", "small", "folder"]
)
def test_a_useless_photo_is_refused_in_one_sentence(scene: Path, tmp_path: Path, kind: str) -> None:
    make_useless(kind, scene, tmp_path / "photo.jpg")
    with pytest.raises(PhotoError, match=r"photo\.jpg") as refused:
        plan_photo(tmp_path / "photo.jpg", QUICK)
    assert "\n" not in str(refused.value)
    assert str(refused.value).endswith(".")


def test_a_name_that_is_not_text_is_shown_with_question_marks(scene: Path, tmp_path: Path) -> None:
    odd = Path(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9.png"))
    try:
        shutil.copy(scene, odd)
    except (OSError, UnicodeError):
        pytest.skip("this disk only takes names that are text")
    result = plan_photo(odd, QUICK)
    page = write_plan(result, tmp_path / "plan")
    assert "caf?" in page.read_text("utf-8")
    assert json.loads((page.parent / "plan.json").read_bytes())["photo"]["name"] == "caf?.png"


# --- pictures of one colour --------------------------------------------------------


def flat_plan(tmp_path: Path, colour: tuple[int, int, int]) -> PhotoPlan:
    path = save(tmp_path / "flat.png", np.full((ROWS, COLS, 3), colour, dtype=np.uint8))
    return plan_photo(path, QUICK)


def final_error(result: PhotoPlan) -> float:
    """CIEDE2000 of the predicted painting from the photo, worked out anew."""
    painted = as_judged(result.plan.stage_xyz[-1], result.reference)
    return float(delta_e_2000(painted, result.reference.judge_lab).mean())


@pytest.mark.parametrize(
    "colour", [(255, 255, 255), (0, 0, 0), (119, 119, 119), (20, 40, 230)],
    ids=["white", "black", "grey", "blue"],
)  # fmt: skip
def test_a_photo_of_one_colour_gets_an_honest_plan(
    tmp_path: Path, colour: tuple[int, int, int]
) -> None:
    result = flat_plan(tmp_path, colour)
    plan, report = result.plan, result.plan.report
    # What it says of itself is what comes out.
    assert report.against_photo.mean == pytest.approx(final_error(result), abs=1e-6)
    assert len(plan.washes) <= FEW.layers  # one wash a layer is all an even sheet can need
    if colour == (255, 255, 255):
        assert plan.washes == ()
        assert plan.reserve_share() == 1.0
    if colour == (119, 119, 119):
        assert report.against_photo.mean < 1  # cannot be seen
    if colour == (0, 0, 0):  # no paint is black: lifted, and told
        assert report.lifted_share == 1.0
        assert report.against_photo.mean > 5
        # Handling counts, a pigment fewer is worth a little warmth in the black; and erring
        # hands miss a black upwards more than down, so it is planned a little darker.
        assert report.against_target.mean < 1.5
        limits = replace(FEW, handling=0.0, hand=0.0)
        bare = plan_photo(tmp_path / "flat.png", replace(QUICK, limits=limits)).plan
        assert bare.report.against_target.mean < 1.2
        assert plan.stage_labs[-1][..., 0].max() < 25
    if colour == (20, 40, 230):
        assert report.against_photo.mean > 2  # a screen's blue is no paint's


# --- paints and limits -------------------------------------------------------------


def own_set(tmp_path: Path, *lines: str) -> str:
    path = tmp_path / "mine.txt"
    path.write_text("\n".join(lines), "utf-8")
    return str(path)


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (("PB29", "XYZ99"), "line 2: There is no paint"),
        (("# nothing yet",), "names no paint"),
        (("PB29", "pb29"), "twice"),
        (("PBk9", "PW4"), "only black and white"),
    ],
)
def test_a_set_that_cannot_be_used_is_refused(
    scene: Path, tmp_path: Path, lines: tuple[str, ...], said: str
) -> None:
    with pytest.raises(PaintError, match=said):
        plan_photo(scene, replace(QUICK, paints=own_set(tmp_path, *lines)))


def test_black_and_white_are_left_out_unless_asked_for(scene: Path, tmp_path: Path) -> None:
    mine = own_set(tmp_path, "PB29", "PBk9 | never use it", "PW4", "PR108")
    plan = plan_photo(scene, replace(QUICK, paints=mine)).plan
    assert {p.key for p in plan.paints} == {"PB29", "PR108"}
    assert any("ivory black, Chinese white" in note for note in plan.notes)
    asked = replace(QUICK, paints=mine, limits=replace(FEW, black_and_white=True))
    assert {p.key for p in plan_photo(scene, asked).plan.paints} >= {"PBk9", "PB29", "PR108"}


def test_one_paint_alone_gets_an_honest_plan(scene: Path, tmp_path: Path) -> None:
    result = plan_photo(scene, replace(QUICK, paints=own_set(tmp_path, "PB29")))
    assert [p.key for p in result.plan.paints] == ["PB29"]
    # It cannot paint red and green, and says so.
    assert result.plan.report.off_gamut_share > 0.4
    assert result.plan.report.against_photo.mean == pytest.approx(final_error(result), abs=1e-6)


@pytest.mark.parametrize(
    "limits",
    [
        replace(FEW, paints=1),
        replace(FEW, puddles=1),
        replace(FEW, puddles=None, washes=None),
        replace(FEW, layers=2),
        replace(FEW, layers=8),
        replace(FEW, shapes=1),
        replace(FEW, paints_per_puddle=1),
    ],
    ids=lambda limits: " ".join(f"{k}={v}" for k, v in vars(limits).items() if v != vars(FEW)[k]),
)
def test_limits_are_kept(scene: Path, limits: Limits) -> None:
    plan = plan_photo(scene, replace(QUICK, limits=limits)).plan
    assert plan.layers == limits.layers
    assert 1 <= len(plan.paints) <= limits.paints
    assert 1 <= len(plan.puddles) <= (limits.puddles or len(plan.washes))
    assert 1 <= len(plan.washes) <= (limits.washes or np.inf)
    assert all(len(p.parts) <= limits.paints_per_puddle for p in plan.puddles)
    assert plan.cells.shapes <= limits.shapes


@pytest.mark.parametrize(
    "wrong",
    [
        {"layers": 1},
        {"layers": 12},
        {"paints": 0},
        {"puddles": 0},
        {"puddles": -1},
        {"shapes": 0},
        {"min_area_mm2": float("nan")},
        {"min_width_mm": float("inf")},
    ],
)
def test_limits_that_make_no_sense_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(RequestError) as refused:
        Limits(**wrong)  # type: ignore[arg-type]
    assert "\n" not in str(refused.value)


def test_progress_rises_to_the_end_and_can_stop_the_work(scene: Path) -> None:
    told: list[float] = []
    plan_photo(scene, QUICK, lambda _, done: told.append(done))
    assert told == sorted(told)
    assert told[0] == 0
    assert told[-1] == 1

    def stop(step: str, done: float) -> None:
        del step
        if done > 0.3:
            raise Cancelled("Enough.")

    with pytest.raises(Cancelled):
        plan_photo(scene, QUICK, stop)


# --- sheet and crop ----------------------------------------------------------------


@pytest.mark.parametrize("size", ["5x7cm", "A3", "1.5x2m"])
def test_small_and_large_sheets_are_planned(scene: Path, size: str) -> None:
    plan = plan_photo(scene, replace(QUICK, sheet=size)).plan
    sheet_mm2 = plan.sheet.width_mm * plan.sheet.height_mm
    # The picture has whole pixels; a side may be half a pixel off.
    assert plan.cells.areas_mm2().sum() == pytest.approx(sheet_mm2, rel=0.01)
    assert all(w.area_mm2 >= 1 for w in plan.washes)
    # Flat areas and a little noise. Worst is 5 × 7 cm, where 25 mm² is a large piece: 6.1 with
    # no paint under a twentieth of a puddle (below 6 without that limit).
    assert plan.report.against_target.mean < 7


@pytest.mark.parametrize(
    ("size", "landscape"),
    [("7x9cm", True), ("9x7cm", True), ("7x9cm portrait", False), ("9x7cm portrait", False)],
)
def test_the_sheet_lies_as_the_photo_does_unless_told(
    scene: Path, size: str, landscape: bool
) -> None:
    result = plan_photo(scene, replace(QUICK, sheet=size))
    sheet, (_, _, width, height) = result.plan.sheet, result.photo["crop"]
    assert sheet.landscape == landscape
    assert width / height == pytest.approx(sheet.width_mm / sheet.height_mm, rel=0.02)


def test_a_crop_stays_inside_what_was_asked(scene: Path) -> None:
    result = plan_photo(scene, replace(QUICK, crop=(0.25, 0.1, 0.5, 0.8)))
    x, y, width, height = result.photo["crop"]
    assert x >= 0.25 * COLS
    assert y >= 0.1 * ROWS
    assert x + width <= 0.75 * COLS
    assert y + height <= 0.9 * ROWS
    assert width == 0.5 * COLS  # the largest crop of the sheet's proportions
    assert height == round(width * 7 / 9)
    assert result.plan.photo_px == (width, height)


@pytest.mark.parametrize(
    ("crop", "kind"),
    [
        ((0.5, 0.5, 0.9, 0.9), SheetError),
        ((0.0, 0.0, 0.0, 0.5), SheetError),
        ((float("nan"), 0, 1, 1), SheetError),
        ((0.0, 0.0, 0.1, 0.1), PhotoError),  # 18 × 14 pixels
    ],
)
def test_a_crop_with_no_picture_in_it_is_refused(
    scene: Path, crop: tuple[float, float, float, float], kind: type[FirstwashError]
) -> None:
    with pytest.raises(kind, match="crop"):
        plan_photo(scene, replace(QUICK, crop=crop))


# --- background and focal area -----------------------------------------------------


def sky_mask(path: Path, scale: float = 1.0, rows: int = ROWS, cols: int = COLS) -> Path:
    """White over the upper 90 rows of the scene, but for the block."""
    mask = np.zeros((ROWS, COLS), dtype=np.uint8)
    mask[:90] = 255
    mask[50:, 60:110] = 0
    size = (round(cols * scale), round(rows * scale))
    return save(path, cv2.resize(mask, size, interpolation=cv2.INTER_NEAREST))


def test_a_bare_background_takes_no_paint(scene: Path, tmp_path: Path) -> None:
    mask = sky_mask(tmp_path / "mask.png")
    result = plan_photo(scene, replace(QUICK, background="bare", background_mask=mask))
    plan, behind = result.plan, result.reference.zone == BACKGROUND
    assert all(not plan.coats[c] for c in np.unique(plan.cells.index[behind]))
    # Only the background is bare; the scene's white patch lies in it.
    assert plan.reserve_share() == pytest.approx(behind.mean(), abs=0.01)
    # And the plan aims at that edited picture.
    painted = as_judged(plan.stage_xyz[-1], result.reference)
    clean = painted[: int(0.3 * len(painted))]
    white = plan.stage_labs[0][0]
    assert delta_e_2000(clean, white).max() < 0.5  # single precision, and an edge far off


def test_a_graded_background_is_one_wash_of_one_puddle(scene: Path, tmp_path: Path) -> None:
    mask = sky_mask(tmp_path / "mask.png")
    result = plan_photo(scene, replace(QUICK, background="graded", background_mask=mask))
    plan = result.plan
    behind = np.unique(plan.cells.index[result.reference.zone == BACKGROUND])
    assert {plan.coats[c][0][:2] for c in behind} == {(1, 0)}
    assert [w.kind for w in plan.washes].count("graded wash") == 1
    assert len(plan.puddles) <= FEW.puddles  # type: ignore[operator]


@pytest.mark.parametrize("treatment", ["bare", "graded"])
def test_a_plan_with_its_own_background_is_opened_again(
    scene: Path, tmp_path: Path, treatment: Background
) -> None:
    mask = sky_mask(tmp_path / "mask.png")
    made = plan_photo(scene, replace(QUICK, background=treatment, background_mask=mask))
    write_plan(made, tmp_path / "plan")
    opened = open_plan(tmp_path / "plan")
    assert opened.plan.background == opened.reference.background == treatment
    laid = [[[c[:2] for c in own] for own in plan.coats] for plan in (opened.plan, made.plan)]
    assert laid[0] == laid[1]
    same = (opened.reference.zone == BACKGROUND) == (made.reference.zone == BACKGROUND)
    assert same.mean() > 0.97  # whites of the subject count as bare, too
    again = replan(opened.plan, opened.reference)
    assert again.background == treatment


def test_a_graded_background_and_a_subject_take_two_puddles_at_least(
    scene: Path, tmp_path: Path
) -> None:
    mask = sky_mask(tmp_path / "mask.png")
    wishes = replace(QUICK, background="graded", background_mask=mask)
    with pytest.raises(RequestError, match="a puddle of its own"):
        plan_photo(scene, replace(wishes, limits=replace(FEW, puddles=1)))
    plan = plan_photo(scene, replace(wishes, limits=replace(FEW, puddles=2))).plan
    assert len(plan.puddles) == 2


def test_a_painted_background_shares_no_shape_with_the_subject(scene: Path, tmp_path: Path) -> None:
    mask = sky_mask(tmp_path / "mask.png")
    result = plan_photo(scene, replace(QUICK, background="painted", background_mask=mask))
    shapes = result.plan.cells.shape_of[result.plan.cells.index]
    zone = result.reference.zone
    assert not set(np.unique(shapes[zone == BACKGROUND])) & set(
        np.unique(shapes[zone != BACKGROUND])
    )


def test_a_mask_may_be_drawn_over_the_photo_or_over_its_crop(scene: Path, tmp_path: Path) -> None:
    """Of any size: what counts is where it is white."""
    wishes = replace(QUICK, background="bare", crop=(0.0, 0.0, 0.9, 0.9))
    whole = sky_mask(tmp_path / "whole.png")
    zones = []
    for scale in (1.0, 3.0):
        mask = sky_mask(tmp_path / "scaled.png", scale)
        zones.append(plan_photo(scene, replace(wishes, background_mask=mask)).reference.zone)
    result = plan_photo(scene, replace(wishes, background_mask=whole))
    x, y, width, height = result.photo["crop"]
    with Image.open(whole) as opened:
        opened.crop((x, y, x + width, y + height)).save(tmp_path / "crop.png")
    cropped = replace(wishes, background_mask=tmp_path / "crop.png")
    zones.append(plan_photo(scene, cropped).reference.zone)
    for zone in zones:
        # The same but for a pixel along the edge.
        assert (zone != result.reference.zone).mean() < 0.02


@pytest.mark.parametrize(
    ("mask", "said"),
    [
        (np.full((ROWS, COLS), 255, dtype=np.uint8), "both a background and a subject"),
        (np.zeros((ROWS, COLS), dtype=np.uint8), "both a background and a subject"),
        (np.full((COLS, ROWS), 255, dtype=np.uint8), "other proportions"),
    ],
    ids=["all white", "all black", "turned"],
)
def test_a_mask_that_says_nothing_is_refused(
    scene: Path, tmp_path: Path, mask: np.ndarray, said: str
) -> None:
    path = save(tmp_path / "mask.png", mask)
    with pytest.raises(RequestError, match=said):
        plan_photo(scene, replace(QUICK, background="bare", background_mask=path))


@pytest.mark.parametrize("treatment", ["bare", "graded"])
def test_a_background_to_change_needs_a_mask(scene: Path, treatment: str) -> None:
    with pytest.raises(RequestError, match="give a mask file"):
        plan_photo(scene, replace(QUICK, background=treatment))  # type: ignore[arg-type]


def test_a_mask_that_is_no_picture_is_refused(scene: Path, tmp_path: Path) -> None:
    (tmp_path / "mask.png").write_text("white, mostly")
    for wishes in (
        replace(QUICK, focal=tmp_path / "mask.png"),
        replace(QUICK, background="bare", background_mask=tmp_path / "mask.png"),
        replace(QUICK, focal=tmp_path / "no-such-mask.png"),
    ):
        with pytest.raises(PhotoError, match=r"mask\.png"):
            plan_photo(scene, wishes)


@pytest.fixture(scope="module")
def cat(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return save(tmp_path_factory.mktemp("cat") / "cat.png", data.chelsea())


CAT = Wishes(sheet="15x10cm", limits=Limits(shapes=40, puddles=12))
FOCUS = (0.4, 0.4, 0.25, 0.25)  # an eye and the nose


def inside_focus(plane: np.ndarray) -> np.ndarray:
    rows, cols = plane.shape[:2]
    x, y, w, h = FOCUS
    return plane[int(y * rows) : int((y + h) * rows), int(x * cols) : int((x + w) * cols)]


@pytest.fixture(scope="module")
def focused(cat: Path) -> PhotoPlan:
    return plan_photo(cat, replace(CAT, focal=FOCUS))


def test_a_focal_area_is_finer_and_closer(cat: Path, focused: PhotoPlan) -> None:
    """More cells on the same area, and a smaller error there than without."""
    cells, errors = [], []
    for result in (plan_photo(cat, CAT), focused):
        plan = result.plan
        cells.append(len(np.unique(inside_focus(plan.cells.index))))
        painted = as_judged(plan.stage_xyz[-1], result.reference)
        miss = delta_e_2000(painted, result.reference.judge_lab)
        errors.append(float(inside_focus(miss).mean()))
    assert cells[1] > 1.15 * cells[0]
    assert errors[1] < 0.95 * errors[0]


def test_a_focal_mask_drawn_over_the_photo_says_the_same(
    cat: Path, focused: PhotoPlan, tmp_path: Path
) -> None:
    x, y, width, height = focused.photo["crop"]
    left, top = round(x + FOCUS[0] * width), round(y + FOCUS[1] * height)
    mask = np.zeros(data.chelsea().shape[:2], dtype=np.uint8)
    mask[top : top + round(FOCUS[3] * height), left : left + round(FOCUS[2] * width)] = 255
    # Fewer shapes: only where the weight lies is asked.
    coarse = replace(CAT, limits=FEW, focal=save(tmp_path / "focus.png", mask))
    masked = plan_photo(cat, coarse).reference.weight
    assert (masked != focused.reference.weight).mean() < 0.02  # but for the mask's edge


# --- folders -----------------------------------------------------------------------


def listing(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.fixture(scope="module")
def written(planned: PhotoPlan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_plan(planned, tmp_path_factory.mktemp("written") / "plan").parent


def test_a_folder_can_be_new_deep_empty_or_an_older_plan(
    planned: PhotoPlan, written: Path, tmp_path: Path
) -> None:
    (tmp_path / "empty").mkdir()
    shutil.copytree(written, tmp_path / "old")
    (tmp_path / "old/plan.json").write_bytes(
        (written / "plan.json").read_bytes().replace(b"PB29", b"PB99")
    )
    (tmp_path / "old/stages/stage-8.png").write_text("of more layers")
    (tmp_path / "old/.DS_Store").write_text("a file browser was here")
    for name in ("new", "a/b/c", "empty", "old"):
        page = write_plan(planned, tmp_path / name)
        assert page == tmp_path / name / "summary.html"
        assert listing(tmp_path / name) == listing(written)
    assert sorted(os.listdir(tmp_path)) == ["a", "empty", "new", "old"]  # no drafts left


def test_a_link_to_a_folder_stays_a_link(planned: PhotoPlan, written: Path, tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_plan(planned, tmp_path / "link")
    write_plan(planned, tmp_path / "link")
    assert (tmp_path / "link").is_symlink()
    assert listing(tmp_path / "real") == listing(written)


@pytest.mark.parametrize("thing", ["letter.txt", "masks/my-notes.txt", "progress/photo.jpg"])
def test_what_is_not_the_plan_s_is_never_touched(
    planned: PhotoPlan, written: Path, tmp_path: Path, thing: str
) -> None:
    """Not even beside an older plan."""
    folder = tmp_path / "plan"
    shutil.copytree(written, folder)
    (folder / thing).parent.mkdir(exist_ok=True)
    (folder / thing).write_text("dear")
    before = listing(folder)
    with pytest.raises(OutputError, match="holds other things"):
        write_plan(planned, folder)
    assert listing(folder) == before
    assert os.listdir(tmp_path) == ["plan"]


@pytest.mark.parametrize("name", ["plan.json", "reference.jpg"])
def test_files_that_only_share_a_name_are_never_touched(
    planned: PhotoPlan, tmp_path: Path, name: str
) -> None:
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / name).write_text('{"format": "of something else"}')
    with pytest.raises(OutputError, match=name):
        write_plan(planned, tmp_path / "plan")
    assert (tmp_path / "plan" / name).read_text() == '{"format": "of something else"}'


@pytest.mark.parametrize("name", ["file", "file/inside", "file/deep/inside", "n" * 300, "nul\0l"])
def test_a_folder_that_cannot_be_is_refused_in_one_sentence(
    planned: PhotoPlan, tmp_path: Path, name: str
) -> None:
    (tmp_path / "file").write_text("dear")
    with pytest.raises(OutputError, match=r"name (a|another) folder") as refused:
        write_plan(planned, tmp_path / name)
    assert "\n" not in str(refused.value)
    assert (tmp_path / "file").read_text() == "dear"
    assert os.listdir(tmp_path) == ["file"]


def test_a_folder_without_leave_to_write_is_refused(
    planned: PhotoPlan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Faked, for whoever runs the tests as root may write everywhere."""
    monkeypatch.setattr(os, "access", lambda _, mode: mode != os.W_OK)
    with pytest.raises(OutputError, match="Permission denied"):
        write_plan(planned, tmp_path / "plan")
    assert os.listdir(tmp_path) == []


Breaker = Callable[[pytest.MonkeyPatch, type[BaseException]], None]


def full_disk(monkeypatch: pytest.MonkeyPatch, kind: type[BaseException]) -> None:
    """The fourth file cannot be written."""
    written, real = [], Path.write_bytes

    def write(self: Path, content: bytes) -> int:
        written.append(self)
        if len(written) == 4:
            raise kind(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(self, content)

    monkeypatch.setattr(Path, "write_bytes", write)


def stuck_rename(monkeypatch: pytest.MonkeyPatch, kind: type[BaseException]) -> None:
    """The finished draft cannot be put in place, after an older plan was set aside."""
    real = Path.rename

    def rename(self: Path, target: Path) -> Path:
        if self.name.startswith(".firstwash-") and not self.name.endswith("-old"):
            raise kind(errno.EBUSY, os.strerror(errno.EBUSY))
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename)


@pytest.mark.parametrize("breaks", [full_disk, stuck_rename])
@pytest.mark.parametrize("kind", [OSError, KeyboardInterrupt])
@pytest.mark.parametrize("old", [False, True])
def test_a_failure_on_the_way_leaves_everything_as_it_was(
    planned: PhotoPlan,
    written: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    breaks: Breaker,
    kind: type[BaseException],
    old: bool,
) -> None:
    folder = tmp_path / "deep" / "plan"
    if old:
        shutil.copytree(written, folder)
        (folder / "stages/stage-8.png").write_text("of more layers")
    before = listing(tmp_path)
    breaks(monkeypatch, kind)
    with pytest.raises(OutputError if kind is OSError else kind):
        write_plan(planned, folder)
    assert listing(tmp_path) == before
    assert os.listdir(tmp_path) == (["deep"] if old else [])  # not even the folder above
    if old:
        assert os.listdir(tmp_path / "deep") == ["plan"]


def test_every_written_file_is_known_as_the_plan_s_own(written: Path) -> None:
    """Or a second plan could not replace the first."""
    assert usecases.check_folder(written) == written.resolve()
