"""Where an unfinished painting stands, from a photo of it, and how to go on."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import PhotoError, RequestError
from firstwash.laid.amounts import Laid, Prior, amounts_laid
from firstwash.laid.endings import Ending, EndingName, endings, too_dark
from firstwash.laid.seen import areas_seen
from firstwash.laid.sheet_photo import SheetPhoto, sheet_photo
from firstwash.laid.told import WashFound, washes_found, whole_words
from firstwash.language import listed, tr, tr_count
from firstwash.optics.observer import lab_to_xyz, xyz_to_linear_srgb
from firstwash.picture.load import load_photo
from firstwash.picture.profile import encode_jpeg, encode_png, linear_to_srgb8
from firstwash.plan.problem import Progress, no_progress
from firstwash.plan.result import Plan
from firstwash.store.whole_folder import marked, writable, write_whole
from firstwash.usecases import PhotoPlan, open_plan, write_plan
from firstwash.usecases_finished import Corners

__all__ = ["Standing", "take_stock", "write_standing"]

HEAD: Final = "firstwash progress"
MARK: Final = "progress.txt"
PATTERNS: Final = (MARK, "sheet.jpg", "differences.png", "ending-*.jpg")
UNSEEN: Final = 0.4  # share of the picture that must show at least
QUALITY: Final = 90
FULL_SCALE: Final = 25.0  # L* of difference that the picture shows as black or white


@dataclass(frozen=True, eq=False)
class Standing:
    """What was found after `done` layers. ways: endings, best first. beyond: areas darker now than
    they should be in the end. told: sentences for the painter.
    """

    done: int
    photo: SheetPhoto
    laid: Laid
    washes: tuple[WashFound, ...]
    ways: tuple[Ending, ...]
    beyond: NDArray[np.int64]
    told: tuple[str, ...]


def take_stock(
    source: PhotoPlan,
    photo: Path | bytes,
    done: int,
    corners: Corners | None = None,
    prior: Prior | None = None,
    progress: Progress = no_progress,
) -> Standing:
    """Where the painting stands after `done` layers are dry, and the ways to go on.

    corners: four places of the sheet in the photo as shares (0-1) of its width and height, upper
    left first, then clockwise; None to have them found. prior: what is known of this painter's
    hand. The plan stays as it is.
    Raises PhotoError for a photo that cannot be used, RequestError for a layer there is not.
    """
    plan = source.plan
    if not 1 <= done <= plan.layers:
        raise RequestError(
            f"The plan has layers 1 to {plan.layers}; tell which of them was the last to dry."
        )
    progress("Reading the photo", 0.0)
    loaded = load_photo(photo)
    rows, cols = loaded.linear.shape[:2]
    touches = None if corners is None else np.array(corners) * (cols, rows) - 0.5
    progress("Finding the sheet", 0.1)
    seen = sheet_photo(loaded.linear, plan, done, touches)
    progress("Telling the paint from its colours", 0.4)
    areas = areas_seen(plan, done, seen.picture, seen.hidden)
    share = plan.cells.areas_mm2()
    if share[np.isfinite(areas.sigmas)].sum() < UNSEEN * share.sum():
        raise PhotoError(tr("Too little of the painting can be seen; clear the board and repeat."))
    laid = amounts_laid(plan, areas.labs, areas.sigmas, done, prior)
    washes = washes_found(plan, laid, done)
    ways = endings(plan, source.reference, laid, washes, done, source.locks, progress)
    ground = next(w.plan for w in ways if w.name == "as planned")
    beyond = too_dark(plan, ground, done)
    told = (*loaded.notes, *seen.notes, *_told(plan, laid, washes, beyond, done))
    progress("Done", 1.0)
    return Standing(done, seen, laid, washes, ways, beyond, told)


def _told(
    plan: Plan, laid: Laid, washes: Sequence[WashFound], beyond: NDArray[np.int64],
    done: int,
) -> list[str]:  # fmt: skip
    lines = [whole_words(plan, laid, done)]
    off = [w for w in washes if w.sure]
    if not off:
        lines.append(tr("No wash differs from the plan by more than a photo can tell."))
    if len(beyond):
        share = plan.cells.areas_mm2()[beyond].sum() / plan.cells.areas_mm2().sum()
        lines.append(
            tr_count(
                "{count} area ({share} in 100 of the sheet) is darker now than it should be in the "
                "end, and no paint makes it lighter: lift what lifts, or let its neighbours "
                "follow.",
                "{count} areas ({share} in 100 of the sheet) are darker now than they should be "
                "in the end, and no paint makes them lighter: lift what lifts, or let their "
                "neighbours follow.",
                len(beyond), share=max(round(100 * share), 1),
            )
        )  # fmt: skip
    lines.append(
        tr(
            "Colours are judged against bare paper only; how this phone draws colours was worked "
            "out from the painting itself, so all of it is an estimate."
        )
    )
    return lines


# --- files -----------------------------------------------------------------------


def write_standing(
    plan: Path, photo: Path, done: int, folder: Path, corners: Corners | None = None,
    take: EndingName | None = None, into: Path | None = None, progress: Progress = no_progress,
) -> tuple[str, ...]:  # fmt: skip
    """Take stock and write what was found into `folder`; returns what was told.

    take: the way chosen, whose plan is written into the folder `into`.
    """
    target = writable(folder, PATTERNS, marked(MARK, HEAD))
    source = open_plan(plan)
    standing = take_stock(source, photo, done, corners, progress=progress)
    lines = standing_lines(standing)
    write_whole(folder, target, sorted(standing_files(source.plan, standing, lines).items()))
    if take is not None and into is not None:
        way = next((w for w in standing.ways if w.name == take), None)
        if way is None:
            raise RequestError(
                f"There is no way “{take}” here; there are "
                + ", ".join(f"“{w.name}”" for w in standing.ways)
                + "."
            )
        write_plan(replace(source, plan=way.plan), into, progress)
    return tuple(lines)


def standing_lines(standing: Standing) -> list[str]:
    """What was found, line by line."""
    lines = [*standing.told, ""]
    off = [w for w in standing.washes if w.sure or w.odd or not w.seen]
    for wash in off:
        layer, number = wash.key
        lines.append(
            tr("Wash {layer}.{number}, puddle {name}: {words}", layer=layer, number=number,
               name=wash.name, words=wash.words)
        )  # fmt: skip
    same = [f"{w.key[0]}.{w.key[1]}" for w in standing.washes if w not in off]
    if same:
        lines.append(tr("About as strong as meant: wash {names}.", names=listed(same)))
    lines += ["", tr("Ways to go on, the nearest to the picture first:")]
    for way in standing.ways:
        lines.append(
            tr("{title}: ends about {error} from what should be seen. {words}", title=way.title,
               error=f"{way.error:.1f}", words=way.words)
        )  # fmt: skip
    return lines


def standing_files(plan: Plan, standing: Standing, lines: Sequence[str]) -> dict[str, bytes]:
    """Every file by its name: what was told, the sheet, differences, and how each way ends."""
    ppmm = plan.cells.ppmm
    files = {
        MARK: ("\n".join([HEAD, "", *lines]) + "\n").encode(),
        "sheet.jpg": _jpeg(np.nan_to_num(standing.photo.picture), ppmm),
        "differences.png": encode_png(_differences(plan, standing)),
    }
    for way in standing.ways:
        shown = xyz_to_linear_srgb(way.plan.finished_xyz)
        files[f"ending-{way.name.replace(' ', '-')}.jpg"] = _jpeg(shown, ppmm)
    return files


def _differences(plan: Plan, standing: Standing) -> NDArray[np.uint8]:
    """Grey (rows, cols, 3): the middle is as planned, darker where the sheet is darker."""
    off = standing.laid.labs[:, 0] - plan.stage_labs[standing.done][:, 0]
    shown = 65.0 + np.clip(np.nan_to_num(off), -FULL_SCALE, FULL_SCALE) * 35.0 / FULL_SCALE
    grey = np.stack([shown, np.zeros_like(shown), np.zeros_like(shown)], axis=-1)
    rgb = linear_to_srgb8(np.clip(xyz_to_linear_srgb(lab_to_xyz(grey)), 0.0, 1.0)[None])[0]
    return np.asarray(rgb[plan.cells.index])


def _jpeg(linear: NDArray[np.floating], ppmm: float) -> bytes:
    return encode_jpeg(linear_to_srgb8(np.clip(linear, 0.0, 1.0)), quality=QUALITY, ppmm=ppmm)
