"""What is painted on a swatch card: which paints, how much of each, in how many coats."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.card.layout import COLUMNS, DILUTIONS, ROWS, Kind, kind_of, place_name
from firstwash.errors import PaintError, RequestError
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import Paint, default_paper

__all__ = ["CardRow", "Coat", "Swatch", "rows_by_key", "rows_for", "swatches_of"]

MIX_STRENGTH: Final = 0.5  # both puddles of a mix are at half strength before they meet
GLAZE_STRENGTH: Final = 0.25  # of every coat in a glaze place

Coat = tuple[tuple[str, float], ...]  # (paint key, share of full strength) of each part


@dataclass(frozen=True)
class CardRow:
    """A paint and its partners on the card, all by key; a partner is never the paint itself."""

    paint: str
    pale: str
    dark: str
    yellow: str
    blue: str
    over: str

    @property
    def keys(self) -> tuple[str, ...]:
        """Every paint the row needs, its own first, each once."""
        named = (self.paint, self.pale, self.dark, self.yellow, self.blue, self.over)
        return tuple(dict.fromkeys(named))


@dataclass(frozen=True)
class Swatch:
    """One place of the card: its row 0-7 and column 0-13, and its coats, bottom to top."""

    row: int
    column: int
    kind: Kind
    coats: tuple[Coat, ...]

    @property
    def name(self) -> str:
        """The name printed beside it."""
        return place_name(self.row, self.column)


def swatches_of(rows: Sequence[CardRow]) -> tuple[Swatch, ...]:
    """Every place of the card in reading order, bare ones included."""
    if not 1 <= len(rows) <= ROWS:
        raise RequestError(f"A swatch card has 1 to {ROWS} rows, not {len(rows)}.")
    return tuple(
        Swatch(r, c, kind_of(c), _coats(row, c)) for r, row in enumerate(rows)
        for c in range(COLUMNS)
    )  # fmt: skip


def _coats(row: CardRow, column: int) -> tuple[Coat, ...]:
    kind = kind_of(column)
    if kind == "bare":
        return ()
    if kind == "dilution":
        return (((row.paint, DILUTIONS[column - 1]),),)
    own: Coat = ((row.paint, GLAZE_STRENGTH),)
    if kind == "double":
        return (own, own)
    if kind == "over":
        return (((row.over, GLAZE_STRENGTH),), own)
    half = 0.5 * MIX_STRENGTH  # equal loads of two puddles, each thinned by the other
    return (((row.paint, half), (getattr(row, kind), half)),)


def rows_by_key(rows: Sequence[CardRow], paints: Mapping[str, Paint]) -> tuple[CardRow, ...]:
    """The rows with every word replaced by the key of the paint it names.

    paints: by the words of the rows, which a painter may have written: two words can name one
    paint. Raises PaintError for a word that names none, RequestError for a paint with two rows.
    """
    for word in (word for row in rows for word in row.keys if word not in paints):
        raise PaintError(f"The card names the paint “{word}”; say what that paint is.")
    out = tuple(CardRow(**{n: paints[word].key for n, word in asdict(row).items()}) for row in rows)
    if len({row.paint for row in out}) < len(out):
        raise RequestError("The card gives two rows to one paint; give each row its own.")
    return out


def rows_for(paints: Sequence[Paint], box: Sequence[Paint] = ()) -> tuple[CardRow, ...]:
    """A row for each of 1 to 8 paints, with partners chosen from them and from the box.

    The pale partner is the lightest paint at full strength, the dark one the darkest, yellow
    and blue the ones whose hue is nearest; what goes over what differs most in hue. No paint
    serves a row twice while others are left, and paints
    with a row of their own are preferred as partners. Needs two paints in all.
    """
    if not 1 <= len(paints) <= ROWS:
        raise RequestError(f"A swatch card has room for 1 to {ROWS} paints, not {len(paints)}.")
    if len({p.key for p in paints}) < len(paints):
        raise RequestError("A swatch card has one row for each paint; name each once.")
    every = tuple({p.key: p for p in (*paints, *box)}.values())
    if len(every) < 2:
        raise RequestError("A swatch card needs a second paint to mix with; name two or more.")
    partners = _Partners(every, len(paints))
    return tuple(partners.row(i) for i in range(len(paints)))


class _Partners:
    """Which paint serves as which partner."""

    def __init__(self, every: Sequence[Paint], own: int) -> None:
        paper = default_paper()
        self.keys = [p.key for p in every]
        coats = [stages(paper, p.k[None] * p.full_coat, p.s[None] * p.full_coat)[1] for p in every]
        lab = reflectance_to_lab(np.array(coats))
        tint = [stages(paper, p.k[None] * 0.25, p.s[None] * 0.25)[1] for p in every]
        thin = reflectance_to_lab(np.array(tint))
        self.light = lab[:, 0]
        self.hue = np.degrees(np.arctan2(thin[:, 2], thin[:, 1]))
        self.grey = np.hypot(thin[:, 1], thin[:, 2]) < 8.0  # no hue to speak of
        self.far = np.where(np.arange(len(every)) < own, 0.0, 8.0)  # a partner without a row

    def row(self, i: int) -> CardRow:
        chosen: list[str] = []
        yellow, blue = self._from_hue(90.0), self._from_hue(265.0)
        for cost in (yellow, blue, self.light, -self.light, -self._from_hue(float(self.hue[i]))):
            chosen.append(self._best(i, cost, chosen))
        return CardRow(
            self.keys[i], yellow=chosen[0], blue=chosen[1], dark=chosen[2], pale=chosen[3],
            over=chosen[4],
        )  # fmt: skip

    def _from_hue(self, degrees: float) -> NDArray[np.float64]:
        away = np.abs((self.hue - degrees + 180.0) % 360.0 - 180.0)
        return np.where(self.grey, 90.0, away)

    def _best(self, i: int, cost: NDArray[np.float64], chosen: Sequence[str]) -> str:
        """The cheapest other paint; one already chosen for this row only if all are."""
        known = cost + self.far + np.where(np.isin(self.keys, chosen), 1e3, 0.0)
        known[i] = np.inf
        return self.keys[int(np.argmin(known))]
