"""Pictures of a study, as bytes."""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.optics.observer import lab_to_srgb8
from firstwash.picture.profile import encode_jpeg, encode_png, linear_to_srgb8
from firstwash.seeing.study import Study

__all__ = ["pictures"]

QUALITY = 90
SHADED = 0.55  # of the lightness left where a picture is marked as not meant
RING = 9  # px
LEAST_LIGHT = 1e-6
LARGER = 2  # times: the pattern's picture
ROUND = 1.2  # px of the pattern's borders


def pictures(study: Study) -> dict[str, bytes]:
    """File name → bytes of every picture of the page."""
    split = study.split
    bright = float(np.quantile(split.light, 0.995))
    light = split.light / max(bright, LEAST_LIGHT)
    found = {
        "photo.jpg": _jpeg(lab_to_srgb8(study.lab)),
        "squint.jpg": _jpeg(study.squint),
        "values.png": encode_png(study.values),
        "pattern.png": encode_png(_pattern(study)),
        "lost-edges.png": encode_png(_lost(study)),
        "lights-and-darks.jpg": _jpeg(_ringed(study)),
        "whites.jpg": _jpeg(_marked(study, study.whites.mask)),
        "local-colour.jpg": _jpeg(linear_to_srgb8(np.clip(split.local, 0.0, 1.0))),
        "light.jpg": _jpeg(linear_to_srgb8(np.clip(light, 0.0, 1.0))),
    }
    for number, area in enumerate(study.areas, 1):
        rows, cols = study.lab.shape[:2]
        mask = cv2.resize(area.mask.astype(np.uint8), (cols, rows), interpolation=cv2.INTER_NEAREST)
        found[f"area-{number}.jpg"] = _jpeg(_marked(study, mask > 0))
    return found


def _pattern(study: Study) -> NDArray[np.uint8]:
    """The masses twice as large, with smooth borders."""
    tones = study.pattern.tones
    rows, cols = tones.shape
    size = cols * LARGER, rows * LARGER
    near = [
        cv2.resize(cv2.GaussianBlur((tones == t).astype(np.float32), (0, 0), ROUND), size)
        for t in range(len(study.pattern.shares))
    ]
    smooth = replace(study.pattern, tones=np.argmax(near, axis=0).astype(np.uint8))
    return smooth.picture()


def _lost(study: Study) -> NDArray[np.uint8]:
    """The masses with lost edges as light lines, rimmed dark so that they show on any grey."""
    picture = _pattern(study)
    rows, cols = picture.shape[:2]
    line = cv2.resize(
        study.lost.lost.astype(np.uint8), (cols, rows), interpolation=cv2.INTER_NEAREST
    )
    picture[cv2.dilate(line, np.ones((3, 3), dtype=np.uint8)) > 0] = 0
    picture[line > 0] = 255
    return picture


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    return encode_jpeg(pixels, quality=QUALITY)


def _marked(study: Study, inside: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """The picture with everything but the marked places darker and without colour."""
    shown = np.array(study.lab)
    shown[~inside, 0] *= SHADED
    shown[~inside, 1:] = 0.0
    return lab_to_srgb8(shown)


def _ringed(study: Study) -> NDArray[np.uint8]:
    """The picture without colour; rings round the lightest lights, squares round the darkest."""
    grey = np.array(study.lab)
    grey[..., 1:] = 0.0
    picture = np.ascontiguousarray(lab_to_srgb8(grey))
    for place in (*study.extremes.lights, *study.extremes.darks):
        x, y = int(place.x_mm * study.ppmm), int(place.y_mm * study.ppmm)
        for wide, tone in ((5, 0), (2, 255)):  # a dark rim, so that it shows on any grey
            if place.kind == "light":
                cv2.circle(picture, (x, y), RING, (tone,) * 3, wide, cv2.LINE_AA)
            else:
                corners = (x - RING, y - RING), (x + RING, y + RING)
                cv2.rectangle(picture, *corners, (tone,) * 3, wide, cv2.LINE_AA)
    return np.asarray(picture, dtype=np.uint8)
