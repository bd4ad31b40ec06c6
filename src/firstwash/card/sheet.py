"""The small file that tells what is painted on a card: its rows and their partners.

    {"format": "firstwash card 1", "rows": [{"paint": "PB29", "pale": ..., ...}, ...]}

It is written beside the printed card and read again with the photo. Whoever painted something
else than the card said may change a key in it.
"""

import json
from collections.abc import Sequence
from dataclasses import asdict, fields
from typing import Final

from firstwash.card.layout import ROWS
from firstwash.card.recipe import CardRow
from firstwash.errors import RequestError

__all__ = ["FORMAT", "read_rows", "write_rows"]

FORMAT: Final = "firstwash card 1"
LARGEST: Final = 100_000  # bytes


def write_rows(rows: Sequence[CardRow]) -> bytes:
    """The file, UTF-8."""
    told = {"format": FORMAT, "rows": [asdict(row) for row in rows]}
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


def _word(value: object) -> bool:
    """Whether this can be the key of a paint: something that can be read and printed."""
    return isinstance(value, str) and bool(value.strip()) and value.isprintable()
