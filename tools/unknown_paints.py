"""How far off a paint is that is guessed from its hue word alone.

Run: python tools/unknown_paints.py    rewrites the table in docs/guide/my-paints.md

Every known paint is left out in turn and guessed from the others of its hue.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.optics.difference import delta_e_2000
from firstwash.paints.catalogue import Paint, paint
from firstwash.paints.spread import drawn_curves, plain_spread
from firstwash.paints.unknown import FAMILIES, SIGMA, mean_of
from starter_sets import DOC, coat_labs, put

Array = NDArray[np.float64]

STRENGTHS: Final = (0.125, 0.5, 1.0)  # of a full coat
DRAWS: Final = 400
NINE_IN_TEN: Final = 0.9
LADDER: Final[Array] = np.geomspace(0.02, 10.0, 121)


@dataclass(frozen=True, eq=False)
class Guess:
    """One paint guessed from the others of its hue.

    away: CIEDE2000 of the coats of `STRENGTHS`; hue: of the thin coat where the strength may be
    chosen; inside: whether those lie within what nine in ten of such guesses do. k, s: root
    mean square error of ln K and ln S.
    """

    family: str
    paint: Paint
    away: Array
    hue: float
    inside: Array
    k: float
    s: float


def _labs(k: Array, s: Array, strength: float) -> Array:
    return coat_labs(strength * np.atleast_2d(k), strength * np.atleast_2d(s))


def guess(family: str, left_out: Paint) -> Guess:
    """That paint, guessed from the others of its hue."""
    k, s = mean_of([paint(key) for key in FAMILIES[family] if key != left_out.key])
    away, inside = [], []
    drawn = drawn_curves([(k, s, plain_spread(SIGMA))], DRAWS)
    for strength in STRENGTHS:
        middle, truth = _labs(k, s, strength), _labs(left_out.k, left_out.s, strength)
        others = _labs(drawn[0][:, 0], drawn[1][:, 0], strength)
        away.append(delta_e_2000(middle, truth)[0])
        usual = delta_e_2000(others, np.broadcast_to(middle, others.shape))
        inside.append(away[-1] <= np.quantile(usual, NINE_IN_TEN))
    ladder = coat_labs(LADDER[:, None] * k, LADDER[:, None] * s)
    thin = np.broadcast_to(_labs(left_out.k, left_out.s, STRENGTHS[0]), ladder.shape)
    off = [np.log(left_out.k / k), np.log(left_out.s / s)]
    rms = [float(np.sqrt(np.mean(v**2))) for v in off]
    hue = float(delta_e_2000(ladder, thin).min())
    return Guess(family, left_out, np.array(away), hue, np.array(inside), rms[0], rms[1])


def guesses() -> list[Guess]:
    """All of them; a hue of one paint alone cannot be guessed, and no orange is known."""
    return [
        guess(family, paint(key))
        for family, keys in FAMILIES.items()
        if len(keys) > 1 and family != "orange"
        for key in keys
    ]


def table(found: list[Guess]) -> str:
    """Medians by hue, as Markdown."""
    heads = ("hue", "paints", "1/8 coat", "half a coat", "full coat", "1/8, strength chosen")
    families = dict.fromkeys(g.family for g in found)
    rows = [_row(name, [g for g in found if g.family == name]) for name in families]
    head = [f"| {' | '.join(heads)} |", "|---" * len(heads) + "|"]
    return "\n".join([*head, *rows, _row("all", found)])


def _row(name: str, found: list[Guess]) -> str:
    medians = [*np.median([g.away for g in found], axis=0), np.median([g.hue for g in found])]
    return f"| {name} | {len(found)} | " + " | ".join(f"{v:.0f}" for v in medians) + " |"


def summary(found: list[Guess]) -> tuple[float, float, float]:
    """Root mean square of ln K and of ln S, and the share inside nine in ten."""
    k, s = (float(np.sqrt(np.mean([getattr(g, n) ** 2 for g in found]))) for n in "ks")
    return k, s, float(np.mean([g.inside for g in found]))


def main() -> None:
    """Rewrite the table in the guide."""
    found = guesses()
    k, s, inside = summary(found)
    print(f"ln K off by {k:.2f}, ln S by {s:.2f}; {inside:.0%} inside nine in ten")
    DOC.write_text(put(DOC.read_text("utf-8"), {"guesses": table(found)}), "utf-8")


if __name__ == "__main__":
    main()
