"""Rules of thumb, each kept by one wash and broken by another, as the prediction has it."""

import numpy as np

from firstwash.advice.first_area import Area
from firstwash.advice.first_judged import judge
from firstwash.advice.first_laying import Palette, Patch, lay
from firstwash.advice.first_rules import RULES, Check, checks
from firstwash.advice.first_tints import Tint, bare
from firstwash.paints.catalogue import default_paper, paint
from firstwash.plan.bench import Bench

KEYS = ("PY154", "PY35", "PV19-rose", "PB29", "PB15:3", "PG36", "PBr7-burnt")
GREEN = ((86.0, -16.0, 34.0), (62.0, -26.0, 38.0), (38.0, -20.0, 22.0))
GREY_ROCK = ((78.0, 1.0, 3.0), (56.0, 0.0, 1.0), (34.0, 0.0, -1.0))


def area_of(aims: tuple[tuple[float, float, float], ...], rough: float | None = None) -> Area:
    paints = tuple(paint(key) for key in KEYS)
    palette = Palette(Bench.of(paints, default_paper()), paints, 4, 3)
    share = np.full(len(aims), 1.0 / len(aims))
    patch = Patch(np.arange(len(aims)), np.array(aims), share, rough)
    return Area(palette, (patch,), 900.0, 0.2)


def told(area: Area, key: str | None, lightness: float = 82.0) -> dict[str, Check]:
    """What the rules say of a wash of one paint that dries to an L*; None for bare paper."""
    palette = area.palette
    without = [lay(palette, p, None) for p in area.patches]
    tint = bare(palette)
    if key is not None:
        amounts = np.zeros(palette.bench.colours)
        i = KEYS.index(key)
        for amounts[i] in np.geomspace(1e-5, 1.0, 400):  # paler to stronger, until dark enough
            lab = palette.bench.labs(amounts[None])[1]
            if lab[0] <= lightness:
                break
        tint = Tint(("palest tint",), amounts, lab)
    return {c.rule.name: c for c in checks(area, judge(area, tint, without))}


def test_yellow_under_green_is_kept_by_yellow_and_broken_by_blue() -> None:
    area = area_of(GREEN)
    assert told(area, "PY154", 88.0)["yellow-under"].follows
    assert not told(area, "PB29")["yellow-under"].follows
    assert "yellow-under" not in told(area_of(GREY_ROCK), "PB29")  # a grey is to be no brighter


def test_an_opaque_paint_under_a_glow_breaks_the_habit() -> None:
    glow = ((84.0, 6.0, 60.0), (66.0, 20.0, 62.0))
    assert told(area_of(glow), "PY154", 86.0)["clear-under-glow"].follows
    assert not told(area_of(glow), "PY35", 86.0)["clear-under-glow"].follows
    assert "clear-under-glow" not in told(area_of(GREY_ROCK), "PY35", 86.0)


def test_what_lifts_below_breaks_the_habit_and_what_stains_keeps_it() -> None:
    area = area_of(GREY_ROCK)
    assert not told(area, "PB29")["staining-first"].follows
    assert told(area, "PB15:3")["staining-first"].follows


def test_grain_is_judged_by_how_rough_the_place_looks() -> None:
    for rough, keeps in ((0.0, False), (0.9, True)):
        assert told(area_of(GREY_ROCK, rough), "PB29")["grain-on-texture"].follows == keeps
    assert "grain-on-texture" not in told(area_of(GREY_ROCK), "PB29")  # nobody looked
    assert "grain-on-texture" not in told(area_of(GREY_ROCK, 0.0), "PB15:3")


def test_a_first_wash_that_is_too_dark_leaves_no_room() -> None:
    area = area_of(GREY_ROCK)
    assert told(area, "PB29", 82.0)["pale-first"].follows
    assert not told(area, "PB29", 60.0)["pale-first"].follows
    assert told(area, None)["pale-first"].follows


def test_the_shadows_colour_under_the_light_is_told() -> None:
    warm_light = ((86.0, 6.0, 22.0), (60.0, 2.0, 4.0), (34.0, 0.0, -16.0))
    area = area_of(warm_light)
    assert not told(area, "PB15:3")["warm-light-cool-shadow"].follows
    assert told(area, "PBr7-burnt", 86.0)["warm-light-cool-shadow"].follows
    assert "warm-light-cool-shadow" not in told(area_of(GREY_ROCK), "PB29")


def test_the_palest_tint_keeps_the_habit_and_bare_paper_breaks_it() -> None:
    area = area_of(((80.0, 13.0, 32.0), (50.0, 20.0, 34.0)))  # a burnt sienna, thin and thick
    assert told(area, "PBr7-burnt", 82.0)["palest-first"].follows
    assert not told(area, "PB15:3", 82.0)["palest-first"].follows
    assert not told(area, None)["palest-first"].follows


def test_every_rule_is_of_the_trade() -> None:
    assert {r.source for r in RULES} == {"common practice, no source"}
