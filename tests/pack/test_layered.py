"""The layered image: a valid OpenRaster file whose layers give each predicted stage exactly."""

import io
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pyora
import pytest
from defusedxml.ElementTree import fromstring
from numpy.typing import NDArray
from PIL import Image

from firstwash.pack.layered import layered_image
from firstwash.pack.stages import Stages, paint_stages
from firstwash.picture.profile import encode_png, srgb_profile
from firstwash.plan.result import Plan
from firstwash.usecases import PhotoPlan

LONG = 500


@pytest.fixture(scope="module")
def stages(four: Plan) -> Stages:
    return paint_stages(four, LONG)


@pytest.fixture(scope="module")
def outline() -> bytes:
    lines = np.full((90, 120), 255, dtype=np.uint8)
    lines[20:22, 30:90] = 0
    return encode_png(lines)


@pytest.fixture(scope="module")
def made(cup: PhotoPlan, stages: Stages, outline: bytes) -> bytes:
    return layered_image(cup.plan, cup.reference, outline=outline, stages=stages)


@pytest.fixture(scope="module")
def archive(made: bytes) -> zipfile.ZipFile:
    return zipfile.ZipFile(io.BytesIO(made))


def stack_of(archive: zipfile.ZipFile) -> Any:
    return fromstring(archive.read("stack.xml"))


def leaves(archive: zipfile.ZipFile) -> Iterator[tuple[str, Any]]:
    """(group's name or "", layer) from the bottom up."""
    (root,) = stack_of(archive)
    for one in reversed(list(root)):
        if one.tag == "layer":
            yield "", one
        else:
            for layer in reversed(list(one)):
                yield one.get("name"), layer


def laid(sheet: NDArray[np.uint8], archive: zipfile.ZipFile, layer: Any) -> None:
    """One layer laid over the sheet in the plain way, in place."""
    image = np.asarray(Image.open(io.BytesIO(archive.read(layer.get("src")))).convert("RGBA"))
    x, y = int(layer.get("x")), int(layer.get("y"))
    part = sheet[y : y + image.shape[0], x : x + image.shape[1]]
    assert part.shape[:2] == image.shape[:2]  # nothing sticks out of the sheet
    alpha = image[..., 3:] / 255.0
    part[:] = np.rint(alpha * image[..., :3] + (1.0 - alpha) * part)


def test_the_archive_is_laid_out_as_the_specification_asks(archive: zipfile.ZipFile) -> None:
    assert archive.testzip() is None
    first = archive.infolist()[0]
    assert first.filename == "mimetype"
    assert first.compress_type == zipfile.ZIP_STORED
    assert not first.extra
    assert archive.read("mimetype") == b"image/openraster"
    names = archive.namelist()
    assert {"stack.xml", "mergedimage.png", "Thumbnails/thumbnail.png"} <= set(names)
    used = {layer.get("src") for _, layer in leaves(archive)}
    assert used == {n for n in names if n.startswith("data/")}  # each used, none left over


def test_pictures_are_plain_8_bit_srgb_pngs(archive: zipfile.ZipFile) -> None:
    for name in archive.namelist():
        if not name.endswith(".png"):
            continue
        data = archive.read(name)
        assert data[24] == 8  # bits
        assert data[28] == 0  # not interlaced
        image = Image.open(io.BytesIO(data))
        assert image.mode in ("RGB", "RGBA")
        assert image.info["icc_profile"] == srgb_profile()


def test_the_thumbnail_is_the_picture_made_small(archive: zipfile.ZipFile) -> None:
    small = Image.open(io.BytesIO(archive.read("Thumbnails/thumbnail.png")))
    whole = Image.open(io.BytesIO(archive.read("mergedimage.png")))
    assert max(small.size) == 256
    assert abs(small.width / small.height - whole.width / whole.height) < 0.01
    means = [np.asarray(i, dtype=float).mean(axis=(0, 1)) for i in (small, whole)]
    assert np.abs(means[0] - means[1]).max() < 1.0


def test_layers_laid_one_over_the_other_give_every_stage(
    archive: zipfile.ZipFile, stages: Stages
) -> None:
    image = stack_of(archive)
    assert (int(image.get("w")), int(image.get("h"))) == stages.cells.shape[::-1]
    sheet = np.zeros((*stages.cells.shape, 3), dtype=np.uint8)
    reached = []
    for group, layer in leaves(archive):
        if layer.get("visibility") == "hidden":
            continue
        assert layer.get("composite-op") == "svg:src-over"
        assert layer.get("opacity") == "1.0"
        laid(sheet, archive, layer)
        after = [i for i, p in enumerate(stages.pictures) if np.array_equal(p, sheet)]
        if not reached or (after and after[-1] not in reached):
            reached += after[-1:]
        del group
    assert reached == list(range(len(stages.pictures)))
    merged = np.asarray(Image.open(io.BytesIO(archive.read("mergedimage.png"))))
    assert np.array_equal(sheet, merged)
    assert np.array_equal(sheet, stages.pictures[-1])


def test_every_wash_has_a_layer_in_its_group(archive: zipfile.ZipFile, four: Plan) -> None:
    found: dict[str, list[str]] = {}
    for group, layer in leaves(archive):
        found.setdefault(group, []).append(layer.get("name"))
    assert found.pop("") == ["Paper", "Fine strokes", "Reference", "Outline"]
    assert [g.partition(":")[0] for g in found] == [f"Layer {n}" for n in range(1, 5)]
    for number, names in enumerate(found.values(), 1):
        assert names == [
            f"Wash {w.number}, puddle {four.puddles[w.puddle].name}" for w in four.washes_of(number)
        ]


def test_a_wash_covers_its_own_cells_and_little_else(
    archive: zipfile.ZipFile, four: Plan, stages: Stages
) -> None:
    for group, layer in leaves(archive):
        if not group:
            continue
        number = int(group.partition(":")[0].removeprefix("Layer "))
        wash = next(
            w for w in four.washes_of(number)
            if layer.get("name").startswith(f"Wash {w.number},")
        )  # fmt: skip
        alpha = np.asarray(Image.open(io.BytesIO(archive.read(layer.get("src")))))[..., 3]
        assert set(np.unique(alpha)) <= {0, 255}
        x, y = int(layer.get("x")), int(layer.get("y"))
        cells = stages.cells[y : y + alpha.shape[0], x : x + alpha.shape[1]]
        share = np.isin(cells[alpha > 0], wash.cells).mean()
        assert share > 0.5  # the rest is where it runs over a soft edge


def test_the_hidden_guides_lie_on_top(
    archive: zipfile.ZipFile, cup: PhotoPlan, stages: Stages
) -> None:
    (root,) = stack_of(archive)
    top = list(root)[:2]
    assert [one.get("name") for one in top] == ["Outline", "Reference"]
    assert {one.get("visibility") for one in top} == {"hidden"}
    drawn = np.asarray(Image.open(io.BytesIO(archive.read(top[0].get("src")))))
    assert drawn[..., 3].max() > 200
    assert drawn[..., :3].max() == 0
    photo = np.asarray(Image.open(io.BytesIO(archive.read(top[1].get("src")))), dtype=float)
    assert photo.shape[:2] == stages.cells.shape
    # The reference is what the plan aims at: closer to the finished painting than to bare paper.
    off = [np.abs(photo - stages.pictures[i]).mean() for i in (0, -1)]
    assert off[1] < 0.5 * off[0]
    del cup


def test_the_same_plan_makes_the_same_bytes(
    cup: PhotoPlan, stages: Stages, outline: bytes, made: bytes
) -> None:
    assert layered_image(cup.plan, cup.reference, outline=outline, stages=stages) == made


def test_the_size_is_told_in_dots_per_inch(archive: zipfile.ZipFile, four: Plan) -> None:
    dpi = int(stack_of(archive).get("xres"))
    assert abs(dpi - LONG / four.sheet.width_mm * 25.4) <= 0.5


def test_names_are_safe_in_xml(cup: PhotoPlan, stages: Stages) -> None:
    hostile = [replace(q, name=f"<&\"{i}'>") for i, q in enumerate(cup.plan.puddles)]
    plan = cup.plan.told_more(puddles=tuple(hostile))
    made = layered_image(plan, cup.reference, stages=stages)
    names = [layer.get("name") for _, layer in leaves(zipfile.ZipFile(io.BytesIO(made)))]
    assert f"Wash 1, puddle {hostile[plan.washes[0].puddle].name}" in names
    assert "Outline" not in names


def test_a_plan_without_a_wash_is_paper(cup: PhotoPlan) -> None:
    bare = cup.plan.told_more(touches=(), washes=(), puddles=cup.plan.puddles)
    made = layered_image(bare, cup.reference, stages=paint_stages(bare, 64))
    names = [n.get("name") for _, n in leaves(zipfile.ZipFile(io.BytesIO(made)))]
    assert names == ["Paper", "Reference"]


def test_two_layers_make_two_groups(two: Plan, cup: PhotoPlan) -> None:
    made = layered_image(two, cup.reference, stages=paint_stages(two, 300))
    groups = {g for g, _ in leaves(zipfile.ZipFile(io.BytesIO(made)))} - {""}
    assert groups == {"Layer 1: the lay-in", "Layer 2: the last darks"}


def test_another_reader_sees_the_same_picture(made: bytes, stages: Stages, tmp_path: Any) -> None:
    path = tmp_path / "cup.ora"
    path.write_bytes(made)
    project = pyora.Project.load(str(path))
    seen = project.get_image_data(use_original=False).convert("RGB")
    assert np.array_equal(np.asarray(seen), stages.pictures[-1])
    assert [layer.name for layer in project][:1] == ["Paper"]
