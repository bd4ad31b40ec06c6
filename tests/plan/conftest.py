"""Benches and photos the planner's tests share."""

import io
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from PIL import Image
from skimage import data
from sklearn.datasets import load_sample_image

from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.load import load_photo
from firstwash.picture.reference import Reference, lay_on_sheet
from firstwash.picture.sheet import crop_box, parse_sheet
from firstwash.plan.bench import Bench
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits
from firstwash.plan.puddles import Mixing, drop_idle_coats, share_puddles
from firstwash.plan.result import Plan
from firstwash.plan.spots import Spots, photo_spots
from firstwash.plan.stacks import Stack, prune, solve_stack
from firstwash.plan.washes import share_washes
from firstwash.usecases import Wishes, plan_photo


@pytest.fixture(scope="session")
def box() -> Bench:
    """Every measured paint, black and white included, on the paper they were painted on."""
    return Bench.of(load_set("measured-all").paints, default_paper())


@pytest.fixture(scope="session")
def palette(box: Bench) -> Bench:
    """Six of them that span the colour circle: yellow, two earths, red, two blues."""
    keys = [p.key for p in load_set("measured-all").paints]
    wanted = ("lemon-yellow", "PBr7-raw", "PBr7-burnt", "PR83", "PB29", "PB27")
    return box.only([keys.index(k) for k in wanted])


def _photo(name: str) -> np.ndarray:
    return load_sample_image("flower.jpg") if name == "flower" else getattr(data, name)()


@pytest.fixture(scope="session")
def photo_png() -> Callable[[str], bytes]:
    """Photos that test libraries carry, as PNG: coffee and chelsea (scikit-image), flower."""

    def png(name: str) -> bytes:
        out = io.BytesIO()
        Image.fromarray(_photo(name)).save(out, "png")
        return out.getvalue()

    return png


@pytest.fixture(scope="session")
def on_sheet(photo_png: Callable[[str], bytes]) -> Callable[..., Reference]:
    """One of those photos on a sheet that lies as the photo does."""

    def lay(name: str, size: str = "28x38cm") -> Reference:
        rows, cols = _photo(name).shape[:2]
        sheet = parse_sheet(size).oriented_for(cols, rows)
        return lay_on_sheet(load_photo(photo_png(name), crop=crop_box(cols, rows, sheet)), sheet)

    return lay


@pytest.fixture(scope="session")
def painterly() -> Callable[[np.random.Generator, int], np.ndarray]:
    """Colours (levels, 3) such as one shape of a picture has, light to dark.

    One hue that drifts, lightness falling from a light or a middle tone, chroma that a
    surface has: most below 40.
    """

    def colours(rng: np.random.Generator, levels: int) -> np.ndarray:
        top = rng.uniform(55.0, 92.0)
        light = np.sort(rng.uniform(22.0, top, levels))[::-1]
        light[0] = top
        hue = rng.uniform(0.0, 2.0 * np.pi) + rng.normal(0.0, 0.15, levels)
        chroma = np.minimum(rng.gamma(2.0, 9.0), 45.0) * rng.uniform(0.7, 1.2, levels)
        return np.column_stack([light, chroma * np.cos(hue), chroma * np.sin(hue)])

    return colours


def _blocks() -> bytes:
    """A synthetic photo: a pale and a dark half of yellow, blue and red each, all flat."""
    tints = [(245, 225, 150), (190, 205, 235), (240, 190, 180)]
    darks = [(160, 110, 30), (50, 70, 120), (150, 40, 40)]
    picture = np.zeros((180, 240, 3), dtype=np.uint8)
    for i, (tint, dark) in enumerate(zip(tints, darks, strict=True)):
        picture[:, 80 * i : 80 * i + 80] = tint
        picture[70:160, 80 * i + 10 : 80 * i + 70] = dark
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "png")
    return out.getvalue()


@pytest.fixture(scope="session")
def block_plan() -> Plan:
    """A small plan of flat blocks of colour."""
    limits = Limits(shapes=12, washes=16, puddles=8)
    return plan_photo(_blocks(), Wishes(sheet="12x9cm", limits=limits)).plan


@pytest.fixture(scope="session")
def coffee_plan(photo_png: Callable[[str], bytes]) -> Plan:
    """A small plan of a photo."""
    limits = Limits(shapes=30, washes=25)
    return plan_photo(photo_png("coffee"), Wishes(sheet="15x10cm", limits=limits)).plan


@dataclass(frozen=True, eq=False)
class Shared:
    """A small plan as the solver leaves it, with its washes shared, and what it was made from."""

    reference: Reference
    plan: Plan
    bench: Bench
    stacks: list[Stack]
    mixing: Mixing
    spots: Spots

    @property
    def cells(self) -> int:
        return self.plan.cells.count


@pytest.fixture(scope="session")
def shared(on_sheet: Callable[..., Reference]) -> Shared:
    """coffee on a postcard: 40 shapes, 8 puddles, 20 washes, three layers."""
    reference = on_sheet("coffee", "14x19cm")
    limits = Limits(layers=3, shapes=40, puddles=8, washes=20)
    plan = make_plan(reference, load_set("starter").paints, limits)
    bench = Bench.of(plan.paints, plan.paper)
    areas = plan.cells.areas_mm2()
    stacks = []
    for shape in range(plan.cells.shapes):
        own = np.flatnonzero(plan.cells.shape_of == shape)
        found = solve_stack(bench, shape, own, plan.aims[own], areas[own], limits.layers)
        stacks.append(prune(bench, found, limits.paints_per_puddle))
    stacks, mixing = drop_idle_coats(bench, stacks, share_puddles(bench, stacks, 8, 3))
    stacks, mixing = share_washes(bench, stacks, mixing, 20, 3)
    return Shared(reference, plan, bench, stacks, mixing, photo_spots(plan.cells, reference, 4))
