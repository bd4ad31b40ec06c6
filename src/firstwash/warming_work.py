"""Something tiny worked out, so that the kernels it needs are compiled: see `firstwash.warming`."""

import io
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

from firstwash.handout.layer_map import layer_map
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.paints.doubt import doubt_of_stacks
from firstwash.picture.drawing_edits import with_edge
from firstwash.picture.reference import Reference
from firstwash.plan.bench import Bench
from firstwash.plan.from_drawing import drawing_of_plan, keep_up
from firstwash.plan.palette import choose_palette, mix_freely
from firstwash.plan.problem import MOST_PAINTS, Limits
from firstwash.plan.result import Plan
from firstwash.usecases import Wishes, plan_photo, write_plan
from firstwash.usecases_study import StudyWishes, study_photo
from firstwash.worksheet.prints import stage_picture
from firstwash.worksheet.spot import alternatives_at, answer_at

__all__ = ["compile_a_plan", "compile_a_study", "compile_palettes", "compile_the_rest"]

TINY = Wishes(sheet="12x9cm", limits=Limits(paints=MOST_PAINTS, washes=24, hours=5.0, shapes=30))


def compile_a_plan() -> None:
    """A tiny plan with all paints on the palette."""
    stage_picture(plan_photo(_tiny_picture(), TINY).plan, 1, 60)


def compile_a_study() -> None:
    """A tiny study; the light first, while the second process compiles the palette's kernels."""
    study_photo(_tiny_picture(), StudyWishes(sheet=TINY.sheet))


def compile_the_rest() -> None:
    """Pictures, maps, answers and pages of a tiny plan."""
    planned = plan_photo(_tiny_picture(), TINY)
    with tempfile.TemporaryDirectory() as folder:
        write_plan(planned, Path(folder) / "plan")
    layer_map(planned.plan, 1)
    _edit(planned.plan, planned.reference)


def _edit(plan: Plan, reference: Reference) -> None:
    """What a finger on the sheet asks for: an answer, other mixtures, a shape changed."""
    answer_at(plan, 60.0, 45.0)
    wash = plan.washes[-1]
    alternatives_at(plan, wash.layer, wash.number)
    drawing = drawing_of_plan(plan)
    keep_up(plan, reference, with_edge(drawing, [(20.0, 20.0), (60.0, 45.0)], "soft"))


def compile_palettes() -> None:
    """The palette's kernels, about half of a plan's."""
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
