"""A photo of the unfinished sheet laid over the plan, in the light of bare paper, or refused.

Photos that would mislead are refused in one sentence: what shows nothing of this painting, what is
too small, too dark, blurred or burnt out, what leaves a part of the sheet out, or paint still wet.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.easel.flat_sheet import flatten
from firstwash.easel.looked_at import LookedAt, drawn, frames, likeness_in_colour, look, upright
from firstwash.easel.margin_light import MarginLight, Samples, margin_samples
from firstwash.easel.sheet_corners import find_sheet, sheet_at
from firstwash.errors import PhotoError
from firstwash.laid.first_place import first_place
from firstwash.laid.register import BORDER_MM, GUESS_MM, Placed, place
from firstwash.laid.seen import bare_boxes, glare
from firstwash.laid.sharpness import edge_width
from firstwash.language import tr
from firstwash.picture.plane_map import PlaneMap
from firstwash.plan.bench import Bench
from firstwash.plan.result import Plan

__all__ = ["SheetPhoto", "sheet_photo"]

# Own judgement, tried on made-up photos (tools/easel_trials.py).
LEAST_PX: Final = 600.0  # of the sheet's longer side
DARK: Final = 0.05  # linear light of bare paper
BURNT_SHARE: Final = 0.3  # of the margin
UNEVEN: Final = 2.5  # greatest over least light on the sheet
BLURRED_MM: Final = 1.6  # of the sheet's own edge from 10 to 90 %
BLURRED_PX: Final = 4.0  # a photo may show no better than its pixels
LIKE: Final = 0.45  # correlation of lightness with the stage expected
SURELY: Final = 0.95  # likeness from which a border is the right one
BETTER: Final = 0.05  # by how much more alike the slid place must be than a border's
ENOUGH: Final = 10  # pieces, from which on
AGREE: Final = 0.5  # share of pieces that lie where the common map says
OFF_MM: Final = 1.3  # standard error of that map
MIRRORED: Final = 0.12  # by how much more alike a mirrored sheet must be
EMPTY: Final = 0.25  # share of the darkening expected below which nothing was painted
SHINE: Final = 0.012  # share of the picture that may shine
GONE: Final = 0.02  # share of the picture that may be outside the photo
ODD_SHARE: Final = 0.2  # of the margin


@dataclass(frozen=True, eq=False)
class SheetPhoto:
    """The sheet as the plan sees it.

    picture: float32 (rows, cols, 3) linear light on the plan's own pixels, bare paper's as the
    plan has it, NaN beyond the photo. hidden: (rows, cols) what shines or cannot be seen. placed:
    how well it was laid over the plan. turns: quarter turns until it was upright. light: uneven by
    so many times. notes: whole sentences on what may be off.
    """

    picture: NDArray[np.float32]
    hidden: NDArray[np.bool_]
    placed: Placed
    turns: int
    uneven: float
    notes: tuple[str, ...]


def sheet_photo(
    linear: NDArray[np.float32], plan: Plan, done: int, touches: FloatArray | None = None
) -> SheetPhoto:
    """A photo (rows, cols, 3) of linear light, taken after `done` layers are dry.

    touches: (4, 2) pixels of the sheet's corners, upper left first, then clockwise.
    Raises PhotoError, one sentence, for a photo that shows no sheet or would mislead.
    """
    seen = find_sheet(linear) if touches is None else sheet_at(linear, touches)
    expected = plan.stage_xyz[done]
    turns = upright(linear, seen, expected) if touches is None else 0
    looked = look(linear, seen, turns)
    _check_size(looked)
    _check_sharp(linear, looked)
    size = plan.sheet.width_mm, plan.sheet.height_mm
    _check_exposed(looked)
    plane, first = _first_map(linear, looked, size, expected)
    _check_like(linear, looked, plane, size, expected, plan)
    placed = place(linear, plane, expected, plan.cells.ppmm, first)
    astray = placed.pieces >= ENOUGH and placed.agree < AGREE
    if astray or placed.error_mm > OFF_MM:
        raise PhotoError(
            tr(
                "The photo could not be laid over the plan; take it squarely from above, with all "
                "of the sheet and some of the board in it."
            )
        )
    light, notes = _light(looked, placed.plane, size, plan, done)
    ppmm = plan.cells.ppmm
    paper = Bench.of([], plan.paper).white_xyz()
    picture = drawn(linear, looked, light, paper, placed.plane, (0.0, 0.0, *size), ppmm)
    rows, cols = plan.cells.index.shape
    picture = np.asarray(cv2.resize(picture, (cols, rows), interpolation=cv2.INTER_LINEAR))
    gone = _gone(linear, placed.plane, size, (rows, cols))
    if gone.mean() > GONE:
        raise PhotoError(tr("A part of the sheet is outside the photo; take all of it."))
    shine = glare(plan, done, picture)
    if shine.mean() > SHINE:
        raise PhotoError(
            tr(
                "The paint shines: it is wet, or a lamp is mirrored in it; let it dry, turn away "
                "from the lamp and photograph it again."
            )
        )
    return SheetPhoto(picture, gone | shine, placed, turns, light.uneven, tuple(notes))


def _first_map(
    linear: NDArray[np.float32], looked: LookedAt, size: tuple[float, float], expected: FloatArray
) -> tuple[PlaneMap, float]:
    """By the border of the paint, or slid to its place; and mm that its corners may be off.

    The outermost straight line may be one within the picture, beside white: then what lies
    there is less like the plan than what is found by sliding.
    """

    def like(plane: PlaneMap) -> float:
        return likeness_in_colour(flatten(linear, plane, (0.0, 0.0, *size), 1.0), expected)

    bordered = None if looked.area is None else frames(looked, size)[0]
    if bordered is not None and (own := like(bordered)) > SURELY:
        return bordered, BORDER_MM
    slid = first_place(looked, size, expected)
    if bordered is None or like(slid) > own + BETTER:
        return slid, GUESS_MM
    return bordered, BORDER_MM


# --- reasons to refuse -----------------------------------------------------------


def _check_size(looked: LookedAt) -> None:
    corners = looked.edges()
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    if sides.max() < LEAST_PX:
        raise PhotoError(
            tr("The sheet is too small in the photo; go nearer, or send the photo in full size.")
        )


def _check_sharp(linear: NDArray[np.float32], looked: LookedAt) -> None:
    width_px, per_mm = edge_width(linear, looked)
    if width_px > max(BLURRED_MM * per_mm, BLURRED_PX):
        raise PhotoError(
            tr("The photo is blurred; hold the phone still, tap on the sheet and take it again.")
        )


def _check_exposed(looked: LookedAt) -> None:
    bright = float(np.percentile(np.nan_to_num(looked.flat).mean(axis=2), 95))
    if bright < DARK:
        raise PhotoError(
            tr("The photo is too dark to tell colours from; take it by daylight, or near a lamp.")
        )


def _check_like(
    linear: NDArray[np.float32], looked: LookedAt, plane: PlaneMap, size: tuple[float, float],
    expected: FloatArray, plan: Plan,
) -> None:  # fmt: skip
    flat = flatten(linear, plane, (0.0, 0.0, *size), 1.0)
    like = likeness_in_colour(flat, expected)
    paper = float(np.nanpercentile(np.nan_to_num(looked.flat).mean(axis=2), 95))
    darker = 1.0 - float(np.nanmean(flat)) / max(paper, 1e-6)
    white = Bench.of([], plan.paper).white_xyz()[1]
    meant = 1.0 - float(expected[..., 1].mean()) / float(white)
    if darker < EMPTY * meant and like < 2 * LIKE:
        raise PhotoError(tr("There is no paint on this sheet yet, or not what the plan has there."))
    mirrored = max(
        likeness_in_colour(np.ascontiguousarray(flat[::way, ::-way]), expected) for way in (1, -1)
    )
    if mirrored > max(LIKE, like + MIRRORED):
        raise PhotoError(
            tr("The photo is mirrored, as selfies are; take it with the camera at the back.")
        )
    if like < LIKE:
        raise PhotoError(
            tr("This does not look like the plan's painting; choose its photo, or its plan.")
        )


def _gone(
    linear: NDArray[np.float32], plane: PlaneMap, size: tuple[float, float], shape: tuple[int, int]
) -> NDArray[np.bool_]:
    across, down = plane.pixel_maps(*(np.arange(0.5, end, 1.0) for end in size))
    rows, cols = linear.shape[:2]
    beyond = (across < 0) | (across > cols - 1) | (down < 0) | (down > rows - 1)
    large = cv2.resize(np.asarray(beyond, np.uint8), shape[::-1], interpolation=cv2.INTER_NEAREST)
    return np.asarray(large > 0)


# --- light -----------------------------------------------------------------------


def _light(
    looked: LookedAt, plane: PlaneMap, size: tuple[float, float], plan: Plan, done: int
) -> tuple[MarginLight, list[str]]:
    """From the margin round the picture, and from what stays bare within it."""
    ppmm = looked.ppmm
    unit = np.array([[0.0, 0.0], [size[0], 0.0], size, [0.0, size[1]]])
    onto = np.linalg.inv(looked.plane.homography) @ plane.homography
    corners = cv2.perspectiveTransform(unit[None].astype(np.float64), onto)[0]
    margin = margin_samples(looked.flat, corners / ppmm, ppmm)
    if margin.burnt_share > BURNT_SHARE:
        raise PhotoError(
            tr(
                "The paper is burnt out in the photo, so its white cannot be told; photograph it a "
                "little darker."
            )
        )
    samples = _joined(margin, _bare_inside(looked, onto, plan, done))
    light = MarginLight.of(samples)
    if light is None:
        raise PhotoError(
            tr(
                "Too little bare margin shows round the picture to judge the light from; keep "
                "hands and things off it, and leave a centimetre bare."
            )
        )
    if light.uneven > UNEVEN:
        raise PhotoError(
            tr("The light is too uneven; photograph the sheet further from the window or lamp.")
        )
    notes = []
    if light.odd[: len(margin.side)].mean() > ODD_SHARE:
        notes.append(
            tr(
                "A part of the margin is not simply bare paper: a shadow, a hand or paint; colours "
                "near it may be off."
            )
        )
    return light, notes


def _bare_inside(looked: LookedAt, onto: NDArray[np.float64], plan: Plan, done: int) -> Samples:
    """Samples of paper that the plan keeps bare so far, anywhere in the picture; side 4."""
    places, colours, burnt = [], [], []
    rows, cols = looked.flat.shape[:2]
    for x, y, half in bare_boxes(plan, done):
        ends = np.array([[[x - half, y - half], [x + half, y + half]]])
        (x0, y0), (x1, y1) = cv2.perspectiveTransform(ends, onto)[0]
        left, right = sorted((round(x0), round(x1)))
        top, bottom = sorted((round(y0), round(y1)))
        pixels = looked.flat[max(top, 0) : bottom, max(left, 0) : right].reshape(-1, 3)
        if len(pixels) < 6 or not np.isfinite(pixels).all():
            continue
        places.append(((x0 + x1) / cols - 1.0, (y0 + y1) / rows - 1.0))
        colours.append(np.median(pixels, axis=0))
        burnt.append(bool((pixels.max(axis=1) >= 0.985).mean() > 0.2))
    count = len(places)
    return Samples(
        np.array(places, dtype=np.float64).reshape(-1, 2), np.full(count, 4, dtype=np.int64),
        np.array(colours, dtype=np.float64).reshape(-1, 3), np.array(burnt, dtype=np.bool_),
    )  # fmt: skip


def _joined(one: Samples, other: Samples) -> Samples:
    return Samples(
        np.concatenate([one.place, other.place]), np.concatenate([one.side, other.side]),
        np.concatenate([one.colour, other.colour]), np.concatenate([one.burnt, other.burnt]),
    )  # fmt: skip
