"""Kernels compiled before they are needed, on a fresh installation by two processes at once.

Compiling takes most of a first plan, and one process compiles one kernel at a time. So the
palette's kernels, about half of it, are compiled by a second process while this one compiles the
others, each by working out something tiny; both leave them where the next run finds them.
Nothing depends on it: what is not compiled yet is compiled when it is called.
"""

import hashlib
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from firstwash.errors import Cancelled, FirstwashError
from firstwash.plan.kernels import stack_labs
from firstwash.plan.problem import Progress, no_progress

__all__ = ["ready_first", "warm_up", "warm_up_plans", "warm_up_rest", "warm_up_study"]

PACKAGE = Path(__file__).parent
LAST = 14  # niceness: behind everything that somebody waits for


def warm_up(progress: Progress = no_progress) -> None:
    """Compile what plans and their pages need, unless that has been done; about a minute if not.

    Leaves a stamp in the folder of compiled kernels. Where nothing can be kept there, or no
    process started, it does nothing.
    """
    warm_up_plans(progress)
    warm_up_rest()


def warm_up_plans(progress: Progress = no_progress) -> None:
    """Compile what a plan itself needs; what its pictures and pages need is left for later."""
    _beside_palettes("plans", _compile_a_plan, progress)


def warm_up_study(progress: Progress = no_progress) -> None:
    """Compile what a study needs, unless that has been done; over half a minute if not."""
    _beside_palettes("study", _compile_a_study, progress)


def _beside_palettes(part: str, work: Callable[[], None], progress: Progress) -> None:
    """`work` here and the palette's kernels in a second process, unless the part is compiled."""
    stamp = _stamp(part)
    if stamp is None or stamp.exists():
        return
    progress("Getting ready, once only", 0.0)
    try:
        other = subprocess.Popen(
            [sys.executable, "-m", "firstwash.warming"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,  # what fails here is met again, and told, where it matters
        )
    except OSError:
        return
    try:
        work()
        progress("Getting ready, once only", 0.7)
        done = other.wait()
    except Cancelled:
        raise
    except (FirstwashError, OSError):  # no room for temporary files, say: the plan may still do
        return
    finally:
        other.kill()
        other.wait()
    if done == 0:
        stamp.touch()


def _compile_a_plan() -> None:
    from firstwash.warming_work import compile_a_plan  # half a second of imports, needed once

    compile_a_plan()


def _compile_a_study() -> None:
    from firstwash.warming_work import compile_a_study

    compile_a_study()


def warm_up_rest() -> None:
    """Compile what pictures, maps, answers and pages of a plan need, unless that has been done."""
    stamp = _stamp("rest")
    if stamp is None or stamp.exists():
        return
    from firstwash.warming_work import compile_the_rest

    try:
        compile_the_rest()
    except (FirstwashError, OSError):
        return
    stamp.touch()


def ready_first(
    progress: Progress = no_progress, get_ready: Callable[[Progress], None] = warm_up_plans
) -> Progress:
    """A callback for plans, or studies, that gets ready at their second step.

    By then the request has been read, so that nobody waits a minute for a refusal.
    """
    steps: list[str] = []

    def tell(step: str, done: float) -> None:
        if step not in steps:
            steps.append(step)
            if len(steps) == 2:
                get_ready(progress)
        progress(step, done)

    return tell


def _stamp(part: str) -> Path | None:
    """The file that tells that a part of the kernels is compiled; None where none are kept."""
    place = stack_labs.stats.cache_path
    if place is None:
        return None
    folder = Path(place)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    if not os.access(folder, os.W_OK):
        return None
    sources = sorted(PACKAGE.rglob("*.py"))
    told = [sys.version, *(f"{p} {p.stat().st_mtime_ns} {p.stat().st_size}" for p in sources)]
    return folder / f"{part}-{hashlib.sha256(repr(told).encode()).hexdigest()[:16]}"


if __name__ == "__main__":
    if sys.argv[1:] == ["rest"]:
        if hasattr(os, "nice"):
            os.nice(LAST)
        warm_up_rest()
    else:
        from firstwash.warming_work import compile_palettes

        compile_palettes()
