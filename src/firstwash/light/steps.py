"""How much of each step between neighbouring pixels is the light's, judged from clues.

A small network of two hidden layers judges, as [Tappen2005] had classifiers do, and tells a
share rather than yes or no: one for the step in level, one for the step in colour. It was fitted
on rendered pictures with known light (`tools/fit_light.py`), of which it has seen nothing that it
is judged by; its weights are in `data/steps.csv`.
"""

from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.parallel import in_parallel

__all__ = ["light_shares"]

# Added to the logit of the share of a step in level: the practice rooms have more patterns than
# still lifes. Settled on the tuning scenes, where it takes 3 % off the error.
LEANING = 0.4
BAND = 20_000  # links judged at a time: what is on the way fits into the cache


@cache
def _weights() -> tuple[tuple[NDArray[np.float32], NDArray[np.float32]], ...]:
    """Matrix and offset of each layer, first to last."""
    text = resources.files("firstwash.light").joinpath("data/steps.csv").read_text("utf-8")
    layers: dict[int, list[list[float]]] = {}
    for line in text.strip().splitlines()[1:]:
        layer, _, *values = line.split(",")
        layers.setdefault(int(layer), []).append([float(v) for v in values if v])
    out = []
    for number in sorted(layers):
        table = np.array(layers[number], dtype=np.float32)
        out.append((table[:-1], table[-1]))
    return tuple(out)


def light_shares(clues: FloatArray) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """The light's shares, 0-1, of steps in level and colour (…, 2): across, and down.

    clues: (rows, cols, n). Across: (rows, cols − 1, 2); down: (rows − 1, cols, 2).
    """
    half = np.float32(0.5)
    across, down = in_parallel(
        _judged,
        (half * (clues[:, 1:] + clues[:, :-1]), half * (clues[1:] + clues[:-1])),
    )
    return across, down


def _judged(clues: FloatArray) -> NDArray[np.float32]:
    rows = clues.reshape(-1, clues.shape[-1])
    out = np.empty((len(rows), 2), dtype=np.float32)
    *hidden, last = _weights()
    for start in range(0, len(rows), BAND):
        values = rows[start : start + BAND]
        for matrix, offset in hidden:
            values = np.tanh(values @ matrix + offset)
        logits = values @ last[0] + last[1]
        logits[:, 0] += LEANING
        out[start : start + BAND] = 1.0 / (1.0 + np.exp(-logits))
    return out.reshape(*clues.shape[:-1], 2)
