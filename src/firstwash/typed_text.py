"""Short texts that people type, tidied and checked before they are printed or kept."""

import unicodedata
from typing import Final

from firstwash.errors import RequestError

__all__ = ["TURNING", "tidied"]

# Characters that turn the direction of what follows, so that a line reads as something else.
TURNING: Final = set("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def tidied(name: str, text: str, most: int) -> str:
    """A text of one line with single spaces, composed (NFC); joiners of other scripts stay.

    name: what it is, for the error. Raises RequestError for more than `most` characters, and for
    control characters.
    """
    if len(text) > 4 * most:  # before anything slow is done with it
        raise RequestError(f"Shorten {name} to at most {most} characters.")
    plain = " ".join(unicodedata.normalize("NFC", text).split())
    if len(plain) > most:
        raise RequestError(f"Shorten {name} to at most {most} characters, from {len(plain)}.")
    if any(unicodedata.category(c) in ("Cc", "Cs", "Co", "Cn") or c in TURNING for c in plain):
        raise RequestError(f"Take the invisible control characters out of {name}.")
    return plain
