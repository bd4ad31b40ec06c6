"""The file that holds what a painter's own swatches taught: paints with curves, and the paper.

It lies beside the list of paints ("box.txt" has "box.paints.json"), is plain JSON, and is made
anew, never changed by hand:

    {"format": "firstwash own paints 1", "paper": {...} or null, "paints": [{...}, ...]}

A paint there has key, name, pigments, k and s (36 numbers, 380-730 nm every 10), spread (rows of
72), and what else `Paint` tells; reflectance, surface and soak of the paper are as in `Paper`.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import PaintError
from firstwash.optics.grid import N_BANDS
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Handling, Paint
from firstwash.paints.spread import N_CURVES

__all__ = ["FORMAT", "OwnPaints", "merged", "own_file", "read_own", "write_own"]

FORMAT: Final = "firstwash own paints 1"
LARGEST: Final = 20_000_000  # bytes; eight paints take about 100,000
_PLAIN: Final = ("key", "name", "source", "note", "full_coat", "fit_error", "sigma")


@dataclass(frozen=True, eq=False)
class OwnPaints:
    """Paints a painter's swatches taught, and the paper they were painted on, if known."""

    paints: tuple[Paint, ...] = ()
    paper: Paper | None = None


def own_file(box: Path) -> Path:
    """Where the taught paints of a list of paints lie: "box.txt" has "box.paints.json"."""
    return box.with_name(f"{box.stem}.paints.json")


def merged(before: OwnPaints, taught: Sequence[Paint], paper: Paper | None) -> OwnPaints:
    """What is known after one more card: its paints replace those of the same key."""
    paints = {p.key: p for p in (*before.paints, *taught)}
    return OwnPaints(tuple(paints.values()), paper or before.paper)


def write_own(own: OwnPaints) -> bytes:
    """The file, UTF-8."""
    told = {
        "format": FORMAT,
        "paper": None if own.paper is None else _paper_told(own.paper),
        "paints": [_paint_told(p) for p in own.paints],
    }
    return (json.dumps(told, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def _digits(values: NDArray[np.float64]) -> list[float]:
    return [float(f"{v:.6g}") for v in values]


def _paper_told(paper: Paper) -> dict[str, Any]:
    return {
        "name": paper.name,
        "reflectance": _digits(paper.reflectance),
        "k1": paper.k1,
        "k2": round(paper.k2, 5),
        "soak": round(paper.soak, 5),
        "fibre_scattering": round(paper.fibre_scattering, 5),
        "provenance": paper.provenance,
    }


def _paint_told(paint: Paint) -> dict[str, Any]:
    return {
        **{name: getattr(paint, name) for name in _PLAIN},
        "pigments": list(paint.pigments),
        "provenance": paint.provenance,
        "thinnest_measured": paint.thinnest_measured,
        "handling": {**asdict(paint.handling), "sources": dict(paint.handling.sources)},
        "k": _digits(paint.k),
        "s": _digits(paint.s),
        "spread": None if paint.spread is None else [_digits(row) for row in paint.spread],
    }


def read_own(data: bytes, name: str) -> OwnPaints:
    """The paints and the paper in such a file. Raises PaintError, one sentence, if it is none."""
    if len(data) > LARGEST:
        raise PaintError(f"{name} is too large to be a file of your own paints.")
    try:
        told = json.loads(data, parse_constant=_no_number)
        if told["format"] != FORMAT:
            raise PaintError(f"{name} is not a file of your own paints, or of a later version.")
        paper = told["paper"]
        return OwnPaints(
            tuple(_paint(p) for p in told["paints"]), None if paper is None else _paper(paper)
        )
    except PaintError:
        raise
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
        raise PaintError(
            f"{name} is damaged; read your swatch card again, or take the file's older copy."
        ) from error


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no number")


def _numbers(values: Any, shape: tuple[int, ...]) -> NDArray[np.float64]:
    found = np.array(values, dtype=np.float64)
    if found.shape != shape or not np.isfinite(found).all():
        raise ValueError("numbers of the wrong kind")
    return found


def _paint(told: Mapping[str, Any]) -> Paint:
    spread = told["spread"]
    return Paint(
        **{name: told[name] for name in _PLAIN},
        pigments=tuple(str(p) for p in told["pigments"]),
        provenance=told["provenance"],
        thinnest_measured=told["thinnest_measured"],
        handling=Handling(**told["handling"]),
        k=_numbers(told["k"], (N_BANDS,)),
        s=_numbers(told["s"], (N_BANDS,)),
        spread=None if spread is None else _numbers(spread, (len(spread), N_CURVES)),
    )


def _paper(told: Mapping[str, Any]) -> Paper:
    plain = ("name", "k1", "k2", "soak", "fibre_scattering", "provenance")
    return Paper(
        **{n: told[n] for n in plain}, reflectance=_numbers(told["reflectance"], (N_BANDS,))
    )
