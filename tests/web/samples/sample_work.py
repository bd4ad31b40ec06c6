"""Work for a worker to do in tests; found through sys.path, which a spawned worker inherits."""

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from firstwash.errors import PhotoError

Progress = Callable[[str, float], None]


def count(folder: Path, progress: Progress, to: int = 3, name: str = "n") -> dict[str, Any]:
    """Tell every step, and leave a file."""
    for i in range(to):
        progress(f"Step {i + 1}", (i + 1) / to)
    (folder / f"{name}.txt").write_text(str(to), "utf-8")
    return {"counted": to, "name": name, "pid": os.getpid()}


def hold(folder: Path, progress: Progress, note: str = "") -> dict[str, Any]:
    """Work until the file `let-go` appears; `note` is where the pids of all involved go."""
    other = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(600)"])
    Path(note).write_text(f"{os.getpid()} {other.pid}", "utf-8")
    progress("Holding", 0.25)
    while not (folder / "let-go").exists():
        time.sleep(0.01)
    other.kill()
    other.wait()
    return {}


def deaf(folder: Path, progress: Progress, note: str = "") -> None:
    """Refuse to end when asked politely, and never come back."""
    del folder
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    Path(note).write_text(f"{os.getpid()}", "utf-8")
    progress("Deaf", 0.1)
    threading.Event().wait(600)


def refuse(folder: Path, progress: Progress) -> None:
    del folder, progress
    raise PhotoError("This photo is too dark; choose another.")


def break_down(folder: Path, progress: Progress) -> None:
    del folder, progress
    raise ZeroDivisionError("a secret name")


def unwritable(folder: Path, progress: Progress) -> dict[str, Any]:
    del folder, progress
    return {"not json": object()}


def die(folder: Path, progress: Progress) -> None:
    """What the system does to a process that takes too much memory."""
    del folder
    progress("Dying", 0.5)
    os.kill(os.getpid(), signal.SIGKILL)


def odd_progress(folder: Path, progress: Progress) -> None:
    del folder
    progress("Odd\nstep ☃", float("nan"))
    progress("Far", 7.0)
    progress("Back", -1.0)
