"""Put the page's typeface where the page finds it: from node_modules into the package.

Nothing fetched is committed, so the four files and their licence are copied at every
installation and ignored by git. Without them the page falls back to the system's
own fonts. Which version is decided by package.json; npm checks it against package-lock.json.
"""

import contextlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

__all__ = ["FONTS", "fetch", "main", "place"]

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "node_modules/@fontsource/atkinson-hyperlegible-next"
FONTS = ROOT / "src/firstwash/web/static/fonts"
PATIENCE = 60  # seconds: an installation without the typeface is better than one that hangs
NAMES = [
    f"atkinson-hyperlegible-next-{letters}-{weight}-normal.woff2"
    for letters in ("latin", "latin-ext")
    for weight in (400, 700)
]


def place(package: Path, folder: Path) -> bool:
    """Copy the files of the typeface into a folder; False, and nothing done, if any is missing."""
    sources = [*(package / "files" / name for name in NAMES), package / "LICENSE"]
    if not all(source.is_file() for source in sources):
        return False
    folder.mkdir(parents=True, exist_ok=True)
    for source in sources:
        shutil.copyfile(source, folder / source.name)
    return True


def fetch() -> None:
    """Ask npm once, and briefly, for the packages of package-lock.json; it may fail."""
    npm = Path(sys.executable).with_name("npm")
    brief = {"npm_config_fetch_retries": "0", "npm_config_fetch_timeout": str(PATIENCE * 1000)}
    command = [str(npm), "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--silent"]
    with contextlib.suppress(OSError, subprocess.TimeoutExpired):
        subprocess.run(command, cwd=ROOT, env=os.environ | brief, timeout=PATIENCE, check=False)


def main() -> int:
    """Place the fonts, or say in one sentence that the page will do without."""
    if not PACKAGE.is_dir():
        fetch()
    if not place(PACKAGE, FONTS):
        print(
            "The page's typeface could not be fetched, so it will use your system's own; "
            "run `make fonts` once npm can be reached."
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
