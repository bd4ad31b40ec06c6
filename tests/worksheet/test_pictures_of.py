"""Every picture the page may ask for, by name; and no name makes anything else happen."""

import io
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from tests.worksheet.small import LITTLE, copied, is_sentence, studio_in, the_cup

from firstwash.errors import FirstwashError, RequestError
from firstwash.worksheet.brief import Background, Brief, Mark
from firstwash.worksheet.pictures_of import plan_picture, scene_picture
from firstwash.worksheet.prints import Picture
from firstwash.worksheet.studio import Studio


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    made = studio_in(copied(tmp_path_factory.mktemp("pictures")))
    yield made
    made.store.close()


@pytest.fixture(scope="module")
def brief(studio: Studio) -> Brief:
    return the_cup(studio).brief


def opened(picture: Picture) -> np.ndarray:
    with Image.open(io.BytesIO(picture.data)) as image:
        assert Image.MIME[str(image.format)] == picture.media_type
        assert image.size == (picture.width, picture.height)
        return np.array(image)


HIGH = round(300 * 11 / 15)


@pytest.mark.parametrize(
    "name",
    ["reference", "squint-0", "squint-40", "squint-100", "squint-999", "values-2-0", "values-10-30",
     "hue", "whites", "background"],
)  # fmt: skip
def test_pictures_of_the_scene_are_of_the_sheets_proportions(
    studio: Studio, brief: Brief, name: str
) -> None:
    found = opened(scene_picture(studio, brief.scene, name, 300))
    assert found.shape[:2] == (HIGH, 300)


def test_a_photo_is_shown_whole(studio: Studio, brief: Brief) -> None:
    found = opened(scene_picture(studio, brief.scene, "photo-0", 300))
    assert max(found.shape[:2]) <= 300
    assert found.shape[1] / found.shape[0] == pytest.approx(380 / 280, rel=0.01)


def test_value_steps_are_so_many_greys(studio: Studio, brief: Brief) -> None:
    for steps in (2, 5):
        found = opened(scene_picture(studio, brief.scene, f"values-{steps}-20", 300))
        assert len(np.unique(found)) <= steps
        grey = found if found.ndim == 2 else found[..., 1]
        assert found.ndim == 2 or (found == grey[..., None]).all()


def test_the_background_is_shown_as_it_is_cut_out(studio: Studio, brief: Brief) -> None:
    marks = (Mark(kind="background", points=((0.05, 0.05), (0.95, 0.05))),)
    scene = brief.scene.but(background=Background(marks=marks))
    found = opened(scene_picture(studio, scene, "background", 300)).astype(int)
    plain = opened(scene_picture(studio, brief.scene, "reference", 300)).astype(int)
    darker = found.mean(axis=2) < plain.mean(axis=2) - 20
    assert 0.02 < darker.mean() < 0.98  # some of it is background, some is not


@pytest.mark.parametrize("name", ["stage-0", "stage-1", f"stage-{LITTLE.layers}", "finished",
                                  "cells", "difference", "reference"])  # fmt: skip
def test_pictures_of_the_plan_are_of_the_sheets_proportions(
    studio: Studio, brief: Brief, name: str
) -> None:
    found = opened(plan_picture(studio, brief, name, 300))
    assert found.shape[:2] == (HIGH, 300)


def test_bare_paper_first_and_the_finished_painting_last(studio: Studio, brief: Brief) -> None:
    bare, *_, last = (
        opened(plan_picture(studio, brief, f"stage-{n}", 300)) for n in range(LITTLE.layers + 1)
    )
    assert np.ptp(bare.reshape(-1, 3), axis=0).max() == 0
    finished = opened(plan_picture(studio, brief, "finished", 300)).astype(int)
    strokes = np.abs(finished - last).max(axis=2) > 8  # a JPEG's rounding is less
    assert 0.0 < strokes.mean() < 0.05  # a few fine ones come last, and nothing else


def test_the_picture_of_cells_tells_each_pixels_cell(studio: Studio, brief: Brief) -> None:
    plan = studio.desk(brief).plan
    found = opened(plan_picture(studio, brief, "cells", 300)).astype(int)
    numbers = found[..., 0] + 256 * found[..., 1]
    assert numbers.max() < plan.cells.count
    assert len(np.unique(numbers)) > 0.8 * plan.cells.count


def test_maps_are_drawings_without_scripts(studio: Studio, brief: Brief) -> None:
    wash = studio.desk(brief).plan.washes[0]
    for name in ("map-1", f"wash-{wash.layer}-{wash.number}", "outline"):
        picture = plan_picture(studio, brief, name, 300)
        assert picture.media_type == "image/svg+xml"
        root = ElementTree.fromstring(picture.data)
        tags = {element.tag.rpartition("}")[2] for element in root.iter()}
        assert not tags & {"script", "foreignObject", "image", "a", "use", "style"}
        assert not any("on" in key[:2] for element in root.iter() for key in element.attrib)


UNKNOWN = ["", "photo-1", "photo-9", "photo-99", "photo--1", "photo-١", "squint-", "squint-1000",
           "values-1-0", "values-11-0", "values-99-99", "values-5", "stage-9", "map-0", "map-9",
           "wash-1-0", "wash-9-1", "wash-1-999", "Reference", "reference ", "reference\n",
           "../reference", "<script>", "☃" * 500, "cells.png"]  # fmt: skip


@pytest.mark.parametrize("name", UNKNOWN)
def test_a_name_that_is_none_is_refused_in_a_sentence(
    studio: Studio, brief: Brief, name: str
) -> None:
    asks = [lambda: plan_picture(studio, brief, name, 300)]
    if not name.startswith(("stage", "map", "wash")):
        asks.append(lambda: scene_picture(studio, brief.scene, name, 300))
    for ask in asks:
        with pytest.raises(RequestError) as error:
            ask()
        assert is_sentence(str(error.value))


parts = st.sampled_from(["photo", "squint", "values", "stage", "map", "wash", "cells", "hue", "-"])


words_of = st.lists(parts | st.integers(0, 10**6).map(str), max_size=4).map("-".join)


@given(words=words_of | st.text(max_size=30), width=st.sampled_from([16, 40, 300]))
@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_name_is_a_picture_or_is_refused(
    studio: Studio, brief: Brief, words: str, width: int
) -> None:
    for ask in (scene_picture, plan_picture):
        said = "Drawn."
        try:
            picture = ask(studio, brief.scene if ask is scene_picture else brief, words, width)  # type: ignore[operator]
            assert picture.data
        except FirstwashError as error:
            said = str(error)
        assert is_sentence(said)


def test_a_width_nobody_needs_is_refused(studio: Studio, brief: Brief) -> None:
    for width in (0, -5, 10**9):
        for name in ("reference", "finished", "cells"):
            with pytest.raises(RequestError):
                plan_picture(studio, brief, name, width)


def test_a_painting_without_a_plan_has_no_pictures_of_it(studio: Studio, brief: Brief) -> None:
    with pytest.raises(RequestError, match="plan the painting first"):
        plan_picture(studio, brief.but(plan=None), "finished", 300)


def test_the_same_picture_is_the_same_bytes(studio: Studio, brief: Brief, tmp_path: Path) -> None:
    """It may be kept for ever under its stamp, so it must not depend on who draws it."""
    other = studio_in(copied(tmp_path))
    for name in ("finished", "cells", "map-1", "difference"):
        one, two = (plan_picture(s, brief, name, 200).data for s in (studio, other))
        assert one == two
    other.store.close()
