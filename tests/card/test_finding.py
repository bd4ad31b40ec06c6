"""Where the card lies: markers seen by a pinhole camera of the tests' own, and four touches.

The pictures hold nothing but the card's markers on white paper on a grey table, drawn in mm and
seen under an exact tilt, turn and lens. Errors are told in mm on the card.
"""

import dataclasses
from collections.abc import Callable, Mapping
from functools import cache, cached_property

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.card.by_hand import frame_box
from firstwash.card.finding import CardMap, find_card, map_from_touches
from firstwash.card.layout import (
    CARDS,
    FIRST_MARKER,
    HEIGHT_MM,
    MARKERS,
    WIDTH_MM,
    Box,
    place_of,
    printed_number,
    slot_box,
)
from firstwash.errors import PhotoError

FAMILY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
SIZE = (1400, 1400)  # width, height of the photos
MIDDLE, HALF = 0.5 * (np.array(SIZE) - 1), 0.5 * float(np.hypot(*SIZE))
DENSITY = 8  # pixels per mm of the drawn card
EDGE = 9.0  # mm of white paper around it
CORNERS = np.array([[0.0, 0.0], [WIDTH_MM, 0.0], [WIDTH_MM, HEIGHT_MM], [0.0, HEIGHT_MM]])
GRID = np.stack(
    np.meshgrid(np.linspace(0, WIDTH_MM, 15), np.linspace(0, HEIGHT_MM, 20)), axis=-1
).reshape(-1, 2)
Bend = Callable[[np.ndarray], np.ndarray]


@dataclasses.dataclass(frozen=True)
class Shot:
    """A pinhole camera over the middle of the card: degrees off square and turned, lens."""

    tilt: float = 0.0
    turn: float = 0.0
    k1: float = 0.0
    focal: float = 1.3 * SIZE[0]

    def plane_from(self, distance: float) -> np.ndarray:
        """(3, 3) from mm to the pixels of a perfect lens."""
        spin = cv2.Rodrigues(np.array([0.0, 0.0, np.radians(self.turn)]))[0]
        lean = cv2.Rodrigues(np.radians(self.tilt) * np.array([0.8, 0.6, 0.0]))[0]
        turned = lean @ spin
        move = np.array([0, 0, distance]) - turned[:, :2] @ (WIDTH_MM / 2, HEIGHT_MM / 2)
        lens = np.array([[self.focal, 0, MIDDLE[0]], [0, self.focal, MIDDLE[1]], [0, 0, 1.0]])
        return lens @ np.column_stack([turned[:, :2], move])

    @cached_property
    def plane(self) -> np.ndarray:
        """From so near that the card fills 0.92 of the photo."""
        near, far = 100.0, 5000.0
        for _ in range(30):
            distance = float(np.sqrt(near * far))
            reach = np.ptp(self.through(self.plane_from(distance), CORNERS), axis=0)
            if (reach < 0.92 * np.array(SIZE)).all():
                far = distance
            else:
                near = distance
        return self.plane_from(far)

    def pixels(self, mm: np.ndarray) -> np.ndarray:
        """(n, 2) pixels of (n, 2) mm."""
        return self.through(self.plane, mm)

    def through(self, plane: np.ndarray, mm: np.ndarray) -> np.ndarray:
        seen = np.column_stack([mm, np.ones(len(mm))]) @ plane.T
        away = (seen[:, :2] / seen[:, 2:] - MIDDLE) / HALF
        return MIDDLE + HALF * away * (1 + self.k1 * (away**2).sum(axis=1, keepdims=True))

    def card(self) -> np.ndarray:
        """(rows, cols, 2) mm that every pixel sees."""
        y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]].astype(np.float32)
        away = (np.stack([x, y], axis=-1) - MIDDLE.astype(np.float32)) / np.float32(HALF)
        straight = away
        for _ in range(6 if self.k1 else 0):  # the lens undone: each step a hundred times nearer
            straight = away / (1 + np.float32(self.k1) * (straight**2).sum(axis=-1, keepdims=True))
        ideal = (MIDDLE + HALF * straight).reshape(1, -1, 2)
        mm = cv2.perspectiveTransform(ideal, np.linalg.inv(self.plane))
        return mm.reshape(SIZE[1], SIZE[0], 2)


def drawn(numbers: Mapping[int, int] | None = None) -> np.ndarray:
    """The card's markers on white paper; numbers: what stands where, if not its own."""
    margin = round(EDGE * DENSITY)
    size = (round(HEIGHT_MM * DENSITY) + 2 * margin, round(WIDTH_MM * DENSITY) + 2 * margin)
    sheet = np.full(size, 235, np.uint8)
    for own, box in MARKERS.items():
        number = own if numbers is None else numbers.get(own)
        if number is None:
            continue
        side, x, y = (round(v * DENSITY) for v in (box.width, box.x, box.y))
        mark = cv2.aruco.generateImageMarker(FAMILY, number, side)
        place = sheet[margin + y : margin + y + side, margin + x : margin + x + side]
        place[:] = np.where(mark == 0, 25, 235)
    return sheet


def photo(shot: Shot, sheet: np.ndarray | None = None, bend: Bend | None = None) -> np.ndarray:
    """What the camera sees, a little soft and noisy. bend: mm that lie at (..., 2) mm seen."""
    mm = shot.card() if bend is None else bend(shot.card())
    at = ((mm + EDGE) * DENSITY - 0.5).astype(np.float32)
    # The drawing is finer than the photo: soften it first, or edges would be jagged.
    soft = cv2.GaussianBlur(drawn() if sheet is None else sheet, (0, 0), 0.7)
    seen = cv2.remap(
        soft, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT,
        borderValue=110,
    )  # fmt: skip
    noise = np.random.default_rng(4).normal(0, 3, seen.shape)
    return np.clip(cv2.GaussianBlur(seen, (0, 0), 0.6) + noise, 0, 255).astype(np.uint8)


@cache
def square_on() -> np.ndarray:
    return photo(Shot())


def errors(found: CardMap, shot: Shot) -> np.ndarray:
    """(n,) mm by which places all over the card are missed."""
    off = found.pixels(GRID) - shot.pixels(GRID)
    return np.linalg.norm(off, axis=1) / found.scale().mean()


SHOTS = [
    Shot(),
    Shot(turn=180),
    Shot(turn=90, k1=0.03),
    Shot(turn=270, k1=-0.03),
    Shot(turn=33, tilt=8),
    Shot(tilt=15, turn=5),
    Shot(tilt=30, turn=180, k1=0.02),
    Shot(tilt=45, turn=80),
    Shot(tilt=45, turn=200, k1=-0.03),
]


# ------------------------------------------------------------------ markers


@pytest.mark.parametrize("shot", SHOTS, ids=str)
def test_every_place_of_the_card_is_found(shot: Shot) -> None:
    found = find_card(photo(shot))
    off = errors(found, shot)
    # A swatch is read 1.6 mm from its edges. Measured: 0.02 and 0.04 mm at 2 to 7 pixels per mm;
    # the rest is left to other builds of the finder.
    assert np.median(off) < 0.08
    assert np.percentile(off, 95) < 0.2
    assert found.misfit_mm < 0.2
    assert found.k1 == pytest.approx(shot.k1, abs=0.006)
    assert found.size == SIZE
    assert found.tilt() == pytest.approx(shot.tilt, abs=2.5)
    assert all(found.inside(slot_box(row)) for row in range(8))


def test_a_large_picture_is_searched_at_a_smaller_size() -> None:
    shot = Shot(tilt=10, turn=4)
    small = photo(shot)
    large = find_card(cv2.resize(small, None, fx=3, fy=3, interpolation=cv2.INTER_LINEAR))
    # Pixel centres have whole coordinates: three pixels for one shift them by one.
    off = (large.pixels(GRID) - 1) / 3 - shot.pixels(GRID)
    assert np.median(np.linalg.norm(off, axis=1)) / find_card(small).scale().mean() < 0.1


def test_a_card_without_some_of_its_markers_is_found() -> None:
    shot = Shot(tilt=12, turn=8)
    for gone in ([FIRST_MARKER], [FIRST_MARKER + 4, FIRST_MARKER + 7], list(MARKERS)[6:10]):
        numbers = {n: n for n in MARKERS if n not in gone}
        off = errors(find_card(photo(shot, drawn(numbers))), shot)
        assert np.percentile(off, 95) < 0.35


def test_two_markers_in_each_others_place_do_not_bend_the_map() -> None:
    shot, numbers = Shot(turn=3), {n: n for n in MARKERS}
    numbers[FIRST_MARKER + 6], numbers[FIRST_MARKER + 9] = FIRST_MARKER + 9, FIRST_MARKER + 6
    assert np.percentile(errors(find_card(photo(shot, drawn(numbers))), shot), 95) < 0.25


def refused(grey: np.ndarray) -> str:
    with pytest.raises(PhotoError) as caught:
        find_card(grey)
    text = str(caught.value)
    assert text.endswith(".")
    assert "\n" not in text
    return text


def test_pictures_without_a_card() -> None:
    rng = np.random.default_rng(1)
    plain = [np.full((900, 1200), v, np.uint8) for v in (0, 128, 255)]
    noise = rng.integers(0, 256, (900, 1200)).astype(np.uint8)
    chess = (np.indices((900, 1200)) // 40).sum(axis=0) % 2 * 255
    for grey in (*plain, noise, chess.astype(np.uint8), np.zeros((64, 64), np.uint8)):
        assert "No swatch card" in refused(grey)


def test_a_mirrored_photo_and_a_negative_are_no_card() -> None:
    """A mirrored marker is another pattern, and none of the family's."""
    grey = square_on()
    for other in (grey[:, ::-1], grey[::-1], 255 - grey):
        assert "No swatch card" in refused(np.ascontiguousarray(other))


def test_markers_of_something_else() -> None:
    others = {n: n - FIRST_MARKER for n in MARKERS}
    assert "not those of a swatch card" in refused(photo(Shot(), drawn(others)))


def test_markers_in_any_order_are_no_card() -> None:
    mixed = dict(zip(MARKERS, np.roll(list(MARKERS), 5).tolist(), strict=True))
    refused(photo(Shot(), drawn(mixed)))


def test_two_cards_in_one_photo() -> None:
    grey = square_on()
    assert "two swatch cards" in refused(np.hstack([grey, grey]))
    assert "two swatch cards" in refused(photo(Shot(), drawn(dict.fromkeys(MARKERS, FIRST_MARKER))))


@pytest.mark.parametrize("part", ["left", "right", "top", "bottom"])
def test_half_a_card(part: str) -> None:
    grey = square_on()
    half = SIZE[0] // 2
    rows = slice(0, half) if part == "top" else slice(half if part == "bottom" else 0, None)
    cols = slice(0, half) if part == "left" else slice(half if part == "right" else 0, None)
    assert "part of the swatch card" in refused(np.ascontiguousarray(grey[rows, cols]))


def test_a_bent_card() -> None:
    """Paper that rises in a wave is seen as a card whose middle has slipped sideways."""

    def wave(mm: np.ndarray) -> np.ndarray:
        slip = 3.0 * np.sin(mm[..., 1:] / HEIGHT_MM * 2 * np.pi)
        return mm + slip * np.array([1.0, 0.0])

    assert "does not lie flat" in refused(photo(Shot(), bend=wave))


def test_a_photo_from_the_side() -> None:
    assert "from the side" in refused(photo(Shot(tilt=58, focal=2.5 * SIZE[0])))


# ------------------------------------------------------------------ the map itself


def flat_map(scale: float = 7.0) -> CardMap:
    return CardMap(np.array([[scale, 0, 50], [0, scale, 40], [0, 0, 1.0]]), 0.0, SIZE, 0.0)


def test_a_flat_map_by_hand() -> None:
    found = flat_map()
    np.testing.assert_allclose(found.pixels(np.array([10.0, 20.0])), [120.0, 180.0])
    assert found.pixels(np.zeros((4, 5, 2))).shape == (4, 5, 2)
    np.testing.assert_allclose(found.scale(), 7.0)
    assert found.tilt() == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize("shot", [Shot(), Shot(tilt=45, turn=200, k1=-0.03)], ids=str)
def test_a_grid_of_places_is_drawn_straight_between_knots(shot: Shot) -> None:
    found = CardMap(shot.plane / shot.plane[2, 2], shot.k1, SIZE, 0.0)
    x, y = np.arange(0.0, WIDTH_MM, 0.7), np.arange(-20.0, HEIGHT_MM + 20, 0.9)
    exact = found.pixels(np.stack(np.meshgrid(x, y), axis=-1))
    across, down = found.pixel_maps(x, y)
    assert across.shape == down.shape == (len(y), len(x))
    # Two millimetres of the steepest slant and the strongest lens are straight to a tenth.
    np.testing.assert_allclose(np.stack([across, down], axis=-1), exact, atol=0.1)


def test_inside_means_every_corner() -> None:
    found = flat_map()
    assert found.inside(Box(0, 0, 100, 100))
    assert not found.inside(Box(-10, 0, 20, 20))
    assert not found.inside(Box(0, 200, 20, 60))  # below the lower edge


# ------------------------------------------------------------------ four touches

FRAME = frame_box(3)
TURNS = st.floats(0, 360)


@given(tilt=st.floats(0, 35), turn=TURNS, rows=st.integers(1, 8))
def test_touches_give_the_map_back(tilt: float, turn: float, rows: int) -> None:
    shot, frame = Shot(tilt, turn), frame_box(rows)
    found = map_from_touches(shot.pixels(frame.corners), frame, SIZE)
    # Four points settle a perspective; single precision leaves a hundredth of a pixel.
    np.testing.assert_allclose(found.pixels(GRID), shot.pixels(GRID), atol=0.5)
    np.testing.assert_allclose(found.pixels(frame.corners), shot.pixels(frame.corners), atol=0.01)


@given(st.data())
def test_a_finger_misses_by_a_little(data) -> None:
    shot, frame = Shot(10, 20), frame_box(8)
    miss = np.array(data.draw(st.lists(st.floats(-4, 4), min_size=8, max_size=8))).reshape(4, 2)
    found = map_from_touches(shot.pixels(frame.corners) + miss, frame, SIZE)
    low, high = frame.corners[0], frame.corners[2]
    inner = GRID[(np.clip(GRID, low, high) == GRID).all(axis=1)]
    off = np.linalg.norm(found.pixels(inner) - shot.pixels(inner), axis=1)
    # A perspective carries a touch's miss inwards; it seldom grows on the way.
    assert off.max() < 1.5 * np.linalg.norm(miss, axis=1).max() + 0.5


def touched(rows: int = 3) -> np.ndarray:
    return Shot(10, 5).pixels(frame_box(rows).corners)


def changed(index: int, value) -> np.ndarray:
    out = touched()
    out[index] = value
    return out


NO_FRAME = {
    "anticlockwise": touched()[::-1],
    "crossed": touched()[[0, 2, 1, 3]],
    "crossed the other way": touched()[[0, 1, 3, 2]],
    "three": touched()[:3],
    "five": np.vstack([touched(), touched()[:1]]),
    "none": np.zeros((0, 2)),
    "with depth": np.zeros((4, 3)),
    "all in one place": np.full((4, 2), 50.0),
    "in a line": np.array([[0, 0], [100, 0], [200, 0], [300, 0.0]]),
    "twice the same": changed(1, touched()[0]),
    "one inside the others": changed(2, touched().mean(axis=0) - 20),
    "not a number": changed(2, np.nan),
    "endless": changed(2, np.inf),
    "far outside": changed(2, 1e6),
    "beyond single precision": changed(2, 1e300),
    "all far outside": touched() * 1e200,
    "beside the photo": touched() - 5000,
}


@pytest.mark.parametrize("what", NO_FRAME)
def test_touches_that_make_no_frame(what: str) -> None:
    with pytest.raises(PhotoError, match=r"upper left first, then clockwise\.$"):
        map_from_touches(NO_FRAME[what], FRAME, SIZE)


@pytest.mark.parametrize("start", [1, 3])
def test_touches_that_start_at_another_corner(start: int) -> None:
    """A long frame touched a quarter turn round looks as if seen from far aside."""
    with pytest.raises(PhotoError, match="too much from the side; touch its corners again"):
        map_from_touches(np.roll(touched(), start, axis=0), FRAME, SIZE)


def test_whole_numbers_and_lists_of_touches_are_taken() -> None:
    found = map_from_touches(np.round(touched()).astype(int).tolist(), FRAME, SIZE)
    assert np.isfinite(found.pixels(GRID)).all()


@pytest.mark.parametrize("number", [0, 17, CARDS - 1])
def test_small_markers_tell_the_cards_number(number: int) -> None:
    shot = Shot(tilt=20.0, turn=140.0)
    found = find_card(photo(shot, drawn({n: printed_number(n, number) for n in MARKERS})))
    assert found.number == number
    # The same map as without a number: 0.3 mm, as for a tilted card above.
    np.testing.assert_allclose(found.pixels(GRID), shot.pixels(GRID), atol=0.3 * 6)


def test_a_card_without_a_number_has_none() -> None:
    assert find_card(photo(Shot(), drawn({n: n for n in MARKERS}))).number is None


def test_small_markers_of_two_cards_are_two_cards() -> None:
    mixed = {n: printed_number(n, 3 if i % 2 else 4) for i, n in enumerate(MARKERS)}
    assert "two swatch cards" in refused(photo(Shot(), drawn(mixed)))


def test_printed_numbers_are_all_different_and_come_back() -> None:
    seen = {printed_number(n, c): (n, c) for c in range(CARDS) for n in list(MARKERS)[6:]}
    assert len(seen) == 6 * CARDS
    assert max(seen) < 587  # the family's size
    assert all(place_of(printed) == known for printed, known in seen.items())
    assert place_of(99) is None
    assert place_of(max(seen) + 1) is None
