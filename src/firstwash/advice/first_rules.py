"""The trade's rules of thumb about first washes, each with a test on the predicted wash.

All are common practice, no source. A rule says whether a wash keeps it or breaks it, or that it
does not concern this area; it never says which wash is better: that is for the prediction.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from firstwash.advice.first_area import Area
from firstwash.advice.first_judged import Judged, runs_on
from firstwash.advice.first_laying import BARELY
from firstwash.arrays import FloatArray, triple
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.handling import glows
from firstwash.plan.neutral import hue_angle
from firstwash.plan.reasons import THRESHOLDS, Lab, hue_relation, warmth
from firstwash.plan.stacks import FIRST_WASH_LIGHTNESS

__all__ = ["RULES", "Check", "Rule", "checks"]

SOURCE = "common practice, no source"
CAP_SLACK = 0.5  # L*: the cap is a priced wish, not a wall
TURNS = 0.4  # of warmth (-1 to 1) between light and shadow that makes one of them the warmer
COLOURFUL = 20.0  # C* from which a green or a red is to be bright, and a grey is none
YELLOWS = (62.0, 122.0)  # CIELAB hue angles of a first wash that is a yellow
BLUES = (200.0, 345.0)  # and of one that is a blue or a violet
GREENS = (113.0, 200.0)  # and of what is to be a green
REDS = (350.0, 62.0)  # and of what is to be a red or an orange, through 0
ROUGH = 0.5  # from which a place is rough enough for grain
LEAST_PART = 0.1  # share of a wash's visible depth from which a paint's manners count


@dataclass(frozen=True)
class Check:
    """What a rule says of a wash.

    follows: whether it is kept. measure: the number that decided, in `unit`.
    """

    rule: "Rule"
    follows: bool
    measure: float
    unit: str


@dataclass(frozen=True)
class Rule:
    """A rule of thumb: its stable name, its words, and its test; None where it has no say."""

    name: str
    words: str
    test: Callable[[Area, Judged], tuple[bool, float, str] | None]
    source: str = SOURCE

    def check(self, area: Area, wash: Judged) -> Check | None:
        """What it says of a wash."""
        found = self.test(area, wash)
        return None if found is None else Check(self, *found)


Answer = tuple[bool, float, str] | None


def _palest(area: Area, wash: Judged) -> Answer:
    del area
    if wash.palest is None:
        return None
    off = float(delta_e_2000(wash.tint.lab, wash.palest))
    hint = wash.lab[0] - wash.palest[0] >= THRESHOLDS.hint
    same = hue_relation(wash.lab, triple(wash.palest)) in ("same", "grey")
    keeps = not wash.is_bare and (off <= THRESHOLDS.tint or (hint and same))
    return keeps, off, "CIEDE2000 from the palest tint it covers"


def _whites(area: Area, wash: Judged) -> Answer:
    """Kept where every white ends so near the paper that nobody could tell it from it."""
    paper = area.palette.paper
    white = delta_e_2000(area.aims, paper) < BARELY
    if not white.any():
        return None
    ends = np.concatenate([one.finals for one in wash.laid])
    lost = float(area.share[white & (delta_e_2000(ends, paper) >= BARELY)].sum())
    return lost == 0.0, lost, "share of the area that was white and is not any more"


def _room(area: Area, wash: Judged) -> Answer:
    del area
    return wash.lab[0] >= FIRST_WASH_LIGHTNESS - CAP_SLACK, wash.lab[0], "L* when dry"


def _lean(lab: FloatArray | Lab) -> float:
    """How warm (to 1) or cool (to -1) a colour is for its chroma; near grey it is neither."""
    return warmth(lab) / max(float(np.hypot(lab[1], lab[2])), 2.0 * THRESHOLDS.grey)


def _warm_light(area: Area, wash: Judged) -> Answer:
    """Broken by a coloured wash that is nearer the shadow's warmth than the light's."""
    if wash.palest is None or wash.is_bare:
        return None
    dark = area.aims[int(np.argmin(area.aims[:, 0]))]
    light, shadow, own = _lean(wash.palest), _lean(dark), _lean(wash.lab)
    if abs(light - shadow) < TURNS:
        return None
    astray = abs(own - shadow) < abs(own - light)
    coloured = float(np.hypot(*wash.lab[1:])) >= THRESHOLDS.grey
    return not (coloured and astray), own, "warmth of the wash, -1 to 1"


def _shared(area: Area, wash: Judged) -> Answer:
    if not area.neighbours:
        return None
    nearest = min(float(delta_e_2000(wash.tint.lab, n.lab)) for n in area.neighbours)
    return (
        any(runs_on(wash.tint, n) for n in area.neighbours),
        nearest,
        "CIEDE2000 from the nearest",
    )


def _grades(area: Area, wash: Judged, grade: str) -> list[float]:
    """Known grades of the paints that make out some of the wash."""
    depth = area.palette.bench.visible_depth()
    place = {p.key: i for i, p in enumerate(area.palette.paints)}
    weight = [a / p.full_coat * depth[place[p.key]] for p, a in wash.parts]
    total = sum(weight)
    known = [
        getattr(p.handling, grade)
        for (p, _), w in zip(wash.parts, weight, strict=True)
        if w >= LEAST_PART * total
    ]
    return [float(g) for g in known if g is not None]


def _staining(area: Area, wash: Judged) -> Answer:
    grades = _grades(area, wash, "staining")
    if not grades or wash.reason is None or wash.reason.glaze is None:
        return None
    if min(grades) <= 1:
        return False, min(grades), "staining grade (0-4) of the paint that lifts most"
    if max(grades) >= 3:
        return True, max(grades), "staining grade (0-4)"
    return None


def _grain(area: Area, wash: Judged) -> Answer:
    rough = [(float(p.share.sum()), p.rough) for p in area.patches]
    grains = max(_grades(area, wash, "granulation"), default=0.0)
    if grains < 2 or any(r is None for _, r in rough):
        return None
    mean = sum(s * (r or 0.0) for s, r in rough) / sum(s for s, _ in rough)
    return mean >= ROUGH, mean, "roughness of the area (0-1)"


def _opaque(area: Area, wash: Judged) -> Answer:
    grades = _grades(area, wash, "transparency")
    if not grades or not glows(area.aims).any():
        return None
    return min(grades) > 1, min(grades), "transparency grade (0-4) of the most opaque paint"


def _complement(area: Area, wash: Judged) -> Answer:
    del area
    if wash.reason is None or wash.reason.relation != "opposite" or wash.reason.glaze is None:
        return None
    over = [
        (one.patch.share[one.coats_of > 1], one.patch.aims[one.coats_of > 1]) for one in wash.laid
    ]
    share = np.concatenate([s for s, _ in over])
    chroma = np.concatenate([np.hypot(a[:, 1], a[:, 2]) for _, a in over])
    mean = float(share @ chroma / share.sum())
    return mean < COLOURFUL, mean, "C* wanted under the glazes"


def _within(hue: float, low: float, high: float) -> bool:
    return low <= hue < high if low < high else (hue >= low or hue < high)


def _yellow(area: Area, wash: Judged) -> Answer:
    """Concerns areas that are to be a bright green or red; yellow keeps it, blue breaks it."""
    a, b = area.share @ area.aims[:, 1:] / area.share.sum()
    hue = hue_angle(float(a), float(b))
    if np.hypot(a, b) < COLOURFUL or not (_within(hue, *GREENS) or _within(hue, *REDS)):
        return None
    own = hue_angle(*wash.lab[1:])
    if wash.is_bare or np.hypot(*wash.lab[1:]) < THRESHOLDS.grey:
        return None
    if _within(own, *YELLOWS):
        return True, own, "CIELAB hue angle of the wash, degrees"
    return (False, own, "CIELAB hue angle of the wash, degrees") if _within(own, *BLUES) else None


RULES = (
    Rule("palest-first", "start with the palest tint to be seen", _palest),
    Rule("whites-bare", "keep the whites bare", _whites),
    Rule("pale-first", "a first wash is pale enough to leave room above", _room),
    Rule(
        "warm-light-cool-shadow",
        "warm and cool are told apart from the start: no shadow colour under the light",
        _warm_light,
    ),
    Rule("shared", "let related areas share a first wash", _shared),
    Rule("staining-first", "what stains goes first, what lifts goes last", _staining),
    Rule("grain-on-texture", "grain only where texture helps", _grain),
    Rule("clear-under-glow", "nothing opaque under a glow", _opaque),
    Rule(
        "complement-greys", "a complement below only where the glaze is to be greyed", _complement
    ),
    Rule("yellow-under", "yellow under greens and reds keeps them bright", _yellow),
)


def checks(area: Area, wash: Judged, rules: Sequence[Rule] = RULES) -> tuple[Check, ...]:
    """What the rules that concern this area say of a wash, in the order of the table."""
    found = (rule.check(area, wash) for rule in rules)
    return tuple(check for check in found if check is not None)
