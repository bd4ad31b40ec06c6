"""The 24-patch colour target, if one lies beside the card in the photo."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.card.camera import target_reflectance
from firstwash.card.finding import CardMap
from firstwash.card.layout import HEIGHT_MM, WIDTH_MM
from firstwash.picture.profile import linear_to_srgb8

__all__ = ["Patches", "find_target"]

AROUND_MM: Final = 170.0  # how far from the card's rim the target is looked for
PPMM: Final = 3.0
ALIKE: Final = 0.85  # correlation with the target's own colours below which it is something else
INNER: Final = 0.6  # share of a found patch that is read
CLIPPED: Final = 0.985


@dataclass(frozen=True, eq=False)
class Patches:
    """The target's patches in its own order (rows of six, greys last).

    colour: (24, 3) linear light, NaN where clipped. place: (24, 2) on the target, -1 to 1.
    centre: (2,) its middle in mm of the card. clipped: how many patches are.
    """

    colour: NDArray[np.float64]
    centre: NDArray[np.float64]
    place: NDArray[np.float64]
    clipped: int


def find_target(linear: NDArray[np.float32], card: CardMap) -> Patches | None:
    """The target beside the card, on the same table; None if there is none to be sure of."""
    flat = _around(linear, card)
    known = _card_covered(flat)
    for scale in (1.0, 0.7, 1.4):
        size = (round(flat.shape[1] * scale), round(flat.shape[0] * scale))
        shown = cv2.resize(known, size, interpolation=cv2.INTER_AREA) if scale != 1.0 else known
        for corners in _candidates(np.asarray(shown, dtype=np.uint8)):
            found = _read(flat, corners / scale)
            if found is not None:
                return found
    return None


def _around(linear: NDArray[np.float32], card: CardMap) -> NDArray[np.float32]:
    """The table around the card, squarely from above; -1 outside the photo."""
    x = np.arange(-AROUND_MM, WIDTH_MM + AROUND_MM, 1.0 / PPMM)
    y = np.arange(-AROUND_MM, HEIGHT_MM + AROUND_MM, 1.0 / PPMM)
    across, down = card.pixel_maps(x, y)
    # Averaged first, for the table is looked at more coarsely than the photo tells it.
    times = max(int(card.scale()[1] // (2.0 * PPMM)), 1)
    size = (linear.shape[1] // times, linear.shape[0] // times)
    small = cv2.resize(linear, size, interpolation=cv2.INTER_AREA) if times > 1 else linear
    across, down = (
        (m + 0.5) * np.float32(size[i] / linear.shape[1 - i]) - 0.5
        for i, m in enumerate((across, down))
    )
    return np.asarray(
        cv2.remap(
            small, across, down, cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT, borderValue=(-1.0, -1.0, -1.0),
        )
    )  # fmt: skip


def _card_covered(flat: NDArray[np.float32]) -> NDArray[np.uint8]:
    """The table as 8-bit blue, green, red with the card itself painted over in grey."""
    shown = linear_to_srgb8(np.clip(flat, 0.0, 1.0))
    left = round(AROUND_MM * PPMM)
    shown[left : left + round(HEIGHT_MM * PPMM), left : left + round(WIDTH_MM * PPMM)] = 190
    return np.ascontiguousarray(shown[:, :, ::-1])


def _candidates(shown: NDArray[np.uint8]) -> list[NDArray[np.float64]]:
    """Corners (24, 4, 2) of the patches of whatever looks like a target."""
    detector = cv2.mcc.CCheckerDetector.create()
    detector.setColorChartType(cv2.mcc.MCC24)
    try:
        if not detector.process(shown, 3):
            return []
    except cv2.error:  # it gives up on some pictures without squares
        return []
    found = (
        np.asarray(c.getColorCharts(), dtype=np.float64) for c in detector.getListColorChecker()
    )
    whole = [c.reshape(24, 4, 2) for c in found if c.size == 192 and np.isfinite(c).all()]
    return [c for c in whole if _areas(c).min() > 4.0]


def _areas(corners: FloatArray) -> NDArray[np.float64]:
    x, y = np.asarray(corners)[..., 0], np.asarray(corners)[..., 1]
    return np.asarray(
        0.5 * np.abs((x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y).sum(axis=1))
    )


def _read(flat: NDArray[np.float32], corners: FloatArray) -> Patches | None:
    colours = np.empty((24, 3))
    height, width = flat.shape[:2]
    clipped = 0
    for i, patch in enumerate(np.asarray(corners)):
        inner = patch.mean(axis=0) + INNER * (patch - patch.mean(axis=0))
        low, high = np.floor(inner.min(axis=0)).astype(int), np.ceil(inner.max(axis=0)).astype(int)
        if (low < 0).any() or high[0] >= width or high[1] >= height:
            return None
        pixels = flat[low[1] : high[1] + 1, low[0] : high[0] + 1].reshape(-1, 3)
        if not len(pixels) or (pixels < -0.5).any():
            return None
        colours[i] = np.median(pixels, axis=0)
        if (np.mean(pixels >= CLIPPED, axis=0) > 0.05).any():
            clipped += 1
            colours[i] = np.nan
    if not _is_target(colours):
        return None
    steps = np.array([(x, y) for y in np.linspace(-1, 1, 4) for x in np.linspace(-1, 1, 6)])
    centre = np.asarray(corners).reshape(-1, 2).mean(axis=0) / PPMM - AROUND_MM
    return Patches(colours, centre, steps, clipped)


def _is_target(colours: NDArray[np.float64]) -> bool:
    """Whether the patches run through light and dark, and through hues, as the target's do."""
    good = np.isfinite(colours).all(axis=1)
    if good.sum() < 18:
        return False
    reference = target_reflectance()
    thirds = np.stack([reference[:, a:b].mean(axis=1) for a, b in ((21, 36), (12, 21), (2, 12))], 1)
    a, b = np.cbrt(np.maximum(colours[good], 1e-4)), np.cbrt(thirds[good])
    light = np.corrcoef(a.mean(axis=1), b.mean(axis=1))[0, 1]
    hues = [
        np.corrcoef((a[:, i] - a[:, j]), (b[:, i] - b[:, j]))[0, 1] for i, j in ((0, 1), (1, 2))
    ]
    return bool(min(light, *hues) > ALIKE)
