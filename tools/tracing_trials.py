"""How well the outline to trace agrees with borders that are known.

The rendered still lifes tell which thing each pixel shows, where the lamp's light is cut off by
another thing, and the local colour. Each is planned, its outline drawn, and compared within 2 mm
on a sheet 300 mm wide:

    things   share of the things' borders that a line follows (recall)
    seen     the same, of those borders that show in the picture: colours 6 or more apart, CIELAB
             with chroma compressed
    shadows  the same, of the borders of cast shadows that show
    known    share of all lines that lie on a border of a thing, of a cast shadow or of a local
             colour (precision); the rest follows form shadows, reflections and what the plan parts
    contours the same, of the contours alone

Run: python tools/tracing_trials.py [--apart] [--detail 0.3 0.5 0.8]
     --apart: the scenes that nothing was tuned on
"""

import argparse
import io
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import distance_transform_edt, gaussian_filter, map_coordinates

from firstwash.arrays import BoolArray, FloatArray
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.picture.values import even_space
from firstwash.tracing.lines import trace
from firstwash.tracing.model import Line
from firstwash.usecases import PhotoPlan, Wishes, plan_photo
from still_lifes.gallery import KEPT_APART, TUNING, rendered
from still_lifes.truth import Rendered

__all__ = ["Agreement", "agreement", "known_borders"]

WIDTH_MM = 300.0
NEAR_MM = 2.0
SHOWS = 6.0  # between the two sides of a border, CIELAB with chroma compressed
STEP = 12.0  # between two local colours, likewise
HEADS = ("things", "seen", "shadows", "known", "contours")


@dataclass(frozen=True, eq=False)
class Borders:
    """Known borders as marks (rows, cols), at ppmm pixels to a mm."""

    things: NDArray[np.bool_]
    seen: NDArray[np.bool_]
    shadows: NDArray[np.bool_]
    colours: NDArray[np.bool_]
    ppmm: float


@dataclass(frozen=True)
class Agreement:
    """Shares 0-1, see the head of this file; length of all lines in mm. NaN: nothing to follow."""

    things: float
    seen: float
    shadows: float
    known: float
    contours: float
    length_mm: float


def _marks(labels: NDArray[Any]) -> NDArray[np.bool_]:
    """Pixels (rows, cols) whose right or lower neighbour has another label."""
    out = np.zeros(labels.shape, dtype=np.bool_)
    out[:, :-1] |= labels[:, :-1] != labels[:, 1:]
    out[:-1] |= labels[:-1] != labels[1:]
    return out


def _steps(lab: FloatArray) -> NDArray[np.float64]:
    """How far apart (rows, cols) colours are on the two sides of a pixel, two pixels away."""
    across = np.linalg.norm(np.roll(lab, -2, 1) - np.roll(lab, 2, 1), axis=2)
    down = np.linalg.norm(np.roll(lab, -2, 0) - np.roll(lab, 2, 0), axis=2)
    out = np.maximum(across, down)
    out[:2] = out[-2:] = out[:, :2] = out[:, -2:] = 0.0
    return np.asarray(out, dtype=np.float64)


def _even(light: FloatArray) -> NDArray[np.float32]:
    return even_space(xyz_to_lab(linear_srgb_to_xyz(np.clip(light, 0.0, 1.0))))


def known_borders(scene: Rendered) -> Borders:
    """What is known of a rendered picture's borders."""
    ppmm = scene.rgb.shape[1] / WIDTH_MM
    shows = _steps(_even(scene.rgb)) >= SHOWS
    things = _marks(scene.objects)
    lit = scene.facing > 0.1
    cast = _marks(gaussian_filter(scene.shadow, 1.0) > 0.5) & lit & scene.valid & shows
    colours = _steps(_even(scene.reflectance)) >= STEP
    return Borders(things, things & shows, cast, colours & scene.valid, ppmm)


def planned(scene: Rendered) -> PhotoPlan:
    """A plan for a rendered picture, whole, on a sheet of its proportions."""
    rows, cols = scene.rgb.shape[:2]
    light = np.clip(scene.rgb, 0.0, 1.0)
    shown = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    out = io.BytesIO()  # sRGB's curve above: [IEC61966-2-1]
    Image.fromarray(np.rint(255.0 * shown).astype(np.uint8)).save(out, "png")
    return plan_photo(out.getvalue(), Wishes(sheet=f"{WIDTH_MM:g}x{WIDTH_MM * rows / cols:.3f}mm"))


def agreement(made: PhotoPlan, borders: Borders, detail: float) -> Agreement:
    """How a plan's outline agrees with known borders."""
    lines = trace(made.plan, made.reference, detail).lines
    drawn = np.zeros(borders.things.shape, dtype=np.bool_)
    for line in lines:
        at = np.floor(_places(line) * borders.ppmm).astype(np.int64)
        rows, cols = (at[:, 1 - k].clip(0, drawn.shape[k] - 1) for k in range(2))
        drawn[rows, cols] = True
    away = _away(drawn, borders.ppmm)
    known = _away(borders.things | borders.shadows | borders.colours, borders.ppmm)
    return Agreement(
        things=_share(away[borders.things]),
        seen=_share(away[borders.seen]),
        shadows=_share(away[borders.shadows]),
        known=_precision(lines, known, borders.ppmm),
        contours=_precision([n for n in lines if n.kind != "inner"], known, borders.ppmm),
        length_mm=sum(line.length_mm for line in lines),
    )


def _places(line: Line) -> NDArray[np.float64]:
    """Points (n, 2) about half a mm apart along a line."""
    points = line.points(16)
    run = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))]
    even = np.linspace(0.0, run[-1], max(2, int(2.0 * run[-1])))
    return np.column_stack([np.interp(even, run, points[:, k]) for k in range(2)])


def _away(marks: BoolArray, ppmm: float) -> NDArray[np.float64]:
    """Distance (rows, cols) to the nearest mark, mm."""
    if not marks.any():
        return np.full(marks.shape, np.inf)
    return np.asarray(distance_transform_edt(~marks) / ppmm)


def _share(away: FloatArray) -> float:
    return float((away <= NEAR_MM).mean()) if len(away) else float("nan")


def _precision(lines: list[Line] | tuple[Line, ...], known: FloatArray, ppmm: float) -> float:
    if not lines:
        return float("nan")
    at = np.concatenate([_places(line) for line in lines]) * ppmm - 0.5
    return _share(map_coordinates(known, [at[:, 1], at[:, 0]], order=1, mode="nearest"))


def _told(name: str, detail: float, found: Agreement) -> None:
    shares = "".join(f"{100 * getattr(found, head):10.0f}" for head in HEADS)
    print(f"{name:18}{detail:5.1f}{shares}{found.length_mm / 1000:10.1f}", flush=True)


def main() -> None:
    """Print the table, in per cent, and lengths in m."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--apart", action="store_true")
    parser.add_argument("--detail", type=float, nargs="+", default=(0.3, 0.5, 0.8))
    asked = parser.parse_args()
    print(f"{'':18}{'':5}" + "".join(f"{head:>10}" for head in (*HEADS, "length")))
    every: dict[float, list[Agreement]] = {detail: [] for detail in asked.detail}
    for name in KEPT_APART if asked.apart else TUNING:
        scene = rendered(name)
        made, borders = planned(scene), known_borders(scene)
        for detail in asked.detail:
            every[detail].append(agreement(made, borders, detail))
            _told(name, detail, every[detail][-1])
    for detail, found in every.items():
        means = {
            head: float(np.nanmean([getattr(one, head) for one in found]))
            for head in (*HEADS, "length_mm")
        }
        _told("mean", detail, Agreement(**means))


if __name__ == "__main__":
    main()
