"""Pictures of a plan: stages, masks, comparison, differences. Arrays in, PNG bytes out."""

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from firstwash.arrays import FloatArray, IntArray
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import lab_to_srgb8, lab_to_xyz, xyz_to_linear_srgb
from firstwash.picture.edges import Edges
from firstwash.picture.profile import encode_png, linear_to_srgb8
from firstwash.picture.shapes import Cells
from firstwash.picture.stroke_render import stroke_covers
from firstwash.plan.result import Plan
from firstwash.plan.touches import draw_touches

__all__ = [
    "cells_at",
    "comparison_picture",
    "difference_picture",
    "edge_picture",
    "fine_grid",
    "layer_mask",
    "paint_cells",
    "paint_stage",
    "touch_picture",
    "wash_numbers",
]

MID_GREY = 119  # sRGB code of L* 50: a neutral surround to judge colours on
WORST = 20.0  # CIEDE2000 drawn black in a picture of differences


def cells_at(cells: Cells, width: int, height: int) -> NDArray[np.int32]:
    """Cell of each pixel (height, width) on another grid, with smooth borders.

    Each cell's mask is blurred by about a working pixel, brought to the new grid, and the
    strongest one wins: an outline without stair-steps, whatever the enlargement.
    """
    rows, cols = cells.index.shape
    if (rows, cols) == (height, width):
        return cells.index
    best = np.zeros((height, width), dtype=np.float32)
    out = np.zeros((height, width), dtype=np.int32)
    for cell, (top, bottom, left, right) in enumerate(_boxes(cells.index)):
        pad = 3
        top, left = max(top - pad, 0), max(left - pad, 0)
        bottom, right = min(bottom + pad, rows), min(right + pad, cols)
        mask = (cells.index[top:bottom, left:right] == cell).astype(np.float32)
        mask = cv2.GaussianBlur(mask, (0, 0), 0.8, borderType=cv2.BORDER_REPLICATE)
        y0, y1 = _span(top, bottom, rows, height)
        x0, x1 = _span(left, right, cols, width)
        # Maps pixel centres of the new grid to pixel centres of the old one.
        move = np.array(
            [
                [cols / width, 0, (x0 + 0.5) * cols / width - 0.5 - left],
                [0, rows / height, (y0 + 0.5) * rows / height - 0.5 - top],
            ],
            dtype=np.float64,
        )
        grown = cv2.warpAffine(
            mask,
            move,
            (x1 - x0, y1 - y0),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
        wins = grown > best[y0:y1, x0:x1]
        best[y0:y1, x0:x1][wins] = grown[wins]
        out[y0:y1, x0:x1][wins] = cell
    return out


def _span(start: int, stop: int, old: int, new: int) -> tuple[int, int]:
    return start * new // old, min(-(-stop * new // old), new)


def _boxes(index: IntArray) -> list[tuple[int, int, int, int]]:
    """(top, bottom, left, right) of each label, half open."""
    n = int(index.max()) + 1
    rows, cols = index.shape
    box = np.empty((n, 4), dtype=np.int64)
    box[:, 0], box[:, 2] = rows, cols
    box[:, 1], box[:, 3] = 0, 0
    y, x = np.divmod(np.arange(index.size), cols)
    flat = index.ravel()
    np.minimum.at(box[:, 0], flat, y)
    np.maximum.at(box[:, 1], flat, y + 1)
    np.minimum.at(box[:, 2], flat, x)
    np.maximum.at(box[:, 3], flat, x + 1)
    return [(int(a), int(b), int(c), int(d)) for a, b, c, d in box]


def paint_cells(index: IntArray, labs: FloatArray) -> NDArray[np.uint8]:
    """sRGB (rows, cols, 3) of cells in the colours labs (n_cells, 3)."""
    return np.take(lab_to_srgb8(labs), index, axis=0)  # a third of the time of [index]


def fine_grid(width: int, height: int) -> int:
    """How many times finer than the picture its cells are drawn, so that edges look smooth."""
    return 3 if width * height <= 1_000_000 else 2 if width * height <= 4_000_000 else 1


@njit(cache=True, nogil=True)
def _fine(index, coarse_index, coarse, plain, meet, out):  # type: ignore[no-untyped-def]
    rows, cols = index.shape
    high, wide = coarse_index.shape
    for i in range(rows):
        y = min(max((i + 0.5) * high / rows - 0.5, 0.0), high - 1.0)
        y0 = min(int(y), high - 2)
        for j in range(cols):
            x = min(max((j + 0.5) * wide / cols - 0.5, 0.0), wide - 1.0)
            x0 = min(int(x), wide - 2)
            here = index[i, j]
            total = 0.0
            r = 0.0
            g = 0.0
            b = 0.0
            for dy in range(2):
                for dx in range(2):
                    there = coarse_index[y0 + dy, x0 + dx]
                    if here != there and not meet[here, there]:
                        continue
                    w = (1.0 - abs(y - y0 - dy)) * (1.0 - abs(x - x0 - dx))
                    total += w
                    r += w * coarse[y0 + dy, x0 + dx, 0]
                    g += w * coarse[y0 + dy, x0 + dx, 1]
                    b += w * coarse[y0 + dy, x0 + dx, 2]
            if total > 1e-6:
                out[i, j, 0] = r / total
                out[i, j, 1] = g / total
                out[i, j, 2] = b / total
            else:
                out[i, j] = plain[here]


def paint_stage(plan: Plan, stage: int | None, index: IntArray, times: int) -> NDArray[np.uint8]:
    """sRGB (rows, cols, 3) of the sheet after `stage` layers; None: finished, fine strokes too.

    index: cells (rows · times, cols · times) on the fine grid, which is averaged as light
    mixes. Soft passages are brought over from the working size smoothly; no colour is
    brought over a hard edge, so that those stay as sharp as the grid.
    """
    layer = plan.layers if stage is None else stage
    coarse = xyz_to_linear_srgb(plan.washes_xyz[layer]).astype(np.float32)
    plain = xyz_to_linear_srgb(lab_to_xyz(plan.stage_labs[layer])).astype(np.float32)
    light = np.empty((*index.shape, 3), dtype=np.float32)
    if min(coarse.shape[:2]) < 2:  # nothing to interpolate between
        light[:] = plain[index]
    else:
        meet = plan.edges.soft_pairs(plan.cells.count)
        _fine(index, plan.cells.index, coarse, plain, meet, light)
    ppmm = index.shape[1] / plan.sheet.width_mm
    light = draw_touches(light, plan.touches, ppmm, stage, _linear)
    np.clip(light, 0.0, 1.0, out=light)
    if times > 1:
        size = (index.shape[1] // times, index.shape[0] // times)
        light = np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), np.float32)
    return linear_to_srgb8(light)


def _linear(lab: FloatArray) -> FloatArray:
    return xyz_to_linear_srgb(lab_to_xyz(lab))


def touch_picture(plan: Plan) -> NDArray[np.uint8]:
    """Where fine strokes go (rows, cols), at working size: white reserved, black laid last."""
    out = np.full((*plan.cells.index.shape, 3), 0.5, dtype=np.float32)
    for touch in plan.touches:
        (cover,) = stroke_covers([touch.stroke], out.shape[:2], plan.cells.ppmm)
        share = cover.share[..., None]
        out[cover.window] += share * ((1.0 if touch.reserved else 0.0) - out[cover.window])
    return np.asarray(np.rint(255 * out[..., 0]), dtype=np.uint8)


def edge_picture(edges: Edges) -> NDArray[np.uint8]:
    """Softness as a picture (rows, cols, 3): red is σ in steps of 0.05 mm, green is full where
    the link to the next pixel on the right is a hard edge, blue where that to the one below is.
    """
    out = np.zeros((*edges.softness.shape, 3), dtype=np.uint8)
    out[..., 0] = np.rint(edges.softness * 20.0).clip(0, 255)
    out[:, :-1, 1] = 255 * edges.hard_across
    out[:-1, :, 2] = 255 * edges.hard_down
    return out


def layer_mask(
    index: IntArray, coats: tuple[tuple[tuple[int, int, float], ...], ...], layer: int
) -> NDArray[np.bool_]:
    """Where a layer (1 …) puts paint: (rows, cols) bool."""
    painted = np.array([any(c[0] == layer for c in own) for own in coats])
    return np.asarray(painted[index])


def wash_numbers(index: IntArray, cell_wash: IntArray) -> NDArray[np.uint16]:
    """Number of the wash each pixel receives (0 = none); cell_wash (n_cells,)."""
    return np.asarray(cell_wash[index], dtype=np.uint16)


def difference_picture(lab_1: FloatArray, lab_2: FloatArray) -> NDArray[np.uint8]:
    """Grey picture of CIEDE2000: white for none, black for 20 and more."""
    share = np.clip(delta_e_2000(lab_1, lab_2) / WORST, 0.0, 1.0)
    return np.asarray(np.rint(255 * (1.0 - share)), dtype=np.uint8)


def comparison_picture(panels: list[tuple[str, NDArray[np.uint8]]], ppmm: float) -> bytes:
    """PNG of pictures of one size side by side on mid grey, a caption under each."""
    height, width = panels[0][1].shape[:2]
    gap = max(12, width // 30)
    font = ImageFont.load_default(size=max(16, width // 16))
    line = max(16, width // 16) * 2
    sheet = Image.new(
        "RGB", (len(panels) * (width + gap) + gap, height + 2 * gap + line), (MID_GREY,) * 3
    )
    draw = ImageDraw.Draw(sheet)
    for i, (caption, picture) in enumerate(panels):
        left = gap + i * (width + gap)
        sheet.paste(Image.fromarray(picture), (left, gap))
        draw.text((left, gap + height + line // 4), caption, fill=(255,) * 3, font=font)
    return encode_png(np.asarray(sheet), ppmm=ppmm)
