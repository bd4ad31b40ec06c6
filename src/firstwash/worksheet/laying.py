"""From a scene to the reference the planner sees: photos set upright, laid out, edited."""

from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, triple
from firstwash.errors import PhotoError
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.optics.surface import Paper
from firstwash.picture.arrange import Laid, Placement, arranged
from firstwash.picture.changes import Change, changed
from firstwash.picture.cutout import Stroke, cut_out
from firstwash.picture.load import load_photo, photo_size
from firstwash.picture.profile import srgb8_to_linear
from firstwash.picture.reference import (
    Reference,
    focal_rectangle,
    load_side,
    with_background,
    with_focal_area,
)
from firstwash.picture.sheet import CropBox, Sheet, crop_box, explicit_crop, parse_sheet
from firstwash.picture.upright import WHOLE, Turn, to_photo, turned, turned_size
from firstwash.picture.white_balance import Balance, balanced, neutral_balance
from firstwash.plan.bench import Bench
from firstwash.worksheet.brief import Area, Picture, Scene, SheetAsked

__all__ = [
    "Photographed",
    "background_mask",
    "crop_of",
    "lab_of_hex",
    "lay",
    "photographed",
    "sheet_of",
    "turn_of",
]

Fetch = Callable[[str], bytes]

MOST_SIDE: Final = 8000  # pixels: a crop of a sixth of a photo still fills a sheet at this size


class Photographed(NamedTuple):
    """One picture of a scene, set upright, as linear light (rows, cols, 3); not cropped."""

    linear: NDArray[np.float32]
    balance: Balance | None
    notes: tuple[str, ...]


def turn_of(picture: Picture) -> Turn:
    """How the picture's photo is set upright."""
    return Turn(picture.turns, picture.tilt, picture.mirrored)


def sheet_of(scene: Scene) -> Sheet:
    """The sheet, lying as asked. Raises SheetError for a size that is none."""
    asked, first = scene.sheet, scene.pictures[0]
    sheet = _plain_sheet(asked)
    wide, high = turned_size(*first.size, turn_of(first))
    if first.place is None and first.crop is not None:
        wide, high = round(wide * first.crop[2]), round(high * first.crop[3])
    if asked.lie == "as the photo":
        return sheet.oriented_for(max(wide, 1), max(high, 1))
    return sheet if sheet.landscape == (asked.lie == "across") else sheet.turned()


def _plain_sheet(asked: SheetAsked) -> Sheet:
    read = parse_sheet(asked.size)
    return Sheet(
        read.width_mm, read.height_mm, asked.weight_gsm, asked.surface, read.name, read.fixed
    )


def crop_of(picture: Picture, sheet: Sheet) -> CropBox:
    """The part of the turned picture, in its pixels, that fills the sheet."""
    wide, high = turned_size(*picture.size, turn_of(picture))
    if picture.crop is None:
        return crop_box(wide, high, sheet)
    box = explicit_crop(wide, high, picture.crop, unit="fraction")
    centre = ((box.x + box.width / 2) / wide, (box.y + box.height / 2) / high)
    return crop_box(wide, high, sheet, centre=centre, within=box)


def photographed(picture: Picture, fetch: Fetch, side: int) -> Photographed:
    """A picture's photo, balanced and set upright, at most `side` pixels on its longer side."""
    photo = load_photo(_source(picture, fetch), max_pixels_per_side=min(side, MOST_SIDE))
    linear, balance, turn = photo.linear, None, turn_of(picture)
    if picture.neutral is not None:
        there = to_photo(np.array(picture.neutral), turn, *picture.size)
        point = (float(np.clip(there[0], 0.0, 1.0)), float(np.clip(there[1], 0.0, 1.0)))
        balance = neutral_balance(linear, point)
        linear = balanced(linear, balance)
    return Photographed(turned(linear, turn), balance, photo.notes)


def _source(picture: Picture, fetch: Fetch) -> bytes:
    """The photo's file. Raises PhotoError if it is not of the size that places are told in."""
    source = fetch(picture.file)
    if photo_size(source) != picture.size:
        raise PhotoError("The photo is not the one it was; add it again.")
    return source


def lay(scene: Scene, fetch: Fetch, paper: Paper) -> Reference:
    """The scene as the planner sees it.

    Raises a FirstwashError that says what to change where a photo cannot be read, or a size,
    crop, mark or area makes no sense.
    """
    sheet = sheet_of(scene)
    reference = _laid_out(scene, sheet, fetch)
    reference = changed(reference, [_change(a) for a in scene.areas])
    if scene.background.treatment != "painted" or scene.background.marks:
        white = Bench.of([], paper).white_xyz()
        mask = background_mask(scene, reference)
        reference = with_background(reference, mask, scene.background.treatment, white)
    if scene.focal is not None:
        reference = with_focal_area(reference, focal_rectangle(reference, scene.focal))
    return reference


def background_mask(scene: Scene, reference: Reference) -> NDArray[np.float32]:
    """Where the background is: (rows, cols), 1 = background."""
    strokes = [Stroke(m.points, m.width, m.kind) for m in scene.background.marks]
    return cut_out(reference.lab, strokes)


def _laid_out(scene: Scene, sheet: Sheet, fetch: Fetch) -> Reference:
    pictures, first = [], scene.pictures[0]
    for picture in scene.pictures:
        if picture.place is None:
            pictures.append(_filling(picture, sheet, fetch))
        else:
            pictures.append(_placed(picture, sheet, fetch))
    crop = crop_of(first, sheet) if first.place is None else None
    px = (crop.width, crop.height) if crop is not None else first.size
    return arranged(sheet, pictures, photo_px=px)


def _filling(picture: Picture, sheet: Sheet, fetch: Fetch) -> Laid:
    """The picture that fills the sheet, cropped to its proportions."""
    crop, turn = crop_of(picture, sheet), turn_of(picture)
    wide, high = turned_size(*picture.size, turn)
    if turn == Turn() and picture.neutral is None:  # read only what is needed
        source = _source(picture, fetch)
        photo = load_photo(source, crop=crop, max_pixels_per_side=load_side(sheet))
        return Laid(photo.linear)
    whole = load_side(sheet) * max(wide, high) / max(crop.width, crop.height)
    linear = photographed(picture, fetch, round(whole)).linear
    box = (crop.x / wide, crop.y / high, crop.width / wide, crop.height / high)
    rows, cols = linear.shape[:2]
    return Laid(turned(linear, Turn(), _inside(box)) if rows and cols else linear)


def _inside(box: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    left, top = min(max(box[0], 0.0), 1.0), min(max(box[1], 0.0), 1.0)
    return left, top, min(box[2], 1.0 - left), min(box[3], 1.0 - top)


def _placed(picture: Picture, sheet: Sheet, fetch: Fetch) -> Laid:
    """A picture laid on a part of the sheet, cropped as asked."""
    place = picture.place
    assert place is not None
    crop = picture.crop or WHOLE
    side = round(load_side(sheet) * min(place.width, 1.0) / max(min(crop[2], crop[3]), 0.05))
    linear = photographed(picture, fetch, max(side, 64)).linear
    return Laid(turned(linear, Turn(), crop), Placement(place.left, place.top, place.width))


def _change(area: Area) -> Change:
    lab = None if area.colour is None else triple(lab_of_hex(area.colour))
    return Change(area.kind, area.outline, area.amount, lab)


def lab_of_hex(colour: str) -> FloatArray:
    """CIELAB (3,) of "#rrggbb" (sRGB)."""
    codes = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)], dtype=np.uint8)
    return xyz_to_lab(linear_srgb_to_xyz(srgb8_to_linear(codes)))
