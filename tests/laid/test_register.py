"""The plan laid over photos of known cameras, by what is painted alone or with a first map."""

import numpy as np
import pytest
from tests.halfway_photos import camera_over, hand, seen, sheet_of, small

from firstwash.laid.register import GUESS_MM, place
from firstwash.picture.plane_map import PlaneMap


def true_map(log: np.ndarray, done: int, **view) -> PlaneMap:
    """From mm on the picture."""
    sheet = sheet_of(log, done)
    plane = camera_over(sheet, **view)
    upper, _, _, left = sheet.margin
    shift = np.array([[1.0, 0.0, left], [0.0, 1.0, upper], [0.0, 0.0, 1.0]])
    return PlaneMap(plane.homography @ shift, plane.k1, plane.size)


def moved(plane: PlaneMap, dx: float, dy: float, turn: float = 0.0) -> PlaneMap:
    a = np.radians(turn)
    by = np.array([[np.cos(a), -np.sin(a), dx], [np.sin(a), np.cos(a), dy], [0.0, 0.0, 1.0]])
    return PlaneMap(plane.homography @ by, plane.k1, plane.size)


def off_mm(found: PlaneMap, true: PlaneMap) -> np.ndarray:
    size = np.array([small().sheet.width_mm, small().sheet.height_mm])
    spots = np.stack(np.meshgrid((0.1, 0.5, 0.9), (0.1, 0.5, 0.9)), axis=-1).reshape(-1, 2) * size
    scale = true.scale_at(spots[4:5]).mean()
    return np.asarray(np.linalg.norm(found.pixels(spots) - true.pixels(spots), axis=1) / scale)


@pytest.mark.parametrize(
    ("dx", "dy", "turn"), [(0.0, 0.0, 0.0), (3.0, -2.0, 0.0), (-2.0, 2.0, 0.8)]
)
def test_a_first_map_some_millimetres_off_is_brought_home(dx, dy, turn) -> None:
    log, done = hand(2), 3
    true = true_map(log, done)
    placed = place(
        seen(log, done), moved(true, dx, dy, turn), small().stage_xyz[done], small().cells.ppmm,
        GUESS_MM,
    )  # fmt: skip
    off = off_mm(placed.plane, true)
    # Strengths differ by a quarter and borders not at all: less than half a pixel of the plan.
    assert off.max() < 0.5
    assert placed.agree > 0.8
    assert placed.error_mm < 1.0
    assert placed.like > 0.8


def test_the_error_told_grows_where_little_is_painted() -> None:
    log = hand(2)
    full, pale = (
        place(
            seen(log, done), true_map(log, done), small().stage_xyz[done], small().cells.ppmm,
            GUESS_MM,
        )
        for done in (3, 1)
    )  # fmt: skip
    assert pale.pieces <= full.pieces
    assert pale.error_mm >= 0.5 * full.error_mm


def test_a_sheet_with_nothing_on_it_gives_no_pieces_and_much_doubt() -> None:
    done = 3
    white = np.full_like(seen(hand(2), done), 0.8)
    placed = place(
        white, true_map(hand(2), done), small().stage_xyz[done], small().cells.ppmm, GUESS_MM
    )
    assert placed.pieces == 0
    assert placed.error_mm > 2.0
