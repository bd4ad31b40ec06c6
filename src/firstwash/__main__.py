"""The command's way in: `firstwash`, or `python -m firstwash`.

Ctrl-C ends the program there and then: while it loads and plans there is nothing to undo.
Raising an exception instead would be less sure, for imports and callbacks of other packages
may swallow it. Only the writing of files asks for that (see `firstwash.cli`).
"""

import atexit
import gc
import os
import signal
import threading
from types import FrameType

__all__ = ["main"]

STOPPED = b"Stopped; nothing was left half written.\n"
STOPPED_CODE = 130  # as shells report Ctrl-C
CLEAR_BAR = b"\r\x1b[2K\x1b[?25h"  # the progress bar's line, and the cursor it hides


def _end_at_once(number: int, frame: FrameType | None) -> None:
    del number, frame
    os.write(2, (CLEAR_BAR if os.isatty(2) else b"") + STOPPED)
    os._exit(STOPPED_CODE)


def main() -> None:
    """Load the command line and run it."""
    # Not where the caller lets Ctrl-C pass, as a shell does for jobs in the background.
    usual = signal.getsignal(signal.SIGINT) is signal.default_int_handler
    if usual and threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, _end_at_once)
    # Hundreds of modules are loaded that stay to the end: looking them through for rubbish again
    # and again takes a fifth of a second, and once more at the end half a second.
    gc.set_threshold(100_000, 20, 20)
    atexit.register(gc.freeze)
    from firstwash.cli import main as run

    run()


if __name__ == "__main__":
    main()
