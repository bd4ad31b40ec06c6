"""Fields of paint: what a pixel shows, and what edges do to it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from firstwash.optics.observer import xyz_to_lab
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.edges import all_hard, find_edges
from firstwash.picture.shapes import Cells
from firstwash.plan.bench import Bench
from firstwash.plan.fields import SOAKED_DEPTH, amounts_by_cell, paint_amounts, paint_fields

BENCH = Bench.of(load_set("measured").paints[:4], default_paper())


def test_amounts_add_up_per_layer() -> None:
    recipes = np.array([[1.0, 0.0], [0.25, 0.5]])
    coats = (((1, 0, 0.5), (3, 1, 2.0)), (), ((2, 1, 1.0),))
    out = amounts_by_cell(coats, recipes, 3)
    np.testing.assert_array_equal(out[0], [[0.5, 0], [0, 0], [0.5, 1.0]])
    assert not out[1].any()
    np.testing.assert_array_equal(out[2, 1], [0.25, 0.5])


@settings(max_examples=30, deadline=None)
@given(hnp.arrays(np.float64, (3, 4), elements=st.floats(0, 0.3)))
def test_pixels_show_what_stacks_show(amounts: np.ndarray) -> None:
    """Wherever the first coat fills the paper, the planner's stacks and the pixels agree."""
    amounts[0, 0] += SOAKED_DEPTH / float((BENCH.k + BENCH.s)[0].mean())
    seen = xyz_to_lab(paint_amounts(BENCH, amounts[None]))[0]
    np.testing.assert_allclose(seen, BENCH.labs(amounts), atol=1e-9)


def test_a_wash_fades_out_without_a_step() -> None:
    """As the first wash thins to nothing under a glaze, the colour never jumps."""
    fade = np.concatenate([[0.0], np.geomspace(1e-9, 0.1, 400)])
    amounts = np.zeros((len(fade), 2, 4))
    amounts[:, 0, 0] = fade
    amounts[:, 1, 1] = 0.05
    labs = xyz_to_lab(paint_amounts(BENCH, amounts))[:, -1]
    assert np.abs(np.diff(labs, axis=0)).max() < 0.3  # one step is 5 % more paint


def test_more_paint_never_lightens() -> None:
    """Scattering may lighten a dark; over white paper it cannot."""
    amounts = np.zeros((60, 1, 4))
    amounts[:, 0, 2] = np.linspace(0, 1.0, 60) / BENCH.loads[2]
    y = paint_amounts(BENCH, amounts)[:, 1, 1]
    assert (np.diff(y) < 1e-12).all()


def halves() -> Cells:
    index = np.zeros((60, 120), dtype=np.int32)
    index[:, 60:] = 1
    return Cells(index, np.arange(2, dtype=np.int32), np.zeros(2, np.int32), 2.0)


def drawn(softness: float) -> np.ndarray:
    cells = halves()
    x = (np.arange(120) + 0.5 - 60) / 2.0
    lab = np.zeros((60, 120, 3))
    lab[..., 0] = 60 - 30 * np.tanh(x / max(softness, 1e-3))
    amounts = np.zeros((2, 2, 4))
    amounts[:, 0, 0] = 0.05
    amounts[1, 1, 1] = 0.2
    edges = find_edges(lab, cells) if softness else all_hard(cells)
    return paint_fields(BENCH, cells.index, amounts, edges)


def test_hard_cells_are_drawn_flat() -> None:
    flat = drawn(0.0)
    assert flat.shape == (3, 60, 120, 3)
    for side in (flat[:, :, :60], flat[:, :, 60:]):
        assert np.ptp(side, axis=(1, 2)).max() == 0.0


def test_a_soft_edge_is_a_slope_between_the_same_two_colours() -> None:
    soft, flat = drawn(4.0), drawn(0.0)
    light = soft[-1, 30, :, 1]
    assert (np.diff(light) <= 1e-6).all()
    assert np.diff(light).min() > 0.5 * (flat[-1, 30, -1, 1] - flat[-1, 30, 0, 1])  # no step
    np.testing.assert_allclose(light[[0, -1]], flat[-1, 30, [0, -1], 1], rtol=0.02)
    # the first wash is the same on both sides: no trace of an edge there
    assert np.ptp(soft[1], axis=(0, 1)).max() < 1e-6


def test_bare_paper_stays_bare_away_from_soft_edges() -> None:
    cells = halves()
    amounts = np.zeros((2, 2, 4))
    amounts[1, :, 0] = 0.1
    out = paint_fields(BENCH, cells.index, amounts, all_hard(cells))
    for stage in out:
        np.testing.assert_array_equal(stage[:, :60], out[0][:, :60])


@pytest.mark.parametrize("layers", [1, 4])
def test_any_number_of_layers(layers: int) -> None:
    amounts = np.full((2, layers, 4), 0.01)
    assert len(paint_fields(BENCH, halves().index, amounts, all_hard(halves()))) == layers + 1
