"""A chart of glazes: every paint over every other, as a painter would lay it out on a sheet.

Rows are the first wash, columns the glaze over it, both dry; on the diagonal a paint lies over
itself. Model, not measured: no open data covers layer over layer in watercolour.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.errors import PaintError, RequestError
from firstwash.handout.words import colour_words
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import LightName, reflectance_to_xyz
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.paints.doubt import doubt_of_stacks
from firstwash.picture.values import value_step
from firstwash.worksheet.lamps import LIGHT_WORDS, light_named, to_daylight, to_screen
from firstwash.worksheet.lay import labs_of, reflectances_of
from firstwash.worksheet.words import Numbers, hexes, lab_words, sure_words

__all__ = ["ChartPaint", "GlazeChart", "GlazeField", "glaze_chart", "shares_of"]

MOST_PAINTS: Final = 40
LOWER, UPPER = 0.1, 0.1  # shares of a full coat, where nothing else is asked
GREY = 5.0  # C* below which a colour is called a grey, as in `handout.words`
# Own judgement.
COLOURED = 10.0  # C* that a paint's own stroke has at least for its greying to be news
ORDER_TELLS = 2.0  # CIEDE2000 between the two orders of one pair from which it is told
STRENGTHS: Final = np.geomspace(1e-4, 1.0, 96)  # of a full coat, tried for a value step


@dataclass(frozen=True)
class ChartPaint:
    """One paint of the chart.

    lower, upper: "#rrggbb" of its coat alone as first wash and as glaze; lower_step, upper_step:
    their value steps; lower_share, upper_share: of a full coat.
    """

    key: str
    name: str
    lower: str
    lower_step: int
    lower_share: float
    upper: str
    upper_step: int
    upper_share: float


@dataclass(frozen=True)
class GlazeField:
    """One field: a glaze over a first wash.

    hex: as a screen shows it under the light; lighter, darker: ends of what nine of ten lie
    between. step: value step. words: "middle green"; sure: how sure. grey: two coloured paints
    that go grey. order: CIEDE2000 to the same two coats laid the other way round; order_tells:
    whether that is seen.
    """

    hex: str
    lighter: str
    darker: str
    step: int
    words: str
    sure: str
    grey: bool
    order: float
    order_tells: bool
    numbers: Numbers


@dataclass(frozen=True)
class GlazeChart:
    """Every paint over every other.

    fields: [row][column], the paint of the column glazed over that of the row. light: its name,
    light_words: "lamplight". greys: (row, column) of pairs that go grey; orders: of pairs whose
    order is seen, each once, the plainest first. notes: what to know of the chart.
    """

    paints: tuple[ChartPaint, ...]
    fields: tuple[tuple[GlazeField, ...], ...]
    light: str
    light_words: str
    paper: str
    greys: tuple[tuple[int, int], ...]
    orders: tuple[tuple[int, int], ...]
    notes: tuple[str, ...]


def shares_of(paints: Sequence[Paint], paper: Paper, strength: float) -> NDArray[np.float64]:
    """Share of a full coat (paints,) that each is laid at.

    strength: up to 1, the share itself; a whole number from 2 to 10, the value step that a dry
    coat alone shows, or as near to it as the paint comes.
    Raises RequestError for any other number.
    """
    if not isinstance(strength, int | float) or not np.isfinite(strength):
        raise RequestError("A strength is a number: a share of a full coat, or a value step.")
    if 0.0 < strength <= 1.0:
        return np.full(len(paints), float(strength))
    if not (2 <= strength <= 10 and float(strength).is_integer()):
        raise RequestError(
            f"A strength is a share of a full coat up to 1 or a value step from 2 to 10, not "
            f"{strength:g}."
        )
    return _for_step(paints, paper, int(strength))


def _for_step(paints: Sequence[Paint], paper: Paper, step: int) -> NDArray[np.float64]:
    full = np.diag([p.full_coat for p in paints])
    coats = (STRENGTHS[:, None, None] * full[None]).reshape(-1, 1, len(paints))
    lightness = labs_of(paper, paints, coats)[:, 0].reshape(len(STRENGTHS), len(paints))
    goal = 10.0 * step - 5.0
    falling = np.minimum.accumulate(lightness, axis=0)
    paper_lightness = float(labs_of(paper, paints, np.zeros((1, 1, len(paints))))[0, 0])
    # The palest step is paper white itself: a tint just inside it.
    goal = min(goal, 0.5 * (paper_lightness + 10.0 * (step - 1)))
    logs = np.log(STRENGTHS)
    found = [np.interp(-goal, -falling[:, p], logs) for p in range(len(paints))]
    return np.exp(np.array(found))


def glaze_chart(
    paints: Sequence[Paint],
    paper: Paper,
    strengths: tuple[float, float] = (LOWER, UPPER),
    light: str = "D65",
) -> GlazeChart:
    """The chart of 1 to 40 paints on a paper.

    strengths: of the first wash and of the glaze, as in `shares_of`. light: "D65", "D50", "A"
    or "LED"; colours are told as an eye used to that light sees them (`worksheet.lamps`).
    Raises PaintError for no paints, too many or one twice, RequestError for other strengths or
    another light.
    """
    _check(paints)
    under = light_named(light)
    lower, upper = (shares_of(paints, paper, s) for s in strengths)
    stacks = _stacks(paints, lower, upper)
    found = doubt_of_stacks(paper, paints, stacks, under)
    seen = to_screen(found.lab, under)
    lighter, darker = (to_screen(end, under) for end in found.ends)
    swapped = to_daylight(
        reflectance_to_xyz(reflectances_of(paper, paints, stacks[:, ::-1]), under), under
    )
    own = [_alone(paints, paper, shares, under) for shares in (lower, upper)]
    fields = _fields(seen, (lighter, darker), delta_e_2000(seen, swapped), own)
    n = len(paints)
    rows = tuple(fields[i : i + n] for i in range(0, n * n, n))
    return GlazeChart(
        paints=_heads(paints, own, (lower, upper)),
        fields=rows,
        light=under,
        light_words=LIGHT_WORDS[under],
        paper=paper.name,
        greys=tuple((r, c) for r in range(n) for c in range(n) if rows[r][c].grey),
        orders=_orders(rows),
        notes=_notes(under, strengths),
    )


def _check(paints: Sequence[Paint]) -> None:
    if not 1 <= len(paints) <= MOST_PAINTS:
        raise PaintError(f"A chart takes 1 to {MOST_PAINTS} paints; choose fewer.")
    keys = [p.key for p in paints]
    twice = next((k for k in keys if keys.count(k) > 1), None)
    if twice is not None:
        raise PaintError(f"{twice} is chosen twice; choose each paint once.")


def _stacks(paints: Sequence[Paint], lower: FloatArray, upper: FloatArray) -> NDArray[np.float64]:
    """(paints², 2, paints) amounts, row by row."""
    n = len(paints)
    full = np.array([p.full_coat for p in paints])
    row, column = np.divmod(np.arange(n * n), n)
    stacks = np.zeros((n * n, 2, n))
    stacks[np.arange(n * n), 0, row] = (lower * full)[row]
    stacks[np.arange(n * n), 1, column] = (upper * full)[column]
    return stacks


def _alone(
    paints: Sequence[Paint], paper: Paper, shares: FloatArray, under: LightName
) -> NDArray[np.float64]:
    """(paints, 3) each paint's coat alone on the paper."""
    coats = np.diag(np.array([p.full_coat for p in paints]) * shares)[:, None]
    return to_daylight(reflectance_to_xyz(reflectances_of(paper, paints, coats), under), under)


def _fields(
    seen: FloatArray,
    ends: tuple[FloatArray, FloatArray],
    order: FloatArray,
    own: Sequence[FloatArray],
) -> tuple[GlazeField, ...]:
    shown, lighter, darker = (hexes(labs) for labs in (seen, *ends))
    steps = value_step(seen[:, 0]).tolist()
    grey = _greys(seen, own).tolist()
    return tuple(
        GlazeField(
            hex=shown[i],
            lighter=lighter[i],
            darker=darker[i],
            step=steps[i],
            words=colour_words(tuple(lab.tolist())),
            sure=sure_words(lab, ends[0][i], ends[1][i]),
            grey=grey[i],
            order=round(float(order[i]), 2),
            order_tells=bool(order[i] > ORDER_TELLS),
            numbers=(("CIELAB", lab_words(lab)), ("other order, CIEDE2000", f"{order[i]:.1f}")),
        )
        for i, lab in enumerate(seen)
    )


def _greys(seen: FloatArray, own: Sequence[FloatArray]) -> NDArray[np.bool_]:
    """Which fields (paints²,) of two paints are grey though both coats alone have colour."""
    under, over = (np.hypot(labs[:, 1], labs[:, 2]) >= COLOURED for labs in own)
    pairs = under[:, None] & over[None] & ~np.eye(len(under), dtype=np.bool_)
    return np.asarray((np.hypot(seen[:, 1], seen[:, 2]) < GREY) & pairs.ravel())


def _orders(rows: Sequence[Sequence[GlazeField]]) -> tuple[tuple[int, int], ...]:
    pairs = [(r, c) for r in range(len(rows)) for c in range(r) if rows[r][c].order_tells]
    return tuple(sorted(pairs, key=lambda p: -rows[p[0]][p[1]].order))


def _heads(
    paints: Sequence[Paint], own: Sequence[FloatArray], shares: tuple[FloatArray, FloatArray]
) -> tuple[ChartPaint, ...]:
    lower, upper = (hexes(labs) for labs in own)
    low_steps, up_steps = (value_step(labs[:, 0]).tolist() for labs in own)
    return tuple(
        ChartPaint(
            key=p.key,
            name=p.name,
            lower=lower[i],
            lower_step=low_steps[i],
            lower_share=float(shares[0][i]),
            upper=upper[i],
            upper_step=up_steps[i],
            upper_share=float(shares[1][i]),
        )
        for i, p in enumerate(paints)
    )


def _notes(under: LightName, strengths: tuple[float, float]) -> tuple[str, ...]:
    told = [
        "Predicted, not measured: nobody has published layer over layer in watercolour. Paint the "
        "fields you rely on."
    ]
    if max(strengths) > 1.0:
        told.append(
            "A paint that cannot reach the step asked for is laid as near to it as it goes."
        )
    if under != "D65":
        told.append(
            f"Shown as eyes used to {LIGHT_WORDS[under]} see it: what changes against the paper, "
            "not the colour of the lamp."
        )
    return tuple(told)
