"""The painting as a layered image that paint programs open: an OpenRaster file.

Paper at the bottom, above it one group for each layer with its washes, then the fine strokes; on
top, hidden, the outline and the reference. Every wash is a cut-out of its stage where the stage
differs from the one before, with nothing see-through in it. So, laid one over the other in the
plain way, the layers give each predicted stage to the last code, and hiding the upper groups
shows an earlier stage.

The format: the baseline OpenRaster specification, version 0.0.3 of its layer stack; file layout,
PNG demands and thumbnail as its pages say.
"""

import io
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import quoteattr

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import find_objects

from firstwash.language import tr
from firstwash.optics.observer import xyz_to_linear_srgb
from firstwash.pack.ink import ink_of
from firstwash.pack.stages import Stages, paint_stages
from firstwash.parallel import in_parallel
from firstwash.picture.profile import encode_png, linear_to_srgb8
from firstwash.picture.reference import Reference
from firstwash.plan.result import Plan
from firstwash.sheets.told import layer_inside

__all__ = ["layered_image"]

DATE: Final = (1980, 1, 1, 0, 0, 0)  # the first that a zip can hold
THUMBNAIL: Final = 256  # px of its longer side at most
MM_PER_INCH: Final = 25.4
Pixels = NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class _Leaf:
    """One picture of the stack. pixels: (rows, cols, 3 or 4), sRGB; left, top: of its corner."""

    name: str
    pixels: Pixels
    left: int = 0
    top: int = 0
    shown: bool = True


@dataclass(frozen=True, eq=False)
class _Group:
    """Pictures that belong together, the uppermost first."""

    name: str
    leaves: tuple[_Leaf, ...]


def layered_image(
    plan: Plan,
    reference: Reference,
    *,
    outline: bytes | None = None,
    stages: Stages | None = None,
) -> bytes:
    """An OpenRaster file (.ora) of a plan, shown finished; the same bytes for the same arguments.

    outline: a PNG of dark lines over the whole sheet, or None. stages: the plan's stages, if they
    are painted already; else they are painted 1600 px long. Raises ValueError for an outline that
    cannot be read.
    """
    shown = stages or paint_stages(plan)
    stack = [
        *_guides(shown, reference, outline),
        *reversed([_group(plan, shown, place) for place in range(1, len(shown.names))]),
        _Leaf(tr("Paper"), shown.pictures[0]),
    ]
    leaves = [leaf for one in stack for leaf in (one.leaves if isinstance(one, _Group) else [one])]
    ppmm = shown.cells.shape[1] / plan.sheet.width_mm
    encoded = in_parallel(lambda leaf: encode_png(leaf.pixels, ppmm=ppmm), leaves)
    data = {f"data/{n:03d}.png": png for n, png in enumerate(encoded)}
    sources = {id(leaf): name for leaf, name in zip(leaves, data, strict=True)}
    merged = shown.pictures[-1]
    return _zipped(
        {
            "mimetype": b"image/openraster",  # first and stored, so that the file is known by it
            "stack.xml": _stack_xml(stack, sources, merged.shape, ppmm),
            "mergedimage.png": encode_png(merged, ppmm=ppmm),
            "Thumbnails/thumbnail.png": encode_png(_thumbnail(merged)),
            **data,
        }
    )


# --- layers ------------------------------------------------------------------


def _guides(stages: Stages, reference: Reference, outline: bytes | None) -> Iterator[_Leaf]:
    """What lies on top, hidden: the outline as ink, and the reference."""
    height, width = stages.cells.shape
    if outline is not None:
        ink = ink_of(outline, width, height)
        box = _box(ink)
        drawn = np.zeros((*ink[box].shape, 4), dtype=np.uint8)  # black, as strong as the ink
        drawn[..., 3] = ink[box]
        yield _Leaf(tr("Outline"), drawn, box[1].start, box[0].start, shown=False)
    light = xyz_to_linear_srgb(reference.xyz).astype(np.float32)
    smaller = light.shape[1] > width
    how = cv2.INTER_AREA if smaller else cv2.INTER_CUBIC
    photo = np.asarray(cv2.resize(light, (width, height), interpolation=how), np.float32)
    yield _Leaf(tr("Reference"), linear_to_srgb8(photo.clip(0.0, 1.0)), shown=False)


def _group(plan: Plan, stages: Stages, place: int) -> _Group | _Leaf:
    """What one stage adds to the one before."""
    picture, before = stages.pictures[place], stages.pictures[place - 1]
    changed = (picture != before).any(axis=2)
    number = stages.layers[place]
    if number is None:
        return _Leaf(tr("Fine strokes"), *_cut_out(picture, changed))
    owner = _owners(plan, stages, number, changed)
    washes = sorted((w.number for w in plan.washes_of(number)), reverse=True)
    boxes = find_objects(owner, washes[0])
    leaves = []
    for wash in washes:
        box = boxes[wash - 1] or (slice(0, 1), slice(0, 1))  # a wash that nothing shows of
        part, left, top = _cut_out(picture[box], owner[box] == wash)
        corner = (left + box[1].start, top + box[0].start)
        leaves.append(_Leaf(_wash_name(plan, number, wash), part, *corner))
    name = tr("Layer {number}: {layer}", number=number, layer=layer_inside(plan, number))
    return _Group(name, tuple(leaves))


def _wash_name(plan: Plan, layer: int, number: int) -> str:
    wash = next(w for w in plan.washes_of(layer) if w.number == number)
    name = plan.puddles[wash.puddle].name
    return tr("Wash {number}, puddle {puddle}", number=number, puddle=name)


def _owners(
    plan: Plan, stages: Stages, layer: int, changed: NDArray[np.bool_]
) -> NDArray[np.int32]:
    """Number of the wash that changed each pixel, 0 for none: its own, or where one runs over
    its border, the nearest.
    """
    own = np.zeros(plan.cells.count, dtype=np.int32)
    for wash in plan.washes_of(layer):
        own[list(wash.cells)] = wash.number
    laid = own[stages.cells]
    if (changed & (laid == 0)).any() and laid.any():
        empty = (laid == 0).astype(np.uint8)
        _, nearest = cv2.distanceTransformWithLabels(
            empty, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
        )
        table = np.zeros(int(nearest.max()) + 1, dtype=np.int32)
        table[nearest[laid > 0]] = laid[laid > 0]
        laid = table[nearest]
    return np.where(changed, laid, 0).astype(np.int32)


def _cut_out(picture: Pixels, mask: NDArray[np.bool_]) -> tuple[Pixels, int, int]:
    """The picture where the mask holds, see-through elsewhere, and where its corner is."""
    box = _box(mask.view(np.uint8))
    part = mask[box]
    out = np.zeros((*part.shape, 4), dtype=np.uint8)
    out[part, :3] = picture[box][part]
    out[..., 3] = part.view(np.uint8) * np.uint8(255)
    return out, box[1].start, box[0].start


def _box(mask: Pixels) -> tuple[slice, slice]:
    """Rows and columns that hold all that is not 0; one pixel where nothing is."""
    left, top, width, height = cv2.boundingRect(mask)
    return slice(top, top + max(height, 1)), slice(left, left + max(width, 1))


def _thumbnail(picture: Pixels) -> Pixels:
    rows, cols = picture.shape[:2]
    scale = min(THUMBNAIL / max(rows, cols), 1.0)
    size = (max(round(scale * cols), 1), max(round(scale * rows), 1))
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)


# --- file --------------------------------------------------------------------


def _stack_xml(
    stack: Sequence[_Leaf | _Group], sources: Mapping[int, str], shape: Sequence[int], ppmm: float
) -> bytes:
    """The stack, the uppermost layer first."""
    dpi = max(round(ppmm * MM_PER_INCH), 1)
    lines = [
        "<?xml version='1.0' encoding='UTF-8'?>",
        f'<image version="0.0.3" w="{shape[1]}" h="{shape[0]}" xres="{dpi}" yres="{dpi}">',
        f"<stack name={quoteattr(tr('Painting'))}>",
    ]
    for one in stack:
        if isinstance(one, _Leaf):
            lines.append(_leaf_xml(one, sources))
            continue
        lines.append(f"<stack name={quoteattr(one.name)}{_PLAIN}>")
        lines += [_leaf_xml(leaf, sources) for leaf in one.leaves]
        lines.append("</stack>")
    return "\n".join([*lines, "</stack>", "</image>", ""]).encode("utf-8")


_PLAIN: Final = ' opacity="1.0" visibility="visible" composite-op="svg:src-over"'


def _leaf_xml(leaf: _Leaf, sources: Mapping[int, str]) -> str:
    how = _PLAIN if leaf.shown else _PLAIN.replace('"visible"', '"hidden"')
    return (
        f"<layer name={quoteattr(leaf.name)} src={quoteattr(sources[id(leaf)])} "
        f'x="{leaf.left}" y="{leaf.top}"{how}/>'
    )


def _zipped(files: Mapping[str, bytes]) -> bytes:
    """The files in their order, pictures stored as they are packed already."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as to:
        for name, content in files.items():
            info = zipfile.ZipInfo(name, DATE)
            info.create_system = 3
            info.external_attr = 0o100644 << 16
            squeeze = name.endswith(".xml")
            info.compress_type = zipfile.ZIP_DEFLATED if squeeze else zipfile.ZIP_STORED
            to.writestr(info, content)
    return out.getvalue()
