"""What happens in a worker: one piece of work in a room of its own.

A room is a folder: `out` for the work's own files, `progress` with one JSON line per step told,
`begun` with the worker's process id, and at the end `outcome`, written whole or not at all. The
server reads these files. Nothing is locked between the two, so that a worker killed at any
moment blocks nobody.
"""

import json
import math
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from importlib import import_module
from multiprocessing import connection, parent_process
from pathlib import Path
from typing import Any

from firstwash.errors import FirstwashError
from firstwash.web.words import kind_of, trace_words

__all__ = ["Work", "kill_worker", "named", "ready_worker", "run", "worker_of"]

Progress = Callable[[str, float], None]
Work = Callable[..., Mapping[str, Any] | None]
SOONEST = 0.1  # s between two lines of the same step
GENTLER = 5  # niceness: the server's short answers come first


def named(work: Work | str) -> str:
    """The name a worker finds the work by, "package.module:function"."""
    if isinstance(work, str):
        return work
    name = f"{work.__module__}:{work.__qualname__}"
    if "<" in name or work.__module__ == "__main__":
        raise TypeError(f"{name} cannot be found by a worker; name a function of a module")
    return name


def ready_worker(environment: Mapping[str, str]) -> None:
    """Prepare a worker that has just started: what it starts ends with it, and it with us."""
    os.environ.update(environment)
    if hasattr(os, "setsid"):
        os.setsid()  # a group of its own, so that it can be ended with what it started
        os.nice(GENTLER)
    threading.Thread(target=_end_with_server, daemon=True).start()


def _end_with_server() -> None:
    server = parent_process()
    if server is not None:
        connection.wait([server.sentinel])
        kill_worker(os.getpid())


def kill_worker(pid: int) -> None:
    """End a worker and whatever it started, at once."""
    with suppress(OSError):
        if sys.platform == "win32":
            subprocess.run(["taskkill", "/F", "/T", "/PID", str(pid)], check=False)
        elif _leads_group(pid):
            os.killpg(pid, signal.SIGKILL)


def _leads_group(pid: int) -> bool:
    """False only if the number has gone to a process that is none of ours."""
    try:
        return os.getpgid(pid) == pid
    except ProcessLookupError:  # ended itself; what it started may still be there
        return True


def worker_of(room: Path) -> int | None:
    """Process id of the worker that began the work of a room, or None."""
    try:
        return int((room / "begun").read_text("ascii"))
    except (OSError, ValueError):
        return None


def run(work: str, room: Path, args: Mapping[str, Any]) -> None:
    """Do the work named `work` in `room`, and leave an outcome there whatever happens.

    The outcome is {"finished": result}, {"failed": sentence, "kind": word} for a deliberate
    error, or {"crashed": words for the log}.
    """
    _write_whole(room / "begun", str(os.getpid()))
    module, _, function = work.partition(":")
    try:
        do: Work = getattr(import_module(module), function)
        with (room / "progress").open("ab", buffering=0) as file:
            result = do(room / "out", _teller(file.write), **args)
        _write_whole(room / "outcome", json.dumps({"finished": dict(result or {})}))
    except FirstwashError as error:
        told = {"failed": str(error), "kind": kind_of(error)}
        _write_whole(room / "outcome", json.dumps(told))
    except BaseException as error:
        _write_whole(room / "outcome", json.dumps({"crashed": trace_words(error)}))


def _write_whole(path: Path, text: str) -> None:
    half = path.with_suffix(".half")
    half.write_text(text, "utf-8")
    half.replace(path)


def _teller(write: Callable[[bytes], Any]) -> Progress:
    """A callback that writes a line for every new step, and ten a second within one."""
    last_step, last_time = "", -math.inf

    def tell(step: str, done: float) -> None:
        nonlocal last_step, last_time
        now = time.monotonic()
        if step == last_step and now - last_time < SOONEST and done < 1.0:
            return
        last_step, last_time = step, now
        share = round(min(max(done, 0.0), 1.0), 4) if math.isfinite(done) else 0.0
        write((json.dumps([step, share]) + "\n").encode())

    return tell
