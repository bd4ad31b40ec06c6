"""Write the catalogue of all texts of the hand-out, for translators: `firstwash.pot`.

    python tools/texts.py

Texts are the literals in `tr("…")`, `tr_count("…", "…", …)` and `mark("…")` in the source, and what
the table of pigment facts says in words. Every value of a text must have its place in it, and every
place its value; what does not fit is told and nothing is written. The file is sorted and holds no
dates and no line numbers, so that it changes only where a text does.
"""

import ast
import io
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from babel.messages.catalog import Catalog
from babel.messages.pofile import write_po

from firstwash.paints.facts import facts

__all__ = ["CATALOGUE", "Text", "pot", "texts_of"]

SOURCE: Final = Path(__file__).parents[1] / "src"
CATALOGUE: Final = SOURCE / "firstwash" / "texts" / "firstwash.pot"
FACTS: Final = "firstwash/paints/data/facts.csv"
PLACE: Final = re.compile(r"\{(\w+)\}")
LITERALS: Final = {"tr": 1, "mark": 1, "tr_count": 2}  # how many texts each call begins with
LEFT_OUT: Final = (
    '"POT-Creation-Date', '"PO-Revision-Date', '"Generated-By', '"Project-Id-Version',
    '"Report-Msgid-Bugs-To',
)  # fmt: skip
HEADER: Final = """\
# Texts of firstwash's hand-out, for translators; see docs/guide/translating.md.
# Written by tools/texts.py: change the texts in the source, not here.
#"""


@dataclass(frozen=True, order=True)
class Text:
    """A text as it stands in the source. many: for more than one, "" where no number matters."""

    one: str
    many: str
    file: str


def texts_of(source: str, file: str) -> Iterator[Text]:
    """The texts of one file of source. Raises ValueError where one cannot be translated."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            count = LITERALS.get(node.func.id, 0)
            given = node.args[:count]
            if any(isinstance(a, ast.JoinedStr) for a in given):
                raise ValueError(f"{file}:{node.lineno}: a text with values put in already")
            told = [a.value for a in given if isinstance(a, ast.Constant)]
            words = [text for text in told if isinstance(text, str)]
            if words and len(words) == count:
                _check(node, words, file)
                yield Text(words[0], words[1] if count == 2 else "", file)
            elif node.func.id != "tr" and count:
                raise ValueError(
                    f"{file}:{node.lineno}: {node.func.id} wants its texts as they are"
                )


def _check(node: ast.Call, words: list[str], file: str) -> None:
    """That a call gives every place a value, and no more."""
    assert isinstance(node.func, ast.Name)
    if node.func.id == "mark":
        return
    places = {place for text in words for place in PLACE.findall(text)}
    free = {"count"} if node.func.id == "tr_count" else set()
    values = {keyword.arg for keyword in node.keywords}
    if places - free != values - free:
        odd = ", ".join(sorted(str(name) for name in (places ^ values) - free))
        raise ValueError(f"{file}:{node.lineno}: places and values differ: {odd}")


def _of_facts() -> Iterator[Text]:
    for one in facts():
        for words in (one.lightfast_medium, one.lightfast_note):
            if words:
                yield Text(words, "", FACTS)


def pot(source: Path = SOURCE) -> bytes:
    """The catalogue as a .pot file."""
    found = set(_of_facts())
    for path in sorted((source / "firstwash").rglob("*.py")):
        found |= set(texts_of(path.read_text("utf-8"), path.relative_to(source).as_posix()))
    catalogue = Catalog(project="firstwash", charset="utf-8", header_comment=HEADER, fuzzy=False)
    many = {text.one: text.many for text in sorted(found) if text.many}
    for text in sorted(found):
        if text.many and many[text.one] != text.many:
            raise ValueError(f"{text.file}: {text.one!r} has two texts for more than one")
        # A text that is told alone and of several has one entry, that of several.
        name = (text.one, many[text.one]) if text.one in many else text.one
        catalogue.add(name, locations=[(text.file, 1)])
    for message in catalogue:
        message.flags.discard("python-format")  # a per cent sign is one
    out = io.BytesIO()
    write_po(out, catalogue, width=96, sort_output=True, include_lineno=False)
    lines = out.getvalue().decode().splitlines(keepends=True)
    return "".join(line for line in lines if not line.startswith(LEFT_OUT)).encode()


def main() -> None:
    """Write the file."""
    CATALOGUE.parent.mkdir(parents=True, exist_ok=True)
    try:
        data = pot()
    except ValueError as error:
        sys.exit(str(error))
    CATALOGUE.write_bytes(data)
    print(f"{data.count(b'msgid ') - 1} texts in {CATALOGUE.name}")


if __name__ == "__main__":
    main()
