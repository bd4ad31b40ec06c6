"""What a painter looks for before any colour, told for the page: masses, ends, reach, light."""

from dataclasses import dataclass

from firstwash.optics.observer import xyz_to_lab
from firstwash.picture.extremes import extremes
from firstwash.picture.reference import smaller
from firstwash.picture.value_pattern import value_pattern
from firstwash.plan.bench import Bench
from firstwash.plan.problem import Limits
from firstwash.plan.reach import reach
from firstwash.plan.say import allowed
from firstwash.seeing.light_words import light_words
from firstwash.worksheet.brief import Brief
from firstwash.worksheet.studio import Studio
from firstwash.worksheet.words import Numbers

__all__ = ["LightLook", "PictureLook", "light_looked_at", "looked_at"]

WIDTH = 400  # pixels


@dataclass(frozen=True)
class PictureLook:
    """pattern: the big masses; ends: lightest lights, darkest darks; reach: what the ticked paints
    come to on this paper. Each in a sentence or two.
    """

    pattern: str
    ends: str
    reach: str


def looked_at(studio: Studio, brief: Brief) -> PictureLook:
    """The brief's picture looked at with the paints that are ticked."""
    xyz, ppmm = smaller(studio.reference(brief.scene), WIDTH)
    lab = xyz_to_lab(xyz)
    values, shelf = brief.values, studio.paints.shelf()
    owned = shelf.to_set().paints
    ticked = [p for p in owned if not brief.paints or p.key in brief.paints]
    paints = allowed(ticked, Limits(), shelf.paper) or tuple(ticked) or owned
    ends = extremes(lab[..., 0], ppmm, values.steps, values.first)
    within = reach(Bench.of(paints, shelf.paper), lab, values.first)
    return PictureLook(value_pattern(lab[..., 0]).words, ends.words, within.words)


@dataclass(frozen=True)
class LightLook:
    """What the light does in the picture. sentences: for reading; numbers: for those who ask."""

    sentences: tuple[str, ...]
    numbers: Numbers


def light_looked_at(studio: Studio, brief: Brief) -> LightLook:
    """The brief's picture looked at for its light; takes a second or two the first time."""
    told = light_words(studio.light(brief.scene))
    return LightLook(told.sentences, told.numbers)
