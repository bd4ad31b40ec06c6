"""Getting ready in the background, so that the first plan need not wait for the compiler."""

import logging
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

from firstwash.errors import FirstwashError
from firstwash.web.errors import Busy
from firstwash.web.words import trace_words

if TYPE_CHECKING:
    from firstwash.web.services import Services

__all__ = ["GETTING_READY", "get_ready", "rest_when_idle", "start_warming"]

log = logging.getLogger("firstwash.web")
GETTING_READY: Final = "getting ready"  # kind and key of the job; plans may start after it
LATEST: Final = 1.0  # s after the start, if nobody has asked for anything
IDLE: Final = 60.0  # s without a request, after which memory is given back and the bin looked at
LOOK: Final = 20.0  # s between two looks at that
BREATH: Final = 0.3  # s left to the first page before the compiler takes the machine


def get_ready(folder: Path, progress: Callable[[str, float], None]) -> dict[str, bool]:
    """Compile what a plan needs, unless that is done (in a worker)."""
    del folder
    from firstwash.warming import warm_up_plans  # a second of imports

    warm_up_plans(progress)
    return {"ready": True}


def get_ready_for_more(folder: Path, progress: Callable[[str, float], None]) -> dict[str, bool]:
    """Compile what pictures, answers and edits need, unless that is done (in a worker).

    In a process of its own, for it lets everything else go first and the worker must not.
    """
    del folder, progress
    command = [sys.executable, "-m", "firstwash.warming", "rest"]
    done = subprocess.run(
        command, check=False, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    return {"ready": done.returncode == 0}


def start_warming(services: "Services", later: Sequence[Callable[[], None]] = ()) -> None:
    """Open the store at once; do the rest, then get ready, once the first page is out.

    All in a thread, and only if the settings say so: whoever needs it sooner does it then.
    """
    threading.Thread(target=_soon, args=(services, later), daemon=True, name="warm").start()


def _soon(services: "Services", later: Sequence[Callable[[], None]]) -> None:
    if not services.settings.warm:
        return
    with suppress(FirstwashError):  # told to whoever asks for a painting
        services.open()
    if services.answered.wait(LATEST):
        services.closing.wait(BREATH)
    if services.closing.is_set():
        return
    with suppress(Busy):
        services.jobs.start(GETTING_READY, f"{__name__}:{get_ready.__name__}")
        more = f"{__name__}:{get_ready_for_more.__name__}"
        services.jobs.start("more", more, after=GETTING_READY)
    _do_all(services, later)
    rest_when_idle(services)


def _do_all(services: "Services", what: Sequence[Callable[[], object]]) -> None:
    for do in what:
        if services.closing.is_set():
            return
        try:
            do()
        except Exception as error:  # whoever needs it meets it again, and is told
            log.error("later: %s", trace_words(error))


def rest_when_idle(services: "Services") -> None:
    """Whenever nobody has asked for anything for a while, once: do what is kept for then."""
    rested = -1.0
    while not services.closing.wait(LOOK):
        asked = services.asked
        if asked != rested and time.monotonic() - asked >= IDLE:
            _do_all(services, services.when_idle)
            rested = asked
