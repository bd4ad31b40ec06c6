"""The lessons' still life is a picture with its truth, and the same every time."""

import numpy as np

from firstwash.lessons.scene import HEIGHT_MM, NAMES, WIDTH_MM, reference_of, still_life
from firstwash.lessons.workshop import Workshop
from firstwash.optics.observer import linear_srgb_to_xyz


def test_it_is_the_same_every_time() -> None:
    one, other = still_life(), still_life()
    np.testing.assert_array_equal(one.rgb, other.rgb)
    np.testing.assert_array_equal(one.things, other.things)


def test_what_is_seen_is_local_colour_times_light_and_gloss_on_top() -> None:
    scene = still_life()
    rest = scene.rgb - scene.local * scene.light
    # Averaged over four rays a pixel the product of the means may miss the mean of the products
    # along outlines, where the wall's light meets the jug's white; elsewhere gloss is all there is.
    assert float((rest < -0.01).mean()) < 0.02
    assert float(rest.max()) > 0.1  # the highlights
    assert float(scene.local.min()) >= 0.0
    assert float(scene.local.max()) <= 1.0  # no surface throws back more than it gets


def test_all_things_are_there_and_light_comes_from_the_left() -> None:
    scene = still_life()
    assert set(np.unique(scene.things)) == set(range(len(NAMES)))
    for name in ("jug", "lemon", "plum"):
        rows, cols = np.nonzero(scene.things == NAMES.index(name))
        y = linear_srgb_to_xyz(scene.light)[..., 1][rows, cols]
        middle = np.median(cols)
        assert y[cols < middle].mean() > y[cols > middle].mean(), name


def test_the_reference_lies_on_its_sheet() -> None:
    reference = reference_of(still_life())
    rows, cols = reference.xyz.shape[:2]
    assert (cols, rows) == (WIDTH_MM * reference.ppmm, HEIGHT_MM * reference.ppmm)
    # Averaging keeps the light: both sizes have one mean, to the rounding of 32 bits.
    np.testing.assert_allclose(
        reference.xyz.mean(axis=(0, 1)), reference.judge_xyz.mean(axis=(0, 1)), rtol=1e-4
    )


def test_cells_know_what_they_show(shop: Workshop) -> None:
    lemon, plum = shop.cells_of("lemon"), shop.cells_of("plum")
    assert len(lemon)
    assert len(plum)
    # A lemon is yellower than a plum: b* of the targets.
    assert shop.plan.targets[lemon, 2].min() > shop.plan.targets[plum, 2].max()
    assert list(shop.areas[lemon]) == sorted(shop.areas[lemon], reverse=True)
