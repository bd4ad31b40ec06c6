"""Lesson: one layer of mixtures against four layers of glazes, on the same drawing.

A plan has two layers at least, so the one-layer paintings are made here: every area gets one coat
on bare paper. They use the plan's palette, its areas and its soft edges. Flatness is measured on
the predicted pictures, four ways; the photo is measured beside them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.handout.markup import table
from firstwash.lessons import draw
from firstwash.lessons.fitting import fit_few
from firstwash.lessons.flatness import Flatness, flatness_of
from firstwash.lessons.hand import one_layer_work, rise_by_hand
from firstwash.lessons.page import Boxes, Lesson, told
from firstwash.lessons.words import joined
from firstwash.lessons.workshop import BARE, Workshop, labs_of
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.bench import Bench
from firstwash.plan.hands import handiwork_of_plan

__all__ = ["Painting", "layers", "paintings", "sentences_of"]

STRENGTHS: Final = np.geomspace(0.02, 1.0, 28)  # of a puddle's strongest coat
SAME_RANGE: Final = 1.5  # L* that nobody would call a change; common practice, no source
SETTLED: Final = 0.25  # CIEDE2000 within which two mean errors count as one
START: Final = 0.3  # visible depth to fit from


@dataclass(frozen=True, eq=False)
class Painting:
    """One way to paint it.

    xyz: (rows, cols, 3) predicted. puddles: mixtures; washes: a puddle at one strength in one
    layer; both None for a photo. by_hand: the error to expect where hands err, mean over
    imagined painters; None for a photo.
    """

    name: str
    xyz: NDArray[np.float32]
    puddles: int | None
    washes: int | None
    flatness: Flatness
    by_hand: float | None = None


def _single(bench: Bench, wanted: FloatArray) -> NDArray[np.float64]:
    """Amounts (n, paints) of the one coat on paper that comes nearest to each colour (n, 3).

    At most three paints in a coat, and no more paint than a coat carries.
    """

    def carried(amounts: FloatArray) -> NDArray[np.float64]:
        return np.asarray(amounts / np.maximum(amounts @ bench.loads, 1.0)[:, None])

    def seen(amounts: FloatArray) -> NDArray[np.float64]:
        return labs_of(bench, carried(amounts)[:, None])[:, -1]

    best = carried(fit_few(bench, seen, wanted, (START,)))
    best[wanted[:, 0] >= BARE] = 0.0
    return best


def _one_mixture_a_thing(shop: Workshop) -> NDArray[np.float64]:
    """Amounts (cells, 1, paints): every thing in one flat coat of its own mixture."""
    unlike, thing = np.unique(shop.things, return_inverse=True)
    painted = shop.areas * (shop.plan.aims[:, 0] < BARE)
    total = np.bincount(thing, weights=painted, minlength=len(unlike))
    sums = [np.bincount(thing, weights=painted * shop.plan.aims[:, c]) for c in range(3)]
    means = np.column_stack(sums) / np.maximum(total, 1e-9)[:, None]
    means[total <= 0.0] = (100.0, 0.0, 0.0)
    return _single(shop.bench, means)[thing][:, None]


@dataclass(frozen=True, eq=False)
class _Choices:
    """Puddles to pick from.

    coats: (choices, strengths, paints). off: (cells, choices, strengths) CIEDE2000 from each
    cell's aim.
    """

    coats: NDArray[np.float64]
    off: NDArray[np.float64]

    def laid(self, chosen: Sequence[int]) -> NDArray[np.float64]:
        """Amounts (cells, 1, paints), every cell with the puddle and strength that suit it."""
        cells = np.arange(len(self.off))
        which = np.array(chosen)[self.off.min(axis=2)[:, list(chosen)].argmin(axis=1)]
        return np.asarray(self.coats[which, self.off[cells, which].argmin(axis=1)][:, None])


def _choices(bench: Bench, own: FloatArray, aims: FloatArray, strengths: FloatArray) -> _Choices:
    """Every area's own coat (cells, paints), each also at a row of strengths beside its own.

    strengths: 1 is a full coat; empty for the coat as it is.
    """
    recipes = own[own.sum(axis=1) > 0.0]
    coats = recipes[:, None]
    if len(strengths):
        full = recipes / (recipes @ bench.loads)[:, None]
        coats = full[:, None] * strengths[None, :, None]
    labs = labs_of(bench, coats.reshape(-1, 1, bench.colours))[:, -1]
    off = delta_e_2000(labs[None], aims[:, None]).reshape(len(aims), *coats.shape[:2])
    return _Choices(coats, off)


def _chosen(costs: FloatArray, count: int) -> list[int]:
    """The best so many choices by costs (cells, choices): one more at a time, then swapped while
    that helps.
    """
    chosen: list[int] = []
    for _ in range(min(count, costs.shape[1])):
        now = costs[:, chosen].min(axis=1) if chosen else np.full(len(costs), np.inf)
        totals = np.minimum(now[:, None], costs).sum(axis=0)
        totals[chosen] = np.inf
        chosen.append(int(np.argmin(totals)))
    improved = True
    while improved:
        improved = False
        for place in range(len(chosen)):
            rest = chosen[:place] + chosen[place + 1 :]
            now = costs[:, rest].min(axis=1) if rest else np.full(len(costs), np.inf)
            totals = np.minimum(now[:, None], costs).sum(axis=0)
            best = int(np.argmin(totals))
            if best not in rest and totals[best] < totals[chosen[place]] - 1e-9:
                chosen[place], improved = best, True
    return chosen


def paintings(shop: Workshop) -> tuple[Painting, ...]:
    """The photo; one flat coat a thing; one layer with as many puddles as the plan, each at one
    strength, then each thinned as the areas want it; the plan in four layers.
    """
    plan, bench = shop.plan, shop.bench
    made, photo = len(plan.puddles), shop.reference.xyz
    own = _single(bench, plan.aims)
    plain = _choices(bench, own, plan.aims, np.empty(0))
    thinned = _choices(bench, own, plan.aims, STRENGTHS)
    return (
        Painting("the photo", photo, None, None, flatness_of(photo, shop)),
        _painting("one flat coat for each thing", _one_mixture_a_thing(shop), None, shop),
        _one_layer("each at one strength", plain, made, shop),
        _one_layer("thinned for every area", thinned, made, shop),
        _plan_painted(shop),
    )


def _puddles(count: int) -> str:
    return f"{count} puddle{'s' * (count != 1)}"


def _one_layer(how: str, choices: _Choices, most: int, shop: Workshop) -> Painting:
    """Every area in one coat, with at most so many puddles."""
    chosen = _chosen(choices.off.min(axis=2) * shop.areas[:, None], most)
    amounts = np.zeros((shop.plan.cells.count, 1, shop.bench.colours))
    if chosen:
        amounts = choices.laid(chosen)
    return _painting(f"one layer, {_puddles(len(chosen))}, {how}", amounts, len(chosen), shop)


def _painting(name: str, amounts: FloatArray, puddles: int | None, shop: Workshop) -> Painting:
    """One coat (cells, 1, paints) everywhere but on the whites; puddles: None for as many as
    coats.
    """
    coats = np.where((shop.plan.aims[:, 0] >= BARE)[:, None], 0.0, amounts[:, 0])
    washes = len(np.unique(coats[coats.sum(axis=1) > 0.0], axis=0))
    xyz = shop.painted(coats[:, None])
    measured = flatness_of(xyz, shop)
    rise = rise_by_hand(one_layer_work(shop.bench, coats), shop.plan.targets, shop.areas)
    return Painting(name, xyz, puddles or washes, washes, measured, measured.error + rise)


def _plan_painted(shop: Workshop) -> Painting:
    plan = shop.plan
    measured = flatness_of(plan.washes_xyz[-1], shop)
    rise = rise_by_hand(handiwork_of_plan(plan), plan.targets, shop.areas)
    made = len(plan.puddles)
    return Painting(
        f"four layers, {_puddles(made)}",
        plan.washes_xyz[-1],
        made,
        len(plan.washes),
        measured,
        measured.error + rise,
    )


def sentences_of(made: Sequence[Painting]) -> tuple[str, ...]:
    """What the measures say, from the measures."""
    _, flat, plain, thinned, four = made
    return (
        _against(flat, four),
        _turn_told(flat, four),
        _against(plain, four),
        _against(thinned, four),
        _washes_told(thinned, four),
        _hands_told(made),
    )


def _against(one: Painting, four: Painting) -> str:
    """One painting in a single layer beside the one in four."""
    a, b = one.flatness, four.flatness
    told = []
    for less, what in ((b.steps - a.steps, "value step"), (b.colours - a.colours, "colour")):
        if less:
            way = "fewer" if less > 0 else "more"
            told.append(f"{abs(less)} {what}{'s' * (abs(less) != 1)} {way}")
    reach = b.value_range - a.value_range
    if abs(reach) >= SAME_RANGE:
        told.append(f"a {'narrower' if reach > 0 else 'wider'} range from light to dark")
    body = f"{joined(told)} than" if told else "as many value steps and colours as"
    return f"{one.name.capitalize()}: {body} four layers, {_nearer(a.error, b.error)}."


def _nearer(one: float, four: float) -> str:
    if abs(one - four) <= SETTLED:
        return "and as near to the photo"
    way = "further from" if one > four else "nearer to"
    much = "much " if one > 2.0 * four else ""
    return f"and {much}{way} the photo"


def _turn_told(flat: Painting, four: Painting) -> str:
    a, b = flat.flatness.turn, four.flatness.turn
    if b <= 0.0 or a >= 0.95 * b:
        return "Inside the round things the flat coats vary as much as the four layers."
    return (
        "Of the turn from light to shadow inside jug, lemons and plum the flat coats keep "
        f"{a / b:.0%}: that is what the eye calls flat."
    )


def _washes_told(thinned: Painting, four: Painting) -> str:
    """What one layer costs in washes, where it comes near."""
    one, made = thinned.washes or 0, four.washes or 0
    if thinned.flatness.error > four.flatness.error + SETTLED:
        return (
            "Even with every area thinned to suit, one layer stays further off: one coat does not "
            "carry what four do."
        )
    if one > made:
        return (
            f"Thinned for every area one layer can come as near, but that takes {one} washes side "
            f"by side, each cut in against its neighbours and right at the first try. Four layers "
            f"take {made}, laid over one another, and the sheet can be judged after each."
        )
    return (
        f"Thinned for every area one layer can come as near with {one} washes, four layers take "
        f"{made}: here layers save no washes. What they give is a sheet to judge after each."
    )


def _hands_told(made: Sequence[Painting]) -> str:
    """Which painting forgives a hand that errs best."""
    painted = [(p, p.by_hand) for p in made if p.by_hand is not None]
    best, least = min(painted, key=lambda p: p[1])
    hers = painted[-1][1]
    if best.name != made[-1].name and hers - least <= SETTLED:
        return (
            "Painted by hands that are off by a fifth in mixing and laying, four layers come as "
            f"near as any: {hers:.1f} off, {best.name} {least:.1f}."
        )
    if best.name == made[-1].name:
        others = [p.name for p, e in painted[:-1] if e - hers <= SETTLED]
        beside = f", with {joined(others)} beside it" if others else ""
        return (
            "Painted by hands that are off by a fifth in mixing and laying, four layers come "
            f"nearest to the photo{beside}. The plan was chosen for such hands, the one-layer "
            "paintings were not."
        )
    return (
        f"Painted by hands that are off by a fifth in mixing and laying, nearest comes {best.name} "
        f"({least:.1f} off); four layers come to {hers:.1f}."
    )


def _rows(made: Sequence[Painting]) -> str:
    head = ("Painted", "Puddles", "Washes", "Value range (L*)", "Value steps", "Colours apart",
            "Colour spread", "Turn in round things", "Off the photo", "By hand")  # fmt: skip
    rows = [
        [
            escape(p.name.capitalize()),
            "–" if p.puddles is None else str(p.puddles),
            "–" if p.washes is None else str(p.washes),
            f"{p.flatness.value_range:.0f}",
            str(p.flatness.steps),
            str(p.flatness.colours),
            f"{p.flatness.spread:.1f}",
            f"{p.flatness.turn:.1f}",
            f"{p.flatness.error:.1f}",
            "–" if p.by_hand is None else f"{p.by_hand:.1f}",
        ]
        for p in made
    ]
    return table(head, rows)


def _figures(made: Sequence[Painting]) -> str:
    return draw.pictures(
        [
            draw.picture(
                draw.png_of_xyz(p.xyz),
                f"The still life, {p.name}: {p.flatness.steps} value steps, "
                f"{p.flatness.colours} colours that can be told apart",
                f"<strong>{escape(p.name.capitalize())}</strong>",
            )
            for p in made
        ],
        few=True,
    )


MEASURES = (
    "Value range is the L* between the darkest and the lightest two percent. A value step, of ten, "
    "counts where it covers half a percent of the sheet. Colours apart: so many that each differs "
    "from every other by 3 CIEDE2000 or more. Colour spread is the distance of the colours from "
    "their mean in CIELAB (root mean square). Turn is the standard deviation of L* inside jug, "
    "lemons and plum. Off the photo: mean CIEDE2000 at one pixel per millimetre. By hand: the same "
    "to expect of hands that are off by a fifth."
)


def _numbers(one: Painting) -> dict[str, Any]:
    measures = {k: round(v, 3) for k, v in vars(one.flatness).items()}
    own = None if one.by_hand is None else round(one.by_hand, 3)
    return {"puddles": one.puddles, "washes": one.washes, "by_hand": own, **measures}


def layers(shop: Workshop) -> Lesson:
    """The lesson, worked out."""
    made = paintings(shop)
    said = sentences_of(made)
    body = (
        "<p>All paintings have the same outlines, the same palette and the same soft edges. In one "
        "layer every area gets one coat on bare paper; the flat coats are one colour for each "
        "thing, light and shadow alike. Four layers are the plan that firstwash makes.</p>"
        + _figures(made)
        + "<h2>What was measured</h2>"
        + told(said)
        + _rows(made)
        + f'<p class="small">{MEASURES}</p>'
    )
    flattest = min(made[1:], key=lambda p: (p.flatness.turn, p.flatness.colours))
    numbers: dict[str, Any] = {p.name: _numbers(p) for p in made}
    return Lesson(
        key="layers",
        title="One layer against four",
        lead="A single layer of mixtures beside four layers of glazes, measured on one drawing.",
        body=body,
        sentences=said,
        numbers=numbers,
        asks=(
            "Half close your eyes: which painting still has a light side and a shadow side?",
            "Where in the four-layer painting does one puddle show as several colours?",
            "Which of your own paintings would a second layer have helped, and where?",
        ),
        task="Which painting is flattest? Say what you go by before you look at the table.",
        answer=(
            f"<p>{escape(flattest.name.capitalize())}: its lights and shadows vary least inside "
            f"the round things (standard deviation {flattest.flatness.turn:.1f} L*).</p>"
        ),
        sheet=(
            Boxes("One coat of a mixture", ("light", "middle", "dark")),
            Boxes("Glazes", ("one coat", "two coats", "three coats")),
        ),
        paints=shop.palette,
    )
