"""Putting firstwash among the programs of a computer: Linux, and untried Windows and macOS.

Linux: a desktop entry and an icon in the person's own folders, as the desktop entry and icon
theme specifications ask (freedesktop.org). Windows: a link in the Start menu, made by
`windows.ps1`. macOS: a small application folder. Only the first has been tried.
"""

import os
import subprocess
import sys
from importlib import resources
from pathlib import Path
from typing import Final

from firstwash.errors import OutputError

__all__ = ["desktop_entry", "install"]

NAME: Final = "firstwash"
WORDS: Final = "Plan a transparent watercolour"
UNTRIED: Final = "The launcher could not be made; start it in a terminal: firstwash open."
# Within double quotes an Exec line escapes these, by the desktop entry specification.
ESCAPED: Final = str.maketrans({c: f"\\{c}" for c in '"`$\\'})
INFO: Final = """<?xml version="1.0" encoding="UTF-8"?>
<plist version="1.0"><dict>
<key>CFBundleName</key><string>firstwash</string>
<key>CFBundleIdentifier</key><string>org.firstwash.worksheet</string>
<key>CFBundleExecutable</key><string>firstwash</string>
<key>CFBundlePackageType</key><string>APPL</string>
</dict></plist>
"""


def install(home: Path | None = None, python: str = sys.executable) -> list[Path]:
    """Write the launcher for this computer; gives the files written.

    home: the person's folder. Raises OutputError when it cannot be written.
    """
    home = home or Path.home()
    try:
        if sys.platform == "win32":
            return _windows(home, python)
        return _macos(home, python) if sys.platform == "darwin" else _linux(home, python)
    except (OSError, subprocess.SubprocessError) as error:
        raise OutputError(UNTRIED) from error


def desktop_entry(python: str, icon: Path) -> str:
    """The text of a desktop entry that opens the worksheet with that Python."""
    quoted = python.translate(ESCAPED).replace("\\", "\\\\").replace("%", "%%")
    lines = (
        "[Desktop Entry]",
        "Type=Application",
        "Version=1.5",
        f"Name={NAME}",
        f"Comment={WORDS}",
        f'Exec="{quoted}" -m firstwash open',
        f"Icon={icon}",
        "Terminal=true",  # closing the window ends it
        "Categories=Graphics;Art;",
        "StartupNotify=false",
    )
    return "\n".join(lines) + "\n"


def _shared(home: Path) -> Path:
    told = os.environ.get("XDG_DATA_HOME", "")
    return Path(told) if Path(told).is_absolute() else home / ".local" / "share"


def _icon() -> str:
    return resources.files(__package__).joinpath("icon.svg").read_text("utf-8")


def _write(path: Path, text: str, executable: bool = False) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    if executable:
        path.chmod(0o755)
    return path


def _linux(home: Path, python: str) -> list[Path]:
    share = _shared(home)
    icon = share / "icons" / "hicolor" / "scalable" / "apps" / f"{NAME}.svg"
    entry = share / "applications" / f"{NAME}.desktop"
    return [_write(icon, _icon()), _write(entry, desktop_entry(python, icon))]


def _windows(home: Path, python: str) -> list[Path]:
    """Not tried on a real computer yet."""
    text = resources.files(__package__).joinpath("windows.ps1").read_text("utf-8")
    script = _write(home / "AppData" / "Local" / NAME / "make-shortcut.ps1", text)
    words = ("powershell", "-NoProfile", "-ExecutionPolicy", "Bypass", "-File", str(script))
    subprocess.run([*words, "-Python", python], check=True)
    return [script]


def _macos(home: Path, python: str) -> list[Path]:
    """Not tried on a real computer yet."""
    inside = home / "Applications" / f"{NAME}.app" / "Contents"
    quoted = python.replace("'", "'\\''")
    start = f"#!/bin/sh\nexec '{quoted}' -m firstwash open\n"
    return [
        _write(inside / "Info.plist", INFO),
        _write(inside / "Resources" / f"{NAME}.svg", _icon()),
        _write(inside / "MacOS" / NAME, start, executable=True),
    ]
