"""Square made-up photos of painted sheets, and say how well it went.

The photos come from a simulator (`tools/board_scene.py`) that shares neither light nor camera with
what reads them; both bend a lens by one radial term. The sheets are plans of two photos of
scikit-image and of a drawn picture whose upper part stays bare, in the spectra that the plan's
layers give.

For each photo: error of the sheet's edges (median and largest, mm over a grid on the sheet), of the
picture's corners (largest, mm), the lens's k1 found and true, how uneven bare paper still is (90 of
100 places within so many L*; before in brackets), CIEDE2000 of the picture's colours against the
true ones in D65, mean by area (before: the photo as it is). A photo counts as silently wrong where
a corner of the picture is off by more than 3 mm and nothing was said.

Run: python tools/board_trials.py [--photos 60] [--first 0] [--megapixels 12] [--table none]
"""

import argparse
import io
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from skimage import data

from board_scene import Painted, photograph_sheet
from card_camera import lab_d65
from firstwash.easel.flat_sheet import flatten
from firstwash.easel.sheet_corners import SheetSeen, find_sheet
from firstwash.errors import PhotoError
from firstwash.finished.squared import Squared, square
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.optics.stack import stages
from firstwash.picture.load import load_photo
from firstwash.plan.bench import Bench
from firstwash.plan.fields import amounts_by_cell
from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.usecases import Wishes, plan_photo

__all__ = ["Trial", "bare_still_life", "painted_of", "planned", "summed", "trial"]

Floats = NDArray[np.float64]

SUBJECTS: Final = ("coffee", "chelsea", "bare")
MARGINS_MM: Final = (15.0, 10.0, 20.0)  # of the subjects
WRONG_MM: Final = 3.0  # a corner that is further off is wrong
SMALL: Final = 0.001  # share of the picture from which a colour counts
CLEAR_MM: Final = 2.0  # from paint and from the sheet's edge
LIKE_PAPER: Final = 1.0  # CIEDE2000 from bare paper that counts as bare


@dataclass(frozen=True)
class Trial:
    """One photo; see the module. edges: median and largest. notes: what was told of the photo."""

    seed: int
    subject: str
    facts: dict[str, Any]
    refused: str = ""
    edges: tuple[float, float] = (0.0, 0.0)
    corners: float | None = None
    k1: tuple[float, float] = (0.0, 0.0)
    uneven: tuple[float, float] = (0.0, 0.0)
    colour: tuple[float, float] | None = None
    lit: bool = False
    notes: tuple[str, ...] = field(default=())

    @property
    def silent(self) -> bool:
        """Wrong, and nothing was said."""
        off = self.edges[1] if self.corners is None else self.corners
        return not self.refused and not self.notes and off > WRONG_MM


def bare_still_life() -> NDArray[np.uint8]:
    """(360, 480, 3) sRGB: two fruits on a strip of table, all above them white."""
    picture = np.full((360, 480, 3), 255, np.uint8)
    picture[230:] = (150, 110, 80)
    cv2.ellipse(picture, (170, 220), (75, 70), 0, 0, 360, (190, 40, 30), -1, cv2.LINE_AA)
    cv2.ellipse(picture, (315, 235), (95, 62), 0, 0, 360, (225, 170, 30), -1, cv2.LINE_AA)
    cv2.ellipse(picture, (240, 300), (60, 20), 0, 0, 360, (70, 60, 80), -1, cv2.LINE_AA)
    return picture


@cache
def planned(subject: str) -> Plan:
    """A small plan of one of the subjects."""
    pixels = bare_still_life() if subject == "bare" else getattr(data, subject)()
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "png")
    limits = Limits(shapes=60, puddles=8, washes=20, layers=3)
    return plan_photo(file.getvalue(), Wishes(sheet="32x24cm", limits=limits)).plan


@cache
def painted_of(subject: str) -> Painted:
    """The sheet with its washes, without strokes and soft edges, and its bare margin."""
    plan = planned(subject)
    amounts = amounts_by_cell(plan.coats, plan.recipes, plan.layers)
    k, s = (np.array([getattr(p, name) for p in plan.paints]) for name in ("k", "s"))
    spectra = np.array([stages(plan.paper, a @ k, a @ s)[-1] for a in amounts])
    return Painted(
        plan.cells.index.astype(np.int64), spectra, np.asarray(plan.paper.reflectance),
        plan.cells.ppmm, MARGINS_MM[SUBJECTS.index(subject)],
    )  # fmt: skip


def trial(seed: int, megapixels: float, table: str | None = None) -> Trial:
    """Photograph a sheet, square it, and compare."""
    subject = SUBJECTS[seed % len(SUBJECTS)]
    plan, painted = planned(subject), painted_of(subject)
    photo = photograph_sheet(painted, np.random.default_rng(seed), megapixels, table)
    told = {k: photo.conditions[k] for k in ("tilt", "uneven", "light", "table", "turn")}
    linear = load_photo(photo.jpeg).linear
    size = plan.sheet.width_mm, plan.sheet.height_mm
    try:
        seen = find_sheet(linear)
        paper = Bench.of([], plan.paper).white_xyz()
        squared = square(linear, paper, size, expected=plan.finished_xyz)
    except PhotoError as error:
        return Trial(seed, subject, told, refused=str(error))
    return Trial(
        seed, subject, told,
        edges=_edges(seen, painted, photo.card_to_photo),
        corners=_corners(squared, painted, photo.card_to_photo),
        k1=(seen.k1, photo.conditions["k1"]),
        uneven=_uneven(squared, painted, linear),
        colour=_colours(squared, painted, linear, size),
        lit=squared.lit,
        notes=squared.notes,
    )  # fmt: skip


def _edges(seen: SheetSeen, painted: Painted, to_photo: Any) -> tuple[float, float]:
    """Median and largest error over a grid on the sheet, mm, under the best of four turns."""
    wide, high = painted.size_mm
    share = np.linspace(0, 1, 9)
    grid = np.stack(np.meshgrid(share * wide, share * high), axis=-1).reshape(-1, 2)
    there, best = to_photo(grid), (np.inf, np.inf)
    for turns in range(4):
        plane = seen.plane(wide, high, turns)
        scale = plane.scale_at(np.array([[0.5 * wide, 0.5 * high]])).mean()
        off = np.linalg.norm(plane.pixels(grid) - there, axis=1) / scale
        best = min(best, (float(np.median(off)), float(off.max())))
    return best


def _corners(squared: Squared, painted: Painted, to_photo: Any) -> float | None:
    """Largest error of the picture's corners, mm; None where its border was not found."""
    if squared.margins_mm is None:
        return None
    edge = painted.margin_mm
    wide, high = (side - 2 * edge for side in painted.size_mm)
    own = np.array([[0.0, 0.0], [wide, 0.0], [wide, high], [0.0, high]])
    off = np.linalg.norm(squared.plane.pixels(own) - to_photo(own + edge), axis=1)
    return float(off.max() / squared.plane.scale_at(0.5 * own[2]).mean())


def _uneven(squared: Squared, painted: Painted, linear: NDArray[np.float32]) -> tuple[float, float]:
    """Between the 5th and the 95th of 100 places of bare paper on the sheet, L*; and before."""
    edge = round(painted.margin_mm * painted.ppmm)
    bare = delta_e_2000(painted.labs(), lab_d65(painted.paper[None])) < LIKE_PAPER
    whole = np.pad(bare[painted.index].astype(np.uint8), edge, constant_values=1)
    brush = np.ones((2 * round(CLEAR_MM * painted.ppmm) + 1,) * 2, np.uint8)
    where = cv2.erode(whole, brush, borderType=cv2.BORDER_CONSTANT, borderValue=0) > 0
    rows, cols = whole.shape
    spread = []
    wide, high = (side - 2 * painted.margin_mm for side in painted.size_mm)
    raw = _raw_sheet(squared, (wide, high), linear)
    white = float(np.percentile(raw.max(axis=2), 99))
    for pixels in (squared.sheet, raw / white):
        small = cv2.resize(np.nan_to_num(pixels), (cols, rows), interpolation=cv2.INTER_AREA)
        soft = cv2.GaussianBlur(small, (0, 0), 2.0)
        lightness = xyz_to_lab(linear_srgb_to_xyz(np.maximum(soft[where], 0.0)))[:, 0]
        spread.append(float(np.ptp(np.percentile(lightness, (5, 95)))))
    return spread[0], spread[1]


def _raw_sheet(
    squared: Squared, size: tuple[float, float], linear: NDArray[np.float32]
) -> NDArray[np.float32]:
    """The same sheet as `Squared.sheet`, light as in the photo."""
    upper, right, lower, left = squared.margins_mm or (0.0,) * 4
    box = (-left, -upper, size[0] + right, size[1] + lower)
    return flatten(linear, squared.plane, box, squared.picture.shape[1] / size[0])


def _colours(
    squared: Squared, painted: Painted, linear: NDArray[np.float32], size: tuple[float, float]
) -> tuple[float, float] | None:
    """CIEDE2000 of the picture, and of it as in the photo; None where it was not found or lit."""
    if not squared.lit or squared.margins_mm is None or squared.ppmm is None:
        return None
    raw = flatten(linear, squared.plane, (0.0, 0.0, *size), squared.ppmm)
    return _off(squared.picture, painted), _off(raw, painted)


def _off(pixels: NDArray[np.float32], painted: Painted) -> float:
    """Mean CIEDE2000 by area of the middle colour of every cell against the true one."""
    rows, cols = painted.index.shape
    small = cv2.resize(np.nan_to_num(pixels), (cols, rows), interpolation=cv2.INTER_AREA)
    share = np.bincount(painted.index.ravel(), minlength=len(painted.spectra)) / painted.index.size
    large = np.flatnonzero(share > SMALL)
    found = np.array([np.median(small[painted.index == i], axis=0) for i in large])
    labs = xyz_to_lab(linear_srgb_to_xyz(np.maximum(found, 0.0)))
    return float(np.average(delta_e_2000(labs, painted.labs()[large]), weights=share[large]))


def _line(t: Trial) -> str:
    about = f"{t.seed:5} {t.subject:8} tilt {t.facts['tilt']:4.1f} {t.facts['table']:6}"
    if t.refused:
        return f"{about} refused: {t.refused[:60]}"
    corners = "  none" if t.corners is None else f"{t.corners:6.2f}"
    colour = " none" if t.colour is None else f"{t.colour[0]:5.2f} ({t.colour[1]:5.2f})"
    return (
        f"{about} edges {t.edges[0]:5.2f} {t.edges[1]:5.2f} mm, corners {corners} mm, "
        f"k1 {t.k1[0]:+.3f} ({t.k1[1]:+.3f}), L* {t.uneven[0]:4.1f} ({t.uneven[1]:.1f}), "
        f"colour {colour}{' SILENT' if t.silent else ''}"
        f"{' | ' + '; '.join(n[:50] for n in t.notes) if t.notes else ''}"
    )


def summed(trials: Sequence[Trial]) -> dict[str, Any]:
    """Figures of a set of photos."""
    read = [t for t in trials if not t.refused]
    out: dict[str, Any] = {"photos": len(trials), "refused": len(trials) - len(read)}
    if not read:
        return out

    def middle(values: Sequence[float], share: float = 50.0) -> float | None:
        return round(float(np.percentile(values, share)), 3) if values else None

    corners = [t.corners for t in read if t.corners is not None]
    lit = [t for t in read if t.lit]
    uneven = [t.uneven for t in lit]
    colour = [t.colour for t in lit if t.colour is not None]
    return out | {
        "with its border": len(corners), "lit": len(lit),
        "silently wrong": sum(t.silent for t in read),
        "edges median": middle([t.edges[0] for t in read]),
        "edges largest, p95": middle([t.edges[1] for t in read], 95),
        "edges largest": middle([t.edges[1] for t in read], 100),
        "corners median": middle(corners), "corners p95": middle(corners, 95),
        "k1 rms": round(float(np.sqrt(np.mean([(t.k1[0] - t.k1[1]) ** 2 for t in read]))), 4),
        "L* left": middle([u[0] for u in uneven]), "L* before": middle([u[1] for u in uneven]),
        "colour": middle([c[0] for c in colour]),
        "colour before": middle([c[1] for c in colour]),
    }  # fmt: skip


def main() -> int:
    """Run the trials and print what came of them."""
    parser = argparse.ArgumentParser(description="Square made-up photos of painted sheets.")
    parser.add_argument("--photos", type=int, default=60)
    parser.add_argument("--first", type=int, default=0, help="seed of the first photo")
    parser.add_argument("--megapixels", type=float, default=12.0)
    parser.add_argument("--table", choices=["none"], help="none: as white as the paper")
    wanted = parser.parse_args()
    done = []
    for seed in range(wanted.first, wanted.first + wanted.photos):
        done.append(trial(seed, wanted.megapixels, wanted.table))
        print(_line(done[-1]), flush=True)
    for subject in SUBJECTS:
        print(f"{subject}: {json.dumps(summed([t for t in done if t.subject == subject]))}")
    print(f"all: {json.dumps(summed(done))}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
