"""Where the card lies in a photo: markers, or four touches, and the map from mm to pixels."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.card.layout import (
    HEIGHT_MM,
    MARKERS,
    WIDTH_MM,
    Box,
    marker_corners,
    place_of,
)
from firstwash.errors import PhotoError
from firstwash.picture.plane_map import PlaneMap, fitted_plane

__all__ = ["CardMap", "find_card", "map_from_touches"]

SEARCH_PX: Final = 2400  # longest side of the picture in which markers are looked for
FEWEST: Final = 6  # markers, with at least one on each side of the card
BENT_MM: Final = 0.7  # root mean square misfit of the corners above which the card is not flat
STEEPEST: Final = 50.0  # degrees off square

NONE: Final = (
    "No swatch card was found; photograph the whole card so that its black corner squares show."
)
TWO: Final = "The photo shows two swatch cards; photograph one at a time."
OTHER: Final = (
    "The markers in the photo are not those of a swatch card; print one with: firstwash card print."
)
PART: Final = (
    "Only a part of the swatch card was found; photograph all of it, with nothing lying on its "
    "corner squares."
)
BENT: Final = "The card does not lie flat; press or tape it down and photograph it again."
STEEP: Final = (
    "The photo is taken too much from the side; hold the phone more squarely above the card."
)
TOUCH: Final = (
    "Touch the four corners of the pencil frame in the photo, upper left first, then clockwise."
)
SKEWED: Final = (
    "The four touches show the frame too much from the side; touch its corners again, upper left "
    "first, then clockwise, or hold the phone more squarely above the card."
)


@dataclass(frozen=True, eq=False)
class CardMap(PlaneMap):
    """How mm on the card become pixels of the photo.

    misfit_mm: rms of the markers' corners. number: of the card, as its small markers tell it;
    None where they do not.
    """

    misfit_mm: float
    number: int | None = None

    def scale(self) -> NDArray[np.float64]:
        """(2,) least and greatest pixels per mm at the card's corners and centre."""
        at = [(x, y) for x in (5.0, WIDTH_MM - 5) for y in (5.0, HEIGHT_MM - 5)]
        return self.scale_at(np.array([*at, (WIDTH_MM / 2, HEIGHT_MM / 2)]))

    def tilt(self) -> float:
        """Degrees off square at the card's centre, from how much it is foreshortened."""
        return self.tilt_at(np.array([WIDTH_MM / 2, HEIGHT_MM / 2]))

    def inside(self, box: Box) -> bool:
        """Whether a box lies wholly in the photo."""
        x, y = self.pixels(box.corners).T
        width, height = self.size
        return bool(
            (x >= 0).all() and (y >= 0).all() and (x < width - 1).all() and (y < height - 1).all()
        )


def find_card(grey: NDArray[np.uint8]) -> CardMap:
    """The card in a photo's grey picture (rows, cols), however it is turned.

    Raises PhotoError, one sentence, if there is none, more than one, too little of it, or if
    it is bent or seen too much from the side.
    """
    height, width = grey.shape
    shrink = max(max(width, height) / SEARCH_PX, 1.0)
    small = grey
    if shrink > 1.0:
        size = (round(width / shrink), round(height / shrink))
        small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    found, card = _markers(small)
    scale = np.array([width / small.shape[1], height / small.shape[0]])
    corners = {n: (c + 0.5) * scale - 0.5 for n, c in found.items()}
    return _checked(replace(_fitted(corners, (width, height)), number=card))


def _markers(grey: NDArray[np.uint8]) -> tuple[dict[int, NDArray[np.float64]], int | None]:
    """Corners (4, 2) of the card's own markers by place, and the card's number if it has one."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, numbers, _ = cv2.aruco.ArucoDetector(family, parameters).detectMarkers(grey)
    if numbers is None or not len(numbers):
        raise PhotoError(NONE)
    told = [(place_of(int(n)), c) for n, c in zip(np.ravel(numbers), corners, strict=True)]
    own = [(known, c) for known, c in told if known is not None]
    if not own:
        raise PhotoError(OTHER)
    cards = {card for (_, card), _ in own if card is not None}
    if max(Counter(place for (place, _), _ in own).values()) > 1 or len(cards) > 1:
        raise PhotoError(TWO)
    found = {place: np.asarray(c, dtype=np.float64).reshape(4, 2) for (place, _), c in own}
    return found, next(iter(cards), None)


def _fitted(corners: Mapping[int, FloatArray], size: tuple[int, int]) -> CardMap:
    centres = np.array([MARKERS[n].corners.mean(axis=0) for n in corners])
    spans = np.ptp(centres, axis=0) if len(centres) else np.zeros(2)
    if len(corners) < FEWEST or spans[0] < 0.7 * WIDTH_MM or spans[1] < 0.6 * HEIGHT_MM:
        raise PhotoError(PART)
    mm = np.concatenate([marker_corners(n) for n in corners])
    px = np.concatenate(list(corners.values()))
    start, _ = cv2.findHomography(mm, px, cv2.RANSAC, 4.0)
    if start is None:
        raise PhotoError(PART)
    return _refined(np.asarray(start, dtype=np.float64), mm, px, size)


def _refined(start: FloatArray, mm: FloatArray, px: FloatArray, size: tuple[int, int]) -> CardMap:
    """Homography and distortion together, robust against a corner badly found."""
    found = fitted_plane(start, mm, px, size)
    card = CardMap(found.homography, found.k1, size, 0.0)
    off = card.pixels(mm) - px
    rms = float(np.sqrt(np.median((off**2).sum(axis=1)) / 1.386 * 2))  # rms from a median
    return replace(card, misfit_mm=rms / float(card.scale().mean()))


def _checked(card: CardMap) -> CardMap:
    if card.misfit_mm > BENT_MM:
        raise PhotoError(BENT)
    if card.tilt() > STEEPEST:
        raise PhotoError(STEEP)
    return card


def map_from_touches(touches: FloatArray, frame: Box, size: tuple[int, int]) -> CardMap:
    """The map of a card drawn by hand, from the four corners of its pencil frame.

    touches: (4, 2) pixels in the photo, first the upper left corner as the card is read, then
    clockwise. frame: the pencil frame in mm. size: width, height. Raises PhotoError if the four
    do not make a frame.
    """
    px = np.asarray(touches, dtype=np.float64)
    if px.shape != (4, 2) or not ((px >= -1.0) & (px <= np.array(size))).all():
        raise PhotoError(TOUCH)
    turns = np.roll(px, -1, axis=0) - px
    after = np.roll(turns, -1, axis=0)
    if (turns[:, 0] * after[:, 1] - turns[:, 1] * after[:, 0]).min() <= 0.0:
        raise PhotoError(TOUCH)
    homography = cv2.getPerspectiveTransform(
        frame.corners.astype(np.float32), px.astype(np.float32)
    )
    card = CardMap(np.asarray(homography, dtype=np.float64), 0.0, size, 0.0)
    if not card.tilt() <= STEEPEST:
        raise PhotoError(SKEWED)
    return card
