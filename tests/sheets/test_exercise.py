"""Students' sheets hold no answer: no recipe, no value, no stage that is still to come."""

import pypdfium2
import pytest
from skimage import data

from firstwash.picture.profile import encode_png
from firstwash.plan.problem import Limits
from firstwash.sheets.exercise import exercise_pages
from firstwash.sheets.typeset import Page, PageName, typeset
from firstwash.usecases import PhotoPlan, Wishes, plan_photo


@pytest.fixture(scope="module", params=["24x18cm", "12x18cm"])
def planned(request: pytest.FixtureRequest) -> PhotoPlan:
    photo = data.coffee() if request.param == "24x18cm" else data.astronaut()
    limits = Limits(shapes=40, puddles=9, washes=24, layers=3)
    return plan_photo(encode_png(photo), Wishes(sheet=request.param, limits=limits))


def pages_of(pdf: bytes) -> list[str]:
    pages = pypdfium2.PdfDocument(pdf)
    return [" ".join(p.get_textpage().get_text_bounded().split()) for p in pages]


@pytest.mark.parametrize("name", ["A4", "Letter"])
def test_each_layer_has_its_sheet_and_no_answer(planned: PhotoPlan, name: PageName) -> None:
    plan = planned.plan
    made = exercise_pages(plan, planned.reference)
    told = pages_of(typeset(made.source, made.files, title="Exercise", page=Page(name)))
    layers = {w.layer for w in plan.washes}
    assert sum("your plan" in page and "Before:" in page for page in told) == len(layers)
    # Paints are named once, as those to choose from; puddles' recipes would name them again.
    for paint in plan.paints:
        assert " ".join(told).count(paint.name) == 1
    assert "parts" not in " ".join(told)


def test_no_later_stage_is_among_the_pictures(planned: PhotoPlan) -> None:
    plan = planned.plan
    files = set(exercise_pages(plan, planned.reference).files)
    last = max(w.layer for w in plan.washes)
    assert f"stage-{last}.jpg" not in files
    assert "stage-finished.jpg" not in files
    assert {"reference.jpg", "outline.svg"} <= files


def test_every_puddle_of_a_layer_is_asked_for(planned: PhotoPlan) -> None:
    plan = planned.plan
    made = exercise_pages(plan, planned.reference)
    told = " ".join(pages_of(typeset(made.source, made.files, title="Exercise")))
    for puddle in {w.puddle for w in plan.washes}:
        assert plan.puddles[puddle].name in told


def test_the_first_sheet_holds_pictures_and_questions(planned: PhotoPlan) -> None:
    made = exercise_pages(planned.plan, planned.reference)
    first = pages_of(typeset(made.source, made.files, title="Exercise"))[0]
    assert "Which whites stay bare paper?" in first
    assert "first wash" in first
