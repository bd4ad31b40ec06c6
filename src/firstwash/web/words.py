"""Short words for errors: for the page to tell them apart, and for the log. No framework here."""

import re
import traceback

from firstwash.errors import FirstwashError

__all__ = ["kind_of", "trace_words"]

FRAMES = 12  # innermost ones


def kind_of(error: FirstwashError) -> str:
    """The class as words: "photo" of a PhotoError, "already open" of AlreadyOpen."""
    name = type(error).__name__.removesuffix("Error") or "error"
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name).lower()


def trace_words(error: BaseException) -> str:
    """What failed and where in the code, without messages, which may hold names or paths."""
    frames = traceback.walk_tb(error.__traceback__)
    places = [f"{frame.f_globals.get('__name__')}:{line}" for frame, line in frames]
    return f"{type(error).__name__} at {' > '.join(places[-FRAMES:])}"
