"""Highlights: how much of what is seen at a place is mirrored by the surface, not of its colour.

By the dichromatic model [Shafer1985] a surface shows its own colour times the light, plus gloss of
the lamp's colour. A highlight is a small hill of light. What rises above its foot (found by an
opening, [Serra1982]) is taken apart into more light on the same colour and gloss of white; more
light than a turn of the form gives is gloss as well, so that highlights on black, grey and white
are found too. Only hills that are both small and bright count: a white dab of paint, a lit fold
or the whole of a white jug must not be hollowed out, so dim and broad gloss stays unfound.
"""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.parallel import in_parallel

__all__ = ["gloss_share"]

Picture = NDArray[np.float32]

# Parts of the shorter side that a hill may reach to each side of its top.
REACHES: Final = (1 / 40, 1 / 16, 1 / 9)
FORM: Final = np.float32(1.0)  # how much brighter the light may get within so little, by the form
LEAST: Final = 0.02  # gloss below this, as a part of the picture's white, is grain
OFFSET: Final = 0.01  # added to the foot, for what is black
# Least brightness of a hill's top, and the largest part of the picture it may cover; and a hill's
# least gloss, also against its foot. Settled on the practice rooms: about one in twelve false.
SMALL: Final = ((0.7, 0.003), (0.85, 0.01))
STRONG, STRONG_ON_FOOT = 0.1, 1.2
MOST: Final = 0.95  # of what is seen: something of the surface is left


def gloss_share(rgb: Picture) -> Picture:
    """Share 0-0.95 (rows, cols) of the light at each pixel that is gloss.

    rgb: (rows, cols, 3), not negative, in the light's own colour (a grey thing has three equal
    values); 1 is the picture's white.
    """
    side = min(rgb.shape[:2])
    blurred = cv2.GaussianBlur(rgb, (3, 3), 0, borderType=cv2.BORDER_REFLECT)
    soft = np.asarray(blurred, dtype=np.float32)
    reaches = sorted({round(part * side) for part in REACHES} - {0}, reverse=True)
    hills = in_parallel(lambda reach: _gloss_of_hills(soft, reach), reaches)
    found = np.maximum.reduce([np.zeros(rgb.shape[:2], dtype=np.float32), *hills])
    level = np.maximum(rgb.mean(axis=-1), np.float32(1e-6))
    return np.asarray(np.minimum(found / level, np.float32(MOST)), dtype=np.float32)


def _gloss_of_hills(soft: Picture, reach: int) -> Picture:
    window = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1,) * 2)
    opened = cv2.morphologyEx(soft, cv2.MORPH_OPEN, window, borderType=cv2.BORDER_REFLECT)
    foot = np.asarray(opened, dtype=np.float32)
    gloss = _gloss_of_rise(np.maximum(soft - foot, np.float32(0.0)), foot + np.float32(OFFSET))
    return np.where(_highlights(gloss, soft, foot), gloss, np.float32(0.0))


def _gloss_of_rise(rise: Picture, foot: Picture) -> Picture:
    """The white part of each rise (rows, cols), by least squares; 0 where it is no such mixture."""
    ff, f1 = (foot * foot).sum(axis=-1), foot.sum(axis=-1)
    rf, r1 = (rise * foot).sum(axis=-1), rise.sum(axis=-1)
    least = rise.min(axis=-1)
    # A little more than 3 in the place of 3: white rising from grey is light rather than gloss.
    gloss = (r1 * ff - rf * f1) / np.maximum(ff * np.float32(3.02) - f1 * f1, np.float32(1e-9))
    more = (rf - gloss * f1) / ff
    gloss = np.where(more < 0.0, least, gloss)
    more = np.maximum(more, np.float32(0.0))
    gloss += np.maximum(more - FORM, np.float32(0.0)) * foot.min(axis=-1)
    gloss = np.clip(gloss, np.float32(0.0), least)
    left = rise - np.minimum(more, FORM)[..., None] * foot - gloss[..., None]
    off = np.sqrt((left * left).mean(axis=-1)) / np.maximum(gloss, np.float32(1e-6))
    gloss = gloss * np.clip(np.float32(2.0) - np.float32(4.0) * off, 0.0, 1.0)
    return np.where(gloss > LEAST, gloss, np.float32(0.0)).astype(np.float32)


def _highlights(gloss: Picture, soft: Picture, foot: Picture) -> NDArray[np.bool_]:
    """Which pixels (rows, cols) lie in a hill that passes for a highlight."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        (gloss > 0.0).astype(np.uint8), connectivity=8
    )
    label = np.asarray(labels, dtype=np.int64)
    flat = label.ravel()
    top, bright = np.zeros(count), np.zeros(count)
    np.maximum.at(top, flat, gloss.ravel())
    np.maximum.at(bright, flat, soft.min(axis=-1).ravel())
    area = stats[:, cv2.CC_STAT_AREA]
    below = np.bincount(flat, foot.mean(axis=-1).ravel(), count) / np.maximum(area, 1)
    small = np.zeros(count, dtype=bool)
    for least, part in SMALL:
        small |= (bright > least) & (area < part * gloss.size)
    good = small & (top > STRONG) & (top > STRONG_ON_FOOT * below)
    good[0] = False
    return np.asarray(good[label])
