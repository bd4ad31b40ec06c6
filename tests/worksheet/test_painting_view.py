"""A painting as the page shows it: never refused for one part that cannot be read."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.worksheet.small import copied, cup_png, is_sentence, studio_in, the_cup

from firstwash.errors import RequestError
from firstwash.worksheet.brief import Place
from firstwash.worksheet.laying import sheet_of
from firstwash.worksheet.painting_view import (
    Preferences,
    keep_preferences,
    painting_view,
    preferences,
)
from firstwash.worksheet.studio import Studio


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    made = studio_in(copied(tmp_path))
    yield made
    made.store.close()


def test_a_painting_with_a_plan(studio: Studio) -> None:
    looked = the_cup(studio)
    view = painting_view(studio, looked)
    assert (view.id, view.name, view.revision) == (looked.id, "Cup", looked.revision)
    assert (view.can_step_back, view.can_step_forward) == (True, False)
    assert view.words == "Planned"
    assert view.brief == looked.brief
    assert (view.width_mm, view.height_mm) == (150.0, 110.0)
    assert view.plan is not None
    assert view.problem == ""
    assert view.liked == Preferences()


def test_a_painting_before_its_first_plan(studio: Studio) -> None:
    made = studio.new(cup_png(), "Second", "two.png")
    view = painting_view(studio, made)
    assert view.plan is None
    assert view.problem == ""
    assert not view.can_step_back


def test_the_crop_shown_is_the_part_that_fills_the_sheet(studio: Studio) -> None:
    looked = the_cup(studio)
    first = looked.brief.scene.pictures[0]
    placed = first.but(
        place=Place(left=0.1, top=0.1, width=0.3), crop=(0.2, 0.2, 0.5, 0.5), turns=1
    )
    scene = looked.brief.scene.but(pictures=(first, placed))
    now = studio.change(looked.id, looked.revision, "Two", lambda b: b.but(scene=scene))
    one, two = painting_view(studio, now).photos
    sheet = sheet_of(scene)
    wide, high = one.crop[2] * one.width, one.crop[3] * one.height
    # Whole pixels, so one pixel of rounding in the shorter side.
    assert wide / high == pytest.approx(sheet.width_mm / sheet.height_mm, abs=1.4 / high)
    assert (two.width, two.height) == (first.size[1], first.size[0])
    assert two.crop == (0.2, 0.2, 0.5, 0.5)


@pytest.mark.parametrize("what", ["document", "cells", "labels"])
def test_a_plan_that_cannot_be_read_is_told_as_a_problem(studio: Studio, what: str) -> None:
    """The painting opens all the same, so that it can be planned again or stepped back."""
    looked = the_cup(studio)
    brief, key = looked.brief, studio.store.files.put(b"something else")
    assert brief.plan is not None
    assert brief.drawing is not None
    if what == "labels":
        spoilt = brief.but(drawing=brief.drawing.but(labels=key))
    else:
        spoilt = brief.but(plan=brief.plan.but(**{what: key}))
    now = studio.accept(looked, spoilt, "Spoilt")
    view = painting_view(studio, now)
    assert view.plan is None
    assert is_sentence(view.problem)
    assert view.can_step_back


def test_a_file_that_is_gone_is_told_as_a_problem(studio: Studio) -> None:
    looked = the_cup(studio)
    assert looked.brief.plan is not None
    studio.store.files.path(looked.brief.plan.cells).unlink()
    view = painting_view(studio, looked)
    assert view.plan is None
    assert is_sentence(view.problem)


def test_preferences_are_kept(studio: Studio) -> None:
    assert preferences(studio.store) == Preferences("cm", "tubes")
    keep_preferences(studio.store, Preferences("in", "pans"))
    assert preferences(studio.store) == Preferences("in", "pans")
    assert painting_view(studio, the_cup(studio)).liked.units == "in"


@pytest.mark.parametrize(
    "text", ["null", "[]", "7", '{"units": "miles"}', '{"colour": 1}', '{"units": [1]}']
)
def test_preferences_that_cannot_be_read_are_as_if_never_said(studio: Studio, text: str) -> None:
    studio.store.keep_setting("preferences", text)
    assert preferences(studio.store) == Preferences()


def test_preferences_that_mean_nothing_are_refused() -> None:
    for words in ({"units": "miles"}, {"measure": "buckets"}, {"units": ""}):
        with pytest.raises(RequestError) as error:
            Preferences(**words)
        assert is_sentence(str(error.value))
