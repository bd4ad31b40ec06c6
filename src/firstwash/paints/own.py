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
LARGEST_NUMBER: Final = 1e9  # nothing in such a file comes near it
_WORDS: Final = ("key", "name", "source", "note", "provenance")
_FIGURES: Final = ("full_coat", "sigma")
_MAYBE: Final = ("fit_error", "thinnest_measured")  # a number or null
_GRADES: Final = ("transparency", "staining", "granulation", "tinting")  # 0 to 4 or null


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
        "k2": paper.k2,
        "soak": paper.soak,
        "fibre_scattering": paper.fibre_scattering,
        "provenance": paper.provenance,
    }


def _paint_told(paint: Paint) -> dict[str, Any]:
    return {
        **{name: getattr(paint, name) for name in (*_WORDS, *_FIGURES, *_MAYBE)},
        "pigments": list(paint.pigments),
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
        own = _own(told) if told["format"] == FORMAT else None
    except (PaintError, LookupError, TypeError, ValueError, AttributeError) as error:
        raise _damaged(name) from error
    except (OverflowError, RecursionError):  # numbers or brackets beyond all measure
        raise _damaged(name) from None
    if own is None:
        raise PaintError(f"{name} is not a file of your own paints, or of a later version.")
    return own


def _damaged(name: str) -> PaintError:
    return PaintError(
        f"{name} is damaged; read your swatch card again, or take the file's older copy."
    )


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no number")


def _numbers(values: Any, shape: tuple[int, ...]) -> NDArray[np.float64]:
    found = np.array(values)
    if found.size and found.dtype.kind not in "if":
        raise TypeError("words where numbers belong")
    found = found.astype(np.float64).reshape(found.shape if found.size else shape)
    if found.shape != shape or not (np.abs(found) < LARGEST_NUMBER).all():
        raise ValueError("numbers of the wrong kind")
    return found


def _word(told: Mapping[str, Any], name: str) -> str:
    value = told[name]
    if not isinstance(value, str):
        raise TypeError(f"{name} is no word")
    value.encode()  # half a letter cannot be printed
    return value


def _figure(told: Mapping[str, Any], name: str) -> float:
    value = told[name]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{name} is no number")
    if not abs(value) < LARGEST_NUMBER:
        raise ValueError(f"{name} is too large")
    return float(value)


def _maybe(told: Mapping[str, Any], name: str) -> float | None:
    value = None if told[name] is None else _figure(told, name)
    if value is not None and value < 0.0:
        raise ValueError(f"{name} is negative")
    return value


def _words(values: Any) -> tuple[str, ...]:
    if not isinstance(values, list) or not all(isinstance(v, str) for v in values):
        raise TypeError("no list of words")
    return tuple(values)


def _handling(told: Mapping[str, Any]) -> Handling:
    for name, value in told.items():
        grade = isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 4
        if name in _GRADES and not (value is None or grade):
            raise ValueError(f"{name} is no grade")
        if name not in (*_GRADES, "sources") and not (value is None or isinstance(value, str)):
            raise TypeError(f"{name} is no word")
    _words(list(told["sources"].values()))
    return Handling(**told)


def _own(told: Mapping[str, Any]) -> OwnPaints:
    paints = tuple(_paint(p) for p in told["paints"])
    if len({p.key for p in paints}) < len(paints):
        raise ValueError("a paint told twice")
    paper = told["paper"]
    return OwnPaints(paints, None if paper is None else _paper(paper))


def _paint(told: Mapping[str, Any]) -> Paint:
    spread = told["spread"]
    plain: dict[str, Any] = {name: _word(told, name) for name in _WORDS}
    plain |= {name: _figure(told, name) for name in _FIGURES}
    plain |= {name: _maybe(told, name) for name in _MAYBE}
    if not (plain["key"].strip() and plain["key"].isprintable()):
        raise ValueError("a paint without a key")
    return Paint(
        **plain,
        pigments=_words(told["pigments"]),
        handling=_handling(told["handling"]),
        k=_numbers(told["k"], (N_BANDS,)),
        s=_numbers(told["s"], (N_BANDS,)),
        spread=None if spread is None else _numbers(spread, (len(spread), N_CURVES)),
    )


def _paper(told: Mapping[str, Any]) -> Paper:
    plain: dict[str, Any] = {name: _word(told, name) for name in ("name", "provenance")}
    plain |= {name: _figure(told, name) for name in ("k1", "k2", "soak", "fibre_scattering")}
    return Paper(**plain, reflectance=_numbers(told["reflectance"], (N_BANDS,)))
