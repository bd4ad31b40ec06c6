"""Runs of bytes in a file, put in order so that each byte is touched once.

A file made to do harm can name the same megabytes a million times over.
"""

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import Final

from firstwash.store.tiff import Damaged

__all__ = ["merged"]

MOST: Final = 2**21  # runs; a large tiled picture has some ten thousand


def merged(runs: Iterable[tuple[int, int]], length: int) -> Iterator[tuple[int, int]]:
    """Start and end of what the runs (start, size) cover of a file, in order, none twice.

    What lies outside the file is left out. Raises Damaged if there are too many.
    """
    some = list(islice(runs, MOST + 1))
    if len(some) > MOST:
        raise Damaged("more pieces than a picture has")
    at = end = 0
    for start, size in sorted(some):
        if start > end:
            if at < end:
                yield at, end
            at = end = start
        end = max(end, min(start + size, length))
        if start >= length:
            break
    if at < min(end, length):
        yield at, min(end, length)
