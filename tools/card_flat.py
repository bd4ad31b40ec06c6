"""What lies flat before the camera: the card with its swatches, a chart, the table.

Everything is drawn in the camera's own raw colours under its light, white paper near 1, so
that only three numbers per pixel are carried; the spectra are summed before.
"""

from dataclasses import dataclass
from functools import cache
from typing import Final

import colour
import cv2
import numpy as np
from numpy.typing import NDArray

from card_camera import Camera, Light, Pixels, smooth_field, smooth_spectra
from card_optics import Floats
from card_painter import DENSITY, PaintedCard, Patch
from firstwash.card.layout import (
    COLUMNS,
    HEIGHT_MM,
    MARKERS,
    WIDTH_MM,
    Box,
    place_name,
    slot_box,
    swatch_box,
)
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM

__all__ = ["Flat", "beside", "draw_card", "draw_chart", "draw_table", "office_paper", "raw_of"]

SHEET_MARGIN: Final = 9.0  # mm of office paper around the card
TABLE: Final = 1100  # pixels of the piece of table that is drawn, mirrored beyond
TABLE_DENSITY: Final = 3.0  # pixels per mm of it
CHART_PATCH: Final = (11.0, 14.0)  # mm
LINE_MM: Final = 4.0  # from a window's upper edge down to the pen line
BLACK: Final = 0.048  # reflectance of toner, of the pen's ink and of the chart's board


@dataclass(frozen=True, eq=False)
class Flat:
    """Something flat on the table.

    pixels: (rows, cols, 3) raw red, green, blue, 1 for perfect white. density: pixels per mm.
    to_own: (3, 3) from mm on the card to mm from its own upper left corner.
    """

    pixels: Pixels
    density: float
    to_own: Floats


def raw_of(camera: Camera, reflectance: Floats) -> Pixels:
    """(..., 3) raw of reflectance (..., 36), 1 for perfect white."""
    return np.asarray(reflectance @ camera.sees, np.float32)


def office_paper(light: Light) -> Floats:
    """(36,) of white copy paper: it glows blue where the light has violet to spare."""
    nm = WAVELENGTHS_NM.astype(float)
    violet = light.spectrum[:4].mean() / light.spectrum[4:].mean()
    base = 0.90 - 0.25 * np.exp(-(nm - 380) / 18.0) + 0.01 * (nm - 550) / 180
    return np.asarray(base + 0.10 * min(violet, 1.2) * np.exp(-(((nm - 440) / 20.0) ** 2)))


@cache
def _printed(rows: int) -> NDArray[np.uint8]:
    """(rows, cols) how much black toner lies on the frame, 0 to 255."""
    d = DENSITY
    ink = np.zeros((round(HEIGHT_MM * d), round(WIDTH_MM * d)), np.uint8)
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    for number, box in MARKERS.items():
        size, x, y = round(box.width * d), round(box.x * d), round(box.y * d)
        ink[y : y + size, x : x + size] = 255 - cv2.aruco.generateImageMarker(family, number, size)
    _write(ink, "Swatch card", 17.0, 6.5, 1.6, 235)
    for row in range(rows):
        slot = slot_box(row)
        _write(ink, place_name(row, 0)[0] + "  paint and water", slot.x, slot.y - 4.6, 0.95, 150)
        for column in range(COLUMNS):
            box = swatch_box(row, column)
            _write(ink, place_name(row, column), box.x + 1.8, slot.y - 1.4, 0.7, 130)
            for tick in (box.x, box.x + box.width):
                top = (round(tick * d), round((slot.y - 0.9) * d))
                cv2.line(ink, top, (top[0], round(slot.y * d)), 140, 2)
    return np.asarray(cv2.GaussianBlur(ink, (0, 0), 0.8), np.uint8)


def _write(ink: NDArray[np.uint8], text: str, x: float, y: float, size: float, grey: int) -> None:
    where = (round(x * DENSITY), round(y * DENSITY))
    cv2.putText(ink, text, where, cv2.FONT_HERSHEY_SIMPLEX, size, grey, 2, cv2.LINE_AA)


def draw_card(card: PaintedCard, camera: Camera, light: Light) -> Flat:
    """The frame with its windows and everything in them."""
    rng = np.random.default_rng(card.seed)  # the same paper and pen in every photo of a card
    white = raw_of(camera, office_paper(light))
    toner = raw_of(camera, np.full(N_BANDS, BLACK))
    cover = _printed(len(card.rows)).astype(np.float32)[..., None] / np.float32(255)
    pixels = white + cover * (toner - white)
    for row in range(len(card.rows)):
        _draw_window(pixels, card, row, camera, rng)
    margin = round(SHEET_MARGIN * DENSITY)
    wide = np.empty((pixels.shape[0] + 2 * margin, pixels.shape[1] + 2 * margin, 3), np.float32)
    wide[:] = white
    wide[margin:-margin, margin:-margin] = pixels
    shift = np.eye(3)
    shift[:2, 2] = SHEET_MARGIN
    return Flat(wide, DENSITY, shift)


def _pixel_box(box: Box) -> tuple[slice, slice]:
    x, y = round(box.x * DENSITY), round(box.y * DENSITY)
    return slice(y, y + round(box.height * DENSITY)), slice(x, x + round(box.width * DENSITY))


def _draw_window(
    pixels: Pixels, card: PaintedCard, row: int, camera: Camera, rng: np.random.Generator
) -> None:
    slot = slot_box(row)
    area = pixels[_pixel_box(slot)]
    relief = 1 + 0.006 * smooth_field(rng, area.shape[:2], slot.width / 0.5)
    strip = np.empty_like(area)
    strip[:] = raw_of(camera, card.paper)
    pen = _pen(rng, area.shape[:2])
    ink = raw_of(camera, np.full(N_BANDS, BLACK))
    strip += pen * (ink - strip)
    for column in range(COLUMNS):
        patch = card.patches.get(place_name(row, column))
        if patch is not None:
            _lay(strip, pen, patch, slot, camera)
    strip *= relief[..., None]
    area[:] = _cut_out(rng, strip, area)


def _pen(rng: np.random.Generator, shape: tuple[int, int]) -> Pixels:
    """(rows, cols, 1) share covered by a hand-drawn line across the window."""
    line = np.zeros(shape, np.uint8)
    x = np.arange(0, shape[1] + 40, 20)
    wobble = np.cumsum(rng.normal(0, 0.05, len(x)))
    wobble = np.clip(wobble - np.linspace(wobble[0], wobble[-1], len(x)), -0.7, 0.7)
    y = (LINE_MM + rng.normal(0, 0.25) + wobble + rng.normal(0, 0.15) * x / shape[1]) * DENSITY
    points = np.round(np.stack([x - 10, y], axis=1) * 16).astype(np.int32)
    width = round(rng.uniform(1.0, 1.4) * DENSITY)
    cv2.polylines(line, [points], False, 255, width, cv2.LINE_AA, shift=4)
    soft = cv2.GaussianBlur(line, (0, 0), 1.0)
    return soft[..., None].astype(np.float32) / np.float32(255)


def _lay(strip: Pixels, pen: Pixels, patch: Patch, slot: Box, camera: Camera) -> None:
    """Put a swatch into its window, over paper and pen line."""
    colours = patch.colours @ camera.sees.astype(np.float32)
    y = round((patch.box.y - slot.y) * DENSITY)
    x = round((patch.box.x - slot.x) * DENSITY)
    rows, cols = patch.levels[0].shape
    top, left = max(0, -y), max(0, -x)
    bottom, right = min(rows, strip.shape[0] - y), min(cols, strip.shape[1] - x)
    inner = (slice(top, bottom), slice(left, right))
    place = strip[y + top : y + bottom, x + left : x + right]
    levels = tuple(v[inner] for v in patch.levels)
    painted = colours[levels]
    line = pen[y + top : y + bottom, x + left : x + right]
    if line.any():
        on_ink = patch.on_ink @ camera.sees.astype(np.float32)
        steps = len(patch.on_ink) - 1
        upper = levels[-1].astype(np.int64) * steps // (len(patch.colours) - 1)
        painted = painted + line * (on_ink[upper] - painted)
    bare = np.ones(painted.shape[:2], bool)
    for v in levels:
        bare &= v == 0
    place[:] = np.where(bare[..., None], place, painted)


def _cut_out(rng: np.random.Generator, strip: Pixels, frame: Pixels) -> Pixels:
    """The strip seen through a window cut by hand, whose edge throws a thin shadow."""
    rows, cols = strip.shape[:2]
    mask = np.zeros((rows, cols), np.uint8)
    off = rng.normal(0, 0.12, (4, 2)) * DENSITY
    corners = np.array([[0, 0], [cols, 0], [cols, rows], [0, rows]]) + off
    cv2.fillPoly(mask, [np.round(corners * 16).astype(np.int32)], 255, cv2.LINE_AA, shift=4)
    open_ = mask.astype(np.float32)[..., None] / np.float32(255)
    side = rng.normal(0, 1, 2)
    side *= 0.25 * DENSITY / np.linalg.norm(side)
    moved = np.array([[1, 0, side[0]], [0, 1, side[1]]])
    lit = cv2.warpAffine(mask, moved, (cols, rows), borderValue=0)
    lit = cv2.GaussianBlur(lit, (0, 0), 1.2).astype(np.float32)[..., None] / np.float32(255)
    return np.asarray(frame + open_ * (strip * (0.6 + 0.4 * lit) - frame))


# ------------------------------------------------------------------ chart and table


@cache
def _chart_spectra() -> Floats:
    """(24, 36) of the 24-patch chart [ISO17321-1], in reading order, black last."""
    tables = colour.SDS_COLOURCHECKERS["ISO 17321-1"].values()
    return np.array([np.interp(WAVELENGTHS_NM, t.wavelengths, t.values) for t in tables])


def draw_chart(camera: Camera, rng: np.random.Generator, place: Floats) -> tuple[Flat, float]:
    """A chart of 4 × 6 patches with black gaps; its raster and the size of a patch in mm."""
    size = rng.uniform(*CHART_PATCH)
    gap, d = 0.16 * size, DENSITY
    width, height = 6 * size + 7 * gap + 4, 4 * size + 5 * gap + 4
    pixels = np.empty((round(height * d), round(width * d), 3), np.float32)
    pixels[:] = raw_of(camera, np.full(N_BANDS, BLACK))
    colours = raw_of(camera, _chart_spectra())
    for i, rgb in enumerate(colours):
        x, y = 2 + gap + (i % 6) * (size + gap), 2 + gap + (i // 6) * (size + gap)
        pixels[_pixel_box(Box(x, y, size, size))] = rgb
    return Flat(pixels, d, place), size


def beside(rng: np.random.Generator) -> tuple[Floats, Floats]:
    """(3, 3) card mm → chart mm of a chart beside the card, and its corners' (4, 2) card mm."""
    long, short = 104.0, 72.0
    right = rng.random() < 0.5
    turn = np.radians(rng.normal(90 if right else 0, 3) + (180 if rng.random() < 0.3 else 0))
    if right:
        centre = np.array([WIDTH_MM + SHEET_MARGIN + 6 + 0.5 * short, rng.uniform(70, 180)])
    else:
        centre = np.array([rng.uniform(60, 126), HEIGHT_MM + SHEET_MARGIN + 6 + 0.5 * short])
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    to_card = np.eye(3)
    to_card[:2, :2] = spin
    to_card[:2, 2] = centre - spin @ (0.5 * np.array([long, short]))
    box = np.array([[0, 0, 1], [long, 0, 1], [long, short, 1], [0, short, 1]])
    return np.asarray(np.linalg.inv(to_card), float), (box @ to_card.T)[:, :2]


def _wood(rng: np.random.Generator) -> tuple[Pixels, Floats]:
    lines = smooth_field(rng, (TABLE, TABLE // 16), TABLE / 5)
    drawn_out = cv2.resize(lines, (TABLE, TABLE), interpolation=cv2.INTER_CUBIC)
    grain = 0.8 * drawn_out + 0.3 * smooth_field(rng, (TABLE, TABLE), 60)
    rise = np.linspace(0, 1, N_BANDS)
    return grain, np.array([0.06 + 0.25 * rise, 0.18 + 0.42 * rise]) * rng.uniform(0.6, 1.2)


def _cloth(rng: np.random.Generator) -> tuple[Pixels, Floats]:
    check = np.sin(np.arange(TABLE) / rng.uniform(8, 30)).astype(np.float32)
    grain = 1.5 * np.sign(check[:, None] * check[None])
    return grain + 0.2 * smooth_field(rng, (TABLE, TABLE), 60), smooth_spectra(rng, 2)


def _plain(rng: np.random.Generator, base: Floats) -> tuple[Pixels, Floats]:
    return smooth_field(rng, (TABLE, TABLE), 60), base * np.array([[0.97], [1.03]])


def draw_table(camera: Camera, rng: np.random.Generator) -> tuple[Flat, str]:
    """A large piece of table, and of what kind: wood, one colour, grey, checked cloth."""
    kind = str(rng.choice(["wood", "plain", "grey", "cloth"]))
    if kind in ("wood", "cloth"):
        grain, two = (_wood if kind == "wood" else _cloth)(rng)
    else:
        grey = np.full((1, N_BANDS), rng.uniform(0.1, 0.6))
        grain, two = _plain(rng, smooth_spectra(rng, 1) if kind == "plain" else grey)
    mix = (0.5 + 0.25 * np.clip(grain, -2, 2))[..., None]
    first, second = raw_of(camera, np.clip(two, 0.02, 0.9))
    pixels = np.asarray(first + mix * (second - first), np.float32)
    angle = rng.uniform(0, 2 * np.pi)
    own = np.eye(3)
    own[:2, :2] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
    own[:2, 2] = 0.5 * TABLE / TABLE_DENSITY
    return Flat(np.maximum(pixels, 0.01), TABLE_DENSITY, own), kind
