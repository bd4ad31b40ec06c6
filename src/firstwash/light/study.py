"""The light of a whole picture, studied: split, lamp, shadows, highlights, turns, shapes."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import IntArray, check_last_axis
from firstwash.light.highlights import Highlights, find_highlights
from firstwash.light.lamps import SURE, Lamps, ShadeIs, find_lamps
from firstwash.light.shadows import Shadows, find_shadows
from firstwash.light.split import LightSplit, split_light
from firstwash.light.told import ShapeLight, tell_shapes
from firstwash.light.turns import TURNS, Turn, turn_of
from firstwash.optics.observer import xyz_to_linear_srgb
from firstwash.parallel import in_parallel
from firstwash.picture.places import share_words

__all__ = ["LightStudy", "study_light"]

# Own judgement; no source.
LITTLE: Final = 0.06  # share of shadow below which the photo has no shadows to paint by
UNSURE: Final = 0.4  # of the shadows' sureness: below it cast and form are told apart badly
HIGHLIT: Final = 0.0005  # share of gloss from which it is told
MIXED: Final = (0.4, 0.6)  # shares of the shadow that is cast, between which neither kind leads


@dataclass(frozen=True, eq=False)
class LightStudy:
    """What the light does in a picture.

    turn: over the whole picture. shapes: the light on each shape, where shapes were given.
    shadow, cast: shares (0-1) of the picture in shadow, and in cast shadow. clear: there is a lamp
    whose light and shadow can be told apart. words: sentences for the painter. numbers: (what
    it is, its value) pairs.
    """

    split: LightSplit
    lamps: Lamps
    shadows: Shadows
    highlights: Highlights
    turn: Turn
    shapes: tuple[ShapeLight, ...]
    shadow: float
    cast: float
    clear: bool
    words: tuple[str, ...]
    numbers: tuple[tuple[str, str], ...]


def study_light(
    xyz: NDArray[np.float32],
    shapes: IntArray | None = None,
    ppmm: float | None = None,
    split: LightSplit | None = None,
    called: Callable[[int], str] = "shape {}".format,
) -> LightStudy:
    """The light of a picture xyz (rows, cols, 3), D65, white Y = 1.

    shapes: (rows, cols) numbers of the shapes, below 0 for none. ppmm: pixels per mm, kept for the
    figures only. split: the picture's split where it is known already. called: what the words call
    a shape. Raises ValueError for
    arrays that are no picture or values that are not finite.
    """
    check_last_axis(xyz, 3, "xyz")
    known = split or split_light(xyz)
    rgb = np.maximum(xyz_to_linear_srgb(xyz), 0.0).astype(np.float32)
    lamps, shadows = in_parallel(_run, (lambda: find_lamps(rgb), lambda: find_shadows(known)))
    highlights = find_highlights(known, shadows)
    turn = turn_of(known, shadows, highlights)
    told = () if shapes is None else tell_shapes(known, shadows, highlights, shapes, called)
    dark, cast = float(shadows.shadow.mean()), float(shadows.cast.mean())
    clear = not shadows.even and dark >= LITTLE and lamps.sure > 0.0
    words = _words(lamps, shadows, highlights, turn, clear)
    numbers = (*lamps.numbers, *_numbers(dark, cast, highlights, turn, shadows.sure, ppmm))
    return LightStudy(
        known, lamps, shadows, highlights, turn, told, dark, cast, clear, words, numbers
    )


def _run(work: Callable[[], Any]) -> Any:
    return work()


def _words(
    lamps: Lamps, shadows: Shadows, highlights: Highlights, turn: Turn, clear: bool
) -> tuple[str, ...]:
    if shadows.even:
        return "The photo has no clear lamp: an overcast or flashlit scene.", lamps.words
    if not clear:
        return "The photo shows hardly any shadow to tell the lamp by.", lamps.words
    dark, cast = float(shadows.shadow.mean()), float(shadows.cast.mean())
    few, many = (part * dark for part in MIXED)
    kinds = "mostly cast by one thing on another" if cast > many else "mostly on forms"
    if few <= cast <= many:
        kinds = "as much cast as on the forms themselves"
    told = [lamps.words, f"{_about(dark)} of the picture lies in shadow, {kinds}."]
    told.append(_shade_words(lamps.shade_is, turn))
    if float(highlights.gloss.mean()) > HIGHLIT:
        told.append("There are highlights of gloss to keep white or nearly so.")
    if float(shadows.sure.mean()) < UNSURE:
        told.append("Cast shadow and form shadow are hard to tell apart in this photo.")
    if lamps.key.within >= SURE:
        told.append("Trust your own memory of the light's colour more than this.")
    return tuple(told)


def _about(share: float) -> str:
    words = share_words(share)
    return f"About {words}" if words.startswith("a ") or words == "half" else words.capitalize()


def _shade_words(told: ShadeIs, turn: Turn) -> str:
    """How the light in the shadows differs, by soft edges of shadows and by the whole picture."""
    whole: ShadeIs = "hidden"
    if turn.by is not None:
        whole = "alike" if abs(turn.by) < TURNS else "warmer" if turn.by > 0 else "cooler"
    clear = [said for said in (told, whole) if said not in ("unclear", "hidden")]
    if not clear:
        return "Whether the light in the shadows is warmer or cooler the photo does not show."
    if set(clear) == {"warmer", "cooler"}:
        return "Whether the light in the shadows is warmer or cooler cannot be told here."
    turned = next((said for said in clear if said != "alike"), "alike")
    if turned == "alike":
        return "The shadows have light of much the same colour."
    doubt = "" if len(clear) == 2 and len(set(clear)) == 1 else "probably a little "
    return f"In the shadows the light is {doubt}{turned}."


def _numbers(
    dark: float, cast: float, highlights: Highlights, turn: Turn, sure: NDArray[np.float32],
    ppmm: float | None,
) -> tuple[tuple[str, str], ...]:  # fmt: skip
    told = [("In shadow", f"{dark:.0%}"), ("In cast shadow", f"{cast:.0%}")]
    gloss = float(highlights.gloss.sum())
    told.append(
        ("Highlights", f"{gloss / highlights.gloss.size:.1%}")
        if ppmm is None
        else ("Highlights", f"{gloss / ppmm**2:.0f} mm²")
    )
    told += [(f"Warmth of the light, {s.name}", f"{s.warmth:+.0f}") for s in turn.stations]
    told.append(("Sure of the shadows", f"{float(sure.mean()):.0%}"))
    return tuple(told)
