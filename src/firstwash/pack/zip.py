"""One zip of named files: the same bytes each time, and names that every system takes."""

import io
import re
import unicodedata
import zipfile
from collections.abc import Mapping
from typing import Final

from firstwash.errors import RequestError

__all__ = ["pack_zip", "plain_name"]

DATE: Final = (1980, 1, 1, 0, 0, 0)  # the first that a zip can hold
PRESSED: Final = (".png", ".jpg", ".jpeg", ".pdf", ".ora", ".xlsx", ".zip", ".woff2")
FORBIDDEN: Final = set('<>:"\\|?*')  # in names on one system or another; from memory
DEVICES: Final = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?")  # from memory
LONGEST: Final = 200  # characters of a whole path
PART_BYTES: Final = 255  # of a file's or folder's name, what most file systems hold; from memory


def pack_zip(files: Mapping[str, bytes]) -> bytes:
    """A zip of files by their paths in it ("steps/stage-1.jpg"), in the order of their names.

    What is packed already (pictures, PDF, other packages) is stored, the rest deflated. No dates,
    so the same files make the same bytes. Raises RequestError for no file, or a name that leaves
    the folder, that some system refuses, or that differs from another by case only.
    """
    if not files:
        raise RequestError("There is nothing to pack; name at least one file.")
    _check_names(files)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as to:
        for name in sorted(files):
            stored = name.lower().endswith(PRESSED)
            to.writestr(_entry(name, stored), files[name], compresslevel=None if stored else 6)
    return out.getvalue()


def _entry(name: str, stored: bool) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, DATE)
    info.compress_type = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
    info.create_system = 3  # the same on every system: a file that its owner may change
    info.external_attr = 0o100644 << 16
    return info


def _check_names(files: Mapping[str, bytes]) -> None:
    seen: dict[str, str] = {}
    folders = {
        "/".join(_parts(name)[:end]) for name in files for end in range(1, name.count("/") + 1)
    }
    for name in sorted(files):
        if len(name) > LONGEST or not all(_safe(part) for part in _parts(name)):
            shown = name[:60].encode("unicode_escape").decode("ascii")
            raise RequestError(
                f"“{shown}” cannot be a file's name in a zip; use letters, digits and hyphens."
            )
        plain = _same(name)
        if plain in seen or plain in folders:
            raise RequestError(f"Two files of the zip are called “{name}”; rename one of them.")
        seen[plain] = name


def _parts(name: str) -> list[str]:
    return _same(name).split("/")


def _same(name: str) -> str:
    """A name as systems see it that do not tell case or ways to write an accent apart."""
    return unicodedata.normalize("NFC", name).casefold()


def _safe(part: str) -> bool:
    return (
        part not in ("", ".", "..")
        and part == part.strip()
        and not part.endswith(".")
        and not any(c in FORBIDDEN or not c.isprintable() for c in part)
        and not DEVICES.fullmatch(part)
        and len(part.encode("utf-8")) <= PART_BYTES
    )


def plain_name(words: str, otherwise: str = "lesson") -> str:
    """A file's name from a title: ASCII letters, digits and hyphens, 1 to 60 of them.

    otherwise: the name where nothing of the title is left.
    """
    flat = (
        unicodedata.normalize("NFKD", words[:500].casefold())
        .encode("ascii", "ignore")
        .decode("ascii")
    )
    name = re.sub(r"[^a-z0-9]+", "-", flat).strip("-")[:60].strip("-")
    return otherwise if not name or DEVICES.fullmatch(name) else name
