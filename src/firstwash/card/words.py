"""What the swatch card calls its paints, and what stands beside each of its places."""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from firstwash.card.layout import DILUTIONS, ROWS, kind_of
from firstwash.card.recipe import GLAZE_STRENGTH, MIX_STRENGTH, CardRow
from firstwash.errors import PaintError, RequestError
from firstwash.paints.catalogue import Paint

__all__ = [
    "GLAZE_CUP",
    "MIX_CUP",
    "ROLES",
    "TITLE",
    "Batch",
    "Label",
    "Loads",
    "Names",
    "batches",
    "check_rows",
    "counted",
    "hazard_words",
    "inches",
    "label",
    "measure",
    "row_letter",
    "short_name",
    "shown_title",
    "strength_words",
    "unknown_hazards",
]

Loads = Literal["drops", "brush-loads"]
TITLE: Final = "Swatch card"
ROLES: Final = ("pale", "dark", "yellow", "blue")  # partners in the order of their places

_ELEMENTS: Final = {
    "Ba": "barium", "Cd": "cadmium", "Co": "cobalt", "Cr": "chromium", "Cu": "copper",
    "Fe": "iron", "Mn": "manganese", "Ni": "nickel", "Pb": "lead", "Sb": "antimony", "Zn": "zinc",
}  # fmt: skip
_SHADE: Final = re.compile(r"\((\w)\w* shade\)")
_BRACKET: Final = re.compile(r"\s*\([^)]*\)")
_LONGEST, _LONGEST_KEY = 80, 24  # letters of a name and of a key that are shown


def check_rows(rows: Sequence[CardRow], paints: Mapping[str, Paint]) -> None:
    """Raise unless there are 1 to 8 rows (RequestError) of known paints (PaintError)."""
    if not 1 <= len(rows) <= ROWS:
        raise RequestError(f"A swatch card has room for 1 to {ROWS} paints, not {len(rows)}.")
    for row in rows:
        for key in row.keys:
            if key not in paints:
                raise PaintError(f"The card names the paint “{key}”; say what that paint is.")


def row_letter(row: int) -> str:
    """The letter of row 0-7."""
    return "ABCDEFGH"[row]


# ------------------------------------------------------------------ names


@dataclass(frozen=True)
class Names:
    """What the paints of a card are called: in full, by key, and by the row they have.

    Every text has passed `clean`, which may lose letters; a name or a key that loses some
    gives way to whatever else still tells the paint.
    """

    full: Mapping[str, str]
    keys: Mapping[str, str]
    letters: Mapping[str, str]

    @classmethod
    def of(
        cls, rows: Sequence[CardRow], paints: Mapping[str, Paint], clean: Callable[[str], str]
    ) -> "Names":
        """Names for every paint on the card; clean: makes a text fit to be shown."""
        letters = {row.paint: row_letter(i) for i, row in reversed([*enumerate(rows)])}
        used = tuple(dict.fromkeys(key for row in rows for key in row.keys))
        keys = {key: _whole(key, clean, _LONGEST_KEY) for key in used}
        full = {
            key: _whole(paints[key].name, clean) or keys[key] or f"paint {letters.get(key, number)}"
            for number, key in enumerate(used, 1)
        }
        return cls(full, keys, letters)

    def with_row(self, key: str) -> str:
        """The full name, and the letter of the paint's own row if it has one."""
        row = f" ({self.letters[key]})" if key in self.letters else ""
        return f"{self.full[key]}{row}"

    def with_key(self, key: str) -> str:
        """The full name and, where it says more, the key in brackets."""
        known, name = self.keys[key], self.full[key]
        plain = known.casefold().replace("-", " ")
        told = known and plain not in name.casefold().replace("-", " ")
        return f"{name} ({known})" if told else name


def _whole(text: str, clean: Callable[[str], str], longest: int = _LONGEST) -> str:
    """Text as it can be shown, or nothing if letters would be lost."""
    shown = clean(text)
    if shown.count("?") > text.count("?"):
        return ""
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"


def shown_title(title: str, clean: Callable[[str], str]) -> str:
    """The card's title as it can be shown, or the usual one if letters would be lost."""
    return _whole(title, clean) or TITLE


def short_name(name: str, fits: Callable[[str], bool], lines: int = 2) -> tuple[str, ...]:
    """A paint's name in at most `lines` lines that fit, shortened as tube labels are.

    "(green shade)" becomes GS, other brackets go; long words are cut after a consonant.
    """
    plain = _BRACKET.sub("", _SHADE.sub(lambda m: f"{m[1].upper()}S", name)).strip() or name
    words = plain.split()
    while True:
        told = _lines(words, fits)
        if len(told) <= lines and all(map(fits, told)):
            return told
        longest = max(words, key=lambda w: (not fits(w), len(w)))
        cut = _shorter(longest)
        if cut:
            words[words.index(longest)] = cut
        elif len(words) > 1:
            words.pop()
        else:
            return (words[0][:3],)


def _lines(words: Sequence[str], fits: Callable[[str], bool]) -> tuple[str, ...]:
    out = [words[0]]
    for word in words[1:]:
        longer = f"{out[-1]} {word}"
        if fits(longer):
            out[-1] = longer
        else:
            out.append(word)
    return tuple(out)


def _shorter(word: str) -> str:
    """The next shorter way to write a word, ending in a consonant; empty below four letters."""
    bare = word.rstrip(".")
    for end in range(len(bare) - 2, 3, -1):
        if bare[end - 1].lower() not in "aeiouy-":
            return bare[:end] + "."
    return bare[:-2] + "." if len(bare) > 6 else ""


# ------------------------------------------------------------------ places


@dataclass(frozen=True)
class Label:
    """What stands above a place: what to do there, and for mixes and glazes with which paint."""

    does: str
    partner: str | None = None  # a paint key
    letter: str = ""  # of the partner's own row


def strength_words(share: float) -> str:
    """A share of full strength as parts of full-strength puddle and of water."""
    parts = round(1.0 / share)
    return "full" if parts == 1 else f"1 : {parts - 1}"


MIX_CUP: Final = strength_words(MIX_STRENGTH)
GLAZE_CUP: Final = strength_words(GLAZE_STRENGTH)


def label(row: CardRow, column: int, letters: Mapping[str, str]) -> Label:
    """What to tell of column 0-13 of a row; letters: of paints that have a row."""
    kind = kind_of(column)
    if kind == "bare":
        return Label("bare")
    if kind == "dilution":
        return Label(strength_words(DILUTIONS[column - 1]))
    if kind == "double":
        return Label("again")
    partner = row.over if kind == "over" else getattr(row, kind)
    return Label("over" if kind == "over" else "mix", partner, letters.get(partner, ""))


# ------------------------------------------------------------------ how much to mix


@dataclass(frozen=True)
class Batch:
    """How much of a paint to mix: drops of full-strength puddle, and the cups made of it.

    row: its letter, or empty for a paint that only helps others. cups: the strengths needed.
    """

    paint: str
    row: str
    full: int
    cups: tuple[str, ...]


def batches(rows: Sequence[CardRow]) -> tuple[Batch, ...]:
    """One for each paint of the card, those with a row first.

    A mix takes one drop of each puddle, a coat of one swatch less than one (20 drops to the
    ml, 1.2 cm², 0.15 mm of wet paint: from memory). Every cup keeps half of what it held.
    """
    letters = {row.paint: row_letter(i) for i, row in reversed([*enumerate(rows)])}
    used = tuple(dict.fromkeys(key for row in rows for key in row.keys))
    ordered = sorted(used, key=lambda key: letters.get(key, "Z"))
    return tuple(_batch(key, rows, letters) for key in ordered)


def _batch(key: str, rows: Sequence[CardRow], letters: Mapping[str, str]) -> Batch:
    own = [row for row in rows if row.paint == key]
    mixes = sum([getattr(row, role) for role in ROLES].count(key) for row in rows)
    mixes += len(ROLES) * len(own)
    coats = sum(row.over == key for row in rows) + 3 * len(own)
    if own:  # one more for the swatch itself and one to spare
        cups = tuple(strength_words(share) for share in reversed(DILUTIONS))
        return Batch(key, letters[key], 2 * max(4, mixes + 2, coats + 2), cups)
    # At 1 : 1 the puddle is twice as much, of which half goes on to 1 : 3, or four times at once.
    full = -(-(mixes + 1) // (1 if coats else 2)) if mixes else -(-(coats + 1) // 4)
    full = max(2, full)
    return Batch(key, "", full, (MIX_CUP,) * bool(mixes) + (GLAZE_CUP,) * bool(coats))


def counted(number: int, loads: Loads) -> str:
    """ "1 drop", "12 drops", "1 brush-load" and so on."""
    return f"{number} {loads.removesuffix('s') if number == 1 else loads}"


# ------------------------------------------------------------------ lengths and cautions


def inches(mm: float, up: bool = False) -> str:
    """A length in inches, to the nearest sixteenth; up: to the next larger one."""
    parts = math.ceil(mm * 16 / 25.4) if up else round(mm * 16 / 25.4)
    whole, rest = divmod(parts, 16)
    if not rest:
        return f"{whole} in"
    parts = 16
    while rest % 2 == 0:
        rest, parts = rest // 2, parts // 2
    return f"{f'{whole} ' if whole else ''}{rest}/{parts} in"


def measure(*mm: float, up: bool = False) -> str:
    """One length, or width × height, in both units: "8 mm (5/16 in)"; up: inches never less."""
    metric = " × ".join(f"{v:g}" for v in mm)
    imperial = " × ".join(inches(v, up).removesuffix(" in") for v in mm)
    return f"{metric} mm ({imperial} in)"


def hazard_words(keys: Sequence[str], paints: Mapping[str, Paint], names: Names) -> tuple[str, ...]:
    """A few words on each paint that is known to be harmful, without a full stop."""
    told = []
    for key in keys:
        h = paints[key].handling
        if h.hazard in ("caution", "toxic"):
            found = re.findall(r"[A-Z][a-z]?", h.hazard_elements or "")
            holds = " and ".join(_ELEMENTS.get(e, e) for e in found)
            risk = "toxic" if h.hazard == "toxic" else "handle with care"
            told.append(f"{names.with_key(key)}: {risk}{f', contains {holds}' if holds else ''}")
    return tuple(told)


def unknown_hazards(keys: Sequence[str], paints: Mapping[str, Paint]) -> tuple[str, ...]:
    """Keys of paints of which firstwash knows no hazard and no absence of one."""
    return tuple(key for key in keys if paints[key].handling.hazard is None)
