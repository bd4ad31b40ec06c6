"""Hard, soft and lost edges: how sharply two neighbouring areas part in the picture.

Every border between two cells is cut into pieces a few centimetres long, for an edge is often
lost at one end and found again at the other. The picture's profile across each piece is
compared with edges of known softness (a Gaussian-blurred step of standard deviation σ); the
best one is its softness. How far apart the two sides are says whether there is much of an
edge at all. Source for the blurred step as the model of an edge, and for measuring its
width by it: [Elder1998].
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from scipy.special import ndtr

from firstwash.arrays import BoolArray, FloatArray, IntArray
from firstwash.optics.difference import delta_e_2000
from firstwash.picture.diffusion import Links, links_between, spread_fields
from firstwash.picture.shapes import Cells

__all__ = [
    "EDGE_KINDS",
    "HARD",
    "LOST",
    "SOFT",
    "Border",
    "EdgeKind",
    "Edges",
    "all_hard",
    "border_pieces",
    "core_colours",
    "edges_along",
    "find_edges",
]

EdgeKind = Literal["hard", "soft", "lost"]
EDGE_KINDS: tuple[EdgeKind, ...] = ("hard", "soft", "lost")
HARD, SOFT, LOST = range(3)

SOFTNESS_MM = np.array([0.15, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0])
HARD_TO_MM = 1.25  # σ below which a brush simply cuts the edge in; a line 2.5 mm wide
LOST_FROM_MM = 5.0  # σ from which no edge is seen, only a passage
LOST_CONTRAST = 4.0  # CIEDE2000 between the sides below which the eye finds no edge
LOST_SOFTNESS_MM = 4.0  # at least, for a border with so little contrast is nobody's edge
PIECE_MM = 20.0  # side of the squares that borders are cut into pieces by
REACH_MM = 12.0  # how far to both sides the picture is looked at
NEAR_MM = 4.0  # what lies nearer counts more: falls off as exp(−distance / this)
STEP_MM = 0.5
NEIGHBOURS = 0.2  # how much the rest of a border speaks for each of its pieces
CORE_ROUNDS = 2
RARE = 0.1  # share of a cell's pixels at either end that do not speak for it
INFLUENCE = 2.5  # an edge softens the paint up to this many σ away


@dataclass(frozen=True, eq=False)
class Edges:
    """The borders of a picture's cells, in pieces, and how softly paint passes there.

    cells: (n, 2) the two cells of each piece; length_mm, sigma_mm, contrast (CIEDE2000
    between the sides), kind (0 hard, 1 soft, 2 lost), centre_mm (n, 2; x, y): (n,) each.
    softness: (rows, cols) σ in mm at every pixel, 0 away from soft edges.
    hard_across (rows, cols − 1), hard_down (rows − 1, cols): links that are hard edges.
    """

    cells: NDArray[np.int64]
    length_mm: NDArray[np.float64]
    sigma_mm: NDArray[np.float64]
    contrast: NDArray[np.float64]
    kind: NDArray[np.int64]
    centre_mm: NDArray[np.float64]
    softness: NDArray[np.float32]
    hard_across: NDArray[np.bool_]
    hard_down: NDArray[np.bool_]
    ppmm: float

    def links(self, least_mm: float = 0.0) -> Links:
        """Links for `spread_fields`; least_mm: σ that everything not hard has at least."""
        sigma = np.maximum(self.softness, least_mm) * self.ppmm
        return links_between(sigma, self.hard_across, self.hard_down)

    def spread(self, fields: FloatArray, least_mm: float = 0.0) -> NDArray[np.float32]:
        """Fields (rows, cols, n) with their edges as soft as these."""
        return spread_fields(fields, self.links(least_mm))

    def shares(self) -> dict[str, float]:
        """Share (0-1) of the border length that is hard, soft and lost."""
        total = max(float(self.length_mm.sum()), 1e-9)
        return {
            name: float(self.length_mm[self.kind == k].sum()) / total
            for k, name in enumerate(EDGE_KINDS)
        }

    def soft_pairs(self, cells: int) -> NDArray[np.bool_]:
        """(cells, cells): whether paint passes over more than half of two cells' border."""
        open_ = np.zeros((cells, cells))
        a, b = self.cells.T
        np.add.at(open_, (a, b), np.where(self.kind == HARD, -self.length_mm, self.length_mm))
        return np.asarray((open_ + open_.T) > 0.0)


@dataclass(frozen=True, eq=False)
class Border:
    """Links between different cells: down (n,) bool, row, col, piece; pieces' cells (m, 2).

    A link joins the pixel at row, col with the one to its right or, where down, below it.
    """

    down: NDArray[np.bool_]
    row: NDArray[np.int64]
    col: NDArray[np.int64]
    piece: NDArray[np.int64]
    cells: NDArray[np.int64]

    def ends(self) -> tuple[tuple[NDArray[np.int64], NDArray[np.int64]], ...]:
        """Rows and columns of the two pixels of every link."""
        return (self.row, self.col), (self.row + self.down, self.col + ~self.down)


def find_edges(lab: FloatArray, cells: Cells) -> Edges:
    """The edges of a picture (rows, cols, 3) CIELAB along the borders of its cells."""
    border = border_pieces(cells.index, cells.ppmm)
    if not len(border.cells):
        return edges_along(cells, border, np.empty(0), np.empty(0))
    means = cells.mean(lab)
    sides = means[border.cells]
    contrast = np.asarray(delta_e_2000(sides[:, 0], sides[:, 1]))
    sigma = _sharpness(lab, cells, border, sides)
    sigma = np.where(contrast < LOST_CONTRAST, np.maximum(sigma, LOST_SOFTNESS_MM), sigma)
    return edges_along(cells, border, sigma, contrast)


def core_colours(
    lab: FloatArray,
    cells: Cells,
    edges: Edges,
    weight: FloatArray | None = None,
    only: BoolArray | None = None,
) -> NDArray[np.float64]:
    """CIELAB (n_cells, 3) of the cells such that, run softly together, they give the picture.

    A cell's plain mean holds what the soft edges of its neighbours lend it. Each round adds
    what is missing on average over each cell; more rounds than two sharpen noise, and no cell
    gets a colour beyond what the picture shows in it. only: (n_cells,) the cells that are asked
    for; the others' colours are then merely near the truth, which is quicker.
    """
    colours = cells.mean(lab, weight)
    low, high = _span(lab, cells, np.ones(cells.count, dtype=np.bool_) if only is None else only)
    for _ in range(CORE_ROUNDS):
        missing = cells.mean(lab - edges.spread(colours[cells.index]), weight)
        colours = np.clip(colours + missing, low, high)
    return colours


def _span(
    lab: FloatArray, cells: Cells, only: BoolArray
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The values (n_cells, 3) that all but `RARE` of each cell's pixels lie above, and below.

    Of cells not asked for, anything lies between.
    """
    flat = cells.index.ravel()
    use = only[flat]
    flat = flat[use]
    size = np.bincount(flat, minlength=cells.count)[only]
    first = np.cumsum(size) - size
    skip = (RARE * size).astype(np.int64)
    low, high = np.full((cells.count, 3), -np.inf), np.full((cells.count, 3), np.inf)
    for c in range(3):
        plane = lab[..., c].ravel()[use]
        ranked = plane[np.lexsort((plane, flat))]
        low[only, c] = ranked[first + skip]
        high[only, c] = ranked[first + size - 1 - skip]
    return low, high


def all_hard(cells: Cells) -> Edges:
    """The same borders, every one of them cut in sharply."""
    border = border_pieces(cells.index, cells.ppmm)
    return edges_along(
        cells, border, np.zeros(len(border.cells)), np.full(len(border.cells), 100.0)
    )


def border_pieces(index: IntArray, ppmm: float) -> Border:
    """All borders of a map of cells (rows, cols), cut into pieces."""
    down, rows, cols, one, two = [], [], [], [], []
    for vertical in (False, True):
        here, there = (index[:-1], index[1:]) if vertical else (index[:, :-1], index[:, 1:])
        y, x = np.nonzero(here != there)
        down.append(np.full(len(y), vertical))
        rows.append(y)
        cols.append(x)
        one.append(here[y, x].astype(np.int64))
        two.append(there[y, x].astype(np.int64))
    y, x = np.concatenate(rows), np.concatenate(cols)
    first, second = np.concatenate(one), np.concatenate(two)
    pair = np.minimum(first, second) * (int(index.max()) + 1) + np.maximum(first, second)
    tile = PIECE_MM * ppmm
    place = (y // tile).astype(np.int64) * (int(index.shape[1] // tile) + 1)
    place += (x // tile).astype(np.int64)
    keys, start, piece = np.unique(
        pair * (int(place.max(initial=0)) + 1) + place, return_index=True, return_inverse=True
    )
    del keys
    cells = np.column_stack([np.minimum(first, second)[start], np.maximum(first, second)[start]])
    return Border(np.concatenate(down), y, x, piece, cells)


def edges_along(
    cells: Cells,
    border: Border,
    sigma: FloatArray,
    contrast: FloatArray,
    said: IntArray | None = None,
) -> Edges:
    """Edges of so softly parted pieces: sigma (pieces,) in mm, contrast (pieces,) CIEDE2000.

    said: (pieces,) what kind each is, where that does not follow from the two.
    """
    lost = (sigma >= LOST_FROM_MM) | (contrast < LOST_CONTRAST)
    kind = np.where(sigma < HARD_TO_MM, HARD, np.where(lost, LOST, SOFT))
    kind = kind if said is None else np.asarray(said, dtype=np.int64)
    softness = np.asarray(np.where(kind == HARD, 0.0, sigma), dtype=np.float64)
    n = len(border.cells)
    count = np.maximum(np.bincount(border.piece, minlength=n), 1)
    centre = [
        np.bincount(border.piece, (at + 0.5) / cells.ppmm, minlength=n) / count
        for at in (border.col, border.row)
    ]
    across, down = _hard_links(cells.index.shape, border, kind)
    return Edges(
        cells=border.cells,
        length_mm=_length(border, n) / cells.ppmm,
        sigma_mm=softness,
        contrast=np.asarray(contrast, dtype=np.float64),
        kind=kind,
        centre_mm=np.column_stack(centre),
        softness=_softness(cells.index.shape, border, softness, cells.ppmm),
        hard_across=across,
        hard_down=down,
        ppmm=cells.ppmm,
    )


def _length(border: Border, pieces: int) -> NDArray[np.float64]:
    """Length (pieces,) in pixels, from the pixel sides along and down.

    A slanting line of dx × dy pixels crosses dx + dy sides but is √(dx² + dy²) long.
    """
    upright = np.bincount(border.piece[~border.down], minlength=pieces)
    level = np.bincount(border.piece[border.down], minlength=pieces)
    return np.hypot(upright, level)


def _hard_links(
    shape: tuple[int, ...], border: Border, kind: IntArray
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    across = np.zeros((shape[0], shape[1] - 1), dtype=np.bool_)
    down = np.zeros((shape[0] - 1, shape[1]), dtype=np.bool_)
    hard = kind[border.piece] == HARD if len(kind) else np.zeros(0, dtype=np.bool_)
    level, upright = hard & border.down, hard & ~border.down
    across[border.row[upright], border.col[upright]] = True
    down[border.row[level], border.col[level]] = True
    return across, down


def _nearest(
    shape: tuple[int, ...], border: Border, keep: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Distance in pixels (rows, cols) to the nearest kept border link, and its piece."""
    mark = np.full(shape, -1, dtype=np.int64)
    for rows, cols in border.ends():
        mark[rows[keep], cols[keep]] = border.piece[keep]
    distance, (y, x) = distance_transform_edt(mark < 0, return_indices=True)
    return distance + 0.5, mark[y, x]  # from the middle of a pixel to its side


def _softness(
    shape: tuple[int, ...], border: Border, sigma: FloatArray, ppmm: float
) -> NDArray[np.float32]:
    soft = sigma[border.piece] > 0.0 if len(sigma) else np.zeros(0, dtype=np.bool_)
    if not soft.any():
        return np.zeros(shape, dtype=np.float32)
    distance, piece = _nearest(shape, border, soft)
    own = sigma[piece]
    return np.where(distance / ppmm < INFLUENCE * own, own, 0.0).astype(np.float32)


def _sharpness(
    lab: FloatArray, cells: Cells, border: Border, sides: FloatArray
) -> NDArray[np.float64]:
    """Best σ (pieces,) in mm: profiles across every piece against blurred steps."""
    weight, profile, place = _profiles(lab, cells, border, sides)
    near = weight * np.exp(-np.abs(place) / NEAR_MM)
    misfit = np.stack([_misfit(near, profile, ndtr(place / s)) for s in SOFTNESS_MM], axis=1)
    # A short piece alone says little: the rest of the same border speaks too.
    pairs = np.unique(border.cells, axis=0, return_inverse=True)[1].ravel()
    whole = np.zeros((int(pairs.max()) + 1, misfit.shape[1]))
    np.add.at(whole, pairs, misfit)
    mass = near.sum(axis=1)
    shared = np.bincount(pairs, mass)[pairs]
    share = (mass / np.maximum(shared, 1e-12))[:, None]
    return np.asarray(SOFTNESS_MM[(misfit + NEIGHBOURS * share * whole[pairs]).argmin(axis=1)])


def _profiles(
    lab: FloatArray, cells: Cells, border: Border, sides: FloatArray
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Weight and mean place between the two sides' colours, (pieces, steps), and steps in mm.

    Place 0 is the colour of a piece's first cell, 1 that of its second.
    """
    every = np.ones(len(border.piece), dtype=np.bool_)
    distance, piece = _nearest(cells.index.shape, border, every)
    first, second = (cells.index == border.cells[piece][..., k] for k in (0, 1))
    use = (first | second) & (distance < REACH_MM * cells.ppmm)
    piece = piece[use]
    turn = sides[:, 1] - sides[:, 0]
    scale = np.maximum((turn**2).sum(axis=1), 1e-6)
    place = ((lab[use] - sides[piece, 0]) * turn[piece]).sum(axis=1) / scale[piece]
    signed = np.where(second[use], 1.0, -1.0) * distance[use] / cells.ppmm
    steps = int(2 * REACH_MM / STEP_MM)
    bins = np.clip(((signed + REACH_MM) / STEP_MM).astype(np.int64), 0, steps - 1)
    slot, size = piece * steps + bins, len(border.cells) * steps
    weight = np.bincount(slot, minlength=size).astype(np.float64)
    total = np.bincount(slot, np.clip(place, -1.0, 2.0), minlength=size)
    shape = (len(border.cells), steps)
    mean = np.asarray(total / np.maximum(weight, 1.0), dtype=np.float64)
    middle = np.asarray((np.arange(steps) + 0.5) * STEP_MM - REACH_MM, dtype=np.float64)
    return weight.reshape(shape), mean.reshape(shape), middle


def _misfit(weight: FloatArray, profile: FloatArray, step: FloatArray) -> NDArray[np.float64]:
    """Squared misfit (pieces,) of profiles to a step (steps,) of free height and foot."""
    mass = np.maximum(weight.sum(axis=1), 1e-12)
    x = step - (weight * step).sum(axis=1, keepdims=True) / mass[:, None]
    y = profile - ((weight * profile).sum(axis=1) / mass)[:, None]
    slope = (weight * x * y).sum(axis=1) / np.maximum((weight * x * x).sum(axis=1), 1e-9)
    # The sides' means hold part of the blur themselves, so the true step is somewhat higher;
    # one of no height, or turned over, is texture and not this edge.
    slope = np.clip(slope, 0.3, 2.0)
    return np.asarray((weight * (y - slope[:, None] * x) ** 2).sum(axis=1))
