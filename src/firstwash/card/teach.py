"""From swatches read on a card to the painter's own paints and paper, with what is still unsure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.card.layout import BARE, kind_of
from firstwash.card.outcome import (
    PAPER_SPREAD,
    SwatchFound,
    Taught,
    belief_before,
    named_paper,
    parts_of,
    poor_fit,
    strange_rows,
    taught_paint,
)
from firstwash.card.reading import Reading
from firstwash.card.recipe import CardRow, rows_by_key, swatches_of
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import light, reflectance_to_lab, xyz_to_lab
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.paints.posterior import Learned, learn
from firstwash.paints.seeing import Camera
from firstwash.paints.swatches import SwatchData, gather

__all__ = ["teach"]

# Chosen by trials on made-up photos (tools/card_trials.py).
SWATCH: Final = 0.010  # of a cube root: what the layers and the camera leave unexplained
LINE: Final = 0.050  # of a painted-over pen line's cube root: ink, paint and lens mingle there


def teach(
    reading: Reading,
    rows: Sequence[CardRow],
    paints: Mapping[str, Paint],
    paper: Paper | None = None,
) -> Taught:
    """The paints of a card's rows as its swatches show them.

    rows: what was painted, row by row; paints: every paint named there, by the word used, as
    known so far. paper: what is thought of the paper; as the reading tells it if left out.
    Raises PaintError and RequestError as `rows_by_key` does.
    """
    ground = paper or reading.paper
    rows, paints = rows_by_key(rows, paints), {p.key: p for p in paints.values()}
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
    taught = tuple(
        taught_paint(paints[keys[i]], learned.beliefs[i], found, "your swatch card") for i in own
    )
    return Taught(
        taught, tuple(paints[keys[i]] for i in own), named_paper(learned.paper), found,
        learned.noise, (*poor_fit(found), *strange_rows(found, paints, ground)), reading.texture,
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
        parts += parts_of(n, told[window.row, window.column], keys, own)
        if seen.on_line:
            ground[n] *= lines.level[window.row]
    return gather(parts, len(shown), len(keys), ground), shown


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
        parts = [
            (keys[p], float(a))
            for p, a in zip(data.paint[mine], learned.amounts[mine], strict=True)
        ]
        place = told[w.row, w.column]
        out.append(SwatchFound.of(place, found[i], predicted[i], float(off[i]), parts, w.grain))
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
