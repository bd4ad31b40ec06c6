"""A card measured with an instrument: spectra by the names of its places ("A1" to "H14")."""

from collections.abc import Mapping, Sequence

import numpy as np

from firstwash.card.layout import BARE
from firstwash.card.outcome import (
    PAPER_SPREAD,
    SwatchFound,
    Taught,
    belief_before,
    named_paper,
    parts_of,
    strange_rows,
    taught_paint,
)
from firstwash.card.recipe import CardRow, Swatch, rows_by_key, swatches_of
from firstwash.errors import MeasurementError
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, default_paper
from firstwash.paints.instrument.samples import Measurements, Sample
from firstwash.paints.posterior import learn
from firstwash.paints.seeing import Instrument
from firstwash.paints.swatches import gather

__all__ = ["teach_measured"]

FEWEST = 3  # swatches of a paint by itself


def teach_measured(
    found: Measurements,
    rows: Sequence[CardRow],
    paints: Mapping[str, Paint],
    known: Paper | None = None,
) -> Taught:
    """The paints of a card's rows as an instrument measured them.

    Samples are matched to places by name, whatever the case; bare places tell the paper; where
    none was measured it is `known`, or the built-in one. Raises MeasurementError if no row has
    three swatches of its paint alone.
    """
    rows, paints = rows_by_key(rows, paints), {p.key: p for p in paints.values()}
    by_name = {s.name.strip().upper(): s for s in found.samples}
    swatches = [s for s in swatches_of(rows) if s.coats and s.name in by_name]
    good = [r for r in range(len(rows)) if _alone(swatches, r) >= FEWEST]
    swatches = [s for s in swatches if s.row in good]
    if not good:
        raise MeasurementError(
            "No sample is named after a place of the card; name them A1 to H14 as on the card, "
            f"with {FEWEST} or more of the places 2 to 7 in a row."
        )
    paper, notes = _paper(by_name, rows, known or default_paper())
    keys = list(dict.fromkeys(k for r in good for k in rows[r].keys))
    own = {rows[r].paint: r for r in good}
    parts = [p for n, s in enumerate(swatches) for p in parts_of(n, s, keys, own)]
    seen = np.array([by_name[s.name].reflectance for s in swatches])
    data = gather(parts, len(swatches), len(keys))
    beliefs = [belief_before(paints[k]) for k in keys]
    learned = learn(data, Instrument(seen), beliefs, paper, PAPER_SPREAD)
    labs, predicted = reflectance_to_lab(seen), reflectance_to_lab(learned.predicted)
    off = delta_e_2000(labs, predicted)
    result = tuple(
        SwatchFound.of(
            s, labs[i], predicted[i], float(off[i]),
            [(keys[p], a) for p, a in zip(data.paint[data.swatch == i],
                                          learned.amounts[data.swatch == i], strict=True)],
            None,
        )
        for i, s in enumerate(swatches)
    )  # fmt: skip
    taught = tuple(
        taught_paint(
            paints[rows[r].paint], learned.beliefs[keys.index(rows[r].paint)], result,
            "your measured swatch card",
        )
        for r in good
    )  # fmt: skip
    before = tuple(paints[rows[r].paint] for r in good)
    return Taught(
        taught,
        before,
        named_paper(learned.paper),
        result,
        learned.noise,
        (*found.notes, *notes, *strange_rows(result, paints, paper)),
    )


def _alone(swatches: Sequence[Swatch], row: int) -> int:
    return sum(s.row == row and s.kind == "dilution" for s in swatches)


def _paper(
    by_name: Mapping[str, Sample], rows: Sequence[CardRow], usual: Paper
) -> tuple[Paper, tuple[str, ...]]:
    names = [s.name for s in swatches_of(rows) if s.column in BARE]
    bare = [by_name[n].reflectance for n in names if n in by_name]
    if not bare:
        return usual, (
            "No bare place (1 or 12 of a row) was measured, so the paper stays as it was known.",
        )
    white = np.clip(np.median(bare, axis=0), 0.05, 0.99)
    return Paper(
        "your paper", white, usual.k1, usual.k2, usual.soak, usual.fibre_scattering,
        "white as measured",
    ), ()  # fmt: skip
