"""Memory given back to the computer, where its C library can be told to.

Large pictures come and go; the C library of Linux keeps what they leave, in an area for every
thread. Two areas do, and what is left is handed back when nobody is asking.
"""

import ctypes
import gc
import sys
from contextlib import suppress
from typing import Any, Final

__all__ = ["few_arenas", "give_back"]

M_ARENA_MAX: Final = -8  # from glibc's malloc.h, from memory
ARENAS: Final = 2


def _library() -> Any:
    return ctypes.CDLL("libc.so.6") if sys.platform == "linux" else None


def few_arenas() -> None:
    """To be called before any thread is started; elsewhere than on Linux it does nothing."""
    with suppress(OSError, AttributeError):
        library = _library()
        if library is not None:
            library.mallopt(M_ARENA_MAX, ARENAS)


def give_back() -> None:
    """Hand unused memory back; takes some hundredths of a second."""
    gc.collect()
    with suppress(OSError, AttributeError):
        library = _library()
        if library is not None:
            library.malloc_trim(0)
