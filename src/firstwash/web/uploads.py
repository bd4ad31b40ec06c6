"""Files that come in: to disk as they come, never more than allowed, and what they claim checked.

The name a browser sends is for people to read; no path is ever made from it.
"""

import os
import re
import tempfile
import unicodedata
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Final, Literal
from urllib.parse import quote

import anyio.to_thread
from starlette.requests import Request

from firstwash.errors import PhotoError
from firstwash.web.errors import TooLarge, WebError

__all__ = ["FileKind", "attachment", "clean_name", "receive", "sniff"]

FileKind = Literal["JPEG", "PNG", "TIFF", "WebP", "HEIF", "zip"]
PHOTOS: Final = frozenset({"JPEG", "PNG", "TIFF", "WebP", "HEIF"})
LONGEST_NAME: Final = 120
HEAD: Final = 32
# Brands of ISO base media files that hold still pictures ([ISO23008-12]; avif from [AVIF]).
BRANDS: Final = frozenset(
    (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"mif2", b"msf1", b"avif")
)


def sniff(head: bytes) -> FileKind | None:
    """What a file is by its first 32 bytes, whatever its name; None if nothing we take."""
    if head.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if head[:4] in (b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+"):
        return "TIFF"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WebP"
    if head[4:8] == b"ftyp" and head[8:12] in BRANDS:
        return "HEIF"
    return "zip" if head.startswith(b"PK\x03\x04") else None


def clean_name(name: str, otherwise: str = "Untitled") -> str:
    """A file's or a painting's name as people may read it: one line, at most 120 characters.

    Folders, control characters and marks that turn the writing round are dropped.
    """
    name = unicodedata.normalize("NFC", name.encode("utf-8", "ignore").decode("utf-8"))
    name = re.split(r"[/\\]", name)[-1]
    kept = "".join(c if unicodedata.category(c)[0] != "C" else " " for c in name)
    return " ".join(kept.split())[:LONGEST_NAME].rstrip() or otherwise


def attachment(name: str) -> str:
    """A Content-Disposition header that saves an answer under a name ([RFC6266], [RFC8187])."""
    name = re.sub(r'[<>:"|?*]', "-", clean_name(name))
    plain = name.encode("ascii", "replace").decode().replace("?", "-").replace("%", "-")
    return f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"


@asynccontextmanager
async def receive(
    request: Request, folder: Path, most: int, kinds: frozenset[str] | None = PHOTOS
) -> AsyncIterator[Path]:
    """The body of a request as a file in `folder`, removed afterwards unless it was moved away.

    most: bytes; the route must allow as much (`max_body_size`). kinds: None where the reader
    judges for itself. Raises TooLarge, PhotoError for a file of another kind, WebError for an
    empty one; TooSlow comes from the guard.
    """
    said = request.headers.get("content-length", "")
    if said.isdigit() and int(said) > most:
        raise _too_large(most)
    handle, name = tempfile.mkstemp(prefix="in-", dir=folder)
    path = Path(name)
    try:
        try:
            await _fill(handle, request, most, kinds)
        finally:
            os.close(handle)
        yield path
    finally:
        path.unlink(missing_ok=True)


async def _fill(handle: int, request: Request, most: int, kinds: frozenset[str] | None) -> None:
    size, head = 0, b""
    async for chunk in request.stream():
        size += len(chunk)
        if size > most:
            raise _too_large(most)
        if len(head) < HEAD:
            head = (head + chunk)[:HEAD]
            if len(head) == HEAD:
                _check_kind(head, kinds)
        try:
            await anyio.to_thread.run_sync(_write, handle, chunk)
        except OSError:
            raise WebError("The file could not be written: make room on the disk.") from None
    if not size:
        raise WebError("The file is empty; choose another.")
    _check_kind(head, kinds)


def _write(handle: int, chunk: bytes) -> None:
    left = memoryview(chunk)
    while left:
        left = left[os.write(handle, left) :]


def _check_kind(head: bytes, kinds: frozenset[str] | None) -> None:
    if kinds is not None and sniff(head) not in kinds:
        if "zip" in kinds:
            raise WebError("This is not a painting exported by firstwash; choose its zip file.")
        raise PhotoError("This is not a photo; choose a JPEG, PNG, TIFF, WebP, HEIC or AVIF file.")


def _too_large(most: int) -> TooLarge:
    return TooLarge(f"The file is larger than {most // 1_000_000} MB; choose a smaller one.")
