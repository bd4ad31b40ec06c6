"""The small file that tells what is painted on a card: its rows and their partners.

    {"format": "firstwash card 1", "number": 17, "rows": [{"paint": "PB29", "pale": ..., ...}, ...]}

It is written beside the printed card and read again with the photo. Whoever painted something
else than the card said may change a key in it. The number is printed in the card's markers, so that
a photo of another card is not taken for this one.
"""

import json
import zlib
from collections.abc import Sequence
from dataclasses import asdict, fields
from typing import Final

from firstwash.card.layout import CARDS, ROWS
from firstwash.card.recipe import CardRow
from firstwash.errors import RequestError

__all__ = ["FORMAT", "number_for", "read_number", "read_rows", "write_rows"]

FORMAT: Final = "firstwash card 1"
LARGEST: Final = 100_000  # bytes


def number_for(rows: Sequence[CardRow]) -> int:
    """A number 0-79 for a card of these rows: the same rows always get the same one."""
    return zlib.crc32(repr([asdict(row) for row in rows]).encode()) % CARDS


def write_rows(rows: Sequence[CardRow], number: int | None = None) -> bytes:
    """The file, UTF-8. number: the one printed in the card's markers, if it was printed."""
    told = {"format": FORMAT, "number": number, "rows": [asdict(row) for row in rows]}
    return (json.dumps(told, ensure_ascii=False, indent=1) + "\n").encode()


def read_rows(data: bytes, name: str) -> tuple[CardRow, ...]:
    """The rows of such a file. Raises RequestError, one sentence, if it is none."""
    wrong = RequestError(f"{name} does not tell what is on a swatch card; print the card again.")
    if len(data) > LARGEST:
        raise wrong
    try:
        told = json.loads(data)
        if told["format"] != FORMAT or not 1 <= len(told["rows"]) <= ROWS:
            raise wrong
        rows = tuple(CardRow(**row) for row in told["rows"])
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError):
        raise wrong from None
    if not all(_word(getattr(r, f.name)) for r in rows for f in fields(CardRow)):
        raise wrong
    if len({r.paint for r in rows}) < len(rows):
        raise RequestError(f"{name} gives two rows to one paint; give each row its own.")
    return rows


def read_number(data: bytes) -> int | None:
    """The card's number in such a file, which `read_rows` can read; None where it has none."""
    number = json.loads(data).get("number")
    return number if isinstance(number, int) and 0 <= number < CARDS else None


def _word(value: object) -> bool:
    """Whether this can be the key of a paint: something that can be read and printed."""
    return isinstance(value, str) and bool(value.strip()) and value.isprintable()
