"""A plan's stages and layer maps as picture files fit for print, each drawn once."""

import re
from dataclasses import dataclass, replace
from functools import cached_property
from html import unescape
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firstwash.handout.layer_map import (
    MARGIN,
    LayerMap,
    Ruling,
    frame_for,
    layer_map,
    ruling,
)
from firstwash.handout.map_svg import (
    HATCHING,
    LEADS,
    LETTERS,
    LINES,
    PENCIL,
    KeyPart,
    key_svg,
    layer_map_svg,
    strokes_map_svg,
)
from firstwash.handout.pictures import cells_at, paint_stage
from firstwash.handout.tones import TONES, Tone
from firstwash.handout.words import colour_words
from firstwash.language import listed, tr
from firstwash.picture.profile import encode_jpeg
from firstwash.plan.result import Plan
from firstwash.sheets.typeset import FACE
from firstwash.tracing.model import Tracing
from firstwash.tracing.on_outline import drawn_on
from firstwash.tracing.svg import small_tracing_svg

__all__ = ["Drawn", "Layout", "layout_for"]

TEXT_MM: Final = 178.0  # width of the text on the wider of the two pages
DPI: Final = 200.0
TIMES: Final = 2  # how many times finer cells are drawn, then averaged
FEWEST_PX: Final = 320  # on the wider side of a stage: a narrow sheet is a picture all the same
# Print greys: darker than on a screen, for a printer makes dots of what is not black.
INK: Final = {
    LETTERS: "#000000", LINES: "#000000", LEADS: "#5a5a5a", PENCIL: "#b4b4b4", HATCHING: "#9a9a9a"
}  # fmt: skip
SMALL_NUMBER: Final = 0.86  # of its capital, where the screen has 0.66: read in print
SMALL_ON_SCREEN: Final = re.compile(r'(<tspan font-size=")[\d.]+(")')
FADED: Final = re.compile(r'stroke="#000000"([^>]*?) stroke-opacity="([\d.]+)"')
KEY_MM: Final = 3.8  # size of the letters of the map that a key is drawn for, in print
TOLD_SHARE: Final = 0.12  # of the sheet, from which a colour is told of a picture
MOST_TOLD: Final = 3


@dataclass(frozen=True)
class Layout:
    """How a layer's pictures lie on its page, by the shape of the sheet.

    beside: whether the two stages stand in a column beside the map, or in a row above it.
    in_row: whether the sheet is so narrow that all three stand side by side. stage_share,
    map_share: widths as shares (0-1) of the text's.
    """

    beside: bool
    stage_share: float
    map_share: float
    in_row: bool = False

    @property
    def stage_mm(self) -> float:
        """Width of a stage in print."""
        return self.stage_share * TEXT_MM


MAP_HIGH_MM: Final = 122.0  # of a map below its stages, at most
TALL_MAP_MM: Final = 165.0  # of a map with its stages beside it
STAGE_HIGH_MM: Final = 54.0
NARROW_MAP: Final = 0.45  # share of the text's width below which the stages find room beside it
SQUARISH: Final = 1.15  # width over height up to which the stages stand beside the map


def layout_for(plan: Plan) -> Layout:
    """The layout that shows the map of a plan's sheet as large as its page allows."""
    frame = frame_for(plan)
    margin = 2.0 * MARGIN * frame.letter
    wide, high = frame.width + margin, frame.height + margin
    stage = plan.sheet.width_mm / plan.sheet.height_mm
    if wide / high < SQUARISH:
        share = min(0.72, TALL_MAP_MM * wide / high / TEXT_MM)
        if share < NARROW_MAP:
            return Layout(True, min(0.24, 0.8 * TALL_MAP_MM * stage / TEXT_MM), share, True)
        room = min(0.26, STAGE_HIGH_MM * 1.2 * stage / TEXT_MM)
        return Layout(True, room, share)
    share = min(1.0, MAP_HIGH_MM * wide / high / TEXT_MM)
    return Layout(False, min(0.485, STAGE_HIGH_MM * stage / TEXT_MM), share)


class Drawn:
    """A plan's pictures for print: JPEG stages and SVG maps, by name."""

    def __init__(self, plan: Plan, tracing: Tracing | None = None) -> None:
        """Nothing is drawn before it is asked for; tracing: the outline that maps agree with."""
        self.plan, self.layout, self.tracing = plan, layout_for(plan), tracing
        self._stages: dict[int | None, bytes] = {}
        self._maps: dict[int, LayerMap] = {}

    @cached_property
    def ruled(self) -> Ruling:
        """The plan's borders, traced once, on the outline's curves."""
        nothing = Tracing((), self.plan.sheet.width_mm, self.plan.sheet.height_mm, 0.0)
        return drawn_on(ruling(self.plan), self.tracing or nothing)

    @cached_property
    def _index(self) -> NDArray[np.int32]:
        width, height = self.size
        return cells_at(self.plan.cells, width * TIMES, height * TIMES)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of a stage, pixels, for about 200 to the inch in print."""
        sheet = self.plan.sheet
        long_mm = self.layout.stage_mm * max(1.0, sheet.height_mm / sheet.width_mm)
        long = max(round(long_mm / 25.4 * DPI), FEWEST_PX)
        scale = long / max(sheet.width_mm, sheet.height_mm)
        return max(round(sheet.width_mm * scale), 2), max(round(sheet.height_mm * scale), 2)

    def stage(self, stage: int | None) -> tuple[str, bytes]:
        """Name and JPEG of the sheet after so many layers; None: finished, fine strokes too."""
        if stage not in self._stages:
            shown = paint_stage(self.plan, stage, self._index, TIMES)
            ppmm = self.size[0] / self.layout.stage_mm
            self._stages[stage] = encode_jpeg(shown, ppmm=ppmm)
        return f"stage-{'finished' if stage is None else stage}.jpg", self._stages[stage]

    def outline(self) -> tuple[str, bytes]:
        """Name and SVG of the drawing on bare paper: the outline, if it was traced."""
        if self.tracing is not None:
            return "outline.svg", small_tracing_svg(self.tracing, self.layout.stage_mm).encode()
        svg = strokes_map_svg(self.plan, (), self.ruled)
        return "outline.svg", svg.replace(f'"{PENCIL}"', '"#808080"').encode()

    def strokes_map(self, puddle: int) -> tuple[str, bytes]:
        """Name and SVG of the fine strokes laid from one puddle, on the pale outline."""
        own = [n for n, t in enumerate(self.plan.touches) if t.puddle == puddle]
        svg = strokes_map_svg(self.plan, own, self.ruled)
        name = f"strokes-{self.plan.puddles[puddle].name}.svg"
        return name, _for_print(svg, frame_for(self.plan).letter).encode()

    def stage_words(self, stage: int) -> str:
        """What a stage shows, for those who cannot see it: "mostly pale orange and brown"."""
        plan = self.plan
        areas = plan.cells.areas_mm2() / plan.cells.areas_mm2().sum()
        found: dict[str, float] = {}
        for lab, area in zip(plan.stage_labs[stage].tolist(), areas.tolist(), strict=True):
            words = colour_words((lab[0], lab[1], lab[2]))
            found[words] = found.get(words, 0.0) + area
        chief = sorted(found, key=lambda w: -found[w])[:MOST_TOLD]
        named = [w for w in chief if found[w] >= TOLD_SHARE or w == chief[0]]
        return tr("mostly {colours}", colours=listed(named))

    def map_of(self, layer: int) -> LayerMap:
        """A layer's map, with a tone for each puddle."""
        if layer not in self._maps:
            self._maps[layer] = layer_map(self.plan, layer, self.ruled, toned=True)
        return self._maps[layer]

    def layer_map(self, layer: int) -> tuple[str, bytes, str]:
        """Name, SVG and description of a layer's map: black on white, with large letters."""
        drawn = self.map_of(layer)
        svg = layer_map_svg(drawn)
        found = re.search(r"<desc>(.*?)</desc>", svg, re.DOTALL)
        told = unescape(found[1]) if found else ""
        return f"map-{layer}.svg", _for_print(svg, drawn.frame.letter).encode(), told

    def asked_map(self, layer: int) -> tuple[str, bytes]:
        """Name and SVG of a layer's map that tells neither what stays bare nor puddles by tone."""
        drawn = replace(self.map_of(layer), hatch=np.empty((0, 4)), toned=(), reserves=())
        return f"map-{layer}-asked.svg", _for_print(
            layer_map_svg(drawn), drawn.frame.letter
        ).encode()

    def key(self, part: KeyPart | Tone) -> tuple[str, bytes]:
        """Name and SVG of a piece of the maps' key."""
        own = part if isinstance(part, str) else f"tone-{TONES.index(part)}"
        return f"key-{own}.svg", _for_print(key_svg(part, KEY_MM), KEY_MM).encode()


def _for_print(svg: str, letter_mm: float) -> str:
    """A screen's map in print greys, in the page's face, its small numbers larger."""
    for grey, ink in INK.items():
        svg = svg.replace(f'"{grey}"', f'"{ink}"')
    svg = FADED.sub(_solid, svg)
    svg = SMALL_ON_SCREEN.sub(rf"\g<1>{SMALL_NUMBER * letter_mm:.2f}\g<2>", svg)
    return svg.replace('font-family="sans-serif"', f'font-family="{FACE[0]}"')


def _solid(line: re.Match[str]) -> str:
    """A see-through black line in the grey it has on white: no printer needs to flatten it."""
    grey = f"{round(255.0 * (1.0 - float(line[2]))):02x}"
    return f'stroke="#{grey * 3}"{line[1]}'
