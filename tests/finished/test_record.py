"""The catalogue line: what is known is told, what is not is told as well or left off."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.finished.record import Record, catalogue_line, lasting, pigments, used_paints
from firstwash.paints.catalogue import Paint, all_paints
from firstwash.paints.unknown import unknown_paint
from firstwash.picture.sheet import parse_sheet
from firstwash.plan.result import Plan

PAINTS = all_paints()[:4]
NAMELESS = unknown_paint("grandmother's brown", "brown")


def lasts(category: str, paint: Paint = PAINTS[0]) -> Paint:
    """A paint of a lightfastness category, "" for one that nobody has published."""
    return replace(paint, handling=replace(paint.handling, lightfast=category))


def plan_with(paints: tuple[Paint, ...], *laid: int) -> Plan:
    """As much of a plan as a record asks for: one puddle of each paint, those laid used."""
    puddles = [SimpleNamespace(parts=((p, 0.5),)) for p in range(len(paints))]
    washes = [SimpleNamespace(puddle=p) for p in laid]
    return cast(
        Plan,
        SimpleNamespace(
            sheet=parse_sheet("24x18cm"), paints=paints, puddles=puddles, washes=washes,
            touches=[SimpleNamespace(puddle=None)],
        ),
    )  # fmt: skip


def test_only_paints_that_were_laid_count() -> None:
    plan = plan_with(PAINTS, 2, 0, 2)
    assert used_paints(plan) == (PAINTS[0], PAINTS[2])
    strokes = cast(Any, plan)
    strokes.touches.append(SimpleNamespace(puddle=3))
    assert used_paints(plan) == (PAINTS[0], PAINTS[2], PAINTS[3])
    assert used_paints(plan_with(PAINTS)) == ()


def test_pigments_are_told_once() -> None:
    twice = replace(PAINTS[0], pigments=("PB29", "PR101"))
    again = replace(PAINTS[1], pigments=("PR101",))
    assert pigments((twice, again)) == ("PB29", "PR101")
    assert pigments((again, NAMELESS)) == ("PR101", "grandmother's brown")
    assert pigments(()) == ()


@pytest.mark.parametrize(
    ("categories", "said"),
    [
        (("I", "I"), "Lightfastness category I throughout"),
        (("I", "II"), "Lightfastness category II or better, the least for b"),
        (("III", "II"), "Lightfastness category III or better, the least for a"),
        (("V", "V"), "Lightfastness category V or better, the least for a, b"),
        (("I", ""), "Lightfastness category I throughout; nothing published for b"),
        (("", ""), "nothing published for a, b"),
    ],
)
def test_a_painting_lasts_as_its_weakest_paint(categories: tuple[str, str], said: str) -> None:
    named = [replace(lasts(c), name=n) for c, n in zip(categories, "ab", strict=True)]
    assert lasting(named) == said


def test_the_line_tells_everything_in_order() -> None:
    plan = plan_with((lasts("I"), NAMELESS), 0, 1)
    record = Record("The cup", "A. Painter", "2031", "private collection")
    line = catalogue_line(plan, record, (270.0, 210.0))
    told = (
        "A. Painter, The cup, 2031", "Transparent watercolour on cold-pressed paper, 300 g/m²",
        "image 24 × 18 cm", "sheet 27 × 21 cm", "Pigments: ", "grandmother's brown",
        "Lightfastness category I", "nothing published for grandmother's brown",
        "private collection.",
    )  # fmt: skip
    places = [line.find(words) for words in told]
    assert -1 not in places, line
    assert places == sorted(places)
    assert ".." not in line
    assert ". ." not in line


def test_what_is_not_known_is_left_off() -> None:
    line = catalogue_line(plan_with(PAINTS), Record())
    assert line.startswith("Transparent watercolour")
    assert "sheet" not in line
    assert "Pigments" not in line
    assert "ightfast" not in line
    assert line.endswith(".")


def test_a_full_stop_is_set_once() -> None:
    line = catalogue_line(plan_with(PAINTS, 0), Record(title="No. 5.", remark="Sold."))
    assert ".." not in line


@given(st.text(max_size=120))
def test_texts_are_one_tidy_line(text: str) -> None:
    tidy = " ".join(text.split())
    if not tidy.isprintable():
        with pytest.raises(RequestError, match="title"):
            Record(title=text)
        return
    record = Record(title=text)
    assert record.title == tidy
    assert "\n" not in catalogue_line(plan_with(PAINTS, 0), record)


@pytest.mark.parametrize("field", ["title", "painter", "year", "remark"])
def test_long_and_invisible_texts_are_refused(field: str) -> None:
    assert getattr(Record(**{field: "x" * 120}), field) == "x" * 120
    with pytest.raises(RequestError, match=f"Shorten the {field} to at most 120"):
        Record(**{field: "x" * 121})
    with pytest.raises(RequestError, match=f"invisible control characters out of the {field}"):
        Record(**{field: "a\u202eb"})
    assert getattr(Record(**{field: "  a \n b\t"}), field) == "a b"
