"""Made-up phone photos of half-painted watercolours on a board.

    photo = progress_photo(plan, Hand(seed=7), done=2, rng=np.random.default_rng(1))
    photo.jpeg, photo.to_photo(mm), photo.truth.ratios

The sheet has a bare margin and may be held by tape. Table, light, lens and phone are those of
`board_scene`. Millimetres are those of the picture, its upper left corner (0, 0), its margin
below 0; pixel centres have whole coordinates, column first.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from card_camera import (
    Camera,
    Pixels,
    develop,
    jpeg,
    local_gain,
    random_camera,
    random_light,
    smooth_field,
)
from card_flat import Flat, draw_table, raw_of
from card_optics import Floats
from card_scene import falling_light, put, spread
from card_view import View, random_view, where_pixels_lie
from easel_hand import Hand
from easel_sheet import Painting, Truth, painting
from easel_spoil import Spoil, cover_by_hand, shaken, wet
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.plan.result import Plan

__all__ = ["ProgressPhoto", "progress_photo"]

PPMM: Final = 5.0  # of the painted sheet
MARGIN_MM: Final = (8.0, 25.0)
STEEPEST: Final = 35.0  # degrees of tilt
ASKEW: Final = 30.0  # degrees of turn
BARE: Final = (0.80, 0.96)  # encoded value at which bare paper lands
NIGHT: Final = (4.0, 5.0)  # stops
MOST_LEFT: Final = 0.67  # share of a sheet that a cropped photo shows
TINY: Final = 400  # pixels of the longer side
RELIEF: Final = 0.015  # of the paper's tooth in slanting light
WET_SHARE: Final = (0.12, 0.4)  # of the picture
TAPE_MM: Final = 20.0


@dataclass(frozen=True, eq=False)
class ProgressPhoto:
    """A photo and what is true of it. to_photo: (n, 2) mm on the picture → (n, 2) pixels of the
    photo. truth: of the sheet in it. facts: all that was drawn.
    """

    jpeg: bytes
    facts: dict[str, Any]
    to_photo: Callable[[Floats], Floats]
    truth: Truth


@dataclass(frozen=True, eq=False)
class _Scene:
    """A sheet with its margin before the camera; corners (4, 2) in mm from the sheet's own."""

    sheet: Painting
    margin_mm: float
    camera: Camera
    spoil: Spoil | None

    @property
    def size_mm(self) -> Floats:
        rows, cols = self.sheet.number.shape
        return np.array([cols, rows]) / self.sheet.ppmm + 2 * self.margin_mm

    @property
    def corners(self) -> Floats:
        wide, high = self.size_mm
        return np.array([[0, 0], [wide, 0], [wide, high], [0, high]])

    @property
    def paper(self) -> Pixels:
        return raw_of(self.camera, np.asarray(self.sheet.plan.paper.reflectance))

    def flat(self, rng: np.random.Generator) -> Flat:
        """The sheet in raw colours."""
        picture = self.sheet.colours(self.camera.sees)
        if self.spoil == "glare":
            picture = wet(picture, _wet_places(self.sheet, rng), rng)
        ppmm = self.sheet.ppmm
        edge = round(self.margin_mm * ppmm)
        whole = np.empty((picture.shape[0] + 2 * edge, picture.shape[1] + 2 * edge, 3), np.float32)
        whole[:] = self.paper
        whole[edge:-edge, edge:-edge] = picture
        tooth = smooth_field(rng, whole.shape[:2], max(self.size_mm) / 0.8)
        whole *= 1 + np.float32(RELIEF) * tooth[..., None]
        shift = np.eye(3)  # the margin in whole pixels
        shift[:2, 2] = edge / ppmm - self.margin_mm
        return Flat(whole, ppmm, shift)


def _wet_places(sheet: Painting, rng: np.random.Generator) -> Pixels:
    """(rows, cols) 0-1: the cells that were painted last, as many as make up some of the sheet."""
    areas = sheet.plan.cells.areas_mm2()
    wanted, share = rng.uniform(*WET_SHARE) * areas.sum(), 0.0
    own = np.zeros(len(areas), np.float32)
    for cell in rng.permutation(np.flatnonzero(areas > 0.01 * areas.sum())):
        own[cell] = 1.0
        share += areas[cell]
        if share > wanted:
            break
    there = cv2.resize(own[sheet.plan.cells.index], sheet.number.shape[::-1])
    return np.asarray(cv2.GaussianBlur(there, (0, 0), sheet.ppmm))


# ------------------------------------------------------------------ camera and tape


def _view(
    scene: _Scene, rng: np.random.Generator, megapixels: float
) -> tuple[View, dict[str, Any]]:
    """A view in which the sheet stands upright, unless the spoiler wants it otherwise."""
    aim = {"upside-down": 180.0, "sideways": float(rng.choice([90, 270]))}.get(
        scene.spoil or "", 0.0
    )
    while True:
        corners = _kept(scene, rng) if scene.spoil == "cropped" else scene.corners
        view, facts = random_view(rng, megapixels, corners)
        off = abs((facts["turn"] - aim + 180) % 360 - 180)
        shown = scene.spoil != "cropped" or _shown(scene, view) < MOST_LEFT
        if facts["tilt"] <= STEEPEST and off <= ASKEW and shown:
            return view, facts


def _kept(scene: _Scene, rng: np.random.Generator) -> Floats:
    """(4, 2) corners of a part of the sheet."""
    kept = np.array([1.0, 1.0])
    kept[int(rng.integers(2))] = rng.uniform(0.35, MOST_LEFT)
    return np.asarray(scene.corners * kept + rng.integers(2) * (1 - kept) * scene.size_mm)


def _shown(scene: _Scene, view: View) -> float:
    """Share of the sheet that lies in the photo."""
    grid = np.stack(np.meshgrid(*(np.linspace(0, side, 24) for side in scene.size_mm)), axis=-1)
    seen = view.to_photo(grid.reshape(-1, 2))
    return float(((seen >= 0) & (seen < (view.width, view.height))).all(axis=1).mean())


def _tape(scene: _Scene, rng: np.random.Generator) -> tuple[str, list[Flat]]:
    """How the sheet is held: not at all, by its corners, or all round; and the strips."""
    kind = str(rng.choice(["none", "corners", "around"], p=[0.4, 0.3, 0.3]))
    nm = WAVELENGTHS_NM.astype(float)
    cream = 0.72 - 0.30 * np.exp(-(nm - 380) / 90.0)
    blue = 0.12 + 0.45 * np.exp(-(((nm - 470) / 45) ** 2)) + 0.1 * (nm > 690)
    raw = raw_of(scene.camera, cream if rng.random() < 0.7 else blue)
    wide, high = scene.size_mm
    over = rng.uniform(2.0, 0.4 * scene.margin_mm)  # how much of the margin it hides
    middle = 0.5 * TAPE_MM - over
    strips: list[tuple[float, float, float, float]] = []
    if kind == "corners":
        strips = [(x, y, 60.0, a) for x, y, a in (
            (0, 0, -45), (wide, 0, 45), (wide, high, -45), (0, high, 45),
        )]  # fmt: skip
    elif kind == "around":
        strips = [
            (0.5 * wide, -middle, wide + 30, 0), (0.5 * wide, high + middle, wide + 24, 0),
            (-middle, 0.5 * high, high + 36, 90), (wide + middle, 0.5 * high, high + 20, 90),
        ]  # fmt: skip
    return kind, [_strip(raw, rng, *s) for s in strips]


def _strip(
    raw: Pixels, rng: np.random.Generator, x: float, y: float, long: float, turn: float
) -> Flat:
    """A strip of tape whose middle lies at x, y mm."""
    angle = np.radians(turn + rng.normal(0, 0.4))
    c, s = np.cos(angle), np.sin(angle)
    pixels = np.empty((round(TAPE_MM * 3), round(long * 3), 3), np.float32)
    pixels[:] = raw
    pixels *= 1 + np.float32(0.02) * smooth_field(rng, pixels.shape[:2], 200)[..., None]
    own = np.array([[c, s, 0.0], [-s, c, 0.0], [0, 0, 1]])
    own[:2, 2] = np.array([0.5 * long, 0.5 * TAPE_MM]) - own[:2, :2] @ (x, y)
    return Flat(pixels, 3.0, own)


def _exposed(scene: _Scene, falling: Pixels, rng: np.random.Generator) -> float:
    """Scale that brings bare paper to a usual value, less where its lightest place would clip."""
    camera = scene.camera
    paper = (scene.paper * camera.balance) @ camera.matrix.T
    brightest = np.quantile(falling.max(axis=2), 0.98) * paper.max()
    middle = float(np.median(falling)) * paper.mean()
    usual = camera.exposure(float(rng.uniform(*BARE))) / middle
    return float(min(usual, camera.exposure(0.985) / brightest))


# ------------------------------------------------------------------ the photo


def progress_photo(
    plan: Plan,
    hand: Hand,
    done: int,
    rng: np.random.Generator,
    megapixels: float = 12.0,
    *,
    spoil: Spoil | None = None,
    other: Plan | None = None,
) -> ProgressPhoto:
    """A photo of the sheet after `done` layers by somebody with some phone in some light.

    spoil: what goes wrong, if anything. "other": the sheet of `other` is on the board instead;
    "empty": nothing is painted yet. The same rng gives the same photo otherwise. Raises ValueError
    where "other" is asked for without the other plan.
    """
    if spoil == "other":
        if other is None:
            raise ValueError("Give the plan of the other painting.")
        plan, done = other, min(done, other.layers)
    sheet = painting(plan, hand, 0 if spoil == "empty" else done, PPMM)
    draws = [np.random.default_rng(s) for s in rng.integers(2**63, size=6)]
    light = random_light(draws[0])
    camera = random_camera(draws[1], light)
    if spoil == "night":
        camera = replace(camera, noise=(9 * camera.noise[0], 3 * camera.noise[1]))
    scene = _Scene(sheet, float(draws[5].uniform(*MARGIN_MM)), camera, spoil)
    view, facts = _view(scene, draws[2], megapixels)
    picture, laid = _before_the_camera(scene, view, draws[3])
    pixels, more = _taken(scene, view, picture, draws[4])
    final, to_photo = _turned(pixels, scene, view)
    facts |= laid | more | {
        "light": light.kind, "kelvin": light.kelvin, "spoil": spoil, "done": sheet.done,
        "margin_mm": scene.margin_mm, "size": final.shape[1::-1],
    }  # fmt: skip
    return ProgressPhoto(jpeg(final, camera.space), facts, to_photo, sheet.truth)


def _before_the_camera(
    scene: _Scene, view: View, rng: np.random.Generator
) -> tuple[Pixels, dict[str, Any]]:
    """Board, sheet and tape in raw colours."""
    where = where_pixels_lie(view)
    board, kind = draw_table(scene.camera, rng)
    picture = spread(where, board)
    put(picture, where, view, scene.flat(rng))
    tape, strips = _tape(scene, rng)
    for strip in strips:
        put(picture, where, view, strip)
    facts: dict[str, Any] = {"table": kind, "tape": tape}
    if scene.spoil == "hand":
        picture, facts["hidden"] = cover_by_hand(picture, scene.camera, rng)
    return picture, facts


def _taken(
    scene: _Scene, view: View, picture: Pixels, rng: np.random.Generator
) -> tuple[NDArray[np.uint8], dict[str, Any]]:
    """The photo (rows, cols, 3) that the phone makes of it; picture is used up."""
    camera = scene.camera
    falling, facts = falling_light(rng, camera, view)
    scale = _exposed(scene, falling, rng)
    small = cv2.resize(picture, falling.shape[1::-1], interpolation=cv2.INTER_AREA) * falling
    falling *= local_gain(small, camera.local)[..., None]
    cv2.multiply(picture, cv2.resize(falling, picture.shape[1::-1]), dst=picture)
    if scene.spoil == "blur":
        picture, facts["shake_mm"] = shaken(picture, _per_mm(scene, view), rng)
    if scene.spoil == "night":
        facts["stops"] = float(rng.uniform(*NIGHT))
        scale *= 0.5 ** facts["stops"]
    return develop(camera, picture, scale, rng), facts


def _per_mm(scene: _Scene, view: View) -> float:
    """Pixels of the photo per mm in the sheet's middle."""
    middle = 0.5 * scene.size_mm
    ends = view.to_photo(np.array([middle - 5.0, middle + 5.0]))
    return float(np.linalg.norm(ends[1] - ends[0]) / np.hypot(10, 10))


def _turned(
    pixels: NDArray[np.uint8], scene: _Scene, view: View
) -> tuple[NDArray[np.uint8], Callable[[Floats], Floats]]:
    """The photo mirrored or made tiny where that is asked, and where the picture lies in it."""
    high, wide = pixels.shape[:2]
    mirrored, factor = scene.spoil == "mirrored", np.ones(2)
    if mirrored:
        pixels = np.ascontiguousarray(pixels[:, ::-1])
    if scene.spoil == "tiny" and max(high, wide) > TINY:
        less = TINY / max(high, wide)
        size = round(wide * less), round(high * less)
        factor = np.array(size) / (wide, high)  # whole pixels, so not quite the same for both
        pixels = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)

    def to_photo(mm: Floats) -> Floats:
        seen = view.to_photo(np.asarray(mm, float) + scene.margin_mm)
        if mirrored:
            seen = np.array([wide - 1, 0]) + seen * (-1, 1)
        return np.asarray((seen + 0.5) * factor - 0.5)

    return pixels, to_photo
