"""From the readings of a file to samples: one way of measuring, one unit, one grid.

What can be told for sure is done and said in a note; what cannot is refused.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import MeasurementError
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.paints.instrument.resample import step_of, to_grid
from firstwash.paints.instrument.samples import (
    HIGHEST,
    MAX_SAMPLES,
    Measurements,
    Reading,
    Sample,
)

__all__ = ["gather"]

# Where the unit is not told: percent reach above 2, for even the darkest of our measured paints,
# PB27 at any strength, returns 2.9 % in its brightest band; fractions stay below 1.2 but for
# strong fluorescence. Between the two the numbers could be either.
_SURELY_PERCENT: Final = 2.0
_SURELY_FRACTION: Final = 1.2
_NOISE: Final = 0.01  # an instrument's zero may be off by this much; common practice, no source
_MAX_GRIDS: Final = 64  # ways to space wavelengths in one file

# When samples were measured in several ways, which is kept: daylight with its ultraviolet is how
# the painting will be seen; crossed polarisers take away the surface that the eye will see.
_CONDITIONS: Final = ("M1", "M0", "M2", "", "M3")
_GEOMETRIES: Final = ("45", "excluded", "included", "")


def gather(readings: Sequence[Reading], file: str) -> Measurements:
    """The samples of a file, from its readings in their order.

    file: what to call it in messages. Raises MeasurementError, in one sentence, when the
    readings do not make sense together.
    """
    if len(readings) > MAX_SAMPLES:
        raise MeasurementError(
            f"{file} holds more than {MAX_SAMPLES:,} samples; export fewer at a time."
        )
    notes: list[str] = []
    readings = _one_way(readings, file, notes)
    scale = _scale(readings, file, notes)
    values = [_checked(r, r.values / scale, file) for r in readings]
    curves, inside = _on_grid(readings, values, file, notes)
    _say_clipped(values, notes)
    conditions = readings[0].conditions
    if conditions.get("condition") == "M3":
        notes.append(
            "Measured through crossed polarisers (M3), which hide the surface's own reflection: "
            "darks are darker here than the eye sees them."
        )
    names = _apart([r.name for r in readings], notes)
    samples = tuple(
        Sample(name, curve, bands, reading.note)
        for name, curve, bands, reading in zip(names, curves, inside, readings, strict=True)
    )
    return Measurements(samples, conditions, tuple(notes))


# ------------------------------------------------------------------ one way of measuring


def _one_way(readings: Sequence[Reading], file: str, notes: list[str]) -> Sequence[Reading]:
    """The readings of the way of measuring that suits best, if every sample has one."""
    ways: dict[tuple[tuple[str, str], ...], list[Reading]] = {}
    for reading in readings:
        ways.setdefault(tuple(sorted(reading.conditions.items())), []).append(reading)
    if len(ways) == 1:
        return readings
    ranked = sorted(ways.values(), key=lambda way: _rank(way[0].conditions))
    best, *others = ranked
    told = _listed([_way_words(way[0].conditions) for way in ranked])
    names = {reading.name for reading in best}
    if any(reading.name not in names for way in others for reading in way):
        raise MeasurementError(
            f"{file} holds samples measured in different ways ({told}); export them all in one way."
        )
    if _rank(best[0].conditions) == _rank(others[0][0].conditions):
        raise MeasurementError(
            f"{file} holds every sample measured in several ways ({told}); export one of them."
        )
    notes.append(
        f"The file holds samples measured in several ways ({told}); "
        f"those measured with {_way_words(best[0].conditions)} are used."
    )
    return best


def _rank(conditions: Mapping[str, str]) -> tuple[int, int]:
    geometry = conditions.get("geometry", "").casefold()
    return (
        _CONDITIONS.index(conditions.get("condition", "")),
        next(i for i, word in enumerate(_GEOMETRIES) if word in geometry),
    )


def _way_words(conditions: Mapping[str, str]) -> str:
    return " ".join(conditions.values()) or "nothing said"


def _listed(words: Sequence[str], most: int = 5) -> str:
    shown = [*words[:most], *(["others"] if len(words) > most else [])]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"


# ------------------------------------------------------------------ one unit


def _scale(readings: Sequence[Reading], file: str, notes: list[str]) -> float:
    """What to divide the file's numbers by: 1, or 100 for percent."""
    told = {r.percent for r in readings}
    top = max(float(r.values.max()) for r in readings)
    if len(told) > 1:
        raise MeasurementError(f"{file} mixes percent and fractions; export all in one unit.")
    percent = told.pop()
    if percent is False and top > HIGHEST:
        raise MeasurementError(
            f"{file} says that its reflectances are fractions of 1 but goes up to {top:.4g}; "
            f"export it again."
        )
    if percent is not None:
        return 100.0 if percent else 1.0
    if _SURELY_FRACTION < top <= _SURELY_PERCENT:
        raise MeasurementError(
            f"{file} does not say whether its numbers, up to {top:.4g}, are percent or fractions "
            f"of 1; export it with a sample of white paper."
        )
    percent = top > _SURELY_PERCENT
    odd = [r.name for r in readings if percent and r.values.max() <= _SURELY_FRACTION]
    if odd:
        raise MeasurementError(
            f"{file} seems to hold percent, but “{odd[0]}” looks like fractions of 1; "
            f"export all in one unit."
        )
    notes.append(
        f"The file does not name its unit; with numbers up to {top:.4g} "
        f"they are read as {'percent' if percent else 'fractions of 1'}."
    )
    return 100.0 if percent else 1.0


def _checked(reading: Reading, values: NDArray[np.float64], file: str) -> NDArray[np.float64]:
    """The reflectances, if paint on paper can have them."""
    at = int(values.argmin() if values.min() < -_NOISE else values.argmax())
    if not -_NOISE <= values[at] <= HIGHEST:
        raise MeasurementError(
            f"{file} gives “{reading.name}” a reflectance of {values[at]:.4g} at "
            f"{reading.wavelengths[at]:.4g} nm, which no paint on paper has; measure it again."
        )
    return values


def _say_clipped(values: Iterable[NDArray[np.float64]], notes: list[str]) -> None:
    below = sum(bool((v < 0).any()) for v in values)
    if below:
        notes.append(f"Small negative reflectances of {_counted(below)} are set to 0.")


# ------------------------------------------------------------------ one grid


def _on_grid(
    readings: Sequence[Reading],
    values: Sequence[NDArray[np.float64]],
    file: str,
    notes: list[str],
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Curves (samples, 36) and the bands they were measured in, and what was done to get there."""
    grids: dict[tuple[float, ...], list[int]] = {}
    for i, reading in enumerate(readings):
        grids.setdefault(reading.wavelengths, []).append(i)
    if len(grids) > _MAX_GRIDS:
        raise MeasurementError(
            f"{file} uses more than {_MAX_GRIDS} sets of wavelengths; "
            f"export all samples at the same ones."
        )
    curves, inside = [], []
    for grid, rows in grids.items():
        some, bands = to_grid(grid, np.array([values[i] for i in rows]))
        curves.append(some)
        inside.append(np.broadcast_to(bands, some.shape))
        whose = "" if len(grids) == 1 else f" ({_counted(len(rows))})"
        notes.extend(_grid_notes(grid, bool(bands.all()), whose))
    order = np.argsort([i for rows in grids.values() for i in rows])
    flat = np.clip(np.concatenate(curves)[order], 0.0, HIGHEST)
    return flat, np.concatenate(inside)[order]


def _grid_notes(grid: tuple[float, ...], whole: bool, whose: str) -> Iterator[str]:
    step = step_of(grid)
    places = (WAVELENGTHS_NM - grid[0]) / step
    if np.abs(places - np.rint(places)).max() > 1e-6:
        yield (
            f"Measured every {step:.3g} nm from {grid[0]:g} nm; "
            f"bands between are interpolated{whose}."
        )
    if not whole:
        yield (
            f"Measured from {grid[0]:g} to {grid[-1]:g} nm; "
            f"bands outside are held at the nearest measured one{whose}."
        )


# ------------------------------------------------------------------ one name each


def _apart(names: Sequence[str], notes: list[str]) -> list[str]:
    """The names, later ones of the same name with a number."""
    taken, next_number, out = set(names), dict.fromkeys(names, 1), list[str]()
    renamed: list[str] = []
    for name in names:
        number = next_number[name]
        new = name if number == 1 else ""
        while not new:
            tried = f"{name} ({number})"
            new = "" if tried in taken else tried
            number += not new
        if new != name:
            taken.add(new)
            renamed.append(new)
        next_number[name] = number + 1
        out.append(new)
    if renamed:
        notes.append(
            f"{_counted(len(renamed))} of a name that was there before: "
            f"all are kept, the later ones with a number, as in “{renamed[0]}”."
        )
    return out


def _counted(n: int) -> str:
    return f"{n:,} sample" if n == 1 else f"{n:,} samples"
