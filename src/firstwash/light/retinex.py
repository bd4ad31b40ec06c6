"""Retinex: small changes are the light's, large ones the paint's. The plain baseline.

The logarithm of the luminance is cut into steps between neighbouring pixels. Steps below a
threshold belong to the light, those above to the reflectance; the light is put together again
from its steps by Poisson's equation. In its colour form a step also belongs to the reflectance
where the chromaticity changes by more than a second threshold. Sources: [Land1971], [Horn1974];
grey and colour form as compared in [Grosse2009], where the light is grey.

The split that is used (`firstwash.light.split`) is measured against these; nothing else uses them.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.fft import dctn, idctn

from firstwash.arrays import FloatArray

__all__ = ["COLOUR_THRESHOLDS", "GREY_THRESHOLD", "colour_retinex", "grey_retinex"]

# Best single values over the tuning scenes (tools/light_trials.py --tune), in natural logarithms.
GREY_THRESHOLD: Final = 0.4
COLOUR_THRESHOLDS: Final = (2.0, 0.16)  # of luminance and of chromaticity
DARKEST: Final = 1e-3  # a share of the picture's white; below it logarithms tell noise
LUMINANCE: Final = np.array([0.2126, 0.7152, 0.0722])  # [IEC61966-2-1]


def grey_retinex(rgb: FloatArray, threshold: float = GREY_THRESHOLD) -> NDArray[np.float64]:
    """Reflectance (rows, cols, 3), apart from one factor, of linear light rgb (rows, cols, 3).

    threshold: natural logarithm of the ratio between neighbours from which a step is paint.
    """
    across, down = _steps(_log_luminance(rgb))
    across = np.where(np.abs(across) < threshold, across, 0.0)
    down = np.where(np.abs(down) < threshold, down, 0.0)
    return _without(rgb, across, down)


def colour_retinex(
    rgb: FloatArray, thresholds: tuple[float, float] = COLOUR_THRESHOLDS
) -> NDArray[np.float64]:
    """The same; a step is paint too where the chromaticity changes by more than thresholds[1].

    Chromaticity: the logarithms of red, green and blue less their mean; changes by their length.
    """
    logs = np.log(np.maximum(rgb, DARKEST))
    chroma = logs - logs.mean(axis=-1, keepdims=True)
    light = []
    for step, colour in zip(_steps(_log_luminance(rgb)), _steps(chroma), strict=True):
        paint = (np.abs(step) >= thresholds[0]) | (np.linalg.norm(colour, axis=-1) >= thresholds[1])
        light.append(np.where(paint, 0.0, step))
    return _without(rgb, *light)


def _log_luminance(rgb: FloatArray) -> NDArray[np.float64]:
    return np.asarray(np.log(np.maximum(rgb @ LUMINANCE, DARKEST)), dtype=np.float64)


def _steps(plane: FloatArray) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Differences to the right (rows, cols − 1, …) and downwards (rows − 1, cols, …)."""
    return np.diff(plane, axis=1), np.diff(plane, axis=0)


def _without(rgb: FloatArray, across: FloatArray, down: FloatArray) -> NDArray[np.float64]:
    """The picture without a grey light of which the logarithm has these steps."""
    light = integrate(across, down)
    return np.asarray(np.maximum(rgb, 0.0) / np.exp(light - light.max())[..., None])


def integrate(across: FloatArray, down: FloatArray) -> NDArray[np.float64]:
    """The plane of mean 0 whose steps are nearest to these in least squares, by cosines.

    across: (rows, cols − 1); down: (rows − 1, cols). Poisson's equation with nothing passing the
    frame, exact; source: [Press2007].
    """
    rows, cols = across.shape[0], down.shape[1]
    spring = np.zeros((rows, cols))
    spring[:, :-1] += across
    spring[:, 1:] -= across
    spring[:-1] += down
    spring[1:] -= down
    bend = (
        2.0 * np.cos(np.pi * np.arange(rows) / rows)[:, None]
        + 2.0 * np.cos(np.pi * np.arange(cols) / cols)[None, :]
        - 4.0
    )
    bend[0, 0] = 1.0
    modes = dctn(spring, norm="ortho") / bend
    modes[0, 0] = 0.0
    return np.asarray(idctn(modes, norm="ortho"))
