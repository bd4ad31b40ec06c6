"""What every shell can do: plan a photo, and write the result where a painter finds it."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import OutputError, RequestError
from firstwash.handout import pictures
from firstwash.handout.summary import summary_page
from firstwash.optics.observer import xyz_to_linear_srgb
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.load import load_photo, photo_size
from firstwash.picture.profile import encode_jpeg, encode_png, linear_to_srgb8
from firstwash.picture.reference import (
    FOCAL_WEIGHT,
    Background,
    Reference,
    focal_rectangle,
    lay_on_sheet,
    load_side,
    with_background,
    with_focal_area,
)
from firstwash.picture.sheet import CropBox, Sheet, crop_box, explicit_crop, parse_sheet
from firstwash.plan.bench import Bench
from firstwash.plan.document import plan_json
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits, Progress, no_progress
from firstwash.plan.report import as_judged
from firstwash.plan.result import Plan

__all__ = ["PhotoPlan", "Wishes", "plan_photo", "write_plan"]


@dataclass(frozen=True)
class Wishes:
    """What the painter asks for besides the photo.

    sheet: a size ("28x38cm", "11x15in", "A3", "quarter imperial"). paints: a set's name or
    the path of a list. crop: left, top, width, height as fractions of the upright photo;
    None for the largest crop with the sheet's proportions. focal: a rectangle as fractions
    of the sheet, or a mask file (white matters most). background_mask: file, white is
    background.
    """

    sheet: str = "28x38cm"
    paints: str = "starter"
    limits: Limits = field(default_factory=Limits)
    crop: tuple[float, float, float, float] | None = None
    focal: tuple[float, float, float, float] | Path | None = None
    background: Background = "painted"
    background_mask: Path | None = None


@dataclass(frozen=True, eq=False)
class PhotoPlan:
    """A plan with the reference it was made from and what is known of the photo file."""

    plan: Plan
    reference: Reference
    photo: dict[str, Any]
    notes: tuple[str, ...]
    focal: dict[str, Any] | None = None


def plan_photo(
    source: Path | bytes, wishes: Wishes | None = None, progress: Progress = no_progress
) -> PhotoPlan:
    """Plan the painting of a photo. Raises a FirstwashError that says what to change."""
    asked = wishes or Wishes()
    sheet = parse_sheet(asked.sheet)
    paints = load_set(asked.paints).paints
    _check(asked)
    progress("Reading the photo", 0.0)
    width, height = photo_size(source)
    sheet = sheet.oriented_for(width, height)
    crop = _crop(asked, sheet, width, height)
    photo = load_photo(source, crop=crop, max_pixels_per_side=load_side(sheet))
    reference = _edited(lay_on_sheet(photo, sheet), asked)
    plan = make_plan(
        reference, paints, asked.limits, progress=lambda s, d: progress(s, 0.05 + 0.95 * d)
    )
    known = {
        "name": source.name if isinstance(source, Path) else None,
        "width": width,
        "height": height,
        "crop": list(crop),
        "profile": photo.profile,
        "bits": photo.bits,
    }
    return PhotoPlan(plan, reference, known, photo.notes, _focal_words(asked))


def _check(asked: Wishes) -> None:
    if asked.background != "painted" and asked.background_mask is None:
        raise RequestError(
            f"A {asked.background} background needs to know where it is; give a mask file, "
            "white where the background is."
        )


def _crop(asked: Wishes, sheet: Sheet, width: int, height: int) -> CropBox:
    if asked.crop is None:
        return crop_box(width, height, sheet)
    box = explicit_crop(width, height, asked.crop, unit="fraction")
    return crop_box(
        width,
        height,
        sheet,
        centre=((box.x + box.width / 2) / width, (box.y + box.height / 2) / height),
        within=box,
    )


def _edited(reference: Reference, asked: Wishes) -> Reference:
    if asked.background_mask is not None:
        white = Bench.of([], default_paper()).white_xyz()
        mask = _mask(asked.background_mask)
        reference = with_background(reference, mask, asked.background, white)
    if isinstance(asked.focal, Path):
        reference = with_focal_area(reference, _mask(asked.focal))
    elif asked.focal is not None:
        reference = with_focal_area(reference, focal_rectangle(reference, asked.focal))
    return reference


def _focal_words(asked: Wishes) -> dict[str, Any] | None:
    """The focal area as the plan's document tells it: a box or a mask's name, and its weight."""
    if asked.focal is None:
        return None
    if isinstance(asked.focal, Path):
        return {"mask": asked.focal.name, "box": None, "weight": FOCAL_WEIGHT}
    return {"mask": None, "box": list(asked.focal), "weight": FOCAL_WEIGHT}


def _mask(path: Path) -> NDArray[np.float32]:
    """A mask picture as (rows, cols) in [0, 1]: its mean linear light, halved at mid grey."""
    light = load_photo(path).linear.mean(axis=2)
    return np.asarray(light > 0.2, dtype=np.float32)  # linear 0.2 is about half in sRGB


# --- writing ---------------------------------------------------------------------


def write_plan(result: PhotoPlan, folder: Path, progress: Progress = no_progress) -> Path:
    """Write everything a painter looks at into `folder`; returns the summary page's path.

    The folder appears whole or not at all. An older plan there is replaced; a folder that
    holds anything else is refused.
    """
    target = folder.absolute()
    _check_target(target)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    except OSError as error:
        raise OutputError(f"{folder} cannot be written: {error.strerror}.") from None
    try:
        for name, content in _files(result, progress):
            file = draft / name
            file.parent.mkdir(exist_ok=True)
            file.write_bytes(content)
        draft.chmod(0o755)
        if target.exists():
            shutil.rmtree(target)
        os.replace(draft, target)
    except OSError as error:
        raise OutputError(f"{folder} cannot be written: {error.strerror}.") from None
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return target / "summary.html"


def _check_target(target: Path) -> None:
    if target.is_file():
        raise OutputError(f"{target} is a file; name a folder.")
    if target.is_dir() and any(target.iterdir()) and not (target / "plan.json").exists():
        raise OutputError(f"{target} holds other things; name a new or empty folder.")


def _file_names(plan: Plan) -> dict[str, Any]:
    layers = range(1, plan.layers + 1)
    return {
        "reference": "reference.jpg",
        "comparison": "comparison.png",
        "difference": "difference.png",
        "given_up": "given-up.png",
        "cells": "masks/cells.png",
        "masks": [f"masks/layer-{n}.png" for n in layers],
        "washes": [f"masks/layer-{n}-washes.png" for n in layers],
        "stages": [f"stages/stage-{n}.png" for n in range(plan.layers + 1)],
    }


def _files(result: PhotoPlan, progress: Progress) -> Iterator[tuple[str, bytes]]:
    plan, names = result.plan, _file_names(result.plan)
    progress("Writing the plan", 0.0)
    yield (
        "plan.json",
        plan_json(plan, names, {**result.photo, "notes": list(result.notes)}, result.focal),
    )
    title = Path(result.photo["name"] or "painting").stem
    yield "summary.html", summary_page(plan, names, title)
    yield from _masks(plan, names)
    yield from _sheets(result, names)
    width, height = plan.photo_px
    times = pictures.fine_grid(width, height)
    index = pictures.cells_at(plan.cells, width * times, height * times)
    ppmm = width / plan.sheet.width_mm
    for n, name in enumerate(names["stages"]):
        progress("Painting the stages", n / len(names["stages"]))
        yield name, encode_png(pictures.paint_smoothly(index, plan.stage_labs[n], times), ppmm=ppmm)


def _masks(plan: Plan, names: dict[str, Any]) -> Iterator[tuple[str, bytes]]:
    index, ppmm = plan.cells.index, plan.cells.ppmm
    yield names["cells"], encode_png(index.astype(np.uint16), ppmm=ppmm)
    for n in range(1, plan.layers + 1):
        own = np.zeros(plan.cells.count, dtype=np.uint16)
        for wash in plan.washes_of(n):
            own[list(wash.cells)] = wash.number
        yield (
            names["masks"][n - 1],
            encode_png(pictures.layer_mask(index, plan.coats, n), ppmm=ppmm),
        )
        yield names["washes"][n - 1], encode_png(pictures.wash_numbers(index, own), ppmm=ppmm)


def _sheets(result: PhotoPlan, names: dict[str, Any]) -> Iterator[tuple[str, bytes]]:
    plan, reference = result.plan, result.reference
    shown = linear_to_srgb8(xyz_to_linear_srgb(reference.xyz))
    yield names["reference"], encode_jpeg(shown, ppmm=reference.ppmm)
    panels = [
        ("Reference", shown),
        ("Target in flat cells", pictures.paint_cells(plan.cells.index, plan.aims)),
        ("Predicted painting", pictures.paint_cells(plan.cells.index, plan.stage_labs[-1])),
    ]
    yield names["comparison"], pictures.comparison_picture(panels, reference.ppmm)
    painted = as_judged(plan.cells, plan.stage_labs[-1], reference)
    photo = reference.judge_lab
    difference = pictures.difference_picture(painted, photo)
    given_up = pictures.difference_picture(plan.tone(photo), photo)
    yield names["given_up"], encode_png(given_up, ppmm=reference.judge_ppmm)
    yield names["difference"], encode_png(difference, ppmm=reference.judge_ppmm)
