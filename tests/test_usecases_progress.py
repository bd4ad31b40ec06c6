"""From a photo of the unfinished sheet to what was found and how to go on."""

from pathlib import Path

import numpy as np
import pytest
from tests.drawn_sheets import corners
from tests.finished_photos import folder_in, planned
from tests.halfway_photos import by_coat, camera_over, hand, jpeg, sheet_of, small

from firstwash.errors import PhotoError, RequestError
from firstwash.laid.amounts import wash_of_coat
from firstwash.laid.endings import ALIKE
from firstwash.usecases import open_plan
from firstwash.usecases_progress import standing_files, standing_lines, take_stock, write_standing

DONE = 2


@pytest.fixture(scope="module")
def standing():
    return take_stock(planned(), jpeg(1, DONE), DONE)


def test_amounts_come_back_from_a_file(standing) -> None:
    there = wash_of_coat(small())[:, :DONE] >= 0
    off = np.abs(np.expm1((standing.laid.log_ratio - by_coat(hand(1)))[:, :DONE][there]))
    assert np.median(off) < 0.15  # what is asked of photos by unseen phones


def test_every_wash_laid_is_told_and_no_other(standing) -> None:
    keys = [(w.layer, w.number) for w in small().washes if w.layer <= DONE]
    assert [w.key for w in standing.washes] == keys
    for wash in standing.washes:
        assert wash.low < wash.ratio < wash.high
        assert wash.words.endswith(".")


def test_ways_are_told_best_first_and_the_plan_is_untouched(standing) -> None:
    before = small().coats
    errors = [w.error for w in standing.ways]
    assert min(np.diff(errors)) > -ALIKE  # endings as good as each other may stand either way
    assert {w.name for w in standing.ways} >= {"as planned", "by strength", "anew"}
    assert small().coats == before


def test_files_and_words(standing) -> None:
    lines = standing_lines(standing)
    files = standing_files(small(), standing, lines)
    assert {"progress.txt", "sheet.jpg", "differences.png", "ending-anew.jpg"} <= set(files)
    assert files == standing_files(small(), standing, lines)
    text = files["progress.txt"].decode()
    assert "Ways to go on" in text
    assert "estimate" in text


def test_the_way_chosen_becomes_a_plan(tmp_path: Path) -> None:
    folder = folder_in(tmp_path)
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg(1, DONE))
    told = write_standing(
        folder, photo, DONE, tmp_path / "out", take="by strength", into=tmp_path / "on"
    )
    assert told
    after = open_plan(tmp_path / "on").plan
    assert after.layers == small().layers
    way = next(
        w for w in take_stock(planned(), jpeg(1, DONE), DONE).ways if w.name == "by strength"
    )
    for read, made, meant in zip(after.coats, way.plan.coats, small().coats, strict=True):
        assert [c[2] for c in read] == pytest.approx([c[2] for c in made], rel=1e-6)
        assert [c[0] for c in read] == [c[0] for c in meant]
    laid = [c[2] for own in after.coats for c in own if c[0] <= DONE]
    as_meant = [c[2] for own in small().coats for c in own if c[0] <= DONE]
    assert laid != pytest.approx(as_meant, rel=0.02)  # as found, not as planned


@pytest.mark.parametrize("done", [0, 4, -1])
def test_a_layer_there_is_not_is_refused(done: int) -> None:
    with pytest.raises(RequestError, match="layers 1 to 3"):
        take_stock(planned(), jpeg(1, DONE), done)


def test_corners_touched_take_the_place_of_edges() -> None:
    sheet = sheet_of(hand(1), DONE)
    plane = camera_over(sheet)
    px = plane.pixels(corners(sheet.wide, sheet.high)) / plane.size
    touched = take_stock(planned(), jpeg(1, DONE), DONE, tuple((float(x), float(y)) for x, y in px))
    assert touched.photo.placed.error_mm < 1.0
    with pytest.raises(PhotoError):  # a piece of the picture is not the sheet
        take_stock(planned(), jpeg(1, DONE), DONE, ((0.4, 0.4), (0.5, 0.4), (0.5, 0.5), (0.4, 0.5)))


def test_a_way_there_is_not_is_refused(tmp_path: Path) -> None:
    folder = folder_in(tmp_path)
    (tmp_path / "photo.jpg").write_bytes(jpeg(1, DONE))
    with pytest.raises(RequestError, match="no way"):
        write_standing(
            folder, tmp_path / "photo.jpg", DONE, tmp_path / "out", take="lifted first",
            into=tmp_path / "on",
        )  # fmt: skip
    assert not (tmp_path / "on").exists()
