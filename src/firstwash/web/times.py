"""How long each kind of work took before, so that the page can say how long it usually takes."""

import json
import os
import statistics
from contextlib import suppress
from pathlib import Path

__all__ = ["Times"]

KEPT = 7  # latest runs of a kind


class Times:
    """Seconds the latest runs of each kind of work took; kept in a file across starts."""

    def __init__(self, file: Path | None = None) -> None:
        """Read `file`; one that is missing or spoilt is an empty one."""
        self._file = file
        self._seconds: dict[str, list[float]] = {}
        if file is not None:
            with suppress(OSError, ValueError, TypeError, AttributeError):
                told = json.loads(file.read_text("utf-8"))
                self._seconds = {str(k): [float(s) for s in v] for k, v in told.items()}

    def usual(self, kind: str) -> float | None:
        """The median of the latest runs, s; None before the first."""
        seconds = self._seconds.get(kind)
        return round(statistics.median(seconds), 1) if seconds else None

    def took(self, kind: str, seconds: float) -> None:
        """Note one more run that finished."""
        self._seconds[kind] = [*self._seconds.get(kind, []), round(seconds, 2)][-KEPT:]
        if self._file is not None:
            half = self._file.with_suffix(".half")
            with suppress(OSError):  # a lost estimate is no harm
                half.write_text(json.dumps(self._seconds), "utf-8")
                os.replace(half, self._file)
