"""The value pattern: a picture as a few big masses of light, middle and dark.

Lightness is squinted at, parted into three to five tones where its histogram parts best
[Liao2001], and what is smaller than a mass joins what is round it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.filters import threshold_multiotsu

from firstwash.arrays import FloatArray
from firstwash.errors import RequestError
from firstwash.language import listed, mark, tr, tr_count
from firstwash.optics.observer import lab_to_srgb8
from firstwash.picture.places import heart, place_words, share_words
from firstwash.picture.studies import squinted_lightness, without_islets

__all__ = ["TONES", "Mass", "ValuePattern", "value_pattern"]

multiotsu: Any = threshold_multiotsu  # carries no types
TONES: Final = (3, 5)
# Own judgement, by looking at photos; no source.
SQUINT: Final = 0.55  # half shut
LEAST: Final = 0.012  # of the picture: a smaller piece is detail, no mass
WIDTH: Final = 400  # pixels; masses have no finer borders
BINS: Final = 128
ONE_VALUE: Final = 6.0  # L* of spread below which a picture has one value and no pattern

NAMES: Final = {
    1: ("one value",),
    2: (mark("dark"), mark("light")),
    3: ("dark", mark("middle"), "light"),
    4: ("dark", mark("middle dark"), mark("middle light"), "light"),
    5: (mark("darkest"), "dark", "middle", "light", mark("lightest")),
}
COUNTS: Final = (
    mark("two"),
    mark("three"),
    mark("four"),
    mark("five"),
    mark("six"),
    mark("seven"),
    mark("eight"),
    mark("nine"),
)


@dataclass(frozen=True)
class Mass:
    """One connected mass. tone: 0 darkest …; share: of the picture, 0-1; x, y: its heart, 0-1."""

    tone: int
    share: float
    x: float
    y: float


@dataclass(frozen=True, eq=False)
class ValuePattern:
    """A picture in big masses.

    tones: (rows, cols) 0 darkest …, at most 400 px wide. lightness: mean L* of each tone. shares:
    of the picture, 0-1, of each tone. masses: the largest first. words: one or two sentences.
    """

    tones: NDArray[np.uint8]
    lightness: tuple[float, ...]
    shares: tuple[float, ...]
    masses: tuple[Mass, ...]
    words: str

    @property
    def names(self) -> tuple[str, ...]:
        """What the tones are called, the darkest first."""
        return NAMES[len(self.shares)]

    def picture(self) -> NDArray[np.uint8]:
        """uint8 sRGB (rows, cols, 3): each tone as the grey of its mean lightness."""
        labs = np.zeros((len(self.lightness), 3))
        labs[:, 0] = self.lightness
        return np.asarray(lab_to_srgb8(labs)[self.tones])


def value_pattern(lightness: FloatArray, tones: int = 3) -> ValuePattern:
    """The masses of L* (rows, cols) in 3 to 5 tones; fewer where it has no more.

    Raises RequestError for another number of tones.
    """
    if not TONES[0] <= tones <= TONES[1]:
        raise RequestError(f"A value pattern has {TONES[0]} to {TONES[1]} tones.")
    plane = _small(np.asarray(lightness, dtype=np.float32))
    soft = squinted_lightness(plane, SQUINT)
    found = _parted(soft, tones)
    found = without_islets(found, LEAST * found.size)
    kept, index = np.unique(found, return_inverse=True)
    labels = index.reshape(found.shape).astype(np.uint8)
    counts = np.bincount(labels.ravel(), minlength=len(kept))
    mean = np.bincount(labels.ravel(), plane.ravel()) / counts
    shares = tuple((counts / labels.size).tolist())
    masses = _masses(labels)
    return ValuePattern(labels, tuple(mean.tolist()), shares, masses, _told(shares, masses))


def _small(plane: NDArray[np.float32]) -> NDArray[np.float32]:
    rows, cols = plane.shape
    if cols <= WIDTH:
        return plane
    size = (WIDTH, max(1, round(rows * WIDTH / cols)))
    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_AREA), dtype=np.float32)


def _parted(soft: NDArray[np.float32], tones: int) -> NDArray[np.int64]:
    spread = float(np.ptp(soft))
    if spread < ONE_VALUE:
        return np.zeros(soft.shape, dtype=np.int64)
    for classes in range(tones, 1, -1):
        try:
            # Each cut is the middle of the last bin below it.
            cuts = multiotsu(soft, classes=classes, nbins=BINS) + 0.5 * spread / BINS
        except ValueError:  # fewer values than tones
            continue
        return np.asarray(np.digitize(soft, cuts), dtype=np.int64)
    return np.zeros(soft.shape, dtype=np.int64)


def _masses(labels: NDArray[np.uint8]) -> tuple[Mass, ...]:
    rows, cols = labels.shape
    found = []
    for tone in np.unique(labels).tolist():
        mask = (labels == tone).astype(np.uint8)
        count, pieces, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
        for i in range(1, count):
            row, col = heart(pieces == i)
            share = float(stats[i, cv2.CC_STAT_AREA]) / labels.size
            found.append(Mass(tone, share, (col + 0.5) / cols, (row + 0.5) / rows))
    return tuple(sorted(found, key=lambda m: -m.share))


def _told(shares: tuple[float, ...], masses: tuple[Mass, ...]) -> str:
    if len(shares) == 1:
        return tr(
            "Squinted at, this picture is one value all over: the pattern must come from colour."
        )
    names = [tr(name) for name in NAMES[len(shares)]]
    order = np.argsort(-np.asarray(shares), kind="stable").tolist()
    told = [tr("{share} {tone}", share=share_words(shares[t]), tone=names[t]) for t in order]
    parts = tr("Squinted at, it is {parts}.", parts=listed(told))
    return f"{parts} {_mass_told(0, names, masses)} {_mass_told(len(names) - 1, names, masses)}"


def _mass_told(tone: int, names: Sequence[str], masses: tuple[Mass, ...]) -> str:
    own = [m for m in masses if m.tone == tone]
    return tr_count(
        "The {tone} is one mass, {place}.",
        "The {tone} lies in {number} masses, the largest {place}.",
        len(own),
        tone=names[tone],
        number=_number(len(own)),
        place=place_words(own[0].x, own[0].y),
    )


def _number(n: int) -> str:
    return tr(COUNTS[n - 2]) if 2 <= n < len(COUNTS) + 2 else str(n)
