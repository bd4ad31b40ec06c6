"""What is known of pigments apart from measured curves, each value with where it comes from.

One row of `data/facts.csv` is one kind of single-pigment watercolour; several kinds may share
an index name. `tools/build_facts.py` writes the file, `docs/reference/pigment-sources.md` says
what the keys of the sources stand for. Blank means that no figure was found.
"""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Final

from firstwash.errors import PaintError

__all__ = ["Handling", "PigmentFacts", "Span", "facts", "facts_of", "handling_of", "read_facts"]

Span = tuple[float, float]
"""Lowest and highest of several values; of hue angles 354 to 4 runs through 0."""

MEMORY: Final = "M"
COMPUTED: Final = "D"
_OWN: Final = ("key", "pigment", "name", "note")  # tell the row apart, or speak of other values
_COLUMNS: Final = {"absorption": "absorption_nm"}  # where a column has not its field's name
_GROUPS: Final = {
    "identity": ("number", "chemistry"),
    "handling": ("transparency", "staining", "granulation"),
    "tinting": ("tinting",),
    "lightfast": ("lightfast", "lightfast_note", "blue_wool"),
    "drying": ("drying_shift",),
    "hazard": ("hazard", "hazard_elements", "hazard_note"),
}


@dataclass(frozen=True)
class Handling:
    """How a paint behaves under the brush; None or empty where nothing is known.

    transparency (0 opaque - 4 transparent), staining (0 lifts - 4 stains), granulation
    (0-4), tinting (0 weak - 4 strong). lightfast: category I (best) - V in the sense of
    ASTM D4303, as printed for `lightfast_medium`. hazard: "none", "caution" or "toxic", of
    the pigment as paint. sources: per group of facts "published", "memory" or "mixed".
    """

    transparency: int | None = None
    staining: int | None = None
    granulation: int | None = None
    tinting: int | None = None
    lightfast: str | None = None
    lightfast_medium: str | None = None
    lightfast_note: str | None = None
    drying_shift: str | None = None
    hazard: str | None = None
    hazard_elements: str | None = None
    hazard_note: str | None = None
    sources: Mapping[str, str] = field(default_factory=dict, hash=False)


@dataclass(frozen=True)
class PigmentFacts:
    """One kind of single-pigment watercolour; None or empty where no figure was found.

    key: stable name; pigment: Colour Index name, shared by several kinds at times; number: of
    the Colour Index constitution. hue_family: in words, the main one first ("yellow (deep)").
    transparency, staining, granulation, tinting, lightfast and its medium and note, hazard:
    as in `Handling`. blue_wool: score of a blue wool kind of test, 1-8 best.
    value_range: L* of the paper less that of the masstone; masstone_lightness: L*.
    hue_angle: degrees in hue_space, of the masstone; chroma in chroma_space. makes: how many
    paints these are means over; the two "…between" are the lowest and highest of them.
    drying_shift: in words, the grade (small, moderate, large) first. hazard_elements: chemical
    symbols. absorption: bands, peak: of the reflectance, edge: where it has climbed half way,
    all in nm, of the dry film if not said otherwise. sources: by field, see `source_of`.
    """

    key: str
    pigment: str
    name: str
    number: str
    chemistry: str
    hue_family: str
    transparency: int | None
    staining: int | None
    granulation: int | None
    tinting: int | None
    lightfast: str
    lightfast_medium: str
    lightfast_note: str
    blue_wool: Span | None
    value_range: float | None
    value_range_between: Span | None
    masstone_lightness: float | None
    hue_angle: float | None
    hue_angle_between: Span | None
    hue_space: str
    chroma: float | None
    chroma_space: str
    makes: int | None
    drying_shift: str
    hazard: str
    hazard_elements: tuple[str, ...]
    hazard_note: str
    absorption: tuple[Span, ...]
    peak_nm: Span | None
    edge_nm: Span | None
    absorption_note: str
    note: str
    sources: Mapping[str, str] = field(default_factory=dict, hash=False, repr=False)

    def source_of(self, name: str) -> str:
        """Where one value comes from, by its field's name.

        "published (S03)", with the keys of the sources; "published (S03), computed from it";
        "memory"; or "" for a blank value and for what is no fact (key, pigment, name, note).
        Raises AttributeError where there is no such field.
        """
        getattr(self, name)
        told = self.sources.get(name, "")
        if told in ("", MEMORY):
            return "memory" if told else ""
        keys = [key for key in told.split("+") if key != COMPUTED]
        computed = ", computed from it" if COMPUTED in told.split("+") else ""
        return f"published ({', '.join(keys)}){computed}"

    def handling(self) -> Handling:
        """The facts that matter under the brush."""
        return Handling(
            transparency=self.transparency,
            staining=self.staining,
            granulation=self.granulation,
            tinting=self.tinting,
            lightfast=self.lightfast or None,
            lightfast_medium=self.lightfast_medium or None,
            lightfast_note=self.lightfast_note or None,
            drying_shift=self.drying_shift or None,
            hazard=self.hazard or None,
            hazard_elements="; ".join(self.hazard_elements) or None,
            hazard_note=self.hazard_note or None,
            sources={g: told for g in _GROUPS if (told := self._from(g))},
        )

    def _from(self, group: str) -> str:
        """Whether the known values of a group are "published", from "memory" or "mixed"."""
        told = {self.source_of(name).partition(" ")[0] for name in _GROUPS[group]} - {""}
        return told.pop() if len(told) == 1 else "mixed" if told else ""


def _number(text: str) -> float | None:
    return float(text) if text else None


def _whole(text: str) -> int | None:
    return int(text) if text else None


def _span(text: str) -> Span | None:
    """Ends of "490-500", or twice the one number of "517" or "about 517"."""
    if not text:
        return None
    low, _, high = text.removeprefix("about ").partition("-")
    return float(low), float(high or low)


def _spans(text: str) -> tuple[Span, ...]:
    return tuple(s for part in text.split(";") if (s := _span(part.strip())) is not None)


def _words(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


_READ: Final = {
    **dict.fromkeys(("transparency", "staining", "granulation", "tinting", "makes"), _whole),
    **dict.fromkeys(("value_range", "masstone_lightness", "hue_angle", "chroma"), _number),
    **dict.fromkeys(("blue_wool", "value_range_between", "hue_angle_between"), _span),
    **dict.fromkeys(("peak_nm", "edge_nm"), _span),
    "hazard_elements": _words,
    "absorption": _spans,
}


def _sources(text: str) -> Mapping[str, str]:
    """By field, from "tinting=S10 lightfast=S11+S12 number=M"."""
    return dict(item.split("=") for item in text.split())


def _row(cells: Mapping[str, str]) -> PigmentFacts:
    names = [n for n in PigmentFacts.__dataclass_fields__ if n != "sources"]
    values = {n: _READ.get(n, str)(cells[_COLUMNS.get(n, n)]) for n in names}
    sources = _sources(cells["sources"])
    known = {n for n in names if values[n] not in (None, "", ()) and n not in _OWN}
    if known != set(sources):
        wrong = ", ".join(sorted(known ^ set(sources)))
        raise ValueError(f"{cells['key']} has a value without a source, or the reverse: {wrong}")
    return PigmentFacts(**values, sources=sources)  # type: ignore[arg-type]


def read_facts(text: str) -> tuple[PigmentFacts, ...]:
    """The rows of a table of facts, in its order.

    Raises PaintError where a cell cannot be read or a value has no source.
    """
    try:
        return tuple(_row(cells) for cells in csv.DictReader(io.StringIO(text)))
    except (KeyError, TypeError, ValueError, AttributeError, csv.Error) as error:
        raise PaintError(f"The table of facts cannot be read; build it again ({error}).") from error


@cache
def facts() -> tuple[PigmentFacts, ...]:
    """Everything known of pigments, one row per kind, in the order of the Colour Index."""
    path = resources.files("firstwash.paints").joinpath("data", "facts.csv")
    return read_facts(path.read_text("utf-8"))


@cache
def _by_key() -> Mapping[str, PigmentFacts]:
    return MappingProxyType({one.key: one for one in facts()})


def facts_of(key: str) -> PigmentFacts | None:
    """The facts of one kind by its key, or None."""
    return _by_key().get(key)


def handling_of(key: str) -> Handling:
    """How one kind handles, by its key; nothing known for a key without facts."""
    one = facts_of(key)
    return Handling() if one is None else one.handling()
