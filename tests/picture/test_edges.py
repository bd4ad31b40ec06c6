"""Hard, soft and lost: measured on edges of known softness."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr

from firstwash.picture.edges import EDGE_KINDS, Edges, all_hard, core_colours, find_edges
from firstwash.picture.shapes import Cells

PPMM = 2.0


def two_halves(rows: int = 120, cols: int = 160) -> Cells:
    index = np.zeros((rows, cols), dtype=np.int32)
    index[:, cols // 2 :] = 1
    return Cells(index, np.arange(2, dtype=np.int32), np.zeros(2, dtype=np.int32), PPMM)


def blurred(cells: Cells, sigma_mm: float | np.ndarray, one: float = 80.0, two: float = 40.0):
    """L* from `one` on the left to `two` on the right, softness given (per row, if an array)."""
    rows, cols = cells.index.shape
    place = (np.arange(cols) + 0.5 - cols // 2) / PPMM
    share = ndtr(place[None, :] / np.maximum(np.reshape(sigma_mm, (-1, 1)), 1e-3))
    lab = np.zeros((rows, cols, 3))
    lab[..., 0] = one + (two - one) * share
    return lab


@pytest.mark.parametrize("sigma", [0.0, 1.0, 2.0, 4.0, 6.0])
@pytest.mark.parametrize("noise", [0.0, 2.0])
def test_a_known_softness_is_found(sigma: float, noise: float) -> None:
    """Within a third, a step of the scale; what is crisper than a brush's own edge is hard."""
    cells = two_halves()
    lab = blurred(cells, sigma)
    lab += np.random.default_rng(5).normal(0, noise, lab.shape) if noise else 0.0
    found = find_edges(lab, cells)
    assert np.abs(found.sigma_mm - (sigma if sigma > 1 else 0.0)).max() <= sigma / 3
    kinds = {EDGE_KINDS[k] for k in found.kind}
    assert kinds == {"hard" if sigma <= 1 else "soft" if sigma < 5 else "lost"}


def test_an_edge_is_lost_and_found_along_its_way() -> None:
    cells = two_halves(rows=240)
    sigma = np.where(np.arange(240) < 120, 0.0, 6.0)
    found = find_edges(blurred(cells, sigma), cells)
    top = found.centre_mm[:, 1] < 40
    bottom = found.centre_mm[:, 1] > 80
    assert (found.kind[top] == 0).all()
    assert (found.sigma_mm[bottom] >= 4.0).all()  # the sharp end pulls a little
    assert found.hard_across[:80].any(axis=1).all()
    assert not found.hard_across[170:].any()


def test_what_nobody_sees_is_lost_however_sharp() -> None:
    cells = two_halves()
    found = find_edges(blurred(cells, 0.0, 60.0, 58.0), cells)
    assert {EDGE_KINDS[k] for k in found.kind} == {"lost"}
    assert (found.sigma_mm >= 4.0).all()


def test_lengths_are_those_of_the_border() -> None:
    cells = two_halves(rows=120)
    assert find_edges(blurred(cells, 0.0), cells).length_mm.sum() == pytest.approx(60.0)
    y, x = np.mgrid[0:200, 0:200]
    slanted = Cells(
        (x + y > 200).astype(np.int32),
        np.arange(2, dtype=np.int32),
        np.zeros(2, dtype=np.int32),
        PPMM,
    )
    # The diagonal of 100 mm squared, less the corner pixels: 1 %.
    assert all_hard(slanted).length_mm.sum() == pytest.approx(100 * np.sqrt(2), rel=0.02)


def test_shares_sum_to_one_and_pairs_are_symmetric() -> None:
    cells = two_halves()
    found = find_edges(blurred(cells, 2.0), cells)
    assert sum(found.shares().values()) == pytest.approx(1.0)
    pairs = found.soft_pairs(2)
    assert pairs[0, 1]
    assert pairs[1, 0]
    assert not all_hard(cells).soft_pairs(2).any()


def test_softness_reaches_only_as_far_as_the_edge_needs() -> None:
    cells = two_halves()
    found = find_edges(blurred(cells, 2.0), cells)
    across = found.softness[60]
    reach = np.flatnonzero(across > 0)
    assert reach.min() < 78 < 82 < reach.max()
    assert np.abs(reach - 79.5).max() / PPMM <= 2.5 * found.sigma_mm.max() + 1


@pytest.mark.parametrize("sigma", [0.0, 1.5, 4.0])
def test_core_colours_give_the_picture_back_when_run_together(sigma: float) -> None:
    cells = two_halves()
    lab = blurred(cells, sigma)
    edges = find_edges(lab, cells)
    core = core_colours(lab, cells, edges)
    drawn = edges.spread(core[cells.index])
    flat = cells.mean(lab)[cells.index]
    assert np.abs(core[:, 0] - [80, 40]).max() <= np.abs(cells.mean(lab)[:, 0] - [80, 40]).max()
    # Means agree: what the cells show on the whole is what the picture shows there. Two rounds
    # leave a little of the softest edges.
    np.testing.assert_allclose(cells.mean(drawn), cells.mean(lab), atol=0.5)
    if sigma:
        assert np.abs(drawn - lab).mean() < 0.6 * np.abs(flat - lab).mean()


def test_one_cell_has_no_edges() -> None:
    cells = Cells(np.zeros((5, 6), np.int32), np.zeros(1, np.int32), np.zeros(1, np.int32), 1.0)
    found = find_edges(np.zeros((5, 6, 3)), cells)
    assert len(found.cells) == 0
    assert found.shares() == {"hard": 0.0, "soft": 0.0, "lost": 0.0}
    fields = np.random.default_rng(0).random((5, 6, 2)).astype(np.float32)
    np.testing.assert_array_equal(found.spread(fields), fields)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000), cells=st.integers(2, 9))
def test_any_labels_give_sound_edges(seed: int, cells: int) -> None:
    rng = np.random.default_rng(seed)
    index = np.unique(rng.integers(0, cells, (13, 17)), return_inverse=True)[1]
    index = index.reshape(13, 17).astype(np.int32)
    n = int(index.max()) + 1
    board = Cells(index, np.arange(n, dtype=np.int32), np.zeros(n, np.int32), 1.0)
    lab = rng.normal(50, 20, (13, 17, 3))
    found: Edges = find_edges(lab, board)
    a, b = found.cells.T
    assert (a < b).all()
    assert (found.length_mm > 0).all()
    assert np.isfinite(found.contrast).all()
    assert ((found.sigma_mm == 0) == (found.kind == 0)).all()
    differ = index[:, 1:] != index[:, :-1]
    assert not (found.hard_across & ~differ).any()
