"""Warm and cool turns: how the light's colour moves across a form, from lit side into shadow.

Four stations: the light, the halftone where the form turns, the shadow, and reflected light if
there is any. At each the mean light and the mean seen colour are told, and from one to the next
whether it gets warmer or cooler.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, triple
from firstwash.light.highlights import Highlights
from firstwash.light.lamp_words import warmth_of
from firstwash.light.shadows import Shadows
from firstwash.light.split import LightSplit
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab

__all__ = ["STATIONS", "TURNS", "Station", "Turn", "turn_of"]

Name = Literal["light", "halftone", "shadow", "reflected"]
STATIONS: Final[tuple[Name, ...]] = ("light", "halftone", "shadow", "reflected")
LEAST_SHARE: Final = 0.02  # of the area; a smaller station is not told
TURNS: Final = 5.0  # b* + a*/2 of white in the light, from which a painter would notice a turn
LEANS: Final = 6.0  # and from which a light is called warm or cool by itself
HALFTONE: Final = (0.35, 0.8)  # belief in light within which the form turns


@dataclass(frozen=True)
class Station:
    """One part of the way across a form.

    share: of the area, 0-1. light: mean light, linear sRGB. seen: CIELAB of the mean seen colour.
    warmth: b* + a*/2 of white in that light; above 0 warm.
    """

    name: Name
    share: float
    light: tuple[float, float, float]
    seen: tuple[float, float, float]
    warmth: float


@dataclass(frozen=True)
class Turn:
    """The way from light to shadow. by: warmth of the shadow less the light's, None where one is
    missing. words: "turns from warm light to cool shadow". sure: 0-1.
    """

    stations: tuple[Station, ...]
    by: float | None
    words: str
    sure: float

    def station(self, name: Name) -> Station | None:
        """The station of that name, if it was found."""
        return next((s for s in self.stations if s.name == name), None)


def station_weights(shadows: Shadows, highlights: Highlights) -> NDArray[np.float32]:
    """(rows, cols, 4): how far each place belongs to each of `STATIONS`; gloss belongs to none."""
    lit, low, high = shadows.lit, *HALFTONE
    light = np.clip((lit - high) / 0.1 + 0.5, 0.0, 1.0)
    dark = np.clip((low - lit) / 0.1 + 0.5, 0.0, 1.0)
    half = np.clip(1.0 - light - dark, 0.0, 1.0)
    back = dark * highlights.reflected
    told = np.stack([light, half, dark - back, back], axis=-1)
    return np.asarray(told * (1.0 - highlights.gloss)[..., None], dtype=np.float32)


def turn_of(
    split: LightSplit,
    shadows: Shadows,
    highlights: Highlights,
    mask: NDArray[np.bool_] | None = None,
) -> Turn:
    """The turn over a form, or over the whole picture.

    mask: (rows, cols) where the form is; None is everywhere.
    """
    where = slice(None) if mask is None else mask.ravel()
    weights = station_weights(shadows, highlights).reshape(-1, len(STATIONS))[where]
    light, local = (p.reshape(-1, 3)[where] for p in (split.light, split.local))
    share = weights.sum(axis=0) / max(len(weights), 1)
    sure = float(split.sure.ravel()[where].mean()) if len(weights) else 0.0
    lights = weights.T @ light / np.maximum(weights.sum(axis=0), 1e-6)[:, None]
    seen = weights.T @ (light * local) / np.maximum(weights.sum(axis=0), 1e-6)[:, None]
    return turn_from(share, lights, seen, sure)


def turn_from(share: FloatArray, lights: FloatArray, seen: FloatArray, sure: float) -> Turn:
    """A turn from the share (4,), mean light and mean seen light (4, 3) of each station."""
    stations = [
        Station(
            name, float(share[i]), triple(lights[i]),
            triple(xyz_to_lab(np.maximum(linear_srgb_to_xyz(seen[i]), 0.0))),
            warmth_of(lights[i]) if lights[i].min() > 0 else 0.0,
        )
        for i, name in enumerate(STATIONS)
        if share[i] >= LEAST_SHARE
    ]  # fmt: skip
    found = {s.name: s for s in stations}
    if "light" not in found or "shadow" not in found:
        only = "in the light" if "light" in found else "in the shadow"
        words = f"lies wholly {only}, without a turn" if stations else "is too small to tell"
        return Turn(tuple(stations), None, words, sure)
    by = found["shadow"].warmth - found["light"].warmth
    return Turn(tuple(stations), by, _words(found, by), sure)


def _lean(warmth: float) -> str:
    if abs(warmth) < LEANS:
        return "neutral"
    return "warm" if warmth > 0 else "cool"


def _words(found: dict[Name, Station], by: float) -> str:
    light, shadow = found["light"].warmth, found["shadow"].warmth
    back = found.get("reflected")
    end = ""
    if back is not None and abs(back.warmth - shadow) >= TURNS:
        end = f", with {'warmer' if back.warmth > shadow else 'cooler'} reflected light"
    if abs(by) < TURNS:
        return f"keeps its {_lean(light)} light into the shadow{end}"
    one, other = _lean(light), _lean(shadow)
    if one == other:
        other = "warmer" if by > 0 else "cooler"
    return f"turns from {one} light to {other} shadow{end}"
