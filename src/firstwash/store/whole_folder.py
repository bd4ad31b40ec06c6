"""A folder of pages that appears whole or not at all, and replaces only what we wrote before."""

import errno
import os
import secrets
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Final

from firstwash.errors import OutputError

__all__ = ["marked", "own_files", "writable", "write_whole"]

LITTER: Final = (".DS_Store", "Thumbs.db", "desktop.ini")  # left by file browsers, of use to nobody


def writable(folder: Path, own: tuple[str, ...], ours: Callable[[Path], bool]) -> Path:
    """The folder as an absolute path, if it may be written; else OutputError.

    own: names that may be there already, as patterns, one folder deep at most ("stages",
    "stages/*.png"); anything else is the painter's. ours: whether an existing folder that holds
    something was written by us.
    """
    try:
        target = Path(os.path.realpath(folder))
        stands = next(path for path in (target, *target.parents) if path.exists())
        if not stands.is_dir():
            raise OutputError(f"{stands} is a file; name a folder.")
        if not os.access(stands, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        other = _other_thing(target, own, ours) if stands == target else None
    except (OSError, ValueError) as error:  # ValueError: a name no folder can have
        raise _refusal(folder, error) from None
    if other is not None:
        raise OutputError(
            f"{folder} holds other things, such as {other}; name a new or empty folder."
        )
    return target


def marked(name: str, head: str) -> Callable[[Path], bool]:
    """Whether a folder holds a file of that name that begins with our `head`."""

    def ours(folder: Path) -> bool:
        file = folder / name
        return file.is_file() and file.read_bytes()[: len(head)] == head.encode()

    return ours


def own_files(folder: Path, name: str, head: str) -> tuple[str, ...]:
    """What we wrote to a folder before, by the list that ends its mark; "" stands before it.

    Only what is listed there is ours: a painter may have put more into the folder.
    """
    try:
        if not marked(name, head)(folder):
            return (name,)
        text = (folder / name).read_text("utf-8")
    except (OSError, ValueError):
        return (name,)
    listed = text.rstrip("\n").rpartition("\n\n")[2].splitlines()
    plain = [line for line in listed if not set(line) & set("*?[]")]
    inner = {line.partition("/")[0] for line in plain if "/" in line}
    return (name, *plain, *sorted(inner))


def _other_thing(folder: Path, own: tuple[str, ...], ours: Callable[[Path], bool]) -> Path | None:
    """The first thing in a folder that we did not put there, if there is one."""
    inner = {name.partition("/")[0] for name in own if "/" in name}
    found = list(_entries(folder, inner))
    for path in found:
        inside = path.relative_to(folder)
        is_folder = inside.as_posix() in inner
        if path.is_dir() != is_folder or not any(fnmatchcase(inside.as_posix(), n) for n in own):
            return inside
    return Path(found[0].name) if found and not ours(folder) else None


def _entries(folder: Path, inner: set[str]) -> Iterator[Path]:
    """What a folder and its own inner folders hold; no deeper, it may be large."""
    for path in sorted(p for p in folder.iterdir() if p.name not in LITTER):
        yield path
        if path.name in inner and path.is_dir():
            yield from sorted(p for p in path.iterdir() if p.name not in LITTER)


def _refusal(folder: Path, error: Exception) -> OutputError:
    why = getattr(error, "strerror", None) or "the name cannot be used"
    return OutputError(f"{folder} cannot be written ({why}); name another folder.")


def write_whole(folder: Path, target: Path, files: Iterable[tuple[str, bytes]]) -> None:
    """Write files (name, bytes) to `target`, which is `folder` as `writable` gave it.

    files: made one after another as they are written. What is there is replaced in one step.
    Raises OutputError; then nothing has changed.
    """
    try:
        with _parents(target), _draft(target) as draft:
            for name, content in files:
                file = draft / name
                file.parent.mkdir(exist_ok=True)
                file.write_bytes(content)
            _put_in_place(draft, target)
    except OSError as error:
        raise _refusal(folder, error) from None


@contextmanager
def _parents(target: Path) -> Iterator[None]:
    """The folders above the target, made if need be; taken away again if the work fails."""
    missing = [parent for parent in target.parents if not parent.exists()]
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException:
        with suppress(OSError):
            for parent in missing:
                parent.rmdir()
        raise


@contextmanager
def _draft(target: Path) -> Iterator[Path]:
    """A folder beside the target to write in; gone afterwards, whatever happens."""
    draft = target.parent / f".firstwash-{secrets.token_hex(8)}"
    try:
        draft.mkdir()
        yield draft
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _put_in_place(draft: Path, target: Path) -> None:
    """The draft becomes the target; what was there stays until the new one is in place."""
    old = draft.with_name(f"{draft.name}-old")
    try:
        if target.exists():
            target.rename(old)
        draft.rename(target)
    except BaseException:
        if old.exists() and not target.exists():
            old.rename(target)
        raise
    finally:
        if target.exists():
            shutil.rmtree(old, ignore_errors=True)
