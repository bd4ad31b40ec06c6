"""Kernels compiled before they are needed, on a fresh installation by two processes at once.

Compiling takes most of a first plan, and one process compiles one kernel at a time. So the
palette's kernels, about half of it, are compiled by a second process while this one compiles the
others, each by working out something tiny; both leave them where the next run finds them.
Nothing depends on it: what is not compiled yet is compiled when it is called.
"""

import hashlib
import io
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image

from firstwash.errors import Cancelled, FirstwashError
from firstwash.handout.layer_map import layer_map
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.paints.doubt import doubt_of_stacks
from firstwash.picture.drawing_edits import with_edge
from firstwash.picture.reference import Reference
from firstwash.plan.bench import Bench
from firstwash.plan.from_drawing import drawing_of_plan, keep_up
from firstwash.plan.palette import choose_palette, mix_freely
from firstwash.plan.problem import MOST_PAINTS, Limits, Progress, no_progress
from firstwash.plan.result import Plan
from firstwash.plan.trials import fit_strengths
from firstwash.usecases import Wishes, plan_photo, write_plan
from firstwash.usecases_study import StudyWishes, study_photo
from firstwash.worksheet.prints import stage_picture
from firstwash.worksheet.spot import alternatives_at, answer_at

__all__ = ["ready_first", "warm_up", "warm_up_plans", "warm_up_rest", "warm_up_study"]

PACKAGE = Path(__file__).parent
LAST = 14  # niceness: behind everything that somebody waits for
TINY = Wishes(sheet="12x9cm", limits=Limits(paints=MOST_PAINTS, washes=24, hours=5.0, shapes=30))


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
    """A tiny plan with all paints on the palette."""
    stage_picture(plan_photo(_tiny_picture(), TINY).plan, 1, 60)


def _compile_a_study() -> None:
    """A tiny study; the light first, while the second process compiles the palette's kernels."""
    study_photo(_tiny_picture(), StudyWishes(sheet=TINY.sheet))


def warm_up_rest() -> None:
    """Compile what pictures, maps, answers and pages of a plan need, unless that has been done."""
    stamp = _stamp("rest")
    if stamp is None or stamp.exists():
        return
    try:
        planned = plan_photo(_tiny_picture(), TINY)
        with tempfile.TemporaryDirectory() as folder:
            write_plan(planned, Path(folder) / "plan")
        layer_map(planned.plan, 1)
        _edit(planned.plan, planned.reference)
    except (FirstwashError, OSError):
        return
    stamp.touch()


def _edit(plan: Plan, reference: Reference) -> None:
    """What a finger on the sheet asks for: an answer, other mixtures, a shape changed."""
    answer_at(plan, 60.0, 45.0)
    wash = plan.washes[-1]
    alternatives_at(plan, wash.layer, wash.number)
    drawing = drawing_of_plan(plan)
    keep_up(plan, reference, with_edge(drawing, [(20.0, 20.0), (60.0, 45.0)], "soft"))


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
    place = fit_strengths.stats.cache_path
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


def _compile_palettes() -> None:
    bench = Bench.of(load_set("starter").paints, default_paper())
    colours = np.array([[80.0, 5.0, 40.0], [60.0, 40.0, 30.0], [30.0, 0.0, -20.0]])
    choose_palette(bench, colours, np.array([1.0, 2.0, 1.0]), 6)
    bench = bench.only([0, 1, 2])
    mix_freely(bench, colours)
    doubt_of_stacks(default_paper(), load_set("starter").paints[:3], np.zeros((1, 1, 3)))


def _tiny_picture() -> bytes:
    """A bright disc with a dark line and a spot of light, on soft and hard ground (PNG)."""
    rows, cols = np.mgrid[0:180, 0:240]
    shade = 200.0 - 120.0 * cols / 240.0
    pixels = np.stack([shade, 0.9 * shade, 0.6 * shade + 20.0], axis=-1)
    disc = np.hypot(rows - 90, cols - 120)
    pixels[disc < 55] = (210, 120, 50)
    pixels[(disc < 55) & (cols > 130)] = (150, 60, 30)
    pixels[150:] = (50, 60, 90)
    pixels[np.abs(rows - 60 - 0.2 * cols) < 1.2] = (30, 20, 25)
    pixels[np.hypot(rows - 70, cols - 100) < 3] = (255, 255, 250)
    out = io.BytesIO()
    Image.fromarray(pixels.astype(np.uint8)).save(out, "png")
    return out.getvalue()


if __name__ == "__main__":
    if sys.argv[1:] == ["rest"]:
        if hasattr(os, "nice"):
            os.nice(LAST)
        warm_up_rest()
    else:
        _compile_palettes()
