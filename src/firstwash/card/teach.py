"""From swatches read on a card to the painter's own paints and paper, with what is still unsure."""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.card.layout import BARE, kind_of
from firstwash.card.reading import Reading
from firstwash.card.recipe import CardRow, Swatch, swatches_of
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import light, reflectance_to_lab, xyz_to_lab
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.paints.posterior import Belief, Learned, learn
from firstwash.paints.seeing import Camera
from firstwash.paints.spread import N_CURVES, plain_spread, smooth_factors, squeezed
from firstwash.paints.swatches import Part, SwatchData, gather

__all__ = ["SwatchFound", "Taught", "belief_before", "teach"]

# Spreads of logarithms: how far hands are off. The dilution law is held tighter than hands hold
# it, or the cups would explain what is the paints' own doing; chosen by trials on made-up cards
# (tools/card_trials.py).
HALVING: Final = 0.03  # of each "half as strong"
LAYING: Final = 0.10  # of how much one swatch takes up
MIXING: Final = 0.10  # of each part of a mixture
FULL: Final = 0.50  # of what a painter calls full strength
OTHER_TUBE: Final = 0.50  # of another make's curves, smooth over wavelength
SCATTER: Final = 2.00  # of its scattering
PAPER_SPREAD: Final = (0.3, 0.2, 0.1)  # of logit soak, ln fibre scattering, logit k2
MODEL: Final = 0.16  # of ln K and ln S: what the layer model itself cannot tell [Chen2019]
SWATCH: Final = 0.010  # of a cube root: what the layers and the camera leave unexplained
LINE: Final = 0.050  # of a painted-over pen line's cube root: ink, paint and lens mingle there
REPAINT: Final = 6.0  # CIEDE2000 off the fit above which a swatch is worth painting again


@dataclass(frozen=True, eq=False)
class SwatchFound:
    """One swatch: lab (3,) found and predicted, how far apart (CIEDE2000), the amounts found.

    grain: share by which it is speckled. repaint: it does not fit with the others.
    """

    swatch: Swatch
    found: NDArray[np.float64]
    predicted: NDArray[np.float64]
    off: float
    amounts: Mapping[str, float]
    grain: float
    repaint: bool


@dataclass(frozen=True, eq=False)
class Taught:
    """What a card taught: paints with a row of their own, and the paper they were painted on.

    before: the same paints as they were thought of. unsure: CIEDE2000 that nine of ten quarter
    coats stay within, before and after, by key, is told by `paints.doubt`.
    """

    paints: tuple[Paint, ...]
    before: tuple[Paint, ...]
    paper: Paper
    swatches: tuple[SwatchFound, ...]
    noise: float
    notes: tuple[str, ...]


def belief_before(paint: Paint) -> Belief:
    """What is thought of the painter's own tube of a paint before any swatch is seen.

    Amount 1 is the painter's full strength from here on, whatever the catalogue calls so.
    """
    log = np.concatenate([np.log(paint.k), np.log(paint.s)]) + np.log(paint.full_coat)
    tube = smooth_factors(OTHER_TUBE, 0.3, 50.0)
    scatter = smooth_factors(SCATTER, 0.8, 100.0)
    full = np.full((1, N_CURVES), FULL)
    return Belief(
        log,
        squeezed(
            np.vstack(
                [
                    paint.doubt,
                    full,
                    np.hstack([tube, np.zeros_like(tube)]),
                    np.hstack([np.zeros_like(scatter), scatter]),
                ]
            )
        ),
    )


def teach(
    reading: Reading,
    rows: Sequence[CardRow],
    paints: Mapping[str, Paint],
    paper: Paper | None = None,
) -> Taught:
    """The paints of a card's rows as its swatches show them.

    rows: what was painted, row by row; paints: every paint named there, by key, as known so
    far. paper: what is thought of the paper; as the reading tells it if left out.
    """
    ground = paper or reading.paper
    keys = _used(rows, reading.rows)
    lines = _Lines.of(reading)
    data, shown = _data(reading, rows, keys, lines, ground)
    seen = np.array([s.colour for s in shown])
    spread = np.array([s.spread for s in shown])
    camera = reading.camera.looking(seen, spread, ground.reflectance)
    learned = learn(
        data,
        camera,
        [belief_before(paints[k]) for k in keys],
        ground,
        PAPER_SPREAD,
        believe=False,
    )
    own = [keys.index(rows[r].paint) for r in reading.rows]
    found = _swatches(reading, rows, keys, data, learned, camera)
    taught = tuple(_calibrated(paints[keys[i]], learned.beliefs[i], keys[i], found) for i in own)
    return Taught(
        taught, tuple(paints[keys[i]] for i in own), _named(learned.paper), found,
        learned.noise, (),
    )  # fmt: skip


def _named(paper: Paper) -> Paper:
    return replace(
        paper, name="your paper",
        provenance=f"{paper.provenance}; soak, fibres and inner reflection as the swatch card "
        "shows them",
    )  # fmt: skip


def _used(rows: Sequence[CardRow], read: Sequence[int]) -> list[str]:
    return list(dict.fromkeys(key for r in read for key in rows[r].keys))


@dataclass(frozen=True, eq=False)
class _Seen:
    """One observation: its swatch, its colour and spread (3,), and the ground it lies on."""

    swatch: int
    colour: NDArray[np.float64]
    spread: NDArray[np.float64]
    on_line: bool


@dataclass(frozen=True, eq=False)
class _Lines:
    """How dark the bare pen line is in each row: share of paper, 0 where there is none."""

    level: Mapping[int, float]

    @classmethod
    def of(cls, reading: Reading) -> "_Lines":
        level = {}
        for row in reading.rows:
            bare = [
                float(w.line.mean()) for w in reading.windows
                if w.row == row and w.column in BARE and w.line is not None
            ]  # fmt: skip
            if bare and max(bare) < 0.5:
                level[row] = float(np.mean(bare))
        return cls(level)


def _data(
    reading: Reading,
    rows: Sequence[CardRow],
    keys: Sequence[str],
    lines: _Lines,
    paper: Paper,
) -> tuple[SwatchData, list[_Seen]]:
    """Swatches on paper first, then those of them that were read on the pen line."""
    windows = [w for w in reading.windows if w.column not in BARE]
    told = {(s.row, s.column): s for s in swatches_of(rows)}
    shown = [
        _Seen(i, w.colour, np.sqrt(w.spread**2 + SWATCH**2), False) for i, w in enumerate(windows)
    ]
    for i, w in enumerate(windows):
        if w.line is not None and w.row in lines.level and kind_of(w.column) != "over":
            shown.append(_Seen(i, w.line, np.sqrt(w.spread**2 + LINE**2), True))
    parts, ground = [], np.tile(paper.reflectance, (len(shown), 1))
    own = {rows[r].paint: r for r in reading.rows}
    for n, seen in enumerate(shown):
        window = windows[seen.swatch]
        parts += _parts(n, told[window.row, window.column], keys, own)
        if seen.on_line:
            ground[n] *= lines.level[window.row]
    return gather(parts, len(shown), len(keys), ground), shown


def _parts(number: int, swatch: Swatch, keys: Sequence[str], own: Mapping[str, int]) -> list[Part]:
    out = []
    for c, coat in enumerate(swatch.coats):
        for key, amount in coat:
            slips: dict[Hashable, float] = {("lay", swatch.row, swatch.column, c): LAYING}
            if len(coat) > 1:
                slips["part", swatch.row, swatch.column, key] = MIXING
            strength = amount * (2.0 if len(coat) > 1 else 1.0)
            for cup in range(round(-np.log2(strength))):
                slips["cup", own.get(key, f"of {key}"), cup] = HALVING
            out.append(Part(number, c, keys.index(key), amount, slips))
    return out


def _swatches(
    reading: Reading, rows: Sequence[CardRow], keys: Sequence[str], data: SwatchData,
    learned: Learned, camera: Camera,
) -> tuple[SwatchFound, ...]:  # fmt: skip
    windows = [w for w in reading.windows if w.column not in BARE]
    told = {(s.row, s.column): s for s in swatches_of(rows)}
    eye = _ToLab(camera, learned.own)
    shown = learned.predicted[: len(windows)]
    predicted = reflectance_to_lab(shown)
    # What the same camera makes of the prediction: its own errors fall out of the difference.
    seen = eye.look.seen(eye.look.logs(shown, camera.paper))
    found = predicted + eye.lab(np.array([w.colour for w in windows])) - eye.lab(seen)
    off = delta_e_2000(found, predicted)
    out = []
    for i, w in enumerate(windows):
        mine = data.swatch == i
        amounts: dict[str, float] = {}
        for p, a in zip(data.paint[mine], learned.amounts[mine], strict=True):
            amounts[keys[p]] = amounts.get(keys[p], 0.0) + float(a)
        out.append(
            SwatchFound(
                told[w.row, w.column], found[i], predicted[i], float(off[i]), amounts, w.grain,
                bool(off[i] > REPAINT),
            )
        )  # fmt: skip
    return tuple(out)


class _ToLab:
    """CIELAB, D65, of what a camera saw: tones unbent, then the nearest matrix to the observer."""

    def __init__(self, camera: Camera, own: FloatArray) -> None:
        self.look = camera.now(own)
        weights = light("D65").weights
        self.white = camera.paper @ self.look.response
        # The matrix best for smooth reflectances: those that a few cosines over wavelength span.
        bands = np.arange(N_BANDS) + 0.5
        smooth = np.cos(np.pi * np.outer(np.arange(9), bands) / N_BANDS)
        smooth *= np.array([1.0, 0.6, 0.5, 0.35, 0.25, 0.15, 0.1, 0.07, 0.05])[:, None]
        self.matrix = np.linalg.lstsq(smooth @ self.look.response, smooth @ weights, rcond=None)[0]
        self.paper = (camera.paper @ weights) / (self.white @ self.matrix)

    def lab(self, seen: FloatArray) -> NDArray[np.float64]:
        """(n, 3) of shares of paper (n, 3)."""
        given = np.exp(self.look.shares(seen)) * self.white
        return xyz_to_lab((given @ self.matrix) * self.paper)


def _calibrated(before: Paint, belief: Belief, key: str, found: Sequence[SwatchFound]) -> Paint:
    own = [f for f in found if key in f.amounts]
    thinnest = min(f.amounts[key] for f in own if f.swatch.kind == "dilution")
    spread = squeezed(np.vstack([belief.spread, plain_spread(MODEL)]))
    grain = float(np.median([f.grain for f in own if f.swatch.kind == "dilution"]))
    return replace(
        before,
        k=belief.k,
        s=belief.s,
        provenance="calibrated",
        source="your swatch card",
        full_coat=1.0,
        fit_error=round(float(np.median([f.off for f in own])), 2),
        sigma=round(float(np.sqrt((spread[:, :N_BANDS] ** 2).sum(axis=0).mean())), 3),
        spread=spread,
        thinnest_measured=round(thinnest, 4),
        handling=replace(before.handling, granulation=_grain_grade(grain, before)),
    )


def _grain_grade(grain: float, before: Paint) -> int | None:
    """The granulation grade, moved one step where the swatches clearly say so."""
    grade = before.handling.granulation
    seen = int(np.digitize(grain, [0.015, 0.03, 0.06, 0.10]))
    if grade is None:
        return seen
    return grade + int(np.sign(seen - grade)) if abs(seen - grade) > 1 else grade
