"""Fields that run softly into each other, except across hard edges.

A field (paint per area, a colour) is constant in every cell at first. It then spreads as
heat does: ∂u/∂t = div(D·grad u), for as long as makes an edge with D = σ²/2 as soft as a
Gaussian of standard deviation σ does. Where a link between two neighbouring pixels is hard
nothing passes, so a soft edge never bleeds over a hard one, and no paint is lost: the total
of every field stays what it was.

Solved implicitly, one direction after the other (locally one-dimensional splitting), which is
stable for any softness. Sources: [Weickert1998] for diffusion with edges on pictures and
this splitting; [Press2007] for the solution of tridiagonal systems.
"""

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, FloatArray

__all__ = ["Links", "links_between", "spread_fields"]

STEPS = 4  # implicit steps; an edge's profile differs from a Gaussian's by under 3 % of its height


@dataclass(frozen=True, eq=False)
class Links:
    """How well neighbouring pixels are joined, in px² of diffusion: σ²/2 where soft, 0 where hard.

    across: (rows, cols − 1) between a pixel and the one to its right; down: (rows − 1, cols)
    between a pixel and the one below.
    """

    across: NDArray[np.float32]
    down: NDArray[np.float32]


def links_between(sigma_px: FloatArray, hard_across: BoolArray, hard_down: BoolArray) -> Links:
    """Links from softness per pixel (rows, cols), in pixels, and the hard links.

    A link is as soft as the harder of its two pixels.
    """
    spread = np.asarray(0.5 * np.square(sigma_px), dtype=np.float32)
    across = np.minimum(spread[:, 1:], spread[:, :-1])
    down = np.minimum(spread[1:], spread[:-1])
    across[hard_across] = 0.0
    down[hard_down] = 0.0
    return Links(across, down)


@njit(cache=True, nogil=True)
def _along_rows(u, link, ratio):  # type: ignore[no-untyped-def]
    """Solve (1 + L)·u' = u in place along every row of u (rows, cols, fields)."""
    rows, cols, fields = u.shape
    zero, one = np.float32(0.0), np.float32(1.0)
    for i in range(rows):
        for j in range(cols):
            left = link[i, j - 1] if j > 0 else zero
            right = link[i, j] if j < cols - 1 else zero
            if left == zero and right == zero:
                ratio[i, j] = zero
                continue
            bend = one + left + right - (left * ratio[i, j - 1] if j > 0 else zero)
            ratio[i, j] = right / bend
            for m in range(fields):
                before = left * u[i, j - 1, m] if left > zero else zero
                u[i, j, m] = (u[i, j, m] + before) / bend
        for j in range(cols - 2, -1, -1):
            if ratio[i, j] > zero:
                for m in range(fields):
                    u[i, j, m] += ratio[i, j] * u[i, j + 1, m]


@njit(cache=True, nogil=True)
def _down_columns(u, link, ratio):  # type: ignore[no-untyped-def]
    """The same along every column; the inner loop still runs along the memory."""
    rows, cols, fields = u.shape
    zero, one = np.float32(0.0), np.float32(1.0)
    for i in range(rows):
        for j in range(cols):
            above = link[i - 1, j] if i > 0 else zero
            below = link[i, j] if i < rows - 1 else zero
            if above == zero and below == zero:
                ratio[i, j] = zero
                continue
            bend = one + above + below - (above * ratio[i - 1, j] if i > 0 else zero)
            ratio[i, j] = below / bend
            for m in range(fields):
                before = above * u[i - 1, j, m] if above > zero else zero
                u[i, j, m] = (u[i, j, m] + before) / bend
    for i in range(rows - 2, -1, -1):
        for j in range(cols):
            if ratio[i, j] > zero:
                for m in range(fields):
                    u[i, j, m] += ratio[i, j] * u[i + 1, j, m]


def spread_fields(fields: FloatArray, links: Links, steps: int = STEPS) -> NDArray[np.float32]:
    """Fields (rows, cols, n) after running softly into each other along the links.

    Means are kept (to float32 rounding), and no value leaves the range it had in its field.
    """
    out = np.array(fields, dtype=np.float32, order="C")
    ratio = np.empty(out.shape[:2], dtype=np.float32)
    across, down = (np.ascontiguousarray(link / steps) for link in (links.across, links.down))
    for _ in range(steps):
        _along_rows(out, across.astype(np.float32), ratio)
        _down_columns(out, down.astype(np.float32), ratio)
    return out
