"""How much worse paintings come out where hands err, by the same painters as plans are judged by.

Two errors, as in `plan.hands`: a puddle's proportions, shared by all that is laid of it, and how
strong each wash is laid.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.optics.difference import delta_e_2000
from firstwash.plan.bench import Bench
from firstwash.plan.hands import SIGMA, Handiwork, Painters

__all__ = ["one_layer_work", "rise_by_hand"]

PAINTERS: Final = 100


def one_layer_work(bench: Bench, coats: FloatArray) -> Handiwork:
    """The work of one layer; coats: (cells, paints), the same row for areas of one wash.

    Washes of one mixture come from one puddle, however strong they are laid.
    """
    washes, wash_of = np.unique(np.round(coats, 12), axis=0, return_inverse=True)
    painted = washes.sum(axis=1) > 0.0
    loads = washes @ bench.loads
    mixtures = washes[painted] / loads[painted, None]
    recipes, puddle = np.unique(np.round(mixtures, 6), axis=0, return_inverse=True)
    count = int(painted.sum())
    node = np.zeros(len(washes), dtype=np.int64)
    node[painted] = np.arange(1, count + 1)
    return Handiwork(
        bench=bench,
        recipes=recipes.reshape(-1, bench.colours),
        wash_puddle=puddle.ravel().astype(np.int64),
        wash_layer=np.ones(count, dtype=np.int64),
        film_wash=np.arange(count, dtype=np.int64),
        film_strength=loads[painted],
        parent=np.concatenate([[-1], np.zeros(count, dtype=np.int64)]),
        film_of=np.concatenate([[-1], np.arange(count, dtype=np.int64)]),
        cell_nodes=node[wash_of.ravel()],
    )


def rise_by_hand(work: Handiwork, wanted: FloatArray, areas: NDArray[np.float64]) -> float:
    """By how much the mean CIEDE2000 against colours (cells, 3) rises, over 100 painters."""
    if not len(work.wash_puddle):
        return 0.0
    labs = work.labs(work.slips(Painters(SIGMA, PAINTERS)))[:, work.cell_nodes]
    missed = np.average(delta_e_2000(labs, wanted[None]).mean(axis=0), weights=areas)
    planned = delta_e_2000(work.planned()[work.cell_nodes], wanted)
    return float(missed - np.average(planned, weights=areas))
