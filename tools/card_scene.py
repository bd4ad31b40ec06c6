"""Made-up phone photos of a painted swatch card: the card on a table, the light, the lens.

    card = random_card(rng, ["PB29", "PR83"])
    photo = photograph(card, rng, target=True)

The card is drawn flat at 12 pixels per mm in the camera's own raw colours (white = 1), laid
on a table, seen in perspective through a slightly distorting lens, then lit and developed.
Millimetres are those of `firstwash.card.layout`; pixel centres have whole coordinates.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import cv2
import numpy as np

from card_camera import (
    Camera,
    Light,
    Pixels,
    develop,
    jpeg,
    local_gain,
    random_camera,
    random_light,
)
from card_flat import Flat, beside, draw_card, draw_chart, draw_table, raw_of
from card_optics import Floats
from card_painter import PaintedCard, random_card, unseen_stack
from card_pigments import KEYS
from card_spoil import blurred, cover, harm, left_over, random_glare, random_shadow
from card_view import View, random_view, where_pixels_lie
from firstwash.card.layout import HEIGHT_MM, ROWS, WIDTH_MM, Box

__all__ = [
    "KEYS", "PaintedCard", "Photo", "Spoil", "falling_light", "photograph", "put", "random_card",
    "spread", "unseen_stack",
]  # fmt: skip

Spoil = Literal["glare", "shadow", "blur", "half"]
Where = tuple[Pixels, Pixels]  # mm on the card of every pixel, x and y


@dataclass(frozen=True, eq=False)
class Photo:
    """A made-up photo: the file, what it was taken under, and where the card lies in it.

    card_to_photo: (n, 2) mm on the card → (n, 2) pixels of the upright photo, column and row.
    """

    jpeg: bytes
    conditions: dict[str, Any]
    card_to_photo: Callable[[Floats], Floats]


# ------------------------------------------------------------------ putting it together


def _part(view: View, flat: Flat) -> tuple[slice, slice]:
    """The pixels in which a flat thing can be seen."""
    rows, cols = (n / flat.density for n in flat.pixels.shape[:2])
    edge = np.linspace(0, 1, 9)
    own = np.concatenate(
        [[[e * cols, k * rows], [k * cols, e * rows]] for e in edge for k in (0, 1)]
    )
    there = cv2.perspectiveTransform(own[None], np.linalg.inv(flat.to_own))[0]
    seen = view.to_photo(there)
    low = np.maximum(np.floor(seen.min(axis=0)) - 2, 0).astype(int)
    high = np.minimum(np.ceil(seen.max(axis=0)) + 3, (view.width, view.height)).astype(int)
    return slice(low[1], high[1]), slice(low[0], high[0])


def _own(where: Where, flat: Flat) -> Where:
    """Where every pixel lies on a flat thing, in its pixels."""
    x, y = where
    m = flat.to_own * flat.density
    across, down = (cv2.addWeighted(x, r[0], y, r[1], r[2] - 0.5) for r in m[:2])
    return np.asarray(across, np.float32), np.asarray(down, np.float32)


def put(picture: Pixels, where: Where, view: View, flat: Flat) -> None:
    """Draw a flat thing over what the picture shows."""
    part = _part(view, flat)
    if not picture[part].size:  # it lies beyond the picture's rim
        return
    x, y = _own((where[0][part], where[1][part]), flat)
    rows, cols = flat.pixels.shape[:2]
    drawn = cv2.remap(flat.pixels, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    inside = np.minimum(np.minimum(x, cols - 1 - x), np.minimum(y, rows - 1 - y)) > 0
    cv2.copyTo(drawn, inside.astype(np.uint8), picture[part])


def spread(where: Where, table: Flat) -> Pixels:
    """The whole picture full of table."""
    x, y = _own(where, table)
    mirrored = cv2.BORDER_REFLECT
    return np.asarray(
        cv2.remap(table.pixels, x, y, cv2.INTER_LINEAR, borderMode=mirrored), np.float32
    )


def falling_light(
    rng: np.random.Generator, camera: Camera, view: View
) -> tuple[Pixels, dict[str, Any]]:
    """(rows, cols, 3) light on each pixel at 1/16 of the size: uneven, tinted, vignetted."""
    rows, cols = -(-view.height // 16), -(-view.width // 16)
    y, x = np.mgrid[0:rows, 0:cols].astype(np.float32)
    u, v = (x / cols - 0.5) * 2, (y / rows - 0.5) * 2
    angle, most = rng.uniform(0, 2 * np.pi), rng.uniform(0.03, 0.25)
    slope = np.cos(angle) * u + np.sin(angle) * v
    at = rng.uniform(-1, 1, 2)
    blob = np.exp(-(((u - at[0]) ** 2 + (v - at[1]) ** 2) / rng.uniform(0.5, 2.0)))
    uneven = most * (0.6 * slope + rng.uniform(-0.6, 0.6) * (blob - blob.mean()))
    aspect = np.hypot(u * cols, v * rows) / np.hypot(cols, rows)
    level = np.exp(uneven) * (1 - camera.vignette * aspect**2 * 0.9)
    tint = rng.normal(0, 0.02, 3) * (rng.random() < 0.3)
    toned = level[..., None] * (1 + tint * slope[..., None])
    return np.asarray(toned, np.float32), {"uneven": most, "mixed": float(np.abs(tint).max())}


def photograph(
    card: PaintedCard,
    rng: np.random.Generator,
    *,
    target: bool,
    spoil: Spoil | None = None,
    megapixels: float = 12.0,
) -> Photo:
    """A photo of the card by somebody with some phone in some light.

    target: a chart of 24 patches lies beside it. spoil: what goes wrong, if anything; the
    same rng gives the same photo otherwise. conditions: all that was drawn, and for a spoiled
    photo "harm": by place, light added by glare (1: that of perfect white), light taken by a
    shadow, 1 for a hidden or missing place; "blurred": pixels. "chart": (4, 2) mm around it.
    """
    draws = [np.random.default_rng(s) for s in rng.integers(2**63, size=6)]
    light = random_light(draws[0])
    camera = random_camera(draws[1], light)
    view, facts, chart = _aimed(draws[2], target, spoil, megapixels, draws[5])
    picture, where, drawn = _drawn(card, camera, light, view, chart, draws[3])
    if spoil == "half" and not facts["cropped"]:
        facts["harm"] = _cover(picture, where, camera, len(card.rows), draws[5])
    falling, unevenness = falling_light(draws[4], camera, view)
    code = _wanted_code(draws[4])
    scale = _exposed(card, camera, falling, code)
    small = cv2.resize(picture, falling.shape[1::-1], interpolation=cv2.INTER_AREA) * falling
    falling *= local_gain(small, camera.local)[..., None]
    facts |= _lit(picture, where, falling, spoil, len(card.rows), draws[5])
    final = develop(camera, picture, scale, draws[4])
    facts |= drawn | unevenness | _habits(camera, light)
    facts |= {"target": target, "spoil": spoil, "code": code}
    return Photo(jpeg(final, camera.space), facts, view.to_photo)


def _habits(camera: Camera, light: Light) -> dict[str, Any]:
    return {
        "light": light.kind, "kelvin": light.kelvin, "sensor": camera.sensor,
        "space": camera.space, "balance": camera.balance.tolist(), "contrast": camera.contrast,
        "saturation": camera.saturation, "local": camera.local, "flare": camera.flare,
    }  # fmt: skip


def _aimed(
    rng: np.random.Generator, target: bool, spoil: Spoil | None, megapixels: float,
    bad: np.random.Generator,
) -> tuple[View, dict[str, Any], Floats | None]:  # fmt: skip
    """The view, its facts and where the chart lies."""
    place, outer = beside(rng)
    corners = Box(0, 0, WIDTH_MM, HEIGHT_MM).shrunk(-3).corners
    cropped = spoil == "half" and bool(bad.random() < 0.5)
    if cropped:
        corners = left_over(bad)
    elif target:
        corners = np.vstack([corners, outer])
    view, facts = random_view(rng, megapixels, corners)
    if cropped:
        facts["harm"] = harm(ROWS, lambda mm: _gone(view, mm))
    facts["cropped"] = cropped
    if not target:
        return view, facts, None
    return view, facts | {"chart": outer.tolist()}, place


def _gone(view: View, mm: Floats) -> Floats:
    """1 where a place on the card lies outside the picture."""
    seen = view.to_photo(mm.reshape(-1, 2)).reshape(mm.shape)
    return np.asarray(np.any((seen < 0) | (seen > 2 * view.centre), axis=-1), float)


def _drawn(
    card: PaintedCard, camera: Camera, light: Light, view: View, chart: Floats | None,
    rng: np.random.Generator,
) -> tuple[Pixels, Where, dict[str, Any]]:  # fmt: skip
    """Table, card and chart in balanced raw colours, the mm of every pixel, facts."""
    where = where_pixels_lie(view)
    table, kind = draw_table(camera, rng)
    picture = spread(where, table)
    flat = draw_card(card, camera, light)
    put(picture, where, view, flat)
    facts: dict[str, Any] = {"table": kind}
    if chart is not None:
        flat, facts["patch_mm"] = draw_chart(camera, rng, chart)
        put(picture, where, view, flat)
    return picture, where, facts


def _cover(
    picture: Pixels, where: Where, camera: Camera, rows: int,
    rng: np.random.Generator,
) -> dict[str, float]:  # fmt: skip
    """Lay a cloth over a part of the card."""
    depth = cover(rng)
    cloth = spread(where, draw_table(camera, rng)[0])
    on = depth(np.stack(where, axis=-1)) > 0
    cv2.copyTo(cloth, on.astype(np.uint8), picture)
    return harm(rows, lambda mm: (depth(mm) > 0).astype(float))


def _lit(
    picture: Pixels, where: Where, falling: Pixels, spoil: Spoil | None,
    rows: int, rng: np.random.Generator,
) -> dict[str, Any]:  # fmt: skip
    """Let the light fall on the picture, with shadow, glare or blur."""
    size = picture.shape[1::-1]
    fine = np.stack([w[2::4, 2::4] for w in where], axis=-1).astype(float)
    facts: dict[str, Any] = {}
    if spoil == "shadow":
        shadow = random_shadow(rng, rows)
        dark = shadow(fine).astype(np.float32)[..., None]
        falling = cv2.resize(falling, fine.shape[1::-1]) * dark
        falling *= 1 + (1 - dark) * shadow.tint.astype(np.float32)
        facts["harm"] = harm(rows, lambda mm: 1 - shadow(mm))
    cv2.multiply(picture, cv2.resize(falling, size), dst=picture)
    if spoil == "glare":
        glare = random_glare(rng, rows)
        added = cv2.resize(glare(fine).astype(np.float32), size)
        picture += added[..., None]
        facts["harm"] = harm(rows, glare)
    if spoil == "blur":
        picture[:], facts["blurred"] = blurred(rng, picture)
    return facts


def _wanted_code(rng: np.random.Generator) -> float:
    """Encoded value at which the paper shall land: seldom darker than 0.84."""
    return float(rng.uniform(0.84, 0.97) if rng.random() < 0.8 else rng.uniform(0.7, 0.84))


def _exposed(card: PaintedCard, camera: Camera, falling: Pixels, code: float) -> float:
    """Scale that brings the paper to `code`, less where its lightest place would clip."""
    paper = (raw_of(camera, card.paper) * camera.balance) @ camera.matrix.T
    brightest = np.quantile(falling.max(axis=2), 0.98) * paper.max()
    middle = float(np.median(falling)) * paper.mean()
    return float(min(camera.exposure(code) / middle, camera.exposure(0.985) / brightest))
