"""Every picture the page may ask for, by name."""

import re
from collections.abc import Callable
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.handout.layer_map import layer_map
from firstwash.handout.map_svg import layer_map_svg, strokes_map_svg, wash_map_svg
from firstwash.handout.outline import outline_svg
from firstwash.light.split import LightSplit
from firstwash.optics.observer import lab_to_srgb8, xyz_to_lab
from firstwash.picture.profile import encode_jpeg, encode_png, linear_to_srgb8
from firstwash.picture.reference import Reference
from firstwash.picture.studies import hue_against_grey, in_value_steps, squinted
from firstwash.picture.value_pattern import value_pattern
from firstwash.plan.locks import find_wash
from firstwash.worksheet.brief import Brief, Scene
from firstwash.worksheet.laying import background_mask, photographed
from firstwash.worksheet.prints import (
    Picture,
    difference_picture_soft,
    height_for,
    index_picture,
    reference_picture,
    stage_picture,
)
from firstwash.worksheet.seeing import reserved_whites
from firstwash.worksheet.studio import Studio
from firstwash.worksheet.why import why_chart

__all__ = ["plan_picture", "scene_picture"]

QUALITY: Final = 90
BRIGHTEST: Final = 0.995  # quantile of the light that is shown as white
SHADED: Final = 0.55  # of the light that is left where a picture is marked as not meant


def _unknown(name: str) -> RequestError:
    return RequestError(f"There is no picture called {name[:40]!r}.")


def _numbers(pattern: str, name: str) -> list[int] | None:
    found = re.fullmatch(pattern, name, re.ASCII)
    return [int(n) for n in found.groups()] if found else None


# --- of the scene ------------------------------------------------------------------


def scene_picture(studio: Studio, scene: Scene, name: str, width: int) -> Picture:
    """A picture of the photos on their sheet. Raises RequestError for a name not known.

    "photo-0": one photo set upright; "reference": what is planned; "squint-40": squinted at, per
    cent; "values-5-20": in so many value steps, squinted at; "hue": hues at one value; "whites":
    where the paper stays bare; "pattern": the big masses of value; "local": the things' own
    colours; "light": the light alone; "background": what is taken for background, lighter.
    """
    if (n := _numbers(r"photo-(\d)", name)) is not None:
        return _photo(studio, scene, n[0], width)
    reference = studio.reference(scene)
    if name == "reference":
        return reference_picture(reference, width)
    lab = _small(reference, width)
    if (n := _numbers(r"squint-(\d{1,3})", name)) is not None:
        return _jpeg(squinted(lab, _share(n[0])))
    if (n := _numbers(r"values-(\d{1,2})-(\d{1,3})", name)) is not None:
        return _png(in_value_steps(lab[..., 0], n[0], _share(n[1])))
    if name == "hue":
        return _jpeg(hue_against_grey(lab))
    if name == "whites":
        found = reserved_whites(
            lab, lab.shape[1] / reference.sheet.width_mm, studio.paints.shelf().paper
        )
        return _marked(lab, found.mask)
    if name == "pattern":
        return _png(value_pattern(lab[..., 0]).picture())
    if name in ("local", "light"):
        return _of_the_split(studio.split(scene), name, lab)
    if name == "background":
        mask = background_mask(scene, reference)
        return _marked(lab, _to(mask, lab) > 0.5)
    raise _unknown(name)


def _of_the_split(split: LightSplit, name: str, like: FloatArray) -> Picture:
    """Local colour, or the light as it would fall on a white cast of the subject."""
    rows, cols = like.shape[:2]
    plane = split.local if name == "local" else split.light / np.quantile(split.light, BRIGHTEST)
    small = cv2.resize(plane, (cols, rows), interpolation=cv2.INTER_AREA)
    return _jpeg(linear_to_srgb8(np.clip(small, 0.0, 1.0)))


def _share(percent: int) -> float:
    return min(percent, 100) / 100.0


def _photo(studio: Studio, scene: Scene, number: int, width: int) -> Picture:
    if number >= len(scene.pictures):
        raise RequestError("There is no such photo on this sheet.")
    linear = photographed(scene.pictures[number], studio.store.files.get, width).linear
    return _jpeg(linear_to_srgb8(linear))


def _small(reference: Reference, width: int) -> NDArray[np.float64]:
    """CIELAB (rows, cols, 3) of the reference at the size of the picture, light averaged."""
    width = min(width, reference.xyz.shape[1])
    size = (width, height_for(reference.sheet, width))
    return xyz_to_lab(cv2.resize(reference.xyz, size, interpolation=cv2.INTER_AREA))


def _to(mask: FloatArray, like: FloatArray) -> NDArray[np.float32]:
    rows, cols = like.shape[:2]
    small = np.asarray(mask, dtype=np.float32)
    return np.asarray(cv2.resize(small, (cols, rows), interpolation=cv2.INTER_LINEAR))


def _marked(lab: FloatArray, inside: NDArray[np.bool_]) -> Picture:
    """The picture with everything but the marked places darker and without colour."""
    shown = np.array(lab)
    shown[~inside, 0] *= SHADED
    shown[~inside, 1:] = 0.0
    return _jpeg(lab_to_srgb8(shown))


def _jpeg(pixels: NDArray[np.uint8]) -> Picture:
    height, width = pixels.shape[:2]
    return Picture(encode_jpeg(pixels, quality=QUALITY), "image/jpeg", width, height)


def _png(pixels: NDArray[np.uint8]) -> Picture:
    height, width = pixels.shape[:2]
    return Picture(encode_png(pixels), "image/png", width, height)


# --- of the plan -------------------------------------------------------------------


def plan_picture(studio: Studio, brief: Brief, name: str, width: int) -> Picture:
    """A picture of the brief's plan. Raises RequestError for a name not known.

    "stage-2": the sheet when so many layers are dry; "finished"; "cells": which cell every pixel
    belongs to; "difference": where it differs from the reference; "map-1": the map of a layer;
    "wash-1-3": that of a wash; "strokes-0-4": that of some fine strokes; "outline": all shapes;
    "why-12-2": the light of a cell's coat in a layer.
    """
    desk = studio.desk(brief)
    plan = desk.plan
    known: dict[str, Callable[[], Picture]] = {
        "finished": lambda: stage_picture(plan, None, width),
        "cells": lambda: index_picture(plan, width),
        "difference": lambda: difference_picture_soft(plan, desk.reference, width).picture,
        "reference": lambda: reference_picture(desk.reference, width),
        "outline": lambda: _svg(outline_svg(desk.drawing)),
    }
    if name in known:
        return known[name]()
    if (n := _numbers(r"stage-(\d)", name)) is not None:
        return stage_picture(plan, n[0], width)
    if (n := _numbers(r"map-(\d)", name)) is not None:
        return _svg(layer_map_svg(layer_map(plan, n[0])))
    if (found := re.fullmatch(r"strokes-([0-9-]{1,2400})", name, re.ASCII)) is not None:
        return _svg(strokes_map_svg(plan, [int(n) for n in found[1].split("-") if n]))
    if (n := _numbers(r"wash-(\d)-(\d{1,3})", name)) is not None:
        return _svg(wash_map_svg(plan, find_wash(plan, (n[0], n[1]))))
    if (n := _numbers(r"why-(\d{1,5})-(\d)", name)) is not None:
        return _svg(why_chart(plan, n[0], n[1]))
    raise _unknown(name)


def _svg(text: str) -> Picture:
    return Picture(text.encode(), "image/svg+xml", 0, 0)
