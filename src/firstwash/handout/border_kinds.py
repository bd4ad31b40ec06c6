"""Which stretch of a traced border is a hard edge, which a soft one and which is lost."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import BoolArray, IntArray
from firstwash.handout.contours import OUTSIDE, Contours
from firstwash.picture.edges import EDGE_KINDS, HARD, PIECE_MM, EdgeKind, Edges

__all__ = ["Run", "curve_kinds", "runs_by_kind", "whole_runs"]

SHORTEST_MM: Final = 6.0  # a change of kind over less than this is nothing a brush can follow


@dataclass(frozen=True, eq=False)
class Run:
    """Curves (n, 4, 2) in mm, one after another, which are straight (n,), and if they close."""

    curves: NDArray[np.float64]
    straight: NDArray[np.bool_]
    closed: bool = False


def curve_kinds(contours: Contours, edges: Edges) -> NDArray[np.int64]:
    """Kind (curves,) of each curve of a contour, an index into `EDGE_KINDS`.

    The sheet's own border counts as hard. Stretches too short to be followed take the kind of
    a neighbour.
    """
    kinds = _step_kinds(contours, edges)
    count = np.zeros((len(kinds) + 1, len(EDGE_KINDS)), dtype=np.int64)
    count[1:] = np.cumsum(np.eye(len(EDGE_KINDS), dtype=np.int64)[kinds], axis=0)
    first = contours.span[:, 0]
    last = np.maximum(contours.span[:, 1], first + 1)
    kind = np.asarray((count[last] - count[first]).argmax(axis=1), dtype=np.int64)
    length = _lengths(contours)
    for i in range(contours.arcs):
        own = slice(contours.start[i], contours.start[i + 1])
        kind[own] = _steady(kind[own], length[own])
    return kind


def _step_kinds(contours: Contours, edges: Edges) -> NDArray[np.int64]:
    """Kind of the side of a pixel between each point of a contour and the next one."""
    here = contours.steps.astype(np.int64)
    there = np.vstack([here[1:], here[-1:]])
    upright = here[:, 1] == there[:, 1]
    top = np.minimum(here, there)  # of the side; the pixels it parts lie left and right, or above
    row, col = top[:, 0] - ~upright, top[:, 1] - upright
    arc = np.repeat(np.arange(contours.arcs), np.diff(contours.step_start))
    one, two = contours.left[arc].astype(np.int64), contours.right[arc].astype(np.int64)
    tile = PIECE_MM * contours.ppmm
    wanted = _keys(np.minimum(one, two), np.maximum(one, two), row // tile, col // tile)
    # The middle of a piece lies in its own square: half a pixel was added to each of its links.
    middle = (edges.centre_mm - 0.5 / contours.ppmm) / PIECE_MM + 1e-9
    known = _keys(edges.cells[:, 0], edges.cells[:, 1], middle[:, 1], middle[:, 0])
    order = np.argsort(known, kind="stable")
    slot = np.searchsorted(known[order], wanted).clip(max=max(len(known) - 1, 0))
    if not len(known):
        return np.full(len(here), HARD, dtype=np.int64)
    found = known[order][slot] == wanted
    return np.where(found & (np.minimum(one, two) != OUTSIDE), edges.kind[order][slot], HARD)


def _keys(
    one: IntArray, two: IntArray, down: NDArray[np.floating], across: NDArray[np.floating]
) -> NDArray[np.int64]:
    """One number for two cells, below 2²⁰, and a square, below 2¹⁰ each way."""
    place = np.floor(down).astype(np.int64) << 10 | np.floor(across).astype(np.int64)
    return np.asarray((one.astype(np.int64) << 41) + (two.astype(np.int64) << 20) + place)


def _lengths(contours: Contours) -> NDArray[np.float64]:
    return np.asarray(np.linalg.norm(contours.curves[:, 3] - contours.curves[:, 0], axis=1))


def _steady(kind: NDArray[np.int64], length: NDArray[np.float64]) -> NDArray[np.int64]:
    """Kinds along one border, the shortest stretch given to its longer neighbour until none is."""
    out = kind.copy()
    while True:
        cut = np.flatnonzero(np.diff(out)) + 1
        if not len(cut):
            return out
        ends = np.concatenate([[0], cut, [len(out)]])
        size = np.add.reduceat(length, ends[:-1])
        short = int(size.argmin())
        if size[short] >= SHORTEST_MM:
            return out
        left = size[short - 1] if short > 0 else -1.0
        right = size[short + 1] if short + 1 < len(size) else -1.0
        donor = ends[short] - 1 if left >= right else ends[short + 1]
        out[ends[short] : ends[short + 1]] = out[donor]


def runs_by_kind(
    contours: Contours, kinds: NDArray[np.int64], shown: BoolArray
) -> dict[EdgeKind, list[Run]]:
    """The arcs marked in shown (arcs,), cut where their kind changes; the sheet's border left out.

    Arcs that go on into one another without a fork are joined, so that a broken line runs on.
    """
    inner = shown & (contours.left != OUTSIDE) & (contours.right != OUTSIDE)
    out: dict[EdgeKind, list[Run]] = {name: [] for name in EDGE_KINDS}
    for chain in _chains(contours, inner):
        curves = np.concatenate([contours.curves_of(arc)[0] for arc in chain])
        straight = np.concatenate([contours.curves_of(arc)[1] for arc in chain])
        kind = np.concatenate([_kinds_of(contours, kinds, arc) for arc in chain])
        cut = np.concatenate([[0], np.flatnonzero(np.diff(kind)) + 1, [len(kind)]])
        for a, b in zip(cut[:-1].tolist(), cut[1:].tolist(), strict=True):
            out[EDGE_KINDS[int(kind[a])]].append(Run(curves[a:b], straight[a:b]))
    return out


def _kinds_of(
    contours: Contours, kinds: NDArray[np.int64], arc: tuple[int, bool]
) -> NDArray[np.int64]:
    own = kinds[contours.start[arc[0]] : contours.start[arc[0] + 1]]
    return own[::-1] if arc[1] else own


def _chains(contours: Contours, shown: BoolArray) -> list[list[tuple[int, bool]]]:
    """Arcs strung together through the points where just two of them meet."""
    at: dict[int, list[tuple[int, bool]]] = {}
    for i in np.flatnonzero(shown).tolist():
        start, end = contours.ends[i].tolist()
        at.setdefault(start, []).append((i, False))
        at.setdefault(end, []).append((i, True))
    chains, used = [], set()
    forks = [node for node in sorted(at) if len(at[node]) != 2]
    for node in [*forks, *sorted(at)]:
        for arc, back in at[node]:
            if arc in used:
                continue
            chain = [(arc, back)]
            used.add(arc)
            while (follow := _next(contours, at, chain[-1])) and follow[0] not in used:
                chain.append(follow)
                used.add(follow[0])
            chains.append(chain)
    return chains


def _next(
    contours: Contours, at: dict[int, list[tuple[int, bool]]], arc: tuple[int, bool]
) -> tuple[int, bool] | None:
    here = at[int(contours.ends[arc[0], 0 if arc[1] else 1])]
    if len(here) != 2:
        return None
    return here[0] if here[1][0] == arc[0] else here[1]


def whole_runs(contours: Contours, inside: BoolArray) -> list[Run]:
    """Closed outlines of the labels marked in inside (labels,)."""
    out = []
    for walk in contours.loops(inside):
        parts = [contours.curves_of(arc) for arc in walk]
        curves = np.concatenate([c for c, _ in parts])
        out.append(Run(curves, np.concatenate([s for _, s in parts]), closed=True))
    return out
