"""What every shell can do: plan a photo, and write the result where a painter finds it."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import RequestError
from firstwash.handout import pictures
from firstwash.handout.summary import summary_page
from firstwash.optics.observer import xyz_to_linear_srgb
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, all_paints
from firstwash.paints.shelf import load_shelf
from firstwash.picture.edges import find_edges
from firstwash.picture.load import Limits as PhotoLimits
from firstwash.picture.load import load_photo, photo_size
from firstwash.picture.profile import decode_numbers, encode_jpeg, encode_png, linear_to_srgb8
from firstwash.picture.reference import (
    BACKGROUND,
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
from firstwash.plan.board.drying import Room
from firstwash.plan.chest import open_chest
from firstwash.plan.document import FORMAT, plan_json
from firstwash.plan.locks import NO_LOCKS, Locks, held, same_locks
from firstwash.plan.one_more import PaintMore, paints_more
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits, Progress, no_progress
from firstwash.plan.reading import read_cells, read_plan
from firstwash.plan.replan import replan
from firstwash.plan.report import as_judged
from firstwash.plan.result import Plan
from firstwash.store.whole_folder import writable, write_whole

__all__ = [
    "Laid", "PhotoPlan", "Wishes", "check_folder", "laid_photo", "open_plan", "plan_again",
    "plan_photo", "write_plan",
]  # fmt: skip

Size = tuple[int, int]  # width and height in pixels
JPEG_OFF = 2.0  # CIEDE2000: codes of 8 bits alone move a flat near-white by one
MASK_LIMITS = PhotoLimits(min_side=2)  # a mask may be as coarse as its maker likes


@dataclass(frozen=True)
class Wishes:
    """What the painter asks for besides the photo.

    sheet: a size ("28x38cm", "11x15in", "A3", "quarter imperial"). paints: a set's name or
    the path of a list, whose bans and favourites are heard where `limits` does not speak
    against them. crop: left, top, width, height as fractions of the upright photo;
    None for the largest crop with the sheet's proportions. focal: a rectangle as fractions
    of the sheet, or a mask file (white matters most). background_mask: file, white is
    background; room: whose air dries the washes. one_more: tell which one paint more of the
    catalogue would help, which takes some seconds. A mask has the proportions of the whole
    photo, or of its crop.
    """

    sheet: str = "28x38cm"
    paints: str = "starter"
    limits: Limits = field(default_factory=Limits)
    crop: tuple[float, float, float, float] | None = None
    focal: tuple[float, float, float, float] | Path | None = None
    background: Background = "painted"
    background_mask: Path | None = None
    room: Room = field(default_factory=Room)
    one_more: bool = False


@dataclass(frozen=True, eq=False)
class PhotoPlan:
    """A plan with the reference it was made from and what is known of the photo file.

    more: paints not owned that would help, if asked for; the most helpful first.
    """

    plan: Plan
    reference: Reference
    photo: dict[str, Any]
    notes: tuple[str, ...]
    focal: dict[str, Any] | None = None
    locks: Locks = NO_LOCKS
    more: tuple[PaintMore, ...] | None = None


@dataclass(frozen=True, eq=False)
class Laid:
    """A photo laid on its sheet; known: of its file, as the plan's document tells it."""

    reference: Reference
    known: dict[str, Any]
    notes: tuple[str, ...]


def plan_photo(
    source: Path | bytes, wishes: Wishes | None = None, progress: Progress = no_progress
) -> PhotoPlan:
    """Plan the painting of a photo. Raises a FirstwashError that says what to change."""
    asked = wishes or Wishes()
    shelf = load_shelf(asked.paints)
    chest = open_chest(shelf, asked.limits)
    laid = laid_photo(source, asked, progress, shelf.paper)
    plan = make_plan(
        laid.reference,
        chest.choice,
        chest.limits,
        shelf.paper,
        progress=lambda s, d: progress(s, 0.05 + 0.95 * d),
        room=asked.room,
    )
    return PhotoPlan(
        plan, laid.reference, laid.known, laid.notes + chest.notes, _focal_words(asked),
        more=_more(plan, laid.reference, chest.owned, asked, progress),
    )  # fmt: skip


def _more(
    plan: Plan, reference: Reference, paints: Sequence[Paint], asked: Wishes, progress: Progress
) -> tuple[PaintMore, ...] | None:
    if not asked.one_more:
        return None
    progress("Trying one paint more", 0.95)
    return paints_more(plan, reference, paints, all_paints())


def plan_again(
    source: Path | bytes,
    folder: Path,
    wishes: Wishes | None = None,
    locks: Locks = NO_LOCKS,
    progress: Progress = no_progress,
) -> PhotoPlan:
    """Plan the same photo on the same drawing again, keeping what is locked.

    folder: of the plan before, as `write_plan` left it; wishes: with its sheet, crop,
    background and sizes of shapes; the rest may change. Raises a FirstwashError that says what
    does not fit.
    """
    asked = wishes or Wishes()
    shelf = load_shelf(asked.paints)
    told, index = _read_folder(folder)
    laid = laid_photo(source, asked, progress, shelf.paper)
    cells = read_cells(told, index, laid.reference.ppmm)
    if index.shape != laid.reference.lab.shape[:2]:
        raise RequestError("The plan is for another sheet than was asked for.")
    before = read_plan(told, cells, find_edges(laid.reference.lab, cells), laid.reference)
    stays = [before.paints[i].key for i in sorted(held(before, locks).paints)]
    chest = open_chest(shelf, asked.limits, stays)
    plan = replan(
        before, laid.reference, chest.limits, locks, chest.choice,
        lambda s, d: progress(s, 0.05 + 0.95 * d), asked.room,
    )  # fmt: skip
    kept = same_locks(locks, before, plan)
    return PhotoPlan(
        plan, laid.reference, laid.known, laid.notes + chest.notes, _focal_words(asked), kept,
        _more(plan, laid.reference, chest.owned, asked, progress),
    )  # fmt: skip


def open_plan(folder: Path) -> PhotoPlan:
    """The plan in a folder, with the reference that lies there; for looking at and for print.

    folder: as `write_plan` left it. Its reference is a JPEG, so what is judged against it differs
    a little from the photo. Raises a FirstwashError for a folder that holds no whole plan.
    """
    told, index = _read_folder(folder)
    try:
        photo = load_photo((folder / "reference.jpg").read_bytes())
        asked = told["sheet"]
        sheet = Sheet(
            float(asked["width_mm"]), float(asked["height_mm"]),
            float(asked["weight_gsm"]), str(asked["surface"]), str(asked["name"]),
        )  # fmt: skip
        notes, about = tuple(map(str, told["notes"])), dict(told["photo"])
        background = told["background"]["treatment"]
    except OSError:
        raise RequestError(f"{folder} holds no reference.jpg; make the plan again.") from None
    except (KeyError, TypeError, ValueError):
        raise RequestError(
            f"The plan in {folder} is damaged; make it again from the photo."
        ) from None
    # The picture in the folder shows its background as it was asked for.
    reference = replace(lay_on_sheet(photo, sheet), background=background)
    cells = read_cells(told, index, reference.ppmm)
    if index.shape != reference.lab.shape[:2]:
        raise RequestError(f"The plan in {folder} does not fit its reference; make it again.")
    plan = read_plan(told, cells, find_edges(reference.lab, cells), reference, JPEG_OFF)
    return PhotoPlan(plan, replace(reference, zone=_zone(plan)), about, notes)


def _zone(plan: Plan) -> NDArray[np.int32]:
    """(rows, cols) which part is background, told by what the plan does with it.

    A white left bare in the subject counts as a bare background too: both take no paint.
    """
    behind = np.zeros(len(plan.coats), dtype=np.int32)
    if plan.background == "bare":
        behind[[not own for own in plan.coats]] = BACKGROUND
    if plan.background == "graded":
        behind[[c for w in plan.washes if w.kind == "graded wash" for c in w.cells]] = BACKGROUND
    return behind[plan.cells.index]


def _read_folder(folder: Path) -> tuple[Any, NDArray[np.uint16]]:
    """The document of a plan's folder and the map of its cells."""
    try:
        text = (folder / "plan.json").read_bytes()
        cells = (folder / "masks" / "cells.png").read_bytes()
    except OSError as error:
        why = error.strerror or "cannot be read"
        raise RequestError(f"{folder} holds no whole plan ({why}); name a plan's folder.") from None
    try:
        return json.loads(text, parse_constant=_no_number), decode_numbers(cells)
    except (ValueError, RecursionError):
        raise RequestError(
            f"The plan in {folder} is damaged; make it again from the photo."
        ) from None


def _no_number(name: str) -> float:
    raise ValueError(f"{name} is no number")


def laid_photo(source: Path | bytes, asked: Wishes, progress: Progress, paper: Paper) -> Laid:
    """A photo on its sheet, edited as asked; paper: what is left bare. Raises a FirstwashError."""
    sheet = parse_sheet(asked.sheet)
    _check(asked)
    progress("Reading the photo", 0.0)
    width, height = photo_size(source)
    sheet = sheet.oriented_for(width, height)
    crop = _crop(asked, sheet, width, height)
    photo = load_photo(source, crop=crop, max_pixels_per_side=load_side(sheet))
    known = {
        "name": _readable(source.name) if isinstance(source, Path) else None,
        "width": width,
        "height": height,
        "crop": list(crop),
        "profile": photo.profile,
        "bits": photo.bits,
    }
    reference = _edited(lay_on_sheet(photo, sheet), asked, crop, (width, height), paper)
    return Laid(reference, known, photo.notes)


def _readable(name: str) -> str:
    """A file's name with what is not text in it, as some disks allow, replaced by "?"."""
    return name.encode("utf-8", "replace").decode("utf-8")


def _check(asked: Wishes) -> None:
    if asked.background != "painted" and asked.background_mask is None:
        raise RequestError(
            f"A {asked.background} background needs to know where it is; give a mask file, "
            "white where the background is."
        )
    if asked.background == "graded" and asked.limits.puddles == 1:
        raise RequestError(
            "A graded background takes a puddle of its own; allow two puddles or more."
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


def _edited(
    reference: Reference, asked: Wishes, crop: CropBox, size: Size, paper: Paper
) -> Reference:
    if asked.background_mask is not None:
        white = Bench.of([], paper).white_xyz()
        mask = _mask(asked.background_mask, crop, size)
        reference = with_background(reference, mask, asked.background, white)
    if isinstance(asked.focal, Path):
        reference = with_focal_area(reference, _mask(asked.focal, crop, size))
    elif asked.focal is not None:
        reference = with_focal_area(reference, focal_rectangle(reference, asked.focal))
    return reference


def _focal_words(asked: Wishes) -> dict[str, Any] | None:
    """The focal area as the plan's document tells it: a box or a mask's name, and its weight."""
    if asked.focal is None:
        return None
    if isinstance(asked.focal, Path):
        return {"mask": _readable(asked.focal.name), "box": None, "weight": FOCAL_WEIGHT}
    return {"mask": None, "box": list(asked.focal), "weight": FOCAL_WEIGHT}


def _mask(path: Path, crop: CropBox, size: Size) -> NDArray[np.float32]:
    """A mask picture as (rows, cols) in [0, 1] over the crop: its mean linear light, halved
    at mid grey. size: of the whole photo; a mask drawn over all of it is cropped as it was.
    """
    own = photo_size(path, limits=MASK_LIMITS)
    box = None
    if own != (crop.width, crop.height) and _alike(own, size):
        box = _scaled(crop, own[0] / size[0], own[1] / size[1])
    light = load_photo(path, limits=MASK_LIMITS, crop=box).linear.mean(axis=2)
    return np.asarray(light > 0.2, dtype=np.float32)  # linear 0.2 is about half in sRGB


def _alike(one: Size, other: Size) -> bool:
    """Whether two sizes in pixels have one shape, to the rounding of a small picture."""
    return abs(one[0] * other[1] - other[0] * one[1]) <= 0.01 * other[0] * one[1]


def _scaled(box: CropBox, across: float, down: float) -> CropBox:
    left, right = round(box.x * across), round(box.right * across)
    top, bottom = round(box.y * down), round(box.bottom * down)
    return CropBox(left, top, max(right - left, 1), max(bottom - top, 1))


# --- writing ---------------------------------------------------------------------

OWN_FILES = (  # what a plan's folder may hold; anything else there is the painter's
    *("plan.json", "summary.html", "reference.jpg", "comparison.png", "difference.png"),
    *("given-up.png", "masks", "masks/*.png", "stages", "stages/stage-*.png"),
    "stages/finished.png",
)


def check_folder(folder: Path) -> Path:
    """The folder as an absolute path, if a plan may be written there; else OutputError."""
    return writable(folder, OWN_FILES, _holds_plan)


def _holds_plan(folder: Path) -> bool:
    file = folder / "plan.json"
    return file.is_file() and f'"{FORMAT}"'.encode() in file.read_bytes()[:100]


def write_plan(result: PhotoPlan, folder: Path, progress: Progress = no_progress) -> Path:
    """Write everything a painter looks at into `folder`; returns the summary page's path.

    The folder appears whole or not at all. An older plan there is replaced in one step; a
    folder that holds anything else is refused.
    """
    target = check_folder(folder)
    write_whole(folder, target, _files(result, progress))
    return target / "summary.html"


def _file_names(plan: Plan) -> dict[str, Any]:
    layers = range(1, plan.layers + 1)
    return {
        "reference": "reference.jpg",
        "comparison": "comparison.png",
        "difference": "difference.png",
        "given_up": "given-up.png",
        "cells": "masks/cells.png",
        "edges": "masks/edges.png",
        "touches": "masks/touches.png",
        "finished": "stages/finished.png",
        "masks": [f"masks/layer-{n}.png" for n in layers],
        "washes": [f"masks/layer-{n}-washes.png" for n in layers],
        "stages": [f"stages/stage-{n}.png" for n in range(plan.layers + 1)],
    }


def _files(result: PhotoPlan, progress: Progress) -> Iterator[tuple[str, bytes]]:
    plan, names = result.plan, _file_names(result.plan)
    progress("Writing the plan", 0.0)
    yield (
        "plan.json",
        plan_json(
            plan, names, {**result.photo, "notes": list(result.notes)}, result.focal, result.locks
        ),
    )
    title = Path(result.photo["name"] or "painting").stem
    yield "summary.html", summary_page(plan, names, title, result.notes, result.more)
    yield from _masks(plan, names)
    yield from _sheets(result, names)
    width, height = plan.photo_px
    times = pictures.fine_grid(width, height)
    index = pictures.cells_at(plan.cells, width * times, height * times)
    ppmm = width / plan.sheet.width_mm
    pages = [*enumerate(names["stages"]), (None, names["finished"])]
    for done, (stage, name) in enumerate(pages):
        progress("Painting the stages", done / len(pages))
        yield name, encode_png(pictures.paint_stage(plan, stage, index, times), ppmm=ppmm)


def _masks(plan: Plan, names: dict[str, Any]) -> Iterator[tuple[str, bytes]]:
    index, ppmm = plan.cells.index, plan.cells.ppmm
    yield names["cells"], encode_png(index.astype(np.uint16), ppmm=ppmm)
    yield names["touches"], encode_png(pictures.touch_picture(plan), ppmm=ppmm)
    yield names["edges"], encode_png(pictures.edge_picture(plan.edges), ppmm=ppmm)
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
        ("Target in flat shapes", pictures.paint_cells(plan.cells.index, plan.aims)),
        ("Predicted painting", linear_to_srgb8(xyz_to_linear_srgb(plan.finished_xyz))),
    ]
    yield names["comparison"], pictures.comparison_picture(panels, reference.ppmm)
    painted = as_judged(plan.finished_xyz, reference)
    photo = reference.judge_lab
    difference = pictures.difference_picture(painted, photo)
    given_up = pictures.difference_picture(plan.tone(photo), photo)
    yield names["given_up"], encode_png(given_up, ppmm=reference.judge_ppmm)
    yield names["difference"], encode_png(difference, ppmm=reference.judge_ppmm)
