"""The table of contents of a painting's zip, checked line by line before it is believed."""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from firstwash.errors import StoreError
from firstwash.store.files import LARGEST_FILE, is_key

__all__ = ["FORMAT", "VERSION", "Entry", "Manifest", "read_manifest", "state_name", "unreadable"]

FORMAT: Final = "firstwash painting"
VERSION: Final = 1
MOST_REVISIONS: Final = 30_000
MOST_FILES: Final = 30_000
MOST_NOTES: Final = 1000
LATEST: Final = 1e11  # seconds since 1970; some thousand years ahead


@dataclass(frozen=True)
class Entry:
    """One revision as the manifest tells it; relatives go by place."""

    sha256: str
    parent: int | None
    onward: int | None
    words: str
    kind: str
    created: float
    thumbnail: str | None
    files: frozenset[str]


@dataclass(frozen=True)
class Manifest:
    """A checked manifest. files: size in bytes by key. notes: (name, JSON text, version)."""

    name: str
    created: float
    changed: float
    head: int
    revisions: tuple[Entry, ...]
    files: Mapping[str, int]
    notes: tuple[tuple[str, str, int], ...]


def state_name(place: int) -> str:
    """The name in the zip of the state of the revision at a place."""
    return f"states/{place:06d}.json"


def unreadable() -> StoreError:
    """The error for a zip that is damaged or was not made by firstwash."""
    return StoreError(
        "This file is not a painting saved by firstwash, or it is damaged: export it again and "
        "use that."
    )


def read_manifest(data: bytes) -> Manifest:
    """The manifest, once everything in it is found to be sound.

    Raises StoreError for anything else, and for a version newer than this firstwash knows.
    """
    try:
        told = json.loads(data)
        if told["format"] == FORMAT and _whole(told["version"], 1) > VERSION:
            raise StoreError("A newer firstwash saved this painting: install that one to open it.")
        _check(told["format"] == FORMAT)
        return _manifest(told)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise unreadable() from error


def _manifest(told: Mapping[str, Any]) -> Manifest:
    files = {key: _whole(size, 0, LARGEST_FILE) for key, size in told["files"].items()}
    _check(len(files) <= MOST_FILES and all(map(is_key, files)))
    _check(0 < len(told["revisions"]) <= MOST_REVISIONS and len(told["notes"]) <= MOST_NOTES)
    revisions = tuple(_entry(one, files, i) for i, one in enumerate(told["revisions"]))
    for place, one in enumerate(revisions):
        onward = one.onward
        _check(onward is None or (onward < len(revisions) and revisions[onward].parent == place))
    notes = tuple(
        (_text(n["name"]), _text(n["json"]), _whole(n["version"], 1)) for n in told["notes"]
    )
    _check(len({name for name, _, _ in notes}) == len(notes))
    return Manifest(
        _text(told["name"]),
        _time(told["created"]),
        _time(told["changed"]),
        _whole(told["head"], 0, len(revisions) - 1),
        revisions,
        files,
        notes,
    )


def _entry(told: Mapping[str, Any], files: Mapping[str, int], place: int) -> Entry:
    keys = [_text(key) for key in told["files"]]
    thumbnail, parent, onward = told["thumbnail"], told["parent"], told["onward"]
    _check(is_key(told["sha256"]) and set(keys) <= files.keys() and len(set(keys)) == len(keys))
    _check(thumbnail is None or _text(thumbnail) in files)
    _check((parent is None) == (place == 0))  # one root, and it comes first
    return Entry(
        sha256=told["sha256"],
        parent=None if parent is None else _whole(parent, 0, place - 1),
        onward=None if onward is None else _whole(onward, place + 1),
        words=_text(told["words"]),
        kind=_text(told["kind"]),
        created=_time(told["created"]),
        thumbnail=thumbnail,
        files=frozenset(keys),
    )


def _check(sound: bool) -> None:
    if not sound:
        raise ValueError


def _whole(value: object, least: int, most: int = 2**53) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise ValueError
    return value


def _time(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError
    _check(math.isfinite(value) and 0 <= value <= LATEST)
    return float(value)


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError
    value.encode("utf-8")  # half a character is none
    return value
