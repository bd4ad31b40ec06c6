"""A plan as the page shows it: complete, in painter's words, and one story with the plan."""

import re
from collections.abc import Iterator
from dataclasses import asdict, fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest
from tests.worksheet.small import by_size, copied, middle, studio_in, the_cup

from firstwash.worksheet.brief import DrawingFile, Kept, Values
from firstwash.worksheet.editing import kept_more, strengthened
from firstwash.worksheet.reshaping import reserved_shape
from firstwash.worksheet.studio import Looked, Studio
from firstwash.worksheet.view import PlanView, plan_stamp, plan_view, scene_stamp
from firstwash.worksheet.words import Units


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    made = studio_in(copied(tmp_path))
    yield made
    made.store.close()


FIGURES = r"CIE|L\*|ΔE|\bnm\b|\bnan\b|\binf\b|None|\d\.\d{3}"


def seen(studio: Studio, looked: Looked, units: Units = "cm") -> PlanView:
    return plan_view(looked.brief, studio.desk(looked.brief), units)


def texts(told: Any) -> list[tuple[str, str]]:
    """Every text of a view with the name of its field."""
    if is_dataclass(told):
        inner = [(f.name, getattr(told, f.name)) for f in fields(told)]
        return [
            (name, value) if isinstance(value, str) else pair
            for name, value in inner
            for pair in ([(name, value)] if isinstance(value, str) else texts(value))
        ]
    if isinstance(told, tuple | list):
        return [
            pair
            for value in told
            for pair in ([("", value)] if isinstance(value, str) else texts(value))
        ]
    return []


def test_every_wash_puddle_and_paint_is_told_once(studio: Studio) -> None:
    looked = the_cup(studio)
    view, plan = seen(studio, looked), studio.desk(looked.brief).plan
    washes = [w for layer in view.layers for w in layer.washes]
    assert [(w.layer, w.number, w.cells) for w in washes] == [
        (w.layer, w.number, w.cells) for w in plan.washes
    ]
    assert [p.letter for p in view.puddles] == [p.name for p in plan.puddles]
    assert [p.key for p in view.palette] == [p.key for p in plan.paints]
    for layer in view.layers:
        shown = [n for s in layer.steps for n in s.washes if s.kind == "paint"]
        assert sorted(shown) == [w.number for w in layer.washes]
        assert all(s.minutes > 0.0 for s in layer.steps if s.kind == "wait")
        labels = [w.label for w in layer.washes]
        assert len(set(labels)) == len(labels)
        assert all(w.label.startswith(w.letter) for w in layer.washes)
    for puddle in view.puddles:
        assert {w.layer for w in washes if w.letter == puddle.letter} == set(puddle.layers)
        assert sum(p.share for p in puddle.parts) == pytest.approx(1.0)
        assert len(puddle.strips) == len(puddle.parts)
    assert view.layers[0].title == "The lay-in"
    assert (view.cells, view.shapes) == (plan.cells.count, plan.cells.shapes)
    assert (view.width_mm, view.height_mm) == (150.0, 110.0)


def test_colours_are_codes_for_the_screen(studio: Studio) -> None:
    view = seen(studio, the_cup(studio))
    names = {"stroke", "seen", "wet", "dry"}
    codes = [w for layer in view.layers for w in layer.washes]
    for one in [*codes, *view.puddles]:
        for name in names & {f.name for f in fields(one)}:
            assert re.fullmatch(r"#[0-9a-f]{6}", getattr(one, name))
    for strip in [p.strip for p in view.puddles] + [p.strip for p in view.palette]:
        assert strip
        assert all(re.fullmatch(r"#[0-9a-f]{6}", code) for code in strip)


def test_figures_stay_in_the_fields_for_those_who_ask(studio: Studio) -> None:
    """Painters are told words: no CIE names, no nanometres, no broken numbers anywhere else."""
    view = seen(studio, the_cup(studio))
    for name, text in texts(view):
        if name in ("", "stamp"):
            continue
        assert not re.search(r"CIE|L\*|ΔE|\bnm\b|\bnan\b|\binf\b|None|\d\.\d{3}", text), (
            name,
            text,
        )
    assert view.numbers
    assert not any(re.search(r"nan|inf", value) for _, value in view.numbers)


def test_sizes_are_told_in_the_painters_units(studio: Studio) -> None:
    looked = the_cup(studio)
    metric, inches = seen(studio, looked, "cm"), seen(studio, looked, "in")
    assert all("cm²" in p.area or "mm²" in p.area for p in metric.puddles)
    assert all("cm" not in p.area for p in inches.puddles)
    assert metric.stamp == inches.stamp


def test_locks_are_shown_where_they_hold(studio: Studio) -> None:
    looked = the_cup(studio)
    plan = studio.desk(looked.brief).plan
    kept = Kept(
        washes=((1, 1),),
        puddles=(plan.puddles[0].name,),
        paints=(plan.paints[0].key,),
        layers=(plan.layers,),
    )
    view = seen(studio, kept_more(studio, looked.id, looked.revision, kept))
    assert view.layers[0].washes[0].locked
    assert not view.layers[0].locked
    assert view.layers[-1].locked
    assert all(w.locked for w in view.layers[-1].washes)
    assert [p.locked for p in view.puddles] == [True] + [False] * (len(view.puddles) - 1)
    assert [p.locked for p in view.palette] == [True] + [False] * (len(view.palette) - 1)


def test_quality_is_told_only_while_it_is_true(studio: Studio) -> None:
    looked = the_cup(studio)
    view = seen(studio, looked)
    assert view.judged
    assert not view.stale
    assert view.quality
    wash = studio.desk(looked.brief).plan.washes[0]
    key = (wash.layer, wash.number)
    edited = strengthened(studio, looked.id, looked.revision, key, 0.5 * wash.strength, False)
    after = seen(studio, edited)
    assert not after.judged
    assert (after.quality, after.numbers) == ("", ())
    assert after.stamp != view.stamp
    other = studio.change(edited.id, edited.revision, "Ticked", lambda b: b.but(paints=("PB29",)))
    assert seen(studio, other).stale


def test_a_plan_with_everything_in_it_can_be_sent(studio: Studio) -> None:
    looked = the_cup(studio)
    desk = studio.desk(looked.brief)
    now = reserved_shape(studio, looked.id, looked.revision, [middle(desk, by_size(desk)[1])])
    view = seen(studio, now)
    assert asdict(view)["shapes"] == view.shapes
    assert re.fullmatch(r"\d+ ?% of the sheet stays bare paper", view.bare)


# --- names of pictures ------------------------------------------------------------------------


def test_stamps_change_with_what_is_shown_and_with_nothing_else(studio: Studio) -> None:
    brief = the_cup(studio).brief
    assert brief.plan is not None
    assert brief.drawing is not None
    scene, plan = scene_stamp(brief.scene), plan_stamp(brief, brief.plan)
    assert re.fullmatch(r"[0-9a-f]{16}", scene)
    assert re.fullmatch(r"[0-9a-f]{16}", plan)
    assert scene_stamp(brief.scene.but()) == scene
    assert scene_stamp(brief.scene.but(focal=(0.0, 0.0, 0.5, 0.5))) != scene
    other = brief.but(values=Values(steps=9), paints=("PB29",))
    assert plan_stamp(other, brief.plan) == plan
    drawn = brief.but(drawing=brief.drawing.but(details="{}"))
    key = "0" * 64
    stamps = {
        plan,
        plan_stamp(drawn, brief.plan),
        plan_stamp(brief.but(drawing=None), brief.plan),
        plan_stamp(brief.but(drawing=DrawingFile(labels=key)), brief.plan),
        plan_stamp(brief, brief.plan.but(document=key)),
        plan_stamp(brief, brief.plan.but(cells=key)),
    }
    assert len(stamps) == 6
