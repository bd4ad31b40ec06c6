"""`plan.json`: everything in it can be recomputed from it alone, and its page tells all of it.

The recomputation uses numpy and the formulas of docs/reference/plan-json.md, nothing of ours.
"""

import json
import math
import re
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import fields
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from colour.difference import delta_E_CIE2000
from PIL import Image
from scipy.linalg import solve_banded

from firstwash.plan.document import plan_json
from firstwash.plan.local_first import TintChange
from firstwash.plan.problem import Limits
from firstwash.usecases import PhotoPlan, Wishes, plan_photo, write_plan

DOCS = Path(__file__).parents[2] / "docs" / "reference"
# The document keeps nine digits: half a unit in the ninth of L* up to 100, plus as much from
# curves and strengths that were rounded the same way.
ROUNDED = 1e-6


# --- plans to look at ------------------------------------------------------------


@pytest.fixture(scope="module")
def graded(
    photo_png: Callable[[str], bytes], tmp_path_factory: pytest.TempPathFactory
) -> tuple[PhotoPlan, Path]:
    """A small plan with few washes, a graded background and a focal area, and its folder."""
    folder = tmp_path_factory.mktemp("graded")
    mask = np.zeros((400, 600), dtype=np.uint8)
    mask[:120] = 255
    Image.fromarray(mask).save(folder / "mask.png")
    wishes = Wishes(
        sheet="12x18cm",
        paints="starter",
        limits=Limits(puddles=8, washes=40),
        background="graded",
        background_mask=folder / "mask.png",
        focal=(0.3, 0.3, 0.4, 0.4),
    )
    result = plan_photo(photo_png("coffee"), wishes)
    write_plan(result, folder / "plan")
    return result, folder / "plan"


@pytest.fixture(scope="module")
def free(
    photo_png: Callable[[str], bytes], tmp_path_factory: pytest.TempPathFactory
) -> tuple[PhotoPlan, Path]:
    """A small plan with measured paints, six layers and as many puddles as it likes."""
    folder = tmp_path_factory.mktemp("free")
    limits = Limits(layers=6, puddles=None, paints_per_puddle=4)
    wishes = Wishes(sheet="9x13cm", paints="measured", limits=limits)
    result = plan_photo(photo_png("chelsea"), wishes)
    write_plan(result, folder / "plan")
    return result, folder / "plan"


@pytest.fixture(params=["graded", "free"])
def written(request: pytest.FixtureRequest) -> tuple[PhotoPlan, Path]:
    return request.getfixturevalue(request.param)


@pytest.fixture
def told(written: tuple[PhotoPlan, Path]) -> dict[str, Any]:
    """The document, read as any other program would."""
    return json.loads((written[1] / "plan.json").read_text("utf-8"))


# --- the formulas of the page ----------------------------------------------------


def slab(kx: np.ndarray, sx: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    w = np.sqrt(kx * (kx + 2 * sx))
    h = np.sinh(w) / np.where(w > 0, w, 1.0)
    h[w == 0] = 1.0
    d = (kx + sx) * h + np.cosh(w)
    return sx * h / d, 1 / d


def over(layer: tuple[np.ndarray, np.ndarray], ground: np.ndarray) -> np.ndarray:
    r, t = layer
    return r + t**2 * ground / (1 - r * ground)


class Recomputed:
    """Colours worked out from the document's paper, light, paints and puddles."""

    def __init__(self, told: dict[str, Any], gain: dict[str, np.ndarray] | None = None) -> None:
        """gain: (2, 36) factors on k and on s, by paint."""
        self.paper = told["paper"]
        k1, k2 = self.paper["k1"], self.paper["k2"]
        core = (np.array(self.paper["reflectance"]) - k1) / (1 - k1)
        self.ground = np.clip(core / (1 - k2 + k2 * core), 1e-4, 1.0)
        self.fibre_s = self.paper["fibre_scattering"]
        self.fibre_k = self.fibre_s * (1 - self.ground) ** 2 / (2 * self.ground)
        self.weights = np.array(told["light"]["weights"])
        gains = gain or {}
        paints = {p["key"]: p for p in told["paints"]}
        self.curves = {}
        for puddle in told["puddles"]:
            self.curves[puddle["name"]] = tuple(
                sum(
                    part["amount"]
                    * (gains[part["paint"]][row] if part["paint"] in gains else 1.0)
                    * np.array(paints[part["paint"]][curve])
                    for part in puddle["parts"]
                )
                for row, curve in enumerate(("k", "s"))
            )

    def after(self, coats: list[tuple[str, float]]) -> np.ndarray:
        """CIELAB (coats + 1, 3) of puddles at strengths, bottom to top."""
        shown = [self.ground]
        for i, (puddle, strength) in enumerate(coats):
            kx, sx = (strength * curve for curve in self.curves[puddle])
            if i == 0:
                p = self.paper["soak"]
                sunk = over(slab(p * kx + self.fibre_k, p * sx + self.fibre_s), self.ground)
                shown.append(over(slab((1 - p) * kx, (1 - p) * sx), sunk))
            else:
                shown.append(over(slab(kx, sx), shown[-1]))
        inside = np.array(shown)
        k1, k2 = self.paper["k1"], self.paper["k2"]
        seen = k1 + (1 - k1) * (1 - k2) * inside / (1 - k2 * inside)
        return self.lab(seen @ self.weights)

    def pixels(self, amounts: np.ndarray, told: dict[str, Any]) -> np.ndarray:
        """XYZ (n, 3) of amounts (layers, n, paints) laid layer by layer."""
        k = np.array([p["k"] for p in told["paints"]])
        s = np.array([p["s"] for p in told["paints"]])
        inside = np.broadcast_to(self.ground, (amounts.shape[1], len(self.ground)))
        before = np.zeros((amounts.shape[1], 1))
        soak = self.paper["soak"]
        for layer in amounts:
            kx, sx = layer @ k, layer @ s
            first = np.maximum(1 - before / 0.002, 0)
            sunk = over(slab(soak * kx + self.fibre_k, soak * sx + self.fibre_s), inside)
            sunk = over(slab((1 - soak) * kx, (1 - soak) * sx), sunk)
            laid = first * sunk + (1 - first) * over(slab(kx, sx), inside)
            depth = (kx + sx).mean(axis=1, keepdims=True)
            inside = np.where(depth > 1e-9, laid, inside)
            before = before + depth
        k1, k2 = self.paper["k1"], self.paper["k2"]
        return (k1 + (1 - k1) * (1 - k2) * inside / (1 - k2 * inside)) @ self.weights

    def lab(self, xyz: np.ndarray) -> np.ndarray:
        v = xyz / self.weights.sum(axis=0)
        f = np.where(v > (6 / 29) ** 3, np.cbrt(v), v * (29 / 6) ** 2 / 3 + 4 / 29)
        return np.column_stack(
            [116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])]
        )

    def stages(self, told: dict[str, Any], cell: dict[str, Any]) -> np.ndarray:
        coats = cell["coats"]
        shown = self.after([(c["puddle"], c["strength"]) for c in coats])
        layers = range(len(told["layers"]) + 1)
        return shown[[sum(c["layer"] <= n for c in coats) for n in layers]]


def tone(told: dict[str, Any], light: float) -> float:
    f, c = told["tone"]["floor"], told["tone"]["ceiling"]
    m = min((c - f) / 54, 1)
    low, high = (f / 0.46, 100 - (100 - c) / 0.46) if m == 1 else (100 * f / (f + 100 - c),) * 2
    if light < low:
        return f + m * (0.08 * light + 0.46 * light**2 / low)
    if light > high:
        u = 100 - light
        return c - m * (0.08 * u + 0.46 * u**2 / (100 - high))
    return light


def step(lightness: float) -> int:
    return min(max(math.floor(lightness / 10) + 1, 1), 10)


# --- recomputing -----------------------------------------------------------------


def test_every_stage_of_every_cell_can_be_recomputed(told: dict[str, Any]) -> None:
    known = Recomputed(told)
    worst = 0.0
    for cell in told["cells"]:
        shown = known.stages(told, cell)
        assert shown.shape == np.shape(cell["stage_labs"])
        worst = max(worst, float(np.abs(shown - cell["stage_labs"]).max()))
    print(f"largest difference {worst:.1e} over {len(told['cells'])} cells")
    assert worst < ROUNDED


def test_swatches_and_value_steps_can_be_recomputed(told: dict[str, Any]) -> None:
    known = Recomputed(told)
    full = {p["key"]: p["full_coat"] for p in told["paints"]}
    for puddle in told["puddles"]:
        weakest, strongest = puddle["strength_range"]
        assert 0 < weakest <= strongest
        shown = [known.after([(puddle["name"], s)])[1] for s in (strongest, weakest)]
        np.testing.assert_allclose(shown, puddle["swatch_lab"], atol=ROUNDED)
        assert puddle["value_steps"] == [step(lab[0]) for lab in shown]
        load = sum(part["amount"] / full[part["paint"]] for part in puddle["parts"])
        assert load == pytest.approx(1.0, abs=1e-8)  # nine digits of up to six parts
        amounts = [part["amount"] for part in puddle["parts"]]
        assert amounts == sorted(amounts, reverse=True)


def factors(paint: dict[str, Any]) -> np.ndarray:
    """Rows (m, 72) of a paint's doubt, as the documentation says."""
    if paint["spread"] is not None:
        return np.array(paint["spread"])
    nm = np.arange(380, 731, 10)
    away = (nm[:, None] - nm[None]) / 60.0
    sigma = math.hypot(paint["sigma"], 0.3 * (paint["provenance"] == "measured"))
    values, ways = np.linalg.eigh(sigma**2 * (0.6 + 0.4 * np.exp(-0.5 * away**2)))
    values, ways = values[::-1], ways[:, ::-1]
    count = int(np.searchsorted(np.cumsum(values), 0.995 * values.sum())) + 1
    rows = (ways[:, :count] * np.sqrt(values[:count])).T
    return np.block([[rows, 0 * rows], [0 * rows, rows]])


def test_doubts_can_be_recomputed(told: dict[str, Any]) -> None:
    plain = Recomputed(told)
    step = 1e-4  # x is of order one: error of the slope near 1e-4 of itself
    moved = [
        Recomputed(told, {p["key"]: np.exp(step * f.reshape(2, 36))})
        for p in told["paints"]
        for f in factors(p)
    ]
    for cell in told["cells"][::23]:
        coats = [(c["puddle"], c["strength"]) for c in cell["coats"]]
        here = np.array(plain.after(coats)[-1])
        ways = [(np.array(m.after(coats)[-1]) - here) / step for m in moved]
        shifts = [float(delta_E_CIE2000(here + way, here)) for way in ways]
        assert cell["doubt"] == pytest.approx(math.hypot(*shifts), rel=2e-3, abs=1e-3)


def test_ranges_can_be_recomputed(told: dict[str, Any]) -> None:
    plain, step = Recomputed(told), 1e-4
    moved = [
        Recomputed(told, {p["key"]: np.exp(step * f.reshape(2, 36))})
        for p in told["paints"]
        for f in factors(p)
    ]

    def ends(coats: list[tuple[str, float]]) -> list[float]:
        here = plain.after(coats)[-1][0]
        ways = [(m.after(coats)[-1][0] - here) / step for m in moved]
        reach = 1.6449 * math.sqrt(sum(w * w for w in ways) + len(coats))
        return [max(here - reach, 0.0), min(here + reach, 100.0)]

    for cell in told["cells"][::23]:
        if coats := [(c["puddle"], c["strength"]) for c in cell["coats"]]:
            # two digits, and first differences over a step of 1e-4
            np.testing.assert_allclose(cell["l_90"], ends(coats), atol=0.02)
    for puddle in told["puddles"]:
        for strength, told_ends in zip(
            reversed(puddle["strength_range"]), puddle["swatch_l_90"], strict=True
        ):
            found = ends([(puddle["name"], strength)])
            np.testing.assert_allclose(told_ends, found, atol=0.02)


def test_targets_are_the_tone_mapped_photo(told: dict[str, Any]) -> None:
    for cell in told["cells"]:
        light, a, b = cell["photo_lab"]
        expected = [tone(told, light), a, b]
        np.testing.assert_allclose(cell["target_lab"], expected, atol=ROUNDED)


# --- layers, washes, cells and files agree ---------------------------------------


def test_washes_are_the_coats_of_their_cells(told: dict[str, Any]) -> None:
    laid = {}
    for layer in told["layers"]:
        for wash in layer["washes"]:
            for cell in wash["cells"]:
                key = (cell, layer["number"])
                assert key not in laid  # nobody paints twice on wet paper
                laid[key] = wash
    coats = {
        (i, coat["layer"]): coat for i, cell in enumerate(told["cells"]) for coat in cell["coats"]
    }
    assert laid.keys() == coats.keys()
    for key, coat in coats.items():
        wash = laid[key]
        assert coat["puddle"] == wash["puddle"]
        ends = [s for s in (wash["strength"], wash["end_strength"]) if s is not None]
        # A graded wash's strips lie between its ends, nine digits kept of each.
        assert min(ends) * (1 - 1e-8) <= coat["strength"] <= max(ends) * (1 + 1e-8)


def test_washes_are_numbered_in_painting_order_and_sum_up_their_cells(
    told: dict[str, Any],
) -> None:
    known, cells = Recomputed(told), told["cells"]
    for n, layer in enumerate(told["layers"], 1):
        assert layer["number"] == n
        assert [w["number"] for w in layer["washes"]] == list(range(1, len(layer["washes"]) + 1))
        steps = told["schedule"]["steps"][n - 1]
        laid = [w for s in steps if s["action"] == "paint" for w in s["washes"]]
        assert laid == [w["number"] for w in layer["washes"]]
        for wash in layer["washes"]:
            areas = np.array([cells[i]["area_mm2"] for i in wash["cells"]])
            assert wash["area_mm2"] == pytest.approx(areas.sum(), rel=1e-8)
            for name, stage in (("lab_before", n - 1), ("lab_after", n)):
                labs = np.array([cells[i]["stage_labs"][stage] for i in wash["cells"]])
                np.testing.assert_allclose(wash[name], areas @ labs / areas.sum(), atol=ROUNDED)
            strongest = max(s for s in (wash["strength"], wash["end_strength"]) if s is not None)
            stroke = known.after([(wash["puddle"], strongest)])[1]
            np.testing.assert_allclose(wash["stroke_lab"], stroke, atol=ROUNDED)
            assert wash["value_step"] == step(stroke[0])


def test_a_wait_names_washes_laid_before_and_after_it(told: dict[str, Any]) -> None:
    for steps in told["schedule"]["steps"]:
        done: set[int] = set()
        for taken in steps:
            if taken["action"] == "wait":
                assert set(taken["washes"]) <= done
                assert not set(taken["before"]) & done
                assert taken["minutes"] > 0
            else:
                done |= set(taken["washes"])


def test_what_is_dropped_in_follows_its_host(told: dict[str, Any]) -> None:
    for layer in told["layers"]:
        for before, wash in zip([None, *layer["washes"]], layer["washes"], strict=False):
            assert wash["into"] is None or (
                layer["number"] == 1 and before is not None and before["number"] == wash["into"]
            )


def test_edges_of_washes_are_the_edges_of_their_cells(told: dict[str, Any]) -> None:
    for layer in told["layers"]:
        for wash in layer["washes"]:
            own = set(wash["cells"])
            lengths = {"hard": 0.0, "soft": 0.0, "lost": 0.0}
            for edge in told["edges"]:
                if len(own & set(edge["between"])) == 1:
                    lengths[edge["kind"]] += edge["length_mm"]
            assert wash["edges_mm"] == pytest.approx(lengths, rel=1e-6, abs=1e-6)


def spread(told: dict[str, Any], fields: np.ndarray, edges: np.ndarray, least: float) -> np.ndarray:
    """Fields (rows, cols, n) run softly together: implicit steps, rows before columns."""
    rows, cols, _ = fields.shape
    ppmm = cols / told["sheet"]["width_mm"]
    sigma = np.maximum(edges[..., 0] * 0.05, least) * ppmm
    across = np.minimum(sigma[:, 1:], sigma[:, :-1]) ** 2 / 2 / 4
    down = np.minimum(sigma[1:], sigma[:-1]) ** 2 / 2 / 4
    across[edges[:, :-1, 1] == 255] = 0
    down[edges[:-1, :, 2] == 255] = 0
    out = fields.astype(float)
    for _ in range(4):
        out = np.stack([solved(out[i], across[i]) for i in range(rows)])
        out = np.stack([solved(out[:, j], down[:, j]) for j in range(cols)], axis=1)
    return out


def solved(line: np.ndarray, link: np.ndarray) -> np.ndarray:
    bands = np.ones((3, len(line)))
    bands[0, 1:], bands[2, :-1] = -link, -link
    bands[0, 0] = bands[2, -1] = 0.0
    bands[1, :-1] += link
    bands[1, 1:] += link
    return solve_banded((1, 1), bands, line)


def test_the_sheet_can_be_repainted_pixel_by_pixel(
    written: tuple[PhotoPlan, Path], told: dict[str, Any]
) -> None:
    """From plan.json and two of its pictures; softness is kept there in steps of 0.05 mm."""
    result, folder = written
    index = np.asarray(Image.open(folder / told["files"]["cells"])).astype(int)
    edges = np.asarray(Image.open(folder / told["files"]["edges"])).astype(float)
    known, paints = Recomputed(told), [p["key"] for p in told["paints"]]
    recipes = {}
    for puddle in told["puddles"]:
        held = {p["paint"]: p["amount"] for p in puddle["parts"]}
        recipes[puddle["name"]] = np.array([held.get(k, 0.0) for k in paints])
    layers = len(told["layers"])
    amounts = np.zeros((len(told["cells"]), layers, len(paints)))
    for cell, row in zip(told["cells"], amounts, strict=True):
        for coat in cell["coats"]:
            row[coat["layer"] - 1] += coat["strength"] * recipes[coat["puddle"]]
    field = np.stack(
        [spread(told, amounts[:, n][index], edges, 0.0 if n else 3.0) for n in range(layers)]
    )
    seen = known.pixels(field[:, ::7, ::5].reshape(layers, -1, len(paints)), told)
    ours = result.plan.washes_xyz[-1][::7, ::5].reshape(-1, 3)
    # float32 fields, and softness rounded by up to 0.025 mm, which moves a few edges a little
    assert np.abs(seen - ours).mean() < 5e-4
    assert np.quantile(np.abs(seen - ours), 0.99) < 5e-3


def test_puddles_sum_up_their_washes(told: dict[str, Any]) -> None:
    keys = {p["key"] for p in told["paints"]}
    washes = [w for layer in told["layers"] for w in layer["washes"]]
    assert {w["puddle"] for w in washes} == {p["name"] for p in told["puddles"]}
    for puddle in told["puddles"]:
        own = [w for w in washes if w["puddle"] == puddle["name"]]
        assert puddle["area_mm2"] == pytest.approx(sum(w["area_mm2"] for w in own), rel=1e-8)
        strengths = [s for w in own for s in (w["strength"], w["end_strength"]) if s is not None]
        assert puddle["strength_range"] == [min(strengths), max(strengths)]
        assert {part["paint"] for part in puddle["parts"]} <= keys
        assert len(puddle["parts"]) <= told["limits"]["paints_per_puddle"]


def picture(folder: Path, name: str) -> np.ndarray:
    return cv2.imread(str(folder / name), cv2.IMREAD_UNCHANGED)


def test_masks_on_disk_show_where_the_washes_go(
    written: tuple[PhotoPlan, Path], told: dict[str, Any]
) -> None:
    folder = written[1]
    index = picture(folder, told["files"]["cells"])
    assert index.dtype == np.uint16
    assert set(np.unique(index)) == set(range(len(told["cells"])))
    pixel = told["sheet"]["width_mm"] * told["sheet"]["height_mm"] / index.size
    areas = np.bincount(index.ravel()) * pixel
    # Pixels are square only to within the rounding of the working size to whole pixels.
    np.testing.assert_allclose([c["area_mm2"] for c in told["cells"]], areas, rtol=0.01)
    for layer in told["layers"]:
        numbers = np.zeros(len(told["cells"]), dtype=int)
        for wash in layer["washes"]:
            numbers[wash["cells"]] = wash["number"]
        shown = picture(folder, told["files"]["washes"][layer["number"] - 1])
        np.testing.assert_array_equal(shown, numbers[index])
        assert layer["mask"] == told["files"]["masks"][layer["number"] - 1]
        mask = picture(folder, layer["mask"])
        np.testing.assert_array_equal(mask > 0, numbers[index] > 0)


def test_washes_tell_their_shapes_and_separate_areas(
    written: tuple[PhotoPlan, Path], told: dict[str, Any]
) -> None:
    index = picture(written[1], told["files"]["cells"])
    for layer in told["layers"]:
        for wash in layer["washes"]:
            shapes = sorted({told["cells"][i]["shape"] for i in wash["cells"]})
            assert wash["shapes"] == shapes
            laid = np.isin(index, wash["cells"]).astype(np.uint8)
            parts = cv2.connectedComponents(laid, connectivity=8)[0] - 1
            apart = cv2.connectedComponents(laid, connectivity=4)[0] - 1
            assert parts <= wash["areas"] <= apart  # corners that touch may count either way


def test_every_file_is_there(written: tuple[PhotoPlan, Path], told: dict[str, Any]) -> None:
    folder = written[1]
    names: list[str] = []
    for value in told["files"].values():
        names += value if isinstance(value, list) else [value]
    assert all((folder / name).is_file() for name in names)
    assert len(told["files"]["stages"]) == len(told["layers"]) + 1
    left, top, width, height = told["photo"]["crop"]
    assert left + width <= told["photo"]["width"]
    assert top + height <= told["photo"]["height"]


# --- bytes -----------------------------------------------------------------------


def test_the_same_plan_gives_the_same_bytes(written: tuple[PhotoPlan, Path]) -> None:
    plan, data = written[0].plan, (written[1] / "plan.json").read_bytes()
    told = json.loads(data)
    again = plan_json(plan, told["files"], told["photo"], told["focal"])
    assert again == data
    assert b"NaN" not in data
    assert b"Infinity" not in data


def test_a_document_can_stand_without_files(free: tuple[PhotoPlan, Path]) -> None:
    told = json.loads(plan_json(free[0].plan, {}, {}))
    assert told["files"] == {}
    assert [layer["mask"] for layer in told["layers"]] == [None] * 6


# --- schema and page -------------------------------------------------------------

SCHEMA: dict[str, Any] = json.loads((DOCS / "plan.schema.json").read_text("utf-8"))
KINDS: dict[str, tuple[type, ...]] = {
    "object": (dict,), "array": (list,), "string": (str,), "number": (int, float),
    "integer": (int,), "boolean": (bool,), "null": (type(None),),
}  # fmt: skip
UNDERSTOOD = {
    "$schema", "title", "description", "$defs", "$ref", "type", "const", "enum", "properties",
    "required", "additionalProperties", "items", "minItems", "maxItems", "minimum", "maximum",
}  # fmt: skip


def faults(value: Any, schema: dict[str, Any], at: str = "plan") -> Iterator[str]:
    """What is wrong with a value, by the part of JSON Schema 2020-12 that our schema uses."""
    assert schema.keys() <= UNDERSTOOD, schema.keys() - UNDERSTOOD
    if "$ref" in schema:
        yield from faults(value, SCHEMA["$defs"][schema["$ref"].removeprefix("#/$defs/")], at)
        return
    if "const" in schema and value != schema["const"]:
        yield f"{at} is not {schema['const']}"
    if "enum" in schema and value not in schema["enum"]:
        yield f"{at} is none of {schema['enum']}"
    if "type" in schema and not is_kind(value, schema["type"]):
        yield f"{at} is no {schema['type']}"
        return
    if isinstance(value, dict):
        yield from object_faults(value, schema, at)
    if isinstance(value, list):
        if not schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", len(value)):
            yield f"{at} has {len(value)} entries"
        for i, entry in enumerate(value):
            yield from faults(entry, schema.get("items", {}), f"{at}[{i}]")
    if isinstance(value, int | float) and not isinstance(value, bool):
        low, high = schema.get("minimum", value), schema.get("maximum", value)
        if not low <= value <= high:
            yield f"{at} = {value} is outside {low} to {high}"


def is_kind(value: Any, kinds: str | list[str]) -> bool:
    wanted = [kinds] if isinstance(kinds, str) else kinds
    if isinstance(value, bool):
        return "boolean" in wanted
    return any(isinstance(value, KINDS[kind]) for kind in wanted)


def object_faults(value: dict[str, Any], schema: dict[str, Any], at: str) -> Iterator[str]:
    known = schema.get("properties", {})
    for name in schema.get("required", []):
        if name not in value:
            yield f"{at} lacks {name}"
    for name, entry in value.items():
        if name in known:
            yield from faults(entry, known[name], f"{at}.{name}")
        elif schema.get("additionalProperties") is False:
            yield f"{at} has an unknown {name}"


def test_the_document_fits_its_schema(told: dict[str, Any]) -> None:
    assert list(faults(told, SCHEMA)) == []


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        (("version",), 2),
        (("sheet", "width_mm"), "15 cm"),
        (("sheet", "width_mm"), -1.0),
        (("sheet", "surface"), "shiny"),
        (("paper", "reflectance"), [0.5]),
        (("cells", 0, "stage_labs", 0), [50.0, 0.0]),
        (("cells", 0, "level"), 0.5),
        (("limits", "black_and_white"), 1),
        (("layers", 0, "washes", 0, "end_strength"), "none"),
        (("ground",), {}),
        (("puddles", 0, "colour"), "red"),
        (("report", "rungs"), []),
    ],
)
def test_the_schema_has_teeth(
    graded: tuple[PhotoPlan, Path], path: tuple[str | int, ...], wrong: Any
) -> None:
    told = json.loads((graded[1] / "plan.json").read_text("utf-8"))
    spoiled = deepcopy(told)
    inner = spoiled
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = wrong
    assert list(faults(spoiled, SCHEMA)) != []


def objects(schema: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Every part of the schema that describes an object."""
    if "properties" in schema:
        yield schema
    for part in (*schema.get("properties", {}).values(), *schema.get("$defs", {}).values()):
        yield from objects(part)
    if "items" in schema:
        yield from objects(schema["items"])


def test_the_schema_asks_for_all_it_knows() -> None:
    found = list(objects(SCHEMA))
    assert len(found) > 15
    for part in found:
        assert part["additionalProperties"] is False
        assert set(part["required"]) == set(part["properties"])


def keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        yield from value
        for entry in value.values():
            yield from keys(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from keys(entry)


def test_the_page_mentions_every_key_and_no_other(told: dict[str, Any]) -> None:
    page = (DOCS / "plan-json.md").read_text("utf-8")
    known = {name for part in objects(SCHEMA) for name in part["properties"]}
    # These plans have no focal area, tests/test_command_line.py has one; and some have no first
    # wash that goes by local colour, tests/plan/test_local_first.py has some.
    change = {f.name for f in fields(TintChange)}
    assert set(keys(told)) | {"box", "weight"} | change == known
    words = set(re.findall(r"`([a-z0-9_]+)`", page))
    assert known - words == set()
    assert words - known == set()  # nothing else stands in code marks there
