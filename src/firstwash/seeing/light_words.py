"""What the split of light and local colour says of a picture, in words and numbers."""

from dataclasses import dataclass

import numpy as np

from firstwash.light.study import LightStudy
from firstwash.optics.observer import linear_srgb_to_xyz
from firstwash.plan.local_first import SURE

__all__ = ["LightTold", "light_words"]


@dataclass(frozen=True)
class LightTold:
    """sentences: for reading; numbers: (what, how much) for those who ask."""

    sentences: tuple[str, ...]
    numbers: tuple[tuple[str, str], ...]


def light_words(light: LightStudy) -> LightTold:
    """How light and local colour part in a picture, and how sure that is."""
    split = light.split
    luminance = linear_srgb_to_xyz(split.light)[..., 1]
    high, low = (float(np.quantile(luminance, q)) for q in (0.95, 0.05))
    ratio = high / max(low, 1e-6)
    sure = float(split.sure.mean())
    span = "The light is even: no place gets much more of it than another."
    if not light.shadows.even:
        times = "up to twice" if ratio < 2.0 else f"about {ratio:.0f} times"
        span = f"Lit places get {times} the light of the shadows."
    return LightTold(
        (f"{span} {_sure_told(sure)}", " ".join(light.words)),
        (
            ("light, brightest twentieth over darkest", f"{ratio:.1f}"),
            ("how sure, mean, 0 to 1", f"{sure:.2f}"),
            *light.numbers,
        ),
    )


def _sure_told(sure: float) -> str:
    if sure >= SURE[1]:
        return "Light and local colour part clearly in this photo."
    if sure >= SURE[0]:
        return (
            "What is light and what is paint can only be guessed in parts of this photo; look at "
            "own colours and light, each by itself, before you trust them."
        )
    return "This photo does not tell light from local colour; trust your own eyes here."
