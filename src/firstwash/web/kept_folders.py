"""What was made of a painting, kept in a folder of its own beside the store."""

import json
import secrets
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from firstwash.worksheet.studio import Studio

__all__ = ["read_told", "sweep", "write_told"]


def write_told(folder: Path, name: str, told: Mapping[str, Any]) -> None:
    """Write what is told of a folder's files; the file is there whole or not at all."""
    folder.mkdir(parents=True, exist_ok=True)
    half = folder / f"{name}.{secrets.token_hex(4)}.half"
    half.write_text(json.dumps(dict(told)), "utf-8")
    half.replace(folder / name)


def read_told(folder: Path, name: str) -> dict[str, Any]:
    """What was written, {} for nothing."""
    try:
        told = json.loads((folder / name).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return told if isinstance(told, dict) else {}


def sweep(place: Path, studio: Studio) -> None:
    """Remove what belongs to paintings that are deleted for good."""
    kept = {p.id for binned in (False, True) for p in studio.store.listed(binned)}
    for folder in place.iterdir() if place.is_dir() else ():
        if folder.name not in kept:
            shutil.rmtree(folder, ignore_errors=True)
