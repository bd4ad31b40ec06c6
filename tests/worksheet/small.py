"""A small painting with its plan, made once, and copied for every test that changes it."""

import atexit
import io
import re
import shutil
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage import data

from firstwash.errors import FirstwashError
from firstwash.store.paintings import Store
from firstwash.worksheet.brief import SheetAsked, Work
from firstwash.worksheet.desk import Desk
from firstwash.worksheet.own_list import OwnList
from firstwash.worksheet.planning import plan_work
from firstwash.worksheet.studio import Looked, Studio

SHEET = SheetAsked(size="15x11cm")
LITTLE = Work(layers=3, paints=4, puddles=6, washes=12, shapes=16, touches=4)  # seconds to plan


def is_sentence(text: str) -> bool:
    """One line that begins and ends as a sentence, short enough to be read."""
    return re.fullmatch(r"[A-Z“\"'][^\n]{3,400}\.", text) is not None


def png(pixels: np.ndarray) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "png")
    return out.getvalue()


@cache
def cup_png() -> bytes:
    """A cup on a table, 380 × 280 pixels."""
    return png(data.coffee()[60:340, 120:500])


def studio_in(folder: Path) -> Studio:
    """A studio over a data folder; close its store when done."""
    return Studio(Store.open(folder), OwnList(folder / "paints"))


@cache
def planned_folder() -> Path:
    """A data folder with one painting, "Cup", that was planned. Never changed: copy it."""
    folder = Path(tempfile.mkdtemp(prefix="small-painting-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    studio = studio_in(folder / "data")
    begun = studio.new(cup_png(), "Cup", "cup.png", SHEET)
    asked = studio.change(begun.id, begun.revision, "Less work", lambda b: b.but(work=LITTLE))
    plan_now(studio, asked, folder / "room")
    studio.store.close()
    return folder / "data"


def plan_now(studio: Studio, asked: Looked, room: Path) -> Looked:
    """Plan a painting as its worker would, and keep the plan."""
    room.mkdir()
    result = plan_work(
        room,
        lambda _step, _done: None,
        brief=asked.brief.model_dump_json(),
        files=str(studio.files_folder()),
        paints=str(studio.paints.source),
    )
    return studio.adopt(asked, result, room, "Planned")


def copied(to: Path) -> Path:
    """A data folder of one's own with the planned painting in it."""
    return Path(shutil.copytree(planned_folder(), to / "data"))


def the_cup(studio: Studio) -> Looked:
    """The planned painting as it is now."""
    return studio.look(studio.store.listed()[0].id)


def middle(desk: Desk, shape: int) -> tuple[float, float]:
    """The place (x, y; mm) of a shape's pixel nearest to its middle."""
    at = np.argwhere(desk.drawing.shapes == shape)
    y, x = at[((at - at.mean(axis=0)) ** 2).sum(axis=1).argmin()]
    return float(x + 0.5) / desk.drawing.ppmm, float(y + 0.5) / desk.drawing.ppmm


def by_size(desk: Desk) -> list[int]:
    """The shapes, largest first."""
    return [int(s) for s in np.argsort(-desk.drawing.areas_mm2(), kind="stable")]


def history(studio: Studio, painting: str) -> list[str]:
    """What was done to a painting, in order."""
    return [step.words for step in studio.store.history(painting)]


def accepted(studio: Studio, before: Looked, do: Callable[[str, str], Looked]) -> Looked:
    """An edit made on what was looked at, once it is found to be one accepted change.

    do: makes it, given painting and revision. One step is added to the history, on top of what
    was looked at; undoing it gives the very same state; read back from its files, the plan is
    the one that stayed at hand.
    """
    steps = history(studio, before.id)
    after = do(before.id, before.revision)
    assert history(studio, before.id)[:-1] == steps
    assert after.opened.revision.parent == before.revision
    assert after.opened == studio.store.get(before.id)
    assert after.opened.revision.files == after.brief.files
    at_hand = studio.desk(after.brief)
    studio.forget()
    read = studio.desk(after.brief)
    # Nine digits are written of every number.
    np.testing.assert_allclose(read.plan.stage_labs, at_hand.plan.stage_labs, atol=1e-6)
    np.testing.assert_array_equal(read.plan.cells.index, at_hand.plan.cells.index)
    np.testing.assert_array_equal(read.drawing.shapes, at_hand.drawing.shapes)
    assert [(w.layer, w.number, w.cells) for w in read.plan.washes] == [
        (w.layer, w.number, w.cells) for w in at_hand.plan.washes
    ]
    assert (read.drawing.reserves, read.locks) == (at_hand.drawing.reserves, at_hand.locks)
    studio.store.step_back(before.id, after.revision)
    undone = studio.look(before.id)
    assert undone.opened.revision == before.opened.revision
    assert undone.brief == before.brief
    studio.store.step_forward(before.id, undone.revision)
    assert studio.look(before.id).opened.revision == after.opened.revision
    return after


def refused(studio: Studio, before: Looked, do: Callable[[str, str], Looked]) -> str:
    """The sentence of an edit that is refused, once everything is found to be as it was."""
    steps = studio.store.history(before.id)
    with pytest.raises(FirstwashError) as error:
        do(before.id, before.revision)
    assert is_sentence(str(error.value)), str(error.value)
    assert studio.store.history(before.id) == steps
    assert studio.look(before.id).opened == studio.store.get(before.id)
    return str(error.value)
