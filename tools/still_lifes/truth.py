"""A rendered still life and what is true of it."""

from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["Rendered", "load_rendered", "save_rendered"]


@dataclass(frozen=True, eq=False)
class Rendered:
    """A picture with its truth, in linear sRGB primaries: rgb = reflectance·light + gloss.

    rgb: (rows, cols, 3) light as a camera sees it, 99.5th percentile the scene's exposure, about 1
    (highlights may lie above), not balanced away from the lamp unless the scene says so.
    reflectance: (rows, cols, 3) true diffuse reflectance. light: (rows, cols, 3) true diffuse
    irradiance/π on the scale of rgb, less what a coat turns away at a grazing view.
    gloss: (rows, cols, 3) mirrored light; metal, glass, flames and sky lie in it whole.
    objects: (rows, cols) int32, index into `names`. shadow: (rows, cols) 0-1, share of the key
    behind something (where a surface turns away from the key: behind another object).
    facing: (rows, cols) cosine to the key, ≤ 0 in form shadow.
    key: (3,) the key's colour, luminance 1; fill: (3,) mean colour of all other light (second
    lamps, sky, bounce), its luminance relative to what the key gives at the table's middle.
    valid: (rows, cols) bool, where reflectance and light are true: not metal, glass, flame or sky.
    """

    rgb: NDArray[np.float32]
    reflectance: NDArray[np.float32]
    light: NDArray[np.float32]
    gloss: NDArray[np.float32]
    objects: NDArray[np.int32]
    names: tuple[str, ...]
    shadow: NDArray[np.float32]
    facing: NDArray[np.float32]
    key: NDArray[np.float64]
    fill: NDArray[np.float64]
    valid: NDArray[np.bool_]


def save_rendered(path: Path, rendered: Rendered, made_of: str) -> None:
    """Write a picture's arrays to an .npz file; half precision would band, so float32 stays."""
    path.parent.mkdir(parents=True, exist_ok=True)
    arrays: dict[str, Any] = {f.name: getattr(rendered, f.name) for f in fields(Rendered)}
    part = path.with_name(path.stem + ".part.npz")
    np.savez_compressed(part, made_of=np.array(made_of), **arrays)
    part.replace(path)


def load_rendered(path: Path, made_of: str) -> Rendered | None:
    """The picture in a file written for the same scene; None when there is none."""
    if not path.exists():
        return None
    with np.load(path) as found:
        if str(found["made_of"]) != made_of:
            return None
        arrays = {f.name: found[f.name] for f in fields(Rendered)}
    arrays["names"] = tuple(str(n) for n in arrays["names"])
    return Rendered(**arrays)
