"""Shapes that the eye takes as one are one; small ones go; bare paper stays apart."""

import numpy as np

from firstwash.tracing.merging import Ground, MergeRule, link_contrast, merged

PPMM = 2.0
RULE = MergeRule(contrast=8.0, area_mm2=60.0)


def ground(shape: np.ndarray, lightness: list[float], bare: list[int] | None = None) -> Ground:
    picture = np.zeros((*shape.shape, 3), dtype=np.float32)
    picture[..., 0] = np.array(lightness)[shape]
    left = np.isin(shape, bare or [])
    return Ground(shape, left, picture, link_contrast(picture, PPMM), PPMM)


def bands(*widths: int) -> np.ndarray:
    row = np.repeat(np.arange(len(widths)), widths)
    return np.tile(row, (60, 1)).astype(np.int32)


def test_nearly_the_same_colour_is_one_shape() -> None:
    regions, _ = merged(ground(bands(40, 40, 40), [50.0, 53.0, 80.0]), RULE)
    assert regions.max() == 1
    assert regions[0, 0] == regions[0, 50] != regions[0, 100]


def test_a_chain_of_small_steps_does_not_join_far_colours() -> None:
    light = [30.0, 37.0, 44.0, 51.0, 58.0, 65.0, 72.0, 79.0]
    regions, _ = merged(ground(bands(*[30] * 8), light), RULE)
    assert regions[0, 0] != regions[0, -1]


def test_a_small_shape_goes_unless_it_stands_out() -> None:
    shape = np.zeros((80, 80), dtype=np.int32)
    shape[20:34, 20:30] = 1  # 35 mm²
    for light, left in ((62.0, 1), (90.0, 2)):
        regions, _ = merged(ground(shape, [50.0, light]), RULE)
        assert regions.max() + 1 == left


def test_bare_paper_stays_apart_whatever_its_colour() -> None:
    regions, bare = merged(ground(bands(60, 60), [95.0, 94.0], bare=[1]), RULE)
    assert regions.max() == 1
    assert bare.tolist() == [False, True]


def test_a_sliver_is_part_of_what_is_beside_it() -> None:
    regions, _ = merged(ground(bands(60, 2, 60), [20.0, 95.0, 60.0]), RULE)
    assert regions.max() == 1


def test_one_shape_is_left_alone() -> None:
    regions, bare = merged(ground(np.zeros((20, 20), dtype=np.int32), [40.0]), RULE)
    assert regions.max() == 0
    assert bare.tolist() == [False]
