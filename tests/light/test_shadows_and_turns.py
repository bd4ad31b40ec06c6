"""Light, form shadow, cast shadow, highlights, reflected light and turns."""

import numpy as np
import pytest
from tests.light.small_scene import small_scene

from firstwash.light.highlights import find_highlights
from firstwash.light.lamp_words import glow_rgb, warmth_of
from firstwash.light.shadows import Shadows, find_shadows
from firstwash.light.split import LightSplit
from firstwash.light.turns import turn_from, turn_of

KEY, SKY = tuple(glow_rgb(3200.0)), tuple(0.22 * glow_rgb(8000.0))


def true_split() -> LightSplit:
    """The small scene split without error."""
    scene = small_scene(KEY, SKY)
    parts = (scene.reflectance, scene.light, scene.gloss)
    local, light, gloss = (np.asarray(p, dtype=np.float32) for p in parts)
    return LightSplit(local, light, gloss, np.ones(local.shape[:2], np.float32))


def plain_split(light: np.ndarray) -> LightSplit:
    """White things in a given light (rows, cols, 3)."""
    shape = light.shape[:2]
    local = np.full((*shape, 3), 0.8, np.float32)
    return LightSplit(
        local, light.astype(np.float32), np.zeros_like(local), np.ones(shape, np.float32)
    )


def test_masks_are_shares_of_one() -> None:
    found = find_shadows(true_split())
    total = found.lit + found.form + found.cast
    assert total == pytest.approx(1.0, abs=1e-5)
    assert min(found.lit.min(), found.form.min(), found.cast.min()) >= 0.0
    assert 0.0 <= found.sure.min() <= found.sure.max() <= 1.0


def test_light_is_told_from_shadow() -> None:
    scene, found = small_scene(KEY, SKY), find_shadows(true_split())
    lit, dark = scene.kind == 0, scene.kind > 0
    right = 0.5 * ((found.lit[lit] > 0.5).mean() + (found.lit[dark] < 0.5).mean())
    assert right > 0.8  # balanced accuracy; on rendered scenes about 0.8, here the split is true


def test_even_light_has_no_shadows() -> None:
    found = find_shadows(plain_split(np.full((80, 100, 3), 0.9)))
    assert found.even
    assert (found.lit == 1.0).all()


def test_shadows_do_not_depend_on_exposure() -> None:
    split = true_split()
    dim = LightSplit(split.local, split.light * np.float32(0.5), split.gloss, split.sure)
    assert (
        np.abs(find_shadows(split).lit - find_shadows(dim).lit).mean() < 0.03
    )  # floor of darkness


def test_highlights_lie_where_the_gloss_is() -> None:
    split = true_split()
    found = find_highlights(split, find_shadows(split))
    glossy = split.gloss.mean(axis=2) > 0.5 * split.gloss.mean(axis=2).max()
    assert found.gloss[glossy].mean() > 0.9
    assert found.gloss[split.gloss.mean(axis=2) == 0.0].max() == 0.0


def test_light_that_rises_in_a_shadow_is_reflected_light() -> None:
    across = np.arange(160)
    level = np.interp(across, [0, 60, 80, 110, 159], [1.0, 1.0, 0.12, 0.12, 0.3])
    light = np.broadcast_to(level[None, :, None], (120, 160, 3))
    shadows = drawn_shadows(np.broadcast_to(np.clip((80 - across) / 20, 0, 1), (120, 160)))
    found = find_highlights(plain_split(light), shadows)
    assert found.reflected[60, 150] > 0.5
    assert found.reflected[60, 90:105].max() < 0.1
    assert found.reflected[:, :60].max() == 0.0


def drawn_shadows(lit: np.ndarray) -> Shadows:
    """Masks with all shadow on forms."""
    lit = lit.astype(np.float32)
    return Shadows(lit, 1 - lit, 0 * lit, np.ones_like(lit), even=False)


def turned(warm: float, cool: float) -> str:
    """The words for a form whose light is of one temperature, and whose shadow of another."""
    lit = np.zeros((60, 90))
    lit[:, :45] = 1.0
    light = np.where(lit[..., None] > 0, glow_rgb(warm), 0.25 * glow_rgb(cool))
    split, shadows = plain_split(light), drawn_shadows(lit)
    found = turn_of(split, shadows, find_highlights(split, shadows))
    assert found.by is not None
    assert (found.by > 0) == (warmth_of(glow_rgb(cool)) > warmth_of(glow_rgb(warm)))
    return found.words


def test_turns_in_words() -> None:
    assert turned(3500.0, 9000.0) == "turns from warm light to cool shadow"
    assert turned(9000.0, 3500.0) == "turns from cool light to warm shadow"
    assert turned(6500.0, 6400.0) == "keeps its neutral light into the shadow"
    assert turned(2700.0, 4200.0) == "turns from warm light to cooler shadow"


def test_without_a_shadow_there_is_no_turn() -> None:
    found = turn_from(np.array([1.0, 0, 0, 0]), np.ones((4, 3)), np.ones((4, 3)), 0.5)
    assert found.by is None
    assert "wholly in the light" in found.words
