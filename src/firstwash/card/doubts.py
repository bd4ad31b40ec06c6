"""What may be wrong with a photo of a card: blur, clipping, shadow, glare, a row not to be read."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from firstwash.card.finding import CardMap
from firstwash.card.layout import BARE, MARKERS, Box
from firstwash.card.straight import BarePaper, LightField, cut
from firstwash.card.windows import Window

__all__ = ["Doubts", "check_picture", "left_bare"]

# Limits, found by trials on simulated photos, good and spoiled (tools/card_trials.py).
BLURRED: Final = 3.5  # pixels of a black edge from 10 to 90 %
SMEARED: Final = 3.9  # of the blurrier quarter of the edges: a moving hand blurs one way
CLIPPED: Final = 0.985  # of the file's white
UNEVEN: Final = 2.2  # greatest over least light on the card
RAGGED: Final = 0.007  # rms share by which bare paper strays from an even light
ODD: Final = 0.05  # share of all bare samples that do not show the light the others show
ODD_IN_ROW: Final = 0.5  # of a row's, above which the row cannot be read
LINE_VEIL: Final = 0.012  # as VEIL, for the pen line in the bare places
VEIL: Final = 0.03  # share of paper by which a black rises above the card's other blacks
BLANK: Final = 0.97  # share of paper above which a place was not painted
UNPAINTED: Final = 0.06  # share by which the strongest swatch must be darker than paper
GREY: Final = 0.01  # of a cube root: colour in one of a thousand pixels below which there is none
TINGED: Final = 0.1  # share of the strongest of red, green and blue that paper gives the weakest

EMPTY: Final = "The card's windows are empty; paint the swatches first."
MISSED: Final = (
    "There are no swatches where the touches say; touch the frame's corners again, upper left "
    "first, then clockwise."
)


@dataclass(eq=False)
class Doubts:
    """Sentences about a photo. refused: why it is of no use at all, or empty."""

    warnings: list[str] = field(default_factory=list)
    left_out: tuple[int, ...] = ()
    refused: str = ""

    def add(self, sentence: str) -> None:
        """One more warning."""
        self.warnings.append(sentence)


def check_picture(
    picture: NDArray[np.float32],
    linear: NDArray[np.float32],
    card: CardMap,
    bare: BarePaper,
    light: LightField,
    windows: Sequence[Window],
    rows: int,
    printed: bool,
) -> Doubts:
    """Everything that can be told from the straightened card. printed: it has markers."""
    out = Doubts()
    _check_clipping(out, linear, bare)
    _check_colour(out, linear, bare)
    if printed:
        _check_blur(out, linear, card)
        _check_blacks(out, picture, light)
    _check_light(out, light)
    _check_rows(out, bare, light, windows, rows)
    _check_pen_line(out, windows)
    if out.refused == EMPTY and not printed:
        out.refused = MISSED
    return out


def _check_clipping(out: Doubts, linear: NDArray[np.float32], bare: BarePaper) -> None:
    white = min(1.0, float(np.quantile(linear[::7, ::7], 0.9999)))
    share = float((bare.colour.max(axis=1) >= CLIPPED * white).mean()) if white > 0.97 else 0.0
    if share > 0.5:
        out.refused = (
            "The paper is so bright in the photo that its light is lost; darken the exposure and "
            "photograph it again."
        )
    elif share > 0.03:
        out.add(
            "Part of the paper is too bright in the photo to tell its light; darken the exposure."
        )
    if float(np.median(bare.colour[:, 1])) < 0.08:
        out.refused = "The photo is too dark; give the card more light, or expose for longer."


def _check_colour(out: Doubts, linear: NDArray[np.float32], bare: BarePaper) -> None:
    cube = np.cbrt(np.maximum(linear[::7, ::7], 0.0))
    if float(np.quantile(np.ptp(cube, axis=2), 0.999)) < GREY:
        out.refused = "The photo is black and white; photograph the card in colour."
    light = np.median(bare.colour, axis=0)
    if float(light.min()) < TINGED * float(light.max()):
        out.refused = (
            "The light on the card is too strongly coloured to judge paints by; photograph it in "
            "daylight or under a white lamp."
        )


def edge_widths(linear: NDArray[np.float32], card: CardMap) -> NDArray[np.float64]:
    """(n,) widths in pixels of the photo, 10 to 90 %, of the markers' outer black edges."""
    found = []
    for box in MARKERS.values():
        for turn in range(4):
            mm = _across_edge(box, turn)
            px = card.pixels(mm)
            seen = cv2.remap(
                linear, px[..., 0].astype(np.float32), px[..., 1].astype(np.float32),
                cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT, borderValue=(np.nan,) * 3,
            )  # fmt: skip
            green = np.asarray(seen)[:, :, 1].astype(np.float64)
            if not np.isfinite(green).all():
                continue
            step = float(np.linalg.norm(px[:, -1] - px[:, 0], axis=1).mean()) / (px.shape[1] - 1)
            found.append(step * _rise(np.cbrt(np.maximum(green, 0.0)).mean(axis=0)))
    return np.array([w for w in found if np.isfinite(w)])


def _across_edge(box: Box, turn: int) -> NDArray[np.float64]:
    """(31, steps, 2) mm: lines across one side of a marker, from its black rim outwards."""
    reach = 0.09 * box.width  # inside: three quarters of the black rim
    steps = np.arange(-reach, reach, 0.02)[None]
    along = np.linspace(0.15, 0.85, 31)[:, None] * box.width
    out, run = steps + 0 * along, along + 0 * steps
    sides = (
        (box.x + run, box.y - out),
        (box.x + run, box.y + box.height + out),
        (box.x - out, box.y + run),
        (box.x + box.width + out, box.y + run),
    )
    return np.stack(sides[turn], axis=-1)


def _rise(profile: NDArray[np.float64]) -> float:
    """Steps from 10 to 90 % of a rising edge; not a number where there is none."""
    low, high = np.quantile(profile, [0.06, 0.94])
    if high - low < 0.15:
        return float("nan")
    share = np.maximum.accumulate((profile - low) / (high - low))
    ten, ninety = (float(np.interp(v, share + 1e-9 * np.arange(len(share)), np.arange(len(share))))
                   for v in (0.1, 0.9))  # fmt: skip
    return max(ninety - ten, 0.0)


def _check_blur(out: Doubts, linear: NDArray[np.float32], card: CardMap) -> None:
    widths = edge_widths(linear, card)
    if not len(widths):
        return
    if float(np.median(widths)) > BLURRED or float(np.quantile(widths, 0.75)) > SMEARED:
        out.add("The photo is blurred; hold the phone still, tap on the card to focus, and repeat.")


def marker_blacks(picture: NDArray[np.float32], light: LightField) -> NDArray[np.float64]:
    """(12,) how bright each marker's black rim is, as a share of bare paper; NaN if not seen."""
    out = []
    for box in MARKERS.values():
        rim = box.width / 16.0  # middle of the black ring, an eighth of the marker wide
        ring = cut(picture, Box(box.x + 2 * rim, box.y + 0.6 * rim, box.width - 4 * rim, 0.8 * rim))
        low = cut(
            picture,
            Box(box.x + 2 * rim, box.y + box.height - 1.4 * rim, box.width - 4 * rim, 0.8 * rim),
        )
        pixels = np.concatenate([ring.reshape(-1, 3), low.reshape(-1, 3)])
        if not len(pixels) or not np.isfinite(pixels).all():
            out.append(np.nan)
            continue
        white = light.at(np.array([[box.x + box.width / 2, box.y + box.height / 2]]))[0]
        out.append(float((np.median(pixels, axis=0) / white)[1]))
    return np.array(out)


def _check_blacks(out: Doubts, picture: NDArray[np.float32], light: LightField) -> None:
    blacks = marker_blacks(picture, light)
    seen = blacks[np.isfinite(blacks)]
    if len(seen) and float(seen.max() - np.median(seen)) > VEIL:
        out.add("There is a glare on the card; turn it away from the window or lamp and repeat.")


def _check_light(out: Doubts, light: LightField) -> None:
    if light.uneven > UNEVEN:
        out.add("The light is very uneven; turn the card or move away from the lamp.")
    if light.ragged > RAGGED or float(light.odd.mean()) > ODD:
        out.add(
            "A shadow or a glare lies on the card; keep your hand and the phone out of the light."
        )


def _check_rows(
    out: Doubts, bare: BarePaper, light: LightField, windows: Sequence[Window], rows: int
) -> None:
    lost, empty = [], []
    for row in range(rows):
        own = [w for w in windows if w.row == row]
        mine = bare.row == row
        if len(own) < 10 or not mine.any() or float(light.odd[mine].mean()) > ODD_IN_ROW:
            lost.append(row)
        elif _unpainted(own):
            empty.append(row)
    if len(empty) == rows:
        out.refused = EMPTY
    elif len(lost) + len(empty) == rows:
        out.refused = (
            "No row can be read for shadow, glare or something lying on it; photograph the whole "
            "card in even light."
        )
    if lost:
        was = "was" if len(lost) == 1 else "were"
        out.add(f"{_named(lost)} cannot be read and {was} left out; photograph the whole card.")
    if empty:
        was = "is not painted and was" if len(empty) == 1 else "are not painted and were"
        out.add(f"{_named(empty)} {was} left out.")
    out.left_out = tuple(sorted([*lost, *empty]))


def left_bare(window: Window) -> bool:
    """Whether a place that should hold paint was left bare; the palest washes are believed."""
    thin = window.column in (1, 2)
    return window.column not in BARE and not thin and float(window.colour.min()) > BLANK


def _unpainted(own: Sequence[Window]) -> bool:
    painted = [w for w in own if w.column not in BARE]
    return bool(min(float(w.colour.min()) for w in painted) > 1.0 - UNPAINTED)


def _named(rows: Sequence[int]) -> str:
    """Row A, or Rows A, B and C."""
    *first, last = ("ABCDEFGH"[r] for r in rows)
    return f"Rows {', '.join(first)} and {last}" if first else f"Row {last}"


def line_levels(windows: Sequence[Window]) -> dict[int, NDArray[np.float64]]:
    """Green of the pen line as a share of paper in each row's bare places."""
    out: dict[int, NDArray[np.float64]] = {}
    for row in sorted({w.row for w in windows}):
        found = [
            float(w.line[1]) for w in windows
            if w.row == row and w.column in BARE and w.line is not None
        ]  # fmt: skip
        if found:
            out[row] = np.array(found)
    return out


def _check_pen_line(out: Doubts, windows: Sequence[Window]) -> None:
    levels = line_levels(windows)
    if not levels:
        out.add(
            "No pen line was found across the swatches; how opaque the paints are stays a guess."
        )
        return
    usual = float(np.median(np.concatenate(list(levels.values()))))
    veiled = [row for row, found in levels.items() if float(found.max()) - usual > LINE_VEIL]
    if veiled and not any("glare" in w for w in out.warnings):
        lie = "lies" if len(veiled) == 1 else "lie"
        out.add(
            f"{_named(veiled)} {lie} under a glare; turn the card away from the light and repeat."
        )
