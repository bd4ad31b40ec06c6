"""Read made-up photos of swatch cards, good and spoiled, and say how well it went.

The photos come from a simulator that shares neither optics nor figures with the reading
(`tools/card_scene.py`): its paints follow the measured spectra [Chen2019], while the reading
starts from estimates made blind to them (`tools/estimate_paints.py`), or from a hue word.

Unseen stacks: one to three coats of one or two of the calibrated paints, 0.03 to 0.4 of a full
coat each, black and white left out, on the card's own paper. Amounts are told in the painter's
own strengths: the unit of each paint is the mean of what was laid in its row over what should
have been, for nothing on a card can tell a strong puddle from a strong paint.

What a painter is told after the fit (`Taught.notes`) counts as a warning like the photo's own.
With --spectra the same cards are read without a camera, from the true spectra of the swatches:
what is left is the layer model's and the painter's. With --places only those are read.

Run: python tools/card_trials.py [--good 200] [--spoiled 100] [--first 1000] [--to FILE]
     python tools/card_trials.py --spectra --good 100 --spoiled 0
     python tools/card_trials.py --places 3,5,7,13 --good 60 --spoiled 0
"""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from card_scene import PaintedCard, Spoil, photograph, random_card, unseen_stack
from estimate_paints import blind_curves
from firstwash.card.layout import BARE, COLUMNS
from firstwash.card.measured import teach_measured
from firstwash.card.outcome import Taught
from firstwash.card.reading import read_card
from firstwash.card.teach import teach
from firstwash.errors import PhotoError
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import reflectance_to_lab
from firstwash.paints.catalogue import Paint
from firstwash.paints.doubt import StackDoubt, doubt_of_stacks
from firstwash.paints.instrument.samples import Measurements, Sample
from firstwash.paints.unknown import unknown_paint
from firstwash.picture.load import load_photo

__all__ = ["Trial", "blind_paints", "judged", "stacks_of", "summed", "trial", "units_of"]

Floats = NDArray[np.float64]
Stack = list[list[tuple[str, float]]]

STACKS: Final = 40  # on each card
AMOUNTS: Final = (0.03, 0.4)
VARIETY: Final = 0.1  # of the paints' curves about the measured ones: another make
SPOILS: Final[tuple[Spoil, ...]] = ("glare", "shadow", "blur", "half")


@dataclass(frozen=True)
class Trial:
    """One photo. off: CIEDE2000 of each unseen stack; before: the same by the first beliefs.

    held: which lie in the range said to hold nine of ten. swatch: CIEDE2000 of each swatch's
    predicted colour against its true one. misfit: left on the colour target's patches.
    """

    seed: int
    target: bool
    spoil: str | None
    light: str
    refused: str = ""
    warnings: tuple[str, ...] = ()
    off: list[float] = field(default_factory=list)
    before: list[float] = field(default_factory=list)
    held: list[bool] = field(default_factory=list)
    swatch: list[float] = field(default_factory=list)
    misfit: float | None = None


@cache
def blind_paints() -> dict[str, Paint]:
    """The measured paints as they would be thought of had nobody measured them."""
    out = {
        key: Paint(
            key=key, name=key, pigments=(), k=c.k, s=c.s, provenance="estimated",
            source="estimate made blind to the measurement", sigma=0.5,
        )
        for key, c in blind_curves().items()
    }  # fmt: skip
    out["sap-green"] = replace(unknown_paint("sap green", "green"), key="sap-green")
    return out


def units_of(card: PaintedCard) -> dict[str, float]:
    """The painter's unit of each paint: mean of ln (laid over meant) in its own row."""
    out = {}
    for r, row in enumerate(card.rows):
        name = "ABCDEFGH"[r]
        logs = [
            np.log(card.true_amounts[f"{name}{c + 2}"][0][0][1] * 2.0 ** (5 - c)) for c in range(6)
        ]
        logs += [np.log(coat[0][1] * 4.0) for coat in card.true_amounts[f"{name}13"]]
        logs.append(np.log(card.true_amounts[f"{name}14"][1][0][1] * 4.0))
        out[row.paint] = float(np.exp(np.mean(logs)))
    return out


def stacks_of(card: PaintedCard, rng: np.random.Generator) -> list[tuple[Stack, Floats]]:
    """Unseen stacks in the painter's strengths, with their true reflectance (36,)."""
    keys = sorted(row.paint for row in card.rows)
    keys = [k for k in keys if k not in ("PW4", "PBk9")] or keys
    units = units_of(card)
    out = []
    for _ in range(STACKS):
        coats: Stack = []
        for _ in range(int(rng.integers(1, 4))):
            chosen = rng.choice(keys, size=min(len(keys), int(rng.integers(1, 3))), replace=False)
            coats.append([(str(k), float(np.exp(rng.uniform(*np.log(AMOUNTS))))) for k in chosen])
        laid = [[(k, a * units[k]) for k, a in coat] for coat in coats]
        out.append((coats, unseen_stack(card, laid)))
    return out


def judged(
    paints: Sequence[Paint], paper: Any, stacks: Sequence[tuple[Stack, Floats]]
) -> tuple[StackDoubt, Floats]:
    """What is predicted of stacks, and their true CIELAB (n, 3)."""
    keys = [p.key for p in paints]
    amounts = np.zeros((len(stacks), 3, len(keys)))
    for i, (coats, _) in enumerate(stacks):
        for j, coat in enumerate(coats):
            for key, amount in coat:
                p = keys.index(key)
                amounts[i, j, p] += amount * paints[p].full_coat
    true = reflectance_to_lab(np.array([r for _, r in stacks]))
    return doubt_of_stacks(paper, paints, amounts), true


def spectral_trial(seed: int) -> Trial:
    """Paint a card, measure its swatches without an error, and compare."""
    rng = np.random.default_rng([seed, 0])
    card = random_card(rng, variety=VARIETY)
    whole = np.ones(N_BANDS, dtype=np.bool_)
    samples = tuple(Sample(n, np.asarray(r), whole) for n, r in card.true_reflectance.items())
    taught = teach_measured(Measurements(samples, {}, ()), card.rows, blind_paints())
    about = (seed, False, None, "none")
    return _compared(about, card, (), None, taught, stacks_of(card, rng))


def trial(
    seed: int, target: bool, spoil: Spoil | None, places: Sequence[int] = range(COLUMNS)
) -> Trial:
    """Paint a card, photograph it, read those places (0-13) of it, and compare."""
    rng = np.random.default_rng([seed, 0 if spoil is None else 1])
    card = random_card(rng, variety=VARIETY)
    photo = photograph(card, rng, target=target, spoil=spoil)
    stacks = stacks_of(card, rng)
    about = (seed, target, spoil, str(photo.conditions.get("light")))
    try:
        reading = read_card(load_photo(photo.jpeg), len(card.rows))
        kept = tuple(w for w in reading.windows if w.column in places or w.column in BARE)
        taught = teach(replace(reading, windows=kept), card.rows, blind_paints())
    except PhotoError as error:
        return Trial(*about, refused=str(error))
    warned = (*reading.warnings, *taught.notes)
    return _compared(about, card, warned, reading.camera.misfit, taught, stacks)


def _compared(
    about: tuple[int, bool, str | None, str],
    card: PaintedCard,
    warnings: tuple[str, ...],
    misfit: float | None,
    taught: Taught,
    stacks: Sequence[tuple[Stack, Floats]],
) -> Trial:
    known = {p.key for p in taught.paints}
    usable = [s for s in stacks if all(k in known for coat in s[0] for k, _ in coat)]
    true = reflectance_to_lab(
        np.array([card.true_reflectance[s.swatch.name] for s in taught.swatches])
    )
    swatch = delta_e_2000(np.array([s.predicted for s in taught.swatches]), true)
    if not usable:
        return Trial(*about, warnings=warnings, swatch=swatch.tolist())
    found, lab = judged(taught.paints, taught.paper, usable)
    first, _ = judged([blind_paints()[p.key] for p in taught.paints], taught.paper, usable)
    return Trial(
        *about,
        warnings=warnings,
        off=delta_e_2000(found.lab, lab).tolist(),
        before=delta_e_2000(first.lab, lab).tolist(),
        held=found.holds(lab).tolist(),
        swatch=swatch.tolist(),
        misfit=misfit,
    )


def summed(trials: Sequence[Trial]) -> dict[str, Any]:
    """Figures of a set of photos."""
    read = [t for t in trials if not t.refused and t.off]
    clean = [t for t in read if not t.warnings]
    if not read:
        return {"photos": len(trials), "read": 0, "without warning": 0}
    off = np.concatenate([t.off for t in read])
    medians = [float(np.median(t.off)) for t in clean]
    return {
        "photos": len(trials),
        "read": len(read),
        "without warning": sum(not t.refused and not t.warnings for t in trials),
        "stacks": len(off),
        "median": round(float(np.median(off)), 2),
        "p95": round(float(np.percentile(off, 95)), 2),
        "before": round(float(np.median(np.concatenate([t.before for t in read]))), 2),
        "held": round(float(np.concatenate([t.held for t in read]).mean()), 3),
        "swatch median": round(float(np.median(np.concatenate([t.swatch for t in read]))), 2),
        "worst median without warning": round(max(medians, default=0.0), 2),
        "medians above 4 without warning": sum(m > 4.0 for m in medians),
    }


def main() -> int:
    """Run the trials and print what came of them."""
    parser = argparse.ArgumentParser(description="Read made-up photos of swatch cards.")
    parser.add_argument("--good", type=int, default=200)
    parser.add_argument("--spoiled", type=int, default=100)
    parser.add_argument("--first", type=int, default=1000, help="seed of the first photo")
    parser.add_argument("--to", type=Path, help="file for every trial, one JSON object a line")
    parser.add_argument("--spectra", action="store_true", help="no photos: true spectra")
    parser.add_argument("--places", default="1-14", help="places read, as 3,5,7,13; bare ones too")
    wanted = parser.parse_args()
    if wanted.spectra:
        found = [spectral_trial(wanted.first + i) for i in range(wanted.good)]
        print(f"by true spectra: {json.dumps(summed(found))}")
        return 0
    places: Sequence[int] = range(COLUMNS)
    if wanted.places != "1-14":
        places = [int(p) - 1 for p in wanted.places.split(",")]
    todo: list[tuple[int, bool, Spoil | None]] = [
        (wanted.first + i, i % 2 == 0, None) for i in range(wanted.good)
    ]
    todo += [(wanted.first + i, i // 4 % 2 == 0, SPOILS[i % 4]) for i in range(wanted.spoiled)]
    done = []
    for one in todo:
        done.append(trial(*one, places))
        if wanted.to is not None:
            with wanted.to.open("a", encoding="utf-8") as file:
                file.write(json.dumps(asdict(done[-1])) + "\n")
    good = [t for t in done if t.spoil is None]
    for name, group in (
        ("with a colour target", [t for t in good if t.target]),
        ("without", [t for t in good if not t.target]),
        *((spoil, [t for t in done if t.spoil == spoil]) for spoil in SPOILS),
    ):
        print(f"{name}: {json.dumps(summed(group))}")
    silent = [t for t in done if t.spoil and not t.refused and not t.warnings]
    print(
        f"spoiled and silent: {len(silent)} of {wanted.spoiled}",
        [(t.seed, t.spoil) for t in silent],
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
