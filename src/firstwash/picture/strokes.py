"""Strokes of detail: what a pointed brush adds that broad washes cannot show.

Catch-lights, veins, whiskers and stems are narrower than any shape worth a wash. They are
looked for as thin lines and small spots of the photo that the painting lacks, in lightness
and in the two chroma planes; a stroke is fitted to each; and strokes are picked one after
another by how much of the difference between painting and photo they take away.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, as_float, check_last_axis
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import lab_to_xyz, linear_srgb_to_xyz, xyz_to_lab, xyz_to_linear_srgb
from firstwash.parallel import in_parallel
from firstwash.picture.stroke_fit import (
    Candidate,
    StrokeLimits,
    View,
    fit_dots,
    fit_lines,
    lines_of,
    masking,
    spots_of,
)
from firstwash.picture.stroke_render import Cover, Stroke, cover_of
from firstwash.picture.values import even_space

__all__ = ["Stroke", "StrokeLimits", "find_strokes"]

CORE = 0.7  # of its largest cover: the part of a stroke whose colour is asked for
OVERLAP = 0.4  # of a stroke's area that earlier ones may have taken
CHANCES = 6  # candidates looked at closely for each stroke allowed, in each plane
SMALLEST_PX = 8  # shortest side of a picture in which a line can be told from its sides


def find_strokes(
    photo_lab: FloatArray,
    painted_lab: FloatArray,
    ppmm: float,
    weight: FloatArray | None = None,
    limits: StrokeLimits | None = None,
) -> tuple[Stroke, ...]:
    """Strokes that bring a painting nearer to its photo, the most useful first.

    photo_lab, painted_lab: CIELAB (rows, cols, 3) of one size, ppmm pixels per mm of the
    sheet; weight: (rows, cols) importance ≥ 0, default 1. Where the paints cannot follow the
    photo, give the photo as they can render it, or its darks ask for strokes everywhere.
    Raises ValueError for pictures that are not finite or do not fit each other.
    """
    asked = limits or StrokeLimits()
    photo, painted = as_float(photo_lab), as_float(painted_lab)
    importance = np.ones(photo.shape[:2]) if weight is None else as_float(weight)
    _check(photo, painted, importance, ppmm)
    if min(photo.shape[:2]) < SMALLEST_PX or asked.max_width_mm * ppmm < 1.0:
        return ()  # no pixel lies beside a line, or the broadest line is finer than a pixel
    colour = even_space(photo)
    missing = colour - even_space(painted)
    canvas = _Canvas(photo, painted, ppmm, importance, masking(colour[..., 0], ppmm))
    soft = importance.astype(np.float32)

    def likely(channel: int) -> list[Candidate]:
        return list(_candidates(channel, colour, missing, ppmm, asked, soft))

    candidates = [c for found in in_parallel(likely, range(3)) for c in found]
    return tuple(_picked(candidates, canvas, asked))


def _check(photo: FloatArray, painted: FloatArray, weight: FloatArray, ppmm: float) -> None:
    check_last_axis(photo, 3, "photo_lab")
    if photo.ndim != 3 or painted.shape != photo.shape or weight.shape != photo.shape[:2]:
        raise ValueError(
            "photo_lab and painted_lab must be (rows, cols, 3), weight (rows, cols), of one size; "
            f"got {photo.shape}, {painted.shape} and {weight.shape}"
        )
    if not all(np.isfinite(a).all() for a in (photo, painted, weight)):
        raise ValueError("photo_lab, painted_lab and weight must be finite")
    if weight.size and weight.min() < 0.0:
        raise ValueError("weight must not be negative")
    if not (np.isfinite(ppmm) and ppmm > 0.0):
        raise ValueError("ppmm must be above 0")


def _candidates(
    channel: int,
    colour: NDArray[np.float32],
    missing: NDArray[np.float32],
    ppmm: float,
    limits: StrokeLimits,
    weight: NDArray[np.float32],
) -> Iterator[Candidate]:
    """The likeliest strokes of one plane, light and dark ones (or redder and greener, …)."""
    most = CHANCES * max(limits.most_light, limits.most_dark)
    plane, lack = (np.ascontiguousarray(a[..., channel]) for a in (colour, missing))
    hidden = masking(plane, ppmm)
    lines = lines_of(plane, ppmm, limits)
    # A spot that differs in colour alone is no catch-light.
    spots = spots_of(plane, ppmm, limits) if channel == 0 else None
    for side, sign in enumerate((np.float32(1.0), np.float32(-1.0))):
        view = View(sign * plane, sign * lack, hidden, weight, colour, ppmm)
        found = list(fit_lines(view, lines[side], limits))
        found += fit_dots(view, spots[side], limits) if spots else []
        yield from sorted(found, key=lambda c: -c.worth)[:most]


# --- picking ---------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Trial:
    """What one stroke would do: the pixels touched in its box, their colours, what it takes away.

    gain: squared CIEDE2000 × mm² × importance; seen: the same, less where texture hides it.
    """

    touched: NDArray[np.bool_]
    drawn: NDArray[np.float64]
    misses: NDArray[np.float64]
    gain: float
    seen: float


class _Canvas:
    """The painting while strokes are added to it."""

    def __init__(
        self,
        photo: FloatArray,
        painted: FloatArray,
        ppmm: float,
        weight: FloatArray,
        hidden: FloatArray,
    ) -> None:
        """Start from the painting as the washes leave it."""
        self.photo = photo
        self.painted = np.array(painted)
        self.weight = weight / ppmm**2
        self.hidden = hidden
        self.ppmm = ppmm
        self.misses = delta_e_2000(painted, photo) ** 2
        self.taken = np.zeros(weight.shape, dtype=np.float32)

    def cover(self, candidate: Candidate) -> Cover:
        """What the stroke would cover."""
        rows, cols = self.weight.shape
        return cover_of(candidate.points, candidate.radii, (rows, cols), self.ppmm)

    def wanted(self, cover: Cover) -> NDArray[np.float64]:
        """The photo's colour (3,) along the stroke's core: a median, deaf to what crosses it."""
        core = cover.share >= CORE * cover.share.max()
        return np.asarray(np.median(self.photo[cover.window][core], axis=0))

    def shown(self, cover: Cover) -> NDArray[np.float64]:
        """The painting's mean colour (3,) under the stroke."""
        flat = self.painted[cover.window].reshape(-1, 3)
        return np.asarray(np.average(flat, axis=0, weights=cover.share.ravel()))

    def overlap(self, cover: Cover) -> float:
        """Share (0-1) of the stroke's area that strokes laid before have taken."""
        taken = np.minimum(self.taken[cover.window], cover.share)
        return float(taken.sum() / cover.share.sum())

    def attempt(self, cover: Cover, lab: FloatArray) -> _Trial:
        """What the stroke in that colour (3,) would do, without doing it."""
        touched = cover.share > 0.0
        share = cover.share[touched][:, None].astype(np.float64)
        under = lab_to_xyz(self.painted[cover.window][touched])
        drawn = xyz_to_lab(under + share * (lab_to_xyz(lab) - under))
        misses = delta_e_2000(drawn, self.photo[cover.window][touched]) ** 2
        less = (self.misses[cover.window][touched] - misses) * self.weight[cover.window][touched]
        seen = less / self.hidden[cover.window][touched]
        return _Trial(touched, drawn, misses, float(less.sum()), float(seen.sum()))

    def lay(self, cover: Cover, trial: _Trial) -> None:
        """Do it."""
        self.painted[cover.window][trial.touched] = trial.drawn
        self.misses[cover.window][trial.touched] = trial.misses
        taken = self.taken[cover.window]
        np.maximum(taken, cover.share, out=taken)


def _polarity(wanted: FloatArray, shown: FloatArray) -> Literal["light", "dark"]:
    """Whether a stroke can be laid over what the painting shows, or must be kept light.

    A clear glaze only takes light away: at best it leaves the lesser of the two in each part
    of the spectrum, told here by red, green and blue. Dark if that goes half the way.
    """
    light = xyz_to_linear_srgb(lab_to_xyz(np.stack([wanted, shown])))
    glazed = xyz_to_lab(np.maximum(linear_srgb_to_xyz(light.min(axis=0)), 0.0))
    left, all_ = float(delta_e_2000(glazed, wanted)), float(delta_e_2000(shown, wanted))
    return "dark" if left <= 0.5 * all_ else "light"


def _picked(candidates: list[Candidate], canvas: _Canvas, limits: StrokeLimits) -> Iterator[Stroke]:
    """Strokes by falling gain, each judged on the painting with those before it.

    Gains only shrink as strokes are laid, all but never grow, so a candidate is judged again
    only when it comes to the front [Minoux1978].
    """
    covers = [canvas.cover(c) for c in candidates]
    wanted = [canvas.wanted(v) for v in covers]
    polarity = [_polarity(w, canvas.shown(v)) for w, v in zip(wanted, covers, strict=True)]
    seen = np.array(
        [canvas.attempt(v, w).seen for v, w in zip(covers, wanted, strict=True)], dtype=float
    )
    left = {"dark": limits.most_dark, "light": limits.most_light}
    while seen.size and seen.max() > 0.0:
        k = int(np.argmax(seen))
        trial = canvas.attempt(covers[k], wanted[k])
        allowed = left[polarity[k]] and trial.gain >= limits.min_gain
        if not allowed or canvas.overlap(covers[k]) > OVERLAP:
            seen[k] = -np.inf
        elif trial.seen < seen[k] - 1e-6 * abs(seen[k]):
            seen[k] = trial.seen
        else:
            canvas.lay(covers[k], trial)
            seen[k] = -np.inf
            left[polarity[k]] -= 1
            yield _named(candidates[k], polarity[k], wanted[k], trial.gain)


def _named(
    candidate: Candidate, polarity: Literal["light", "dark"], lab: FloatArray, gain: float
) -> Stroke:
    return Stroke(
        points_mm=candidate.points,
        half_widths_mm=candidate.radii,
        polarity=polarity,
        lab=(float(lab[0]), float(lab[1]), float(lab[2])),
        gain=gain,
        contrast=candidate.contrast,
        kind=candidate.kind,
    )
