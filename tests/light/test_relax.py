"""Planes put together from their steps: against a direct solution, and for odd shapes."""

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.sparse.linalg import spsolve

from firstwash.light.relax import Springs, put_together
from firstwash.light.retinex import integrate


def steps_of(planes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return np.diff(planes, axis=1), np.diff(planes, axis=0)


def springs(shape: tuple[int, int], rng: np.random.Generator, pull: float = 0.0) -> Springs:
    rows, cols = shape
    across = np.exp(rng.normal(0, 1, (rows, cols - 1))).astype(np.float32)
    down = np.exp(rng.normal(0, 1, (rows - 1, cols))).astype(np.float32)
    return Springs(across, down, np.full(shape, pull, dtype=np.float32))


@pytest.mark.parametrize("shape", [(37, 52), (8, 8), (2, 90), (1, 64), (64, 1), (5, 1)])
def test_consistent_steps_give_their_plane_back(shape: tuple[int, int]) -> None:
    rng = np.random.default_rng(0)
    planes = rng.normal(size=(*shape, 2)).cumsum(axis=0).cumsum(axis=1)
    held = springs(shape, rng)
    found = put_together(*steps_of(planes), held, tolerance=1e-8, most=400)
    off = found - planes
    # Up to a constant; the weak pull to 0 bends long thin planes by a thousandth of their range.
    assert np.ptp(off - off.mean(axis=(0, 1)), axis=(0, 1)).max() < 4e-3 * np.ptp(planes)


def test_as_a_direct_solution_of_the_same_system() -> None:
    rng = np.random.default_rng(1)
    shape = (23, 31)
    across, down = rng.normal(size=(23, 30, 1)), rng.normal(size=(22, 31, 1))
    wanted = rng.normal(size=(*shape, 1))
    held = springs(shape, rng, pull=0.3)
    index = np.arange(23 * 31).reshape(shape)
    ends = [
        (index[:, :-1], index[:, 1:], held.across, across[..., 0]),
        (index[:-1], index[1:], held.down, down[..., 0]),
    ]
    i, j, w, g = (np.concatenate([e[k].ravel() for e in ends]) for k in range(4))
    difference = sp.csr_matrix(
        (np.r_[-np.ones(len(i)), np.ones(len(i))], (np.r_[: len(i), : len(i)], np.r_[i, j]))
    )
    weight = sp.diags(w.astype(np.float64))
    matrix = difference.T @ weight @ difference + sp.diags(held.pull.ravel().astype(np.float64))
    direct = spsolve(matrix.tocsc(), difference.T @ (w * g) + 0.3 * wanted.ravel())
    found = put_together(across, down, held, wanted, tolerance=1e-8, most=200)
    assert np.abs(found.ravel() - direct).max() < 1e-4  # single precision in the preconditioner


def test_as_the_cosines_where_all_links_are_alike() -> None:
    rng = np.random.default_rng(2)
    across, down = rng.normal(size=(30, 41)), rng.normal(size=(29, 42))
    even = Springs(
        np.ones((30, 41), np.float32), np.ones((29, 42), np.float32), np.zeros((30, 42), np.float32)
    )
    found = put_together(across[..., None], down[..., None], even, tolerance=1e-8, most=200)[..., 0]
    assert np.abs(found - found.mean() - integrate(across, down)).max() < 2e-3
