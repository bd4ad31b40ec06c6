"""The still lifes by name, kept on disk once drawn."""

from collections.abc import Callable
from pathlib import Path
from typing import Final

from still_lifes import scenes_apart, scenes_more, scenes_tuned
from still_lifes.render import made_of, render
from still_lifes.scene import Scene
from still_lifes.truth import Rendered, load_rendered, save_rendered

__all__ = ["KEPT_APART", "NAMES", "PAINTERS_CASES", "STORE", "TUNING", "rendered", "scene"]

STORE: Final = Path(__file__).parents[2] / ".cache" / "still_lifes"
WIDTH: Final = 320

_TUNED: Final[dict[str, Callable[[], Scene]]] = {
    name: getattr(room, name) for room in (scenes_tuned, scenes_more) for name in room.__all__
}
_APART: Final[dict[str, Callable[[], Scene]]] = {
    name: getattr(scenes_apart, name) for name in scenes_apart.__all__
}
TUNING: Final = tuple(_TUNED)
KEPT_APART: Final = tuple(_APART)
NAMES: Final = TUNING + KEPT_APART
# What a painter meets: which picture, and which things in it.
PAINTERS_CASES: Final[dict[str, tuple[str, tuple[str, ...]]]] = {
    "white jug": ("white_jug", ("jug",)),
    "black enamel kettle": ("black_kettle", ("kettle",)),
    "brass": ("brass", ("bowl",)),
    "glass": ("glass_bottle", ("bottle",)),
    "linen": ("linen", ("cloth",)),
    "fur": ("fur_hat", ("hat", "fur")),
    "petals": ("petals", ("pink flower", "white flower")),
    "foliage": ("foliage", ("leaves 1", "leaves 2", "leaves 3")),
    "overcast sky": ("overcast", ("sky",)),
}


def scene(name: str) -> Scene:
    """The set-up of that name; KeyError when there is none."""
    return {**_TUNED, **_APART}[name]()


def rendered(name: str, width: int = WIDTH) -> Rendered:
    """The picture of that name, `width` px wide, from disk; drawn now and kept if need be."""
    return _kept(name, scene(name), width)


def _kept(name: str, made: Scene, width: int) -> Rendered:
    path = STORE / (f"{name}.npz" if width == WIDTH else f"{name}-{width}.npz")
    mark = made_of(made, width)
    found = load_rendered(path, mark)
    if found is None:
        found = render(made, width)
        save_rendered(path, found, mark)
    return found
