"""Every stage as a picture for a screen, with and without its words.

Pictures lie on a neutral mid grey; words stand below on paper white, where they read best. All
pictures of a plan have one size, so that they follow each other without a jump.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from firstwash.errors import RequestError
from firstwash.optics.observer import srgb_decode
from firstwash.pack.captions import Caption
from firstwash.pack.ink import ink_of
from firstwash.pack.lettering import Lettering, lettering
from firstwash.pack.stages import Stages, paint_stages
from firstwash.parallel import in_parallel
from firstwash.picture.profile import encode_jpeg, linear_to_srgb8
from firstwash.plan.result import Plan

__all__ = ["CAPTIONED", "step_images"]

CAPTIONED: Final = "-captioned"
LIGHT: Final = srgb_decode(np.arange(256) / 255.0).astype(np.float32)  # of an 8-bit code
GREY: Final = (0x77, 0x77, 0x77)  # a neutral surround to judge colours on
PAPER: Final = (0xFB, 0xFA, 0xF7)
PENCIL: Final = np.float32(0.8)  # of the light that a drawn line takes: dark grey, not black
INK: Final = (0x22, 0x22, 0x22)  # 15 to 1 on that paper; 4.5 to 1 is asked for ([WCAG22], AA)
WIDTHS: Final = (320, 3840)
SHAPE: Final = 9 / 16  # height over width of a screen
MARGIN: Final = 0.02  # of the width, round the picture and the words
SHORT, LONG = 0.026, 0.021  # of the width: sizes of the short caption and of the longer text
LEAST_PICTURE: Final = 0.6  # of the screen's height; more words make the whole picture higher
QUALITY: Final = 92  # of the JPEG files
GAP: Final = 0.35  # of a line, between short caption and longer text


@dataclass(frozen=True, eq=False)
class _Strip:
    """Words of one picture, laid out: lines with the face and top of each; height, px."""

    lines: tuple[tuple[Lettering, int, str], ...]
    height: int


def step_images(
    plan: Plan,
    captions: Sequence[Caption],
    *,
    width: int = 1920,
    stages: Stages | None = None,
    outline: bytes | None = None,
) -> dict[str, bytes]:
    """JPEG files by name: "stage-1.jpg" and "stage-1-captioned.jpg" for every stage.

    width: px, 320 to 3840; without words 16 : 9, with words as high as the longest ones need.
    stages: the plan's stages, if they are painted already. outline: a PNG of dark lines over the
    whole sheet, drawn on the bare one. sRGB, with its profile.
    Raises RequestError for another width, or for captions that are not this plan's; ValueError
    for an outline that cannot be read.
    """
    low, high = WIDTHS
    if not low <= width <= high:
        raise RequestError(f"Pictures for a screen are {low} to {high} pixels wide; choose there.")
    shown = stages or paint_stages(plan)
    words = {c.image: c for c in captions}
    if set(words) != set(shown.names) or len(words) != len(captions):
        raise RequestError("The captions belong to another plan; make them from this one.")
    frames = _frames(shown, words, width, outline)
    encoded = in_parallel(lambda name: encode_jpeg(frames[name], quality=QUALITY), frames)
    return dict(zip((f"{name}.jpg" for name in frames), encoded, strict=True))


def _frames(
    stages: Stages, words: Mapping[str, Caption], width: int, outline: bytes | None
) -> dict[str, NDArray[np.uint8]]:
    """All pictures, uint8 (rows, cols, 3)."""
    strips = {name: _strip(words[name], width) for name in stages.names}
    strip = max(s.height for s in strips.values())
    screen = round(SHAPE * width)
    room = max(screen - strip, round(LEAST_PICTURE * screen))
    out = {}
    for name, picture, layer in zip(stages.names, stages.pictures, stages.layers, strict=True):
        light = LIGHT[picture]
        if layer == 0 and outline is not None:
            rows, cols = light.shape[:2]
            light *= 1.0 - PENCIL * ink_of(outline, cols, rows)[..., None] / np.float32(255.0)
        out[name] = _on_grey(light, width, screen)
        out[f"{name}{CAPTIONED}"] = np.vstack(
            [_on_grey(light, width, room), _drawn(strips[name], width, strip)]
        )
    return out


def _on_grey(light: NDArray[np.float32], width: int, height: int) -> NDArray[np.uint8]:
    """A picture, linear light (rows, cols, 3), as large as fits with a margin, in the middle."""
    margin = round(MARGIN * width)
    rows, cols = light.shape[:2]
    scale = min((width - 2 * margin) / cols, (height - 2 * margin) / rows)
    size = (max(round(scale * cols), 1), max(round(scale * rows), 1))
    how = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC
    small = np.asarray(cv2.resize(light, size, interpolation=how), np.float32).clip(0.0, 1.0)
    out = np.empty((height, width, 3), dtype=np.uint8)
    out[:] = GREY
    top, left = (height - size[1]) // 2, (width - size[0]) // 2
    out[top : top + size[1], left : left + size[0]] = linear_to_srgb8(small)
    return out


def _strip(caption: Caption, width: int) -> _Strip:
    margin = round(MARGIN * width)
    lines, top = [], margin
    for text, face in (
        (caption.short, lettering(max(round(SHORT * width), 10), bold=True)),
        (_without_title(caption), lettering(max(round(LONG * width), 9))),
    ):
        for line in face.wrap(text, width - 2 * margin):
            lines.append((face, top, line))
            top += face.line
        top += round(GAP * face.line)
    return _Strip(tuple(lines), top + margin // 2)


def _without_title(caption: Caption) -> str:
    """The longer text, without the title that stands above it already."""
    title, colon, _ = caption.short.partition(": ")
    text = caption.text.removeprefix(f"{title}: ") if colon else caption.text
    return text[:1].upper() + text[1:]


def _drawn(strip: _Strip, width: int, height: int) -> NDArray[np.uint8]:
    """Words on paper white, uint8 (height, width, 3)."""
    image = Image.new("RGB", (width, height), PAPER)
    draw = ImageDraw.Draw(image)
    for face, top, line in strip.lines:
        face.draw(draw, round(MARGIN * width), top, line, INK)
    return np.asarray(image)
