"""A stack of glazes typed by hand, predicted coat by coat."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import PaintError, RequestError
from firstwash.optics.observer import LightName, light
from firstwash.optics.stack import stages
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, default_paper, paint
from firstwash.paints.doubt import doubt_of_stacks
from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench

__all__ = ["Coat", "GlazeStage", "parse_coat", "predict_glazes"]

PART = re.compile(
    r"(?P<paint>.+?)(?:\s+(?:at\s+)?(?:(?P<percent>\d+(?:[.,]\d+)?)\s*%|step\s+(?P<step>\d+)))?",
    re.IGNORECASE,
)
MOST_COATS = 12


@dataclass(frozen=True, eq=False)
class Coat:
    """One coat: (paint, strength) parts; strength 1 is a full-strength coat of that paint."""

    parts: tuple[tuple[Paint, float], ...]

    def __str__(self) -> str:
        """The coat as it may be typed."""
        return " + ".join(f"{p.key} {_percent(s)}" for p, s in self.parts)


def _percent(share: float) -> str:
    """Three digits that matter, never with an exponent: "1000%", "0.00123%"."""
    return np.format_float_positional(100 * share, precision=3, fractional=False, trim="-") + "%"


@dataclass(frozen=True, eq=False)
class GlazeStage:
    """What the sheet shows when a coat is dry (coat None: the bare paper).

    lab: (3,) CIELAB under the light. lighter, darker: (3,) the ends of what nine of ten such
    stacks lie between, for all that is unsure about the paints and the layers. doubt: CIEDE2000
    that nine of ten stay within. xyz_d65: (3,) for a screen. value_step: 1-10.
    """

    coat: Coat | None
    lab: NDArray[np.float64]
    lighter: NDArray[np.float64]
    darker: NDArray[np.float64]
    doubt: float
    xyz_d65: NDArray[np.float64]
    value_step: int


def parse_coat(
    text: str, paper: Paper | None = None, known: Callable[[str], Paint] = paint
) -> Coat:
    """Read "PB29 30%", "PR255 20% + PY154 10%" or "PB29 step 7".

    A percentage is the share of a full-strength coat. "step N" means strong enough for one
    dry coat alone on the bare paper to show value step N (1 darkest, 10 paper white). known:
    finds a paint by its key or name; the catalogue's if left out.
    Raises PaintError for an unknown paint, RequestError for a strength that makes no sense.
    """
    parts = []
    for piece in text.split("+"):
        match = PART.fullmatch(piece.strip())
        if match is None:
            raise RequestError(f'"{text}" is not a coat; write for example "PB29 30%".')
        one = known(match["paint"].strip())
        parts.append((one, _strength(one, match, paper or default_paper())))
    keys = [p.key for p, _ in parts]
    if len(set(keys)) < len(keys):
        raise PaintError(f'"{text}" names one paint twice; give each paint once.')
    return Coat(tuple(parts))


def _strength(one: Paint, match: "re.Match[str]", paper: Paper) -> float:
    if match["percent"]:
        share = float(match["percent"].replace(",", ".")) / 100
        if not 0 < share <= 10:
            raise RequestError(f"{one.key}: a strength lies above 0 % and at most 1000 %.")
        return share
    if match["step"]:
        return _for_step(one, _step(match["step"]), paper)
    return 1.0


def _step(digits: str) -> int:
    """A value step 1-10; as text first, for Python refuses to read thousands of digits."""
    if len(digits) > 3 or not 1 <= int(digits) <= 10:
        raise RequestError(
            f"Value steps run from 1 (darkest) to 10 (paper white), not {digits[:12]}."
        )
    return int(digits)


def _for_step(one: Paint, step: int, paper: Paper) -> float:
    """Strength whose dry coat on bare paper shows a value step: its middle L*, if it can."""
    bench = Bench.of([one], paper)
    low, high = 1e-5, 1.0
    full, faint = _lightness(bench, one, high), _lightness(bench, one, low)
    darkest, palest = max(10.0 * (step - 1), full), min(10.0 * step, faint)
    if darkest >= palest:
        raise RequestError(
            f"{one.key} at full strength dries to value step {int(value_step(full))}, and the "
            f"paper is step {int(value_step(faint))}; ask for a step between them, not {step}."
        )
    goal = 10.0 * step - 5.0
    if not darkest < goal < palest:
        goal = 0.5 * (darkest + palest)
    for _ in range(60):
        middle = np.sqrt(low * high)
        low, high = (middle, high) if _lightness(bench, one, middle) > goal else (low, middle)
    return float(np.sqrt(low * high))


def _lightness(bench: Bench, one: Paint, strength: float) -> float:
    return float(bench.labs(np.array([[strength * one.full_coat]]))[1, 0])


def predict_glazes(
    coats: Sequence[Coat], under: LightName = "D65", paper: Paper | None = None
) -> tuple[GlazeStage, ...]:
    """The sheet before the first coat and after each, every coat laid over dry paint.

    Model, not measured: no open data covers layer over layer in watercolour.
    """
    if not 1 <= len(coats) <= MOST_COATS:
        raise RequestError(f"Give 1 to {MOST_COATS} coats.")
    ground = paper or default_paper()
    paints = tuple({p.key: p for coat in coats for p, _ in coat.parts}.values())
    amounts = _amounts(coats, paints)
    found = doubt_of_stacks(ground, paints, amounts, under)
    lighter, darker = found.ends
    doubts = found.differences()
    lighter[0] = darker[0] = found.lab[0]  # bare paper is what it is
    doubts[0] = 0.0
    depths = ((amounts[-1] @ np.array([getattr(p, c) for p in paints])) for c in ("k", "s"))
    xyz = stages(ground, *depths) @ light("D65").weights
    return tuple(
        GlazeStage(coat, found.lab[i], lighter[i], darker[i], float(doubts[i]), xyz[i], int(step))
        for i, (coat, step) in enumerate(
            zip([None, *coats], value_step(found.lab[:, 0]), strict=True)
        )
    )


def _amounts(coats: Sequence[Coat], paints: Sequence[Paint]) -> NDArray[np.float64]:
    """(coats + 1, coats, paints): the stack before any coat, then after each."""
    index = {p.key: i for i, p in enumerate(paints)}
    whole = np.zeros((len(coats), len(paints)))
    for row, coat in zip(whole, coats, strict=True):
        for one, strength in coat.parts:
            row[index[one.key]] = strength * one.full_coat
    done = np.arange(len(coats))[None] < np.arange(len(coats) + 1)[:, None]
    return np.asarray(whole[None] * done[:, :, None])
