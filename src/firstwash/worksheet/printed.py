"""Pictures of plans kept on the disk, for they are asked for again and again.

Nothing depends on them: what is not there is drawn again.
"""

import os
import re
import secrets
import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Final

from firstwash.plan.result import Plan
from firstwash.worksheet.prints import Picture, index_picture, stage_picture

__all__ = ["CELLS_WIDTH", "WIDTH", "Printed", "print_stages"]

WIDTH: Final = 1200  # pixels of the pictures that the page shows first
CELLS_WIDTH: Final = 700
MOST: Final = 120  # plans whose pictures are kept
ENDINGS: Final = {"image/jpeg": "jpg", "image/png": "png", "image/svg+xml": "svg"}
KINDS: Final = {ending: kind for kind, ending in ENDINGS.items()}
NAME: Final = re.compile(r"[a-z0-9-]{1,40}")


def print_stages(plan: Plan, folder: Path) -> None:
    """The pictures that the page asks for first, written to a folder."""
    folder.mkdir(exist_ok=True)
    for stage in range(plan.layers + 1):
        _write(folder, f"stage-{stage}", WIDTH, stage_picture(plan, stage, WIDTH))
    _write(folder, "finished", WIDTH, stage_picture(plan, None, WIDTH))
    _write(folder, "cells", CELLS_WIDTH, index_picture(plan, CELLS_WIDTH))


def _write(folder: Path, name: str, width: int, picture: Picture) -> None:
    (folder / f"{name}.{width}.{ENDINGS[picture.media_type]}").write_bytes(picture.data)


def _write_whole(path: Path, data: bytes) -> None:
    half = path.with_name(f".{secrets.token_hex(6)}")
    try:
        half.write_bytes(data)
        os.replace(half, path)
    finally:
        half.unlink(missing_ok=True)


class Printed:
    """Pictures by the stamp of what they show, their name and width."""

    def __init__(self, folder: Path) -> None:
        """folder: theirs alone; made when the first one comes."""
        self._folder = folder

    def of(self, stamp: str, name: str, width: int, draw: Callable[[], Picture]) -> Picture:
        """The picture as kept, or drawn now and kept."""
        folder = self._folder / stamp
        if not (NAME.fullmatch(stamp) and NAME.fullmatch(name)):
            return draw()
        for ending, kind in KINDS.items():
            with suppress(OSError):
                return Picture((folder / f"{name}.{width}.{ending}").read_bytes(), kind, width, 0)
        made = draw()
        with suppress(OSError):  # a full disk: the picture is shown all the same
            folder.mkdir(parents=True, exist_ok=True)
            _write_whole(folder / f"{name}.{width}.{ENDINGS[made.media_type]}", made.data)
        return made

    def take(self, stamp: str, made: Path) -> None:
        """Pictures that were drawn elsewhere, from their folder."""
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            if not (self._folder / stamp).exists():
                shutil.move(made, self._folder / stamp)
            self._tidy()

    def _tidy(self) -> None:
        """Let go of the pictures longest not made anew."""
        kept = sorted(self._folder.iterdir(), key=lambda p: p.stat().st_mtime)
        for old in kept[:-MOST]:
            shutil.rmtree(old, ignore_errors=True)
