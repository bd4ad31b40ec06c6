"""Lesson: what an underpainting does, shown by the same glazes over five first washes.

The five are nothing, a warm pale wash, a cool one, the opposite of each thing's own colour and
that colour itself, all laid so that they dry about equally light. The glazes are fitted once, over
the mean of the five, so that none is favoured: amounts of paint add, so the mean wash lies in
their middle. What each first wash could reach with glazes mixed for it alone is told as well.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.advice.glaze_reasons import why_glaze
from firstwash.advice.glaze_words import why_words
from firstwash.arrays import FloatArray
from firstwash.handout.markup import table
from firstwash.lessons import draw
from firstwash.lessons.fitting import fit_amounts, fit_few
from firstwash.lessons.page import Boxes, Lesson, told, why_folded
from firstwash.lessons.words import HARDLY, change_told, chroma_of, hue_of, joined
from firstwash.lessons.workshop import BARE, Workshop, labs_of
from firstwash.optics.difference import delta_e_2000
from firstwash.paints.catalogue import Paint
from firstwash.plan.bench import Bench
from firstwash.plan.board.amounts import whole_parts

__all__ = ["FIRST", "FiveWashes", "five_washes", "mixture_of", "sentences_of", "underpainting"]

FIRST: Final = ("no first wash", "a warm pale wash", "a cool pale wash", "the opposite colour",
                "its own colour")  # fmt: skip
NONE, WARM, COOL, OPPOSITE, OWN = range(5)
PALE: Final = 84.0  # L* that the four washes dry to as nearly as the paints let them
TINT: Final = 16.0  # C* of them, or the thing's own where that is less
WARM_HUE, COOL_HUE = 70.0, 250.0  # degrees in CIELAB; common practice, no source
SHOWN: Final = ("lemon", "plum", "table")  # things whose strips are drawn
SEEN: Final = 2.0  # CIEDE2000 from which the change of a thing is told
ALIKE: Final = 1.0  # CIEDE2000 between two means that the eye would not tell apart
STARTS: Final = (0.05, 0.4)  # visible depths to fit from
HELD: Final = 0.05  # share of a mixture's load below which a paint is left out of its words


@dataclass(frozen=True, eq=False)
class FiveWashes:
    """The predictions.

    cells: those that are painted (n,). first: (5, n, paints) amounts of the first washes;
    glazes: (n, paints) of one of the two equal glazes. stages: (5, n, 4, 3) CIELAB: paper, first
    wash, one glaze, two. targets: (n, 3). areas: (n,) mm². errors: (5,) mean CIEDE2000 of the
    end against the photo, by area; best: (5,) the same with glazes mixed for that wash alone.
    """

    cells: NDArray[np.int64]
    first: NDArray[np.float64]
    glazes: NDArray[np.float64]
    stages: NDArray[np.float64]
    targets: NDArray[np.float64]
    areas: NDArray[np.float64]
    errors: NDArray[np.float64]
    best: NDArray[np.float64]

    @property
    def nearest(self) -> int:
        """The first wash whose end comes nearest to the photo."""
        return int(np.argmin(self.errors))

    def end(self, wash: int) -> NDArray[np.float64]:
        """Mean CIELAB (3,) of the painted part in the end."""
        return np.average(self.stages[wash, :, -1], axis=0, weights=self.areas)


def _wanted(shop: Workshop, cells: NDArray[np.int64]) -> NDArray[np.float64]:
    """CIELAB (4, n, 3) that the four washes are to dry to."""
    own = np.empty((len(cells), 2))
    for thing in np.unique(shop.things[cells]):
        here = shop.things[cells] == thing
        mean = np.average(shop.plan.targets[cells[here]], axis=0, weights=shop.areas[cells[here]])
        own[here] = min(chroma_of(mean), TINT), np.radians(hue_of(mean))
    flat = np.full(len(cells), TINT)
    tints = (
        (flat, np.full(len(cells), np.radians(WARM_HUE))),
        (flat, np.full(len(cells), np.radians(COOL_HUE))),
        (own[:, 0], own[:, 1] + np.pi),
        (own[:, 0], own[:, 1]),
    )
    light = np.full(len(cells), PALE)
    return np.array([np.stack([light, c * np.cos(h), c * np.sin(h)], 1) for c, h in tints])


def _washes(bench: Bench, wanted: FloatArray) -> NDArray[np.float64]:
    """Amounts (n, paints) of one coat, of three paints at most, nearest to each CIELAB (n, 3)."""
    unlike, back = np.unique(np.round(wanted, 6), axis=0, return_inverse=True)

    def seen(amounts: FloatArray) -> NDArray[np.float64]:
        return labs_of(bench, amounts[:, None])[:, -1]

    return fit_few(bench, seen, unlike, STARTS[:1])[back.ravel()]


def _glazed(
    bench: Bench, under: FloatArray, targets: FloatArray, few: bool = False
) -> NDArray[np.float64]:
    """Amounts (n, paints) of one of two equal glazes over a first wash (n, paints).

    few: of three paints at most, as a painter mixes them; else of any.
    """

    def seen(glaze: FloatArray) -> NDArray[np.float64]:
        return labs_of(bench, _stack(under, glaze))[:, -1]

    if few:
        return fit_few(bench, seen, targets, STARTS[1:])
    full = 1.0 / bench.loads
    found = []
    for depth in STARTS:
        start = depth * full / bench.visible_depth() / bench.colours
        found.append(fit_amounts(seen, np.tile(start, (len(targets), 1)), targets, full))
    which = np.argmin([delta_e_2000(seen(f), targets) for f in found], axis=0)
    return np.asarray(np.array(found)[which, np.arange(len(targets))])


def _stack(first: FloatArray, glaze: FloatArray) -> NDArray[np.float64]:
    return np.stack([first, glaze, glaze], axis=1)


def five_washes(shop: Workshop) -> FiveWashes:
    """The same glazes over five first washes, all over the still life but its whites."""
    bench, plan = shop.bench, shop.plan
    cells = np.flatnonzero(plan.targets[:, 0] < BARE)
    targets, areas = plan.aims[cells], shop.areas[cells]
    first = np.zeros((5, len(cells), bench.colours))
    for wash, wanted in enumerate(_wanted(shop, cells), 1):
        first[wash] = _washes(bench, wanted)
    glazes = _glazed(bench, first.mean(axis=0), targets, few=True)
    stages = np.array([labs_of(bench, _stack(f, glazes)) for f in first])
    own = [labs_of(bench, _stack(f, _glazed(bench, f, targets)))[:, -1] for f in first]
    photo = plan.targets[cells]

    def mean(labs: FloatArray) -> float:
        return float(np.average(delta_e_2000(labs, photo), weights=areas))

    errors = np.array([mean(s[:, -1]) for s in stages])
    best = np.array([mean(o) for o in own])
    return FiveWashes(cells, first, glazes, stages, photo, areas, errors, best)


def mixture_of(paints: Sequence[Paint], amounts: FloatArray) -> str:
    """A mixture in whole parts at full strength: "3 raw sienna, 1 ultramarine"; "" for none."""
    loads = np.array([a / p.full_coat for a, p in zip(amounts, paints, strict=True)])
    if loads.sum() <= 0.0:
        return ""
    order = np.argsort(-loads, kind="stable").tolist()
    kept = [i for i in order if loads[i] >= HELD * loads.sum()]
    if len(kept) == 1:
        return str(paints[kept[0]].name)
    parts = whole_parts([float(loads[i]) for i in kept])
    return ", ".join(f"{n} {paints[i].name}" for n, i in zip(parts, kept, strict=True))


def _mean_of(found: FiveWashes, shop: Workshop, thing: str) -> NDArray[np.float64] | None:
    """CIELAB (5, 4, 3) of a thing's largest painted area, or None."""
    here = [c for c in shop.cells_of(thing) if c in found.cells]
    if not here:
        return None
    return np.asarray(found.stages[:, int(np.flatnonzero(found.cells == here[0])[0])])


def sentences_of(found: FiveWashes, shop: Workshop) -> tuple[str, ...]:
    """What the five first washes did, each sentence from the prediction."""
    out = []
    if len(shop.palette) == 1:
        out.append(
            "With one paint the four washes are all of that paint and can differ only in strength; "
            "a second paint of another hue would part them."
        )
    bare = found.end(NONE)
    for wash in (WARM, COOL, OPPOSITE, OWN):
        change = change_told(bare, found.end(wash))
        out.append(
            f"Over {FIRST[wash]} the whole ends {change}, set against the same glazes on paper."
        )
    order = [int(i) for i in np.argsort(found.errors, kind="stable")]
    best, last = order[0], order[-1]
    gap = found.errors[last] - found.errors[best]
    if gap < ALIKE:
        out.append(
            "With these paints the five ends are about as near to the subject; the eye sees "
            "little of the first wash here."
        )
    else:
        out.append(f"Nearest to the subject comes {FIRST[best]}, furthest from it {FIRST[last]}.")
    out.append(_refitted(found))
    out += [t for thing in SHOWN if (t := _thing_told(found, shop, thing))]
    return tuple(out)


def _refitted(found: FiveWashes) -> str:
    """What is left when the glazes are mixed anew for each first wash."""
    spread = float(np.ptp(found.best))
    if spread < ALIKE:
        return (
            "Mix the glazes anew for each first wash and all five come about equally near: a "
            "pale first wash closes few doors, but the glazes must be mixed for it."
        )
    best, last = int(np.argmin(found.best)), int(np.argmax(found.best))
    shrink = spread < float(np.ptp(found.errors))
    still = " still" * (last == int(np.argmax(found.errors)))
    return (
        "Mix the glazes anew for each and the differences "
        f"{'shrink, but' if shrink else 'stay as large:'} {FIRST[last]}{still} stays furthest off "
        f"and {FIRST[best]} comes nearest: some of what a first wash adds cannot be glazed away."
    )


def _thing_told(found: FiveWashes, shop: Workshop, thing: str) -> str:
    labs = _mean_of(found, shop, thing)
    if labs is None:
        return ""
    bare = labs[NONE, -1]
    off = delta_e_2000(labs[1:, -1], np.broadcast_to(bare, (4, 3)))
    if float(off.max()) < SEEN:
        return f"The {thing} hides its first wash: no end differs much from that on paper."
    most = int(np.argmax(off)) + 1
    change = change_told(bare, labs[most, -1])
    names = draw.said(labs[most, -1]), draw.said(bare)
    turned = f"{names[0]} instead of {names[1]}" if names[0] != names[1] else ""
    words = [w for w in (change, turned) if w and not (turned and w == HARDLY)]
    return f"The {thing} is changed most by {FIRST[most]}: {', '.join(words)}."


def _pictures(found: FiveWashes, shop: Workshop) -> str:
    out = []
    for wash, name in enumerate(FIRST):
        amounts = np.zeros((shop.plan.cells.count, 3, shop.bench.colours))
        amounts[found.cells] = _stack(found.first[wash], found.glazes)
        png = draw.png_of_xyz(shop.painted(amounts))
        off = f"{found.errors[wash]:.1f} from the photo on average (CIEDE2000)"
        alt = (
            f"The still life painted over {name}, as predicted: on the whole "
            f"{draw.said(found.end(wash))}"
        )
        best = ", the nearest of the five" if wash == found.nearest else ""
        caption = f"<strong>{escape(name.capitalize())}</strong>{best}<br>{off}"
        out.append(draw.picture(png, alt, caption))
    photo = draw.png_of_xyz(shop.reference.xyz)
    alt = "The subject: an enamel jug, two lemons, a plum and a folded linen towel by a window"
    return draw.pictures([draw.picture(photo, alt, "<strong>The subject</strong>"), *out])


def _stage_names(wash: int) -> tuple[str, ...]:
    return ("paper", "first wash" if wash != NONE else "left bare", "one glaze", "two")


def _strips(found: FiveWashes, shop: Workshop) -> str:
    out = []
    for thing in SHOWN:
        labs = _mean_of(found, shop, thing)
        if labs is None:
            continue
        rows = "".join(
            f"<div><p><strong>{escape(name.capitalize())}</strong></p>"
            + draw.strip(labs[wash], _stage_names(wash), f"The {thing}, {name}")
            + "</div>"
            for wash, name in enumerate(FIRST)
        )
        why = why_folded(f"Why: the glazes on the {thing}", _why(found, shop, thing))
        out.append(f'<h3>The {thing}, stage by stage</h3><div class="strips">{rows}</div>{why}')
    return "".join(out)


def _why(found: FiveWashes, shop: Workshop, thing: str) -> str:
    """What the last glaze does over a thing's own colour and over the opposite, from the light."""
    here = next(c for c in shop.cells_of(thing) if c in found.cells)
    i = int(np.flatnonzero(found.cells == here)[0])
    out = []
    for wash in (OWN, OPPOSITE):
        stack = _stack(found.first[wash, [i]], found.glazes[[i]])[0]
        if not stack.any():
            continue
        words = why_words(why_glaze(shop.paper, shop.palette, stack))
        said = told([t for t in (words.light, words.opposed, words.leans) if t])
        out.append(f"<p><strong>Over {escape(FIRST[wash])}</strong></p>{said}")
    return "".join(out) or "<p>Nothing is laid there.</p>"


def _recipes(found: FiveWashes, shop: Workshop) -> str:
    """What the pale washes and the glazes of the things that are shown are mixed from."""
    rows = []
    for thing in SHOWN:
        here = [c for c in shop.cells_of(thing) if c in found.cells]
        if not here:
            continue
        i = int(np.flatnonzero(found.cells == here[0])[0])
        mixed = [mixture_of(shop.palette, found.first[w, i]) for w in (WARM, COOL, OPPOSITE, OWN)]
        glaze = mixture_of(shop.palette, found.glazes[i])
        rows.append([escape(thing), *(escape(m or "water") for m in mixed), escape(glaze)])
    head = ("Thing", "Warm", "Cool", "Opposite", "Own", "Each of the two glazes")
    return "<h2>What to mix</h2><p>Parts at each paint’s full strength.</p>" + table(head, rows)


def underpainting(shop: Workshop) -> Lesson:
    """The lesson, worked out."""
    found = five_washes(shop)
    said = sentences_of(found, shop)
    order = np.argsort(found.errors, kind="stable")
    ranking = joined([FIRST[int(i)] for i in order])
    body = (
        "<p>Two equal glazes are laid over every part of the still life but its whites. They are "
        "mixed once and suit the middle of the five first washes, so that none of them has an "
        "advantage. The four washes dry about equally light; only their hue differs.</p>"
        + _pictures(found, shop)
        + "<h2>What changed</h2>"
        + told(said)
        + "<h2>Strips</h2>"
        + _strips(found, shop)
        + _recipes(found, shop)
        + '<p class="small">Predicted from the paints’ spectra; glazes over dry paint are model, '
        "not measured. Try a strip of your own first.</p>"
    )
    return Lesson(
        key="underpainting",
        title="What an underpainting does",
        lead="The same glazes over five different first washes, side by side.",
        body=body,
        sentences=said,
        numbers={
            "errors": dict(zip(FIRST, found.errors.round(2).tolist(), strict=True)),
            "errors_with_own_glazes": dict(zip(FIRST, found.best.round(2).tolist(), strict=True)),
            "ends": {n: found.end(w).round(2).tolist() for w, n in enumerate(FIRST)},
        },
        asks=(
            "Where does the first wash still show when both glazes are on, and where not?",
            "Which first wash would you choose for a sunny wall, and which for a grey day?",
            "Why does the white of the jug get no first wash at all?",
        ),
        task=(
            "Before you look at the numbers, put the five small paintings in order, from the one "
            "nearest to the subject to the one furthest from it."
        ),
        answer=f"<p>Nearest first: {escape(ranking)}.</p>",
        sheet=tuple(Boxes(n, ("first wash", "one glaze", "two glazes")) for n in FIRST),
        paints=shop.palette,
    )
