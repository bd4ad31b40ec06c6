"""Planes put together again from their steps, some of which count for more than others.

Wanted is the plane s that minimises Σ w·(s_j − s_i − g)² over links between neighbours plus
Σ d·(s − t)² over pixels: a symmetric positive definite system with five entries in a row. It is
solved by conjugate gradients; one V-cycle of multigrid serves as the preconditioner, with blocks
of 2 × 2 pixels joined from level to level and a Gauss-Seidel sweep in red-black order before and,
reversed, after it (so that the preconditioner is symmetric). A block's links are those that cross
its border, halved: joining makes a plane twice too stiff on a regular grid. Sources: [Briggs2000]
for multigrid, [Braess1995] for joined blocks as a preconditioner and the factor.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.parallel import in_parallel

__all__ = ["Springs", "put_together"]

COARSEST: Final = 64  # pixels of the smallest level
SOFTEN: Final = 0.5  # of the links of joined blocks, see above
SWEEPS_ON_COARSEST: Final = 16
SMALLEST_PULL: Final = 1e-6  # of the mean link: keeps a plane that nothing holds from drifting


@dataclass(frozen=True, eq=False)
class Springs:
    """How much links and pulls count.

    across: (rows, cols − 1) > 0; down: (rows − 1, cols) > 0; pull: (rows, cols) ≥ 0.
    """

    across: NDArray[np.float32]
    down: NDArray[np.float32]
    pull: NDArray[np.float32]


@njit(cache=True, nogil=True)
def _sweep(u, f, across, down, diagonal, first):  # type: ignore[no-untyped-def]
    """Gauss-Seidel in place on u (rows, cols, n): one colour of the chequer, then the other."""
    rows, cols, n = u.shape
    for turn in range(2):
        colour = first if turn == 0 else 1 - first
        for i in range(rows):
            for j in range((i + colour) % 2, cols, 2):
                scale = 1.0 / diagonal[i, j]
                for m in range(n):
                    total = f[i, j, m]
                    if j > 0:
                        total += across[i, j - 1] * u[i, j - 1, m]
                    if j < cols - 1:
                        total += across[i, j] * u[i, j + 1, m]
                    if i > 0:
                        total += down[i - 1, j] * u[i - 1, j, m]
                    if i < rows - 1:
                        total += down[i, j] * u[i + 1, j, m]
                    u[i, j, m] = total * scale


@njit(cache=True, nogil=True)
def _apply(u, across, down, diagonal, out):  # type: ignore[no-untyped-def]
    """The system's matrix times u."""
    rows, cols, n = u.shape
    for i in range(rows):
        for j in range(cols):
            for m in range(n):
                total = diagonal[i, j] * u[i, j, m]
                if j > 0:
                    total -= across[i, j - 1] * u[i, j - 1, m]
                if j < cols - 1:
                    total -= across[i, j] * u[i, j + 1, m]
                if i > 0:
                    total -= down[i - 1, j] * u[i - 1, j, m]
                if i < rows - 1:
                    total -= down[i, j] * u[i + 1, j, m]
                out[i, j, m] = total


@njit(cache=True, nogil=True)
def _to_blocks(f, u, across, down, diagonal, out):  # type: ignore[no-untyped-def]
    """What is left to solve (f less the matrix times u), summed over blocks of 2 × 2."""
    rows, cols, n = u.shape
    out[:] = 0.0
    for i in range(rows):
        for j in range(cols):
            for m in range(n):
                total = f[i, j, m] - diagonal[i, j] * u[i, j, m]
                if j > 0:
                    total += across[i, j - 1] * u[i, j - 1, m]
                if j < cols - 1:
                    total += across[i, j] * u[i, j + 1, m]
                if i > 0:
                    total += down[i - 1, j] * u[i - 1, j, m]
                if i < rows - 1:
                    total += down[i, j] * u[i + 1, j, m]
                out[i // 2, j // 2, m] += total


@njit(cache=True, nogil=True)
def _from_blocks(u, coarse):  # type: ignore[no-untyped-def]
    for i in range(u.shape[0]):
        for j in range(u.shape[1]):
            for m in range(u.shape[2]):
                u[i, j, m] += coarse[i // 2, j // 2, m]


@njit(cache=True, nogil=True)
def _dot(one, other):  # type: ignore[no-untyped-def]
    """Σ one·other of each plane."""
    out = np.zeros(one.shape[2])
    for i in range(one.shape[0]):
        for j in range(one.shape[1]):
            for m in range(one.shape[2]):
                out[m] += one[i, j, m] * other[i, j, m]
    return out


@njit(cache=True, nogil=True)
def _turn(way, u, by):  # type: ignore[no-untyped-def]
    """way = by·way + u."""
    for i in range(way.shape[0]):
        for j in range(way.shape[1]):
            for m in range(way.shape[2]):
                way[i, j, m] = by[m] * way[i, j, m] + u[i, j, m]


@njit(cache=True, nogil=True)
def _go(x, left, way, product, length):  # type: ignore[no-untyped-def]
    """Go a length along the way; the squares of what is left then, summed over each plane."""
    out = np.zeros(x.shape[2])
    for i in range(x.shape[0]):
        for j in range(x.shape[1]):
            for m in range(x.shape[2]):
                x[i, j, m] += length[m] * way[i, j, m]
                left[i, j, m] -= length[m] * product[i, j, m]
                out[m] += left[i, j, m] ** 2
    return out


@dataclass(frozen=True, eq=False)
class _Level:
    across: NDArray[np.float32]
    down: NDArray[np.float32]
    diagonal: NDArray[np.float32]
    f: NDArray[np.float32]
    u: NDArray[np.float32]


def _level(springs: Springs, n: int) -> _Level:
    diagonal = springs.pull.copy()
    diagonal[:, :-1] += springs.across
    diagonal[:, 1:] += springs.across
    diagonal[:-1] += springs.down
    diagonal[1:] += springs.down
    empty = np.zeros((*diagonal.shape, n), dtype=np.float32)
    return _Level(springs.across, springs.down, diagonal, empty, empty.copy())


def _joined(springs: Springs) -> Springs:
    """Links and pulls between blocks of 2 × 2 pixels."""
    rows, cols = springs.pull.shape
    across = np.add.reduceat(springs.across[:, 1::2], np.arange(0, rows, 2), axis=0)
    down = np.add.reduceat(springs.down[1::2], np.arange(0, cols, 2), axis=1)
    by_rows = np.add.reduceat(springs.pull, np.arange(0, rows, 2), axis=0)
    pull = np.add.reduceat(by_rows, np.arange(0, cols, 2), axis=1)
    soft = np.float32(SOFTEN)
    return Springs(np.ascontiguousarray(soft * across), np.ascontiguousarray(soft * down), pull)


def _levels(springs: Springs, n: int) -> list[_Level]:
    out = [_level(springs, n)]
    while springs.pull.size > COARSEST:
        springs = _joined(springs)
        out.append(_level(springs, n))
    return out


def _v_cycle(levels: list[_Level]) -> None:
    """Sets levels[0].u to an approximate solution for levels[0].f."""
    here, *below = levels
    here.u[:] = 0.0
    matrix = (here.across, here.down, here.diagonal)
    if not below:
        for k in range(SWEEPS_ON_COARSEST):
            _sweep(here.u, here.f, *matrix, 0 if k < SWEEPS_ON_COARSEST // 2 else 1)
        return
    _sweep(here.u, here.f, *matrix, 0)
    _to_blocks(here.f, here.u, *matrix, below[0].f)
    _v_cycle(below)
    _from_blocks(here.u, below[0].u)
    _sweep(here.u, here.f, *matrix, 1)


def put_together(
    steps_across: FloatArray, steps_down: FloatArray, springs: Springs,
    wanted: FloatArray | None = None, start: FloatArray | None = None, *,
    tolerance: float = 2e-3, most: int = 25,
) -> NDArray[np.float64]:  # fmt: skip
    """Planes (rows, cols, n) with nearly these steps; of mean 0 where nothing pulls.

    steps_across: (rows, cols − 1, n); steps_down: (rows − 1, cols, n); wanted: (rows, cols, n)
    what the pulls pull to, 0 if left out; start: (rows, cols, n) a first guess. Ends when what is
    left falls below `tolerance` of what
    it was, or after `most` rounds.
    """
    links = springs.across.size + springs.down.size
    mean = float(springs.across.sum() + springs.down.sum()) / max(links, 1)
    least = np.float32(max(SMALLEST_PULL * mean, 1e-12))
    held = Springs(springs.across, springs.down, springs.pull + least)
    f = _forces(steps_across, steps_down, springs, wanted)
    x = np.zeros(f.shape) if start is None else np.array(start, dtype=np.float64)

    def solve(planes: slice) -> NDArray[np.float64]:
        """Some of the planes; nothing of one hangs on another."""
        mine, left = (np.ascontiguousarray(p[..., planes]) for p in (x, f))
        levels = _levels(held, left.shape[2])
        enough = tolerance**2 * np.einsum("ijm,ijm->m", left, left)
        if start is not None:
            product = np.empty(left.shape)
            _apply(mine, levels[0].across, levels[0].down, levels[0].diagonal, product)
            left -= product
        _conjugate_gradients(levels, mine, left, enough, most)
        return mine

    halves = (slice(0, 1), slice(1, None)) if f.shape[2] > 1 else (slice(None),)
    return np.concatenate(in_parallel(solve, halves), axis=2)


def _forces(
    across: FloatArray, down: FloatArray, springs: Springs, wanted: FloatArray | None
) -> NDArray[np.float64]:
    """The right-hand side (rows, cols, n)."""
    out = np.zeros((*springs.pull.shape, across.shape[2]))
    if wanted is not None:
        out += springs.pull[..., None] * wanted
    force = springs.across[..., None] * across
    out[:, 1:] += force
    out[:, :-1] -= force
    force = springs.down[..., None] * down
    out[1:] += force
    out[:-1] -= force
    return out


def _conjugate_gradients(
    levels: list[_Level], x: FloatArray, left: FloatArray, enough: FloatArray, most: int
) -> None:
    """Solve in place for x (rows, cols, n), of which `left` is left; both are changed.

    The n planes go on side by side, each with its own lengths, until the squares of what is left
    of each sum up to no more than `enough` (n,).
    """
    top = levels[0]
    product, way = np.empty(x.shape), np.zeros(x.shape)
    before = np.ones(x.shape[2])
    going = np.einsum("ijm,ijm->m", left, left) > enough
    for _ in range(most):
        if not going.any():
            break
        top.f[:] = left
        _v_cycle(levels)
        now = _dot(left, top.u)
        _turn(way, top.u, np.where(going, now / before, 0.0))
        _apply(way, top.across, top.down, top.diagonal, product)
        bend = _dot(way, product)
        length = np.where(going & (bend > 0.0), now / np.maximum(bend, 1e-300), 0.0)
        going = _go(x, left, way, product, length) > enough
        before = np.maximum(now, 1e-300)
