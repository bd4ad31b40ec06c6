"""The text of a CGATS.17 file cut into tables: keywords, field names, rows of words.

[CGATS17] text is a first line that says what the file is, then lines of a keyword and its
value, field names between BEGIN_DATA_FORMAT and END_DATA_FORMAT, and one set of data per line
between BEGIN_DATA and END_DATA. Several tables may follow each other, and keep the keywords and
fields of the table before where they give none of their own. White space parts words, quotes
hold a word together, # starts a comment. From memory; written without the standard at hand.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Final

from firstwash.errors import MeasurementError

__all__ = ["Table", "quoted", "read_tables", "rows"]

_MAX_LINE: Final = 100_000  # letters
_MAX_LINES: Final = 250_000
_MAX_HEADER: Final = 4 << 20  # letters outside the data
_MAX_FIELDS: Final = 4_096
_MAX_KEYWORDS: Final = 1_000
_MAX_TABLES: Final = 5_000
_LINE_END: Final = re.compile(r"\r\n|\r|\n")
# A quote inside quotes is written twice.
_WORD: Final = re.compile(r'"((?:[^"]|"")*)"(?=\s|$)|(\S+)')


@dataclass(frozen=True, eq=False)
class Table:
    """One table. keywords: upper case → value. lines: of data, as they stand in the file."""

    keywords: Mapping[str, str]
    fields: tuple[str, ...]
    lines: Sequence[str]


def quoted(text: str) -> str:
    """A text on one line as one word of a file."""
    return '"' + text.replace('"', '""') + '"'


def _words(line: str) -> list[str]:
    """The words of a line up to a comment."""
    if '"' not in line and "#" not in line:
        return line.split()
    out = []
    for match in _WORD.finditer(line):
        inside, bare = match.groups()
        if inside is None and bare.startswith("#"):
            break
        out.append(bare if inside is None else inside.replace('""', '"'))
    return out


def read_tables(text: str, file: str) -> list[Table]:
    """The tables of a CGATS text; `file`: what to call it in messages.

    Raises MeasurementError when the text is cut short or beyond all sizes.
    """
    lines = _lines(text, file)
    found: list[Table] = []
    keywords: dict[str, str] = {}
    fields: tuple[str, ...] = ()
    header = 0
    for line in lines:
        header += len(line)
        first, *rest = _words(line) or [""]
        word = first.upper()
        if word == "BEGIN_DATA_FORMAT":
            fields = _field_names(rest, lines, file)
        elif word == "BEGIN_DATA":
            found.append(Table(dict(keywords), fields, _data(lines, file)))
            keywords.pop("NUMBER_OF_SETS", None)
        elif word:
            keywords[word] = " ".join(rest)
        if len(keywords) > _MAX_KEYWORDS or len(found) > _MAX_TABLES or header > _MAX_HEADER:
            raise MeasurementError(f"{file} is no table of measurements; export it as CGATS.17.")
    return found


def _lines(text: str, file: str) -> Iterator[str]:
    if max(text.count("\n"), text.count("\r")) > _MAX_LINES:
        raise MeasurementError(f"{file} has too many lines; export fewer samples at a time.")
    lines = _LINE_END.split(text)
    if len(max(lines, key=len)) > _MAX_LINE:
        raise MeasurementError(
            f"{file} has a line too long for a table of measurements; export it as CGATS.17."
        )
    return iter(lines)


def _cut_short(file: str) -> MeasurementError:
    return MeasurementError(f"{file} is cut short; export it again.")


def _field_names(rest: list[str], lines: Iterator[str], file: str) -> tuple[str, ...]:
    names: list[str] = []
    for words in chain([rest], map(_words, lines)):
        for word in words:
            if word.upper() == "END_DATA_FORMAT":
                return tuple(names)
            names.append(word)
        if len(names) > _MAX_FIELDS:
            raise MeasurementError(
                f"{file} has more than {_MAX_FIELDS:,} fields; export the spectra only."
            )
    raise _cut_short(file)


def _data(lines: Iterator[str], file: str) -> list[str]:
    out: list[str] = []
    for line in lines:
        word = line.strip()
        if word.upper() == "END_DATA":
            return out
        if word and not word.startswith("#"):
            out.append(line)
    raise _cut_short(file)


def rows(table: Table, file: str) -> Iterator[list[str]]:
    """The sets of data of a table, each as many words as it has fields.

    A set stands on one line, parted by tabs (then words may be several, or empty) or by white
    space; a long one may run on over several lines.
    Raises MeasurementError for a set of another length, and for fewer sets than announced.
    """
    n, carry, count = len(table.fields), list[str](), 0
    for line in table.lines:
        words = _tabbed(line, n) if "\t" in line and not carry else []
        carry += words if words and len(words) == n else _words(line)
        if len(carry) > n:
            break
        if len(carry) == n:
            yield carry
            carry, count = [], count + 1
    if carry:
        raise MeasurementError(
            f"{file} should have {n} entries in each set of data, but set {count + 1} has "
            f"{len(carry)}; export it again."
        )
    told = table.keywords.get("NUMBER_OF_SETS", "").strip()
    if told.isascii() and told.isdecimal() and len(told) < 10 and int(told) > count:
        raise MeasurementError(
            f"{file} announces {int(told)} sets of data but holds {count}; export it again."
        )


def _tabbed(line: str, n: int) -> list[str]:
    cells = [cell.strip() for cell in line.split("\t")]
    while len(cells) > n and not cells[-1]:
        cells.pop()  # tabs beyond the last field mean nothing
    return [_unquoted(cell) for cell in cells]


def _unquoted(cell: str) -> str:
    whole = len(cell) > 1 and cell[0] == cell[-1] == '"'
    return cell[1:-1].replace('""', '"') if whole else cell
