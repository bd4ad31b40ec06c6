"""The light told shape by shape and for the whole picture."""

import numpy as np
import pytest
from tests.light.small_scene import COLOURS, small_scene

from firstwash.light.highlights import find_highlights
from firstwash.light.lamp_words import glow_rgb
from firstwash.light.shadows import Shadows
from firstwash.light.split import LightSplit
from firstwash.light.study import study_light
from firstwash.light.told import ShapeLight, tell_shapes
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab

KEY, SKY = tuple(glow_rgb(3200.0)), tuple(0.22 * glow_rgb(8000.0))


def true_told() -> tuple[ShapeLight, ...]:
    """The small scene, with split and masks as they truly are."""
    scene = small_scene(KEY, SKY)
    parts = (scene.reflectance, scene.light, scene.gloss)
    local, light, gloss = (np.asarray(p, dtype=np.float32) for p in parts)
    split = LightSplit(local, light, gloss, np.ones(local.shape[:2], np.float32))
    lit, form, cast = ((scene.kind == k).astype(np.float32) for k in range(3))
    shadows = Shadows(lit, form, cast, np.ones_like(lit), even=False)
    return tell_shapes(split, shadows, find_highlights(split, shadows), scene.thing)


def test_own_colours_are_the_things_colours() -> None:
    told = true_told()
    assert [t.shape for t in told] == [0, 1, 2, 3, 4]
    luminance = linear_srgb_to_xyz(small_scene(KEY, SKY).light)[..., 1]
    level = luminance[luminance >= np.quantile(luminance, 0.75)].mean()
    for shape, colour in zip(told[1:], COLOURS, strict=True):
        wanted = xyz_to_lab(linear_srgb_to_xyz(level * np.array(colour)))
        assert np.array(shape.local) == pytest.approx(wanted, abs=0.5)  # float32 means


def test_light_adds_and_shadow_takes() -> None:
    for shape in true_told()[1:]:
        light, shadow = shape.part("light"), shape.part("shadow")
        assert light is not None
        assert shadow is not None
        assert light.steps > shadow.steps
        assert light.warmth > shadow.warmth  # a lamp and a cool sky
        assert shape.turn.by is not None
        assert shape.turn.by < 0
        assert "to cool" in shape.turn.words


def test_the_caster_of_a_shadow_is_a_ball() -> None:
    scene = small_scene(KEY, SKY)
    floor = true_told()[0]
    assert floor.cast == pytest.approx((scene.kind[scene.thing == 0] == 2).mean(), abs=1e-6)
    assert floor.edge_of is None or floor.edge_of in (1, 2, 3, 4)
    # only the part of the floor about one ball: there the shadow is that ball's
    near = np.where((scene.kind == 2) & (scene.thing == 0), 9, scene.thing)
    lit, form, cast = ((scene.kind == k).astype(np.float32) for k in range(3))
    shadows = Shadows(lit, form, cast, np.ones_like(lit), even=False)
    one = np.ones((*lit.shape, 3), np.float32)
    local = scene.reflectance.astype(np.float32)
    split = LightSplit(local, one, 0 * one, one[..., 0])
    told = tell_shapes(split, shadows, find_highlights(split, shadows), near)
    assert told[-1].edge_of in (1, 2, 3, 4)
    assert f"that of shape {told[-1].edge_of}" in told[-1].words


def test_words_agree_with_numbers() -> None:
    for shape in true_told():
        numbers = dict(shape.numbers)
        assert numbers["Under a cast shadow"] == f"{shape.cast:.0%}"
        assert ("cast shadow lies" in shape.words) == (shape.cast >= 0.25)
        assert ("highlight" in shape.words) == (shape.highlight >= 0.05)
        shadow = shape.part("shadow")
        if shadow is not None and shadow.steps < -1.0:
            assert "value steps darker" in shape.words or "value step darker" in shape.words
        assert shape.words.endswith(".")


def test_shapes_must_fit_the_picture() -> None:
    scene = small_scene(KEY, SKY)
    with pytest.raises(ValueError, match="shapes"):
        study_light(
            linear_srgb_to_xyz(scene.rgb).astype(np.float32), np.zeros((5, 5), dtype=np.int32)
        )


def test_places_without_a_shape_are_left_out() -> None:
    scene = small_scene(KEY, SKY)
    study = study_light(linear_srgb_to_xyz(scene.rgb).astype(np.float32), scene.thing - 1)
    assert [s.shape for s in study.shapes] == [0, 1, 2, 3]


def test_a_whole_picture_studied() -> None:
    scene = small_scene(KEY, SKY)
    xyz = linear_srgb_to_xyz(scene.rgb).astype(np.float32)
    study, again = study_light(xyz, scene.thing), study_light(xyz, scene.thing)
    assert study.clear
    assert study.words == again.words
    assert study.shapes == again.shapes
    assert 0.0 < study.cast <= study.shadow < 1.0
    assert dict(study.numbers)["In shadow"] == f"{study.shadow:.0%}"
    assert all(sentence.endswith(".") for sentence in study.words)


@pytest.mark.parametrize("value", [0.0, 0.5, 1.0], ids=["black", "grey", "white"])
@pytest.mark.parametrize("size", [(30, 40), (4, 4), (1, 1), (2, 90)])
def test_a_flat_picture_has_no_clear_lamp(value: float, size: tuple[int, int]) -> None:
    xyz = linear_srgb_to_xyz(np.full((*size, 3), value)).astype(np.float32)
    study = study_light(xyz, np.zeros(size, dtype=np.int32))
    assert not study.clear
    assert study.words[0].startswith("The photo has no clear lamp")
    assert len(study.shapes) == 1
