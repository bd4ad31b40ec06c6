"""Which first wash to lay in an area: the candidates, ranked by what they lead to.

Every candidate is painted on to the end by the planner's own solver and judged by the same
prediction. They are ranked by a toll, in CIEDE2000:

    toll = √(match + paint + coats + steps + seams)

match: mean squared CIEDE2000 against the aims by area; paint: prices of handling
(`plan.handling`); coats: 0.15 for each coat down the stack, as in the planner; steps: what even
coats lose of an even gradation; seams: 3 mm² for every mm of border that is not hard to a
neighbour it does not run on into, over the area, as in the lay-in.

Washes are practically equal to the one of the least toll where the end is not noticeably further
off (root of match and steps within `EITHER`) and the toll hardly more (within `HARDLY`). Among
equals the simpler comes first: fewer coats, fewer rules broken, fewer paints, mixed anyway,
steadier by hand; and bare paper last where it only puts off a pale wash to the second layer. What
hands that err make of it ranks no further: it hangs on puddles that nobody has settled yet.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from firstwash.advice.first_area import Area, Neighbour
from firstwash.advice.first_judged import Judged, judge
from firstwash.advice.first_laying import Laid, Palette, Patch, gathered, lay
from firstwash.advice.first_rules import Check, checks
from firstwash.advice.first_tints import SAME, Tint, bare, merged, tint_of, tints
from firstwash.arrays import FloatArray
from firstwash.errors import PaintError, RequestError
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, default_paper
from firstwash.parallel import in_parallel
from firstwash.plan.bench import Bench
from firstwash.plan.hands import SIGMA
from firstwash.plan.palette import choose_paints, floor_for
from firstwash.plan.reasons import THRESHOLDS
from firstwash.plan.tone import ToneMap

__all__ = [
    "EITHER",
    "FirstWash",
    "FirstWashAdvice",
    "Gain",
    "first_washes_for_colours",
    "ranked",
]

EITHER = THRESHOLDS.rise  # CIEDE2000 between two tolls that no painter would notice
HARDLY = 2.0 * EITHER  # CIEDE2000 of toll: a pigment or two more down the stack
ENOUGH_PAINTS = 8  # a longer list is first cut to the six that suit the colours
CHOSEN = 6
WHITE = 2.0  # L* below the paper's down to which what has no hue is white


@dataclass(frozen=True)
class Gain:
    """What breaking a rule gains over the cheapest wash that keeps it; < 0 where it loses.

    toll: CIEDE2000 of toll; seen: root mean square CIEDE2000 nearer at the end, steps included.
    """

    toll: float
    seen: float


@dataclass(frozen=True, eq=False)
class FirstWash:
    """A candidate in its place.

    judged: what it leads to. checks: the rules of thumb it keeps and breaks. behind: its toll
    less the least toll. either: whether it is practically equal to the best. gains: for every
    rule it breaks, by name, what that gains; no entry where none of the others keeps it.
    """

    judged: Judged
    checks: tuple[Check, ...]
    behind: float
    either: bool
    gains: dict[str, Gain]

    @property
    def kept(self) -> tuple[Check, ...]:
        """The rules it keeps."""
        return tuple(c for c in self.checks if c.follows)

    @property
    def broken(self) -> tuple[Check, ...]:
        """The rules it breaks."""
        return tuple(c for c in self.checks if not c.follows)


@dataclass(frozen=True, eq=False)
class FirstWashAdvice:
    """First washes for an area, best first.

    covered: share (0-1) of the area that was worked out, the largest shapes first. as_planned:
    mean CIEDE2000 of it as the plan has it, its own later coats unchanged; None without a plan.
    """

    area: Area
    washes: tuple[FirstWash, ...]
    covered: float = 1.0
    as_planned: float | None = None

    @property
    def best(self) -> FirstWash:
        """The first of them."""
        return self.washes[0]

    @property
    def equals(self) -> tuple[FirstWash, ...]:
        """All that are practically as good as the best, that one included."""
        return tuple(w for w in self.washes if w.either)

    @property
    def bare(self) -> FirstWash:
        """No first wash."""
        return next(w for w in self.washes if w.judged.is_bare)

    @property
    def plans(self) -> FirstWash | None:
        """The plan's own; None without a plan."""
        return next((w for w in self.washes if "plan" in w.judged.origins), None)


def ranked(area: Area, candidates: Sequence[Tint]) -> tuple[FirstWash, ...]:
    """Candidates judged and in order; bare paper is among them whether asked for or not."""
    without = in_parallel(lambda p: lay(area.palette, p, None), area.patches)
    if not any(t.amounts is None for t in candidates):
        candidates = [*candidates, bare(area.palette)]
    candidates = [_with_firsts(area, t, without) for t in candidates]
    area.in_reach  # noqa: B018 - worked out once, before two threads ask for it
    judged = in_parallel(lambda t: judge(area, t, without), candidates)
    told = [checks(area, j) for j in judged]
    least = min(judged, key=lambda j: j.toll.total)
    found = [
        FirstWash(
            j, own, j.toll.total - least.toll.total, _alike(j, least), _gains(i, judged, told)
        )
        for i, (j, own) in enumerate(zip(judged, told, strict=True))
    ]
    return tuple(sorted(found, key=_place))


def _with_firsts(area: Area, tint: Tint, without: Sequence[Laid]) -> Tint:
    """A tint to be mixed, with what the paper's own first coats would be mixed from if so near."""
    if tint.amounts is None or tint.puddle is not None or tint.strengths is not None:
        return tint
    others = []
    for amounts in (one.amounts[0] for one in without if len(one.amounts)):
        dry = area.palette.bench.labs(amounts[None])[1]
        if float(delta_e_2000(dry, tint.lab)) < SAME:
            others.append(Tint(tint.origins, amounts, dry))
    return replace(tint, others=(*tint.others, *others))


def _alike(one: Judged, best: Judged) -> bool:
    """Whether neither the toll nor what is seen at the end is noticeably more than the best's."""
    mine, least = one.toll, best.toll
    return mine.total - least.total <= HARDLY and mine.seen - least.seen <= EITHER


def _place(wash: FirstWash) -> tuple[float, ...]:
    """Equals by how simple they are, the others by their toll."""
    j = wash.judged
    if not wash.either:
        return (1.0, wash.behind)
    coats = sum(float(x.patch.share.sum()) * len(x.amounts) for x in j.laid)
    return (
        0.0,
        j.puts_off,
        round(coats, 3),
        len(wash.broken),
        len(j.parts),
        j.tint.puddle is None,
        j.by_hand,
    )


def _gains(
    own: int, judged: Sequence[Judged], told: Sequence[tuple[Check, ...]]
) -> dict[str, Gain]:
    out = {}
    mine = judged[own].toll
    for check in told[own]:
        keeping = [
            j.toll
            for j, others in zip(judged, told, strict=True)
            if any(c.rule is check.rule and c.follows for c in others)
        ]
        if not check.follows and keeping:
            other = min(keeping, key=lambda toll: toll.total)
            out[check.rule.name] = Gain(other.total - mine.total, other.seen - mine.seen)
    return out


def first_washes_for_colours(
    targets_lab: FloatArray,
    areas: FloatArray,
    paints: Sequence[Paint],
    layers: int = 4,
    *,
    paper: Paper | None = None,
    most: int = 3,
    handling: float = 1.0,
    sigma: float = SIGMA,
    tone: ToneMap | None = None,
    beside: Sequence[Neighbour] = (),
    local: FloatArray | None = None,
    lamp: FloatArray | None = None,
    rough: float | None = None,
) -> FirstWashAdvice:
    """First washes for an area known by its colours alone.

    targets_lab (n, 3): CIELAB of the photo, in any order; areas (n,): mm² of each, > 0. paints:
    to mix from; of more than eight the six that suit these colours. layers: 2-8. most: paints
    in a puddle. tone: what darks and lights become with these paints; fitted to these colours
    alone if left out; more levels than there are layers for are joined first, like to like.
    beside: first washes around it. local: CIELAB (3,) of the object's own
    colour, lamp: of white paper in the picture's light, where the light split tells them.
    rough: 0-1, None where nobody looked. Raises RequestError for colours that make no area,
    PaintError for no paint.
    """
    labs, sizes = _checked(targets_lab, areas, paints, layers)
    ground = paper or default_paper()
    bench = Bench.of(paints, ground)
    if len(paints) > ENOUGH_PAINTS:
        chosen = sorted(choose_paints(bench, labs, sizes / sizes.sum(), CHOSEN))
        bench, paints = bench.only(chosen), [paints[i] for i in chosen]
    palette = Palette(bench, tuple(paints), layers, most, handling)
    white = float(palette.paper[0])
    mapped = tone or ToneMap(min(floor_for(bench, labs, sizes), white), white)
    order = np.argsort(-labs[:, 0], kind="stable")
    share = sizes[order] / sizes.sum()
    aims = _on_paper(mapped(labs[order]), palette.paper)
    patch = gathered(Patch(order, aims, share, rough), palette)
    area = Area(palette, (patch,), float(sizes.sum()), sigma, tuple(beside))
    found = [*_beside(area), *tints(palette, area.patches, local, lamp)]
    return FirstWashAdvice(area, ranked(area, merged(found)))


def _on_paper(aims: FloatArray, paper: FloatArray) -> NDArray[np.float64]:
    """Aims (n, 3) with the picture's whites the paper's own white, whatever tint that has."""
    white = (aims[:, 0] >= paper[0] - WHITE) & (np.hypot(*aims[:, 1:].T) < THRESHOLDS.grey)
    return np.where(white[:, None], paper, aims)


def _checked(
    targets_lab: FloatArray, areas: FloatArray, paints: Sequence[Paint], layers: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    labs, sizes = np.asarray(targets_lab, dtype=np.float64), np.asarray(areas, dtype=np.float64)
    good = labs.ndim == 2 and labs.shape[1:] == (3,) and sizes.shape == labs.shape[:1]
    if not good or not len(labs) or not np.isfinite(labs).all() or not (sizes > 0).all():
        raise RequestError("An area is some colours, each L*, a* and b*, and how large each is.")
    if layers < 2:
        raise RequestError("With one layer alone there is no first wash; allow two at least.")
    if not len(paints):
        raise PaintError("The set holds no paint; add at least one.")
    return labs, sizes


def _beside(area: Area) -> list[Tint]:
    """The neighbours' first washes run on into this area, the longest border first."""
    out = []
    for n in sorted(area.neighbours, key=lambda n: -n.open_mm):
        if n.amounts is None:
            tint = tint_of(area.palette, area.patches, "neighbour", n.lab)
            out += [] if tint is None else [tint]
        else:
            out.append(Tint(("neighbour",), n.amounts, n.lab, n.puddle, n.strength))
    return out
