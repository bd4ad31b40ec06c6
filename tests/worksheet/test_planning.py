"""Planning as a worker does it: all files are there, and what is kept is kept."""

from collections.abc import Iterator
from dataclasses import fields, replace
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from tests.worksheet.small import (
    LITTLE,
    by_size,
    copied,
    is_sentence,
    middle,
    plan_now,
    studio_in,
    the_cup,
)

from firstwash.errors import Missing, Overtaken, PaintError, RequestError
from firstwash.paints.box import parse_box
from firstwash.paints.shelf import load_shelf
from firstwash.plan.problem import Limits
from firstwash.worksheet.brief import Kept, Work, read_brief
from firstwash.worksheet.editing import kept_more, strengthened
from firstwash.worksheet.planning import (
    LOOK,
    LOOKED,
    chosen_paints,
    judge_work,
    limits_of,
    plan_work,
    shelf_of,
)
from firstwash.worksheet.reshaping import reserved_shape
from firstwash.worksheet.studio import Looked, Studio
from firstwash.worksheet.view import plan_stamp


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    made = studio_in(copied(tmp_path))
    yield made
    made.store.close()


class Steps:
    """What a work told of its progress."""

    def __init__(self) -> None:
        self.told: list[tuple[str, float]] = []

    def __call__(self, step: str, done: float) -> None:
        self.told.append((step, done))


# --- what is asked ---------------------------------------------------------------------------


def test_work_is_the_planners_limits() -> None:
    asked = Work(layers=3, hours=None, darkest_step=2, ban=("PB29",))
    found = limits_of(asked)
    for field in type(asked).model_fields:
        assert getattr(found, field) == getattr(asked, field)
    assert {f.name for f in fields(Limits)} >= set(Work.model_fields)


def test_limits_that_cannot_be_met_together_are_refused_in_a_sentence() -> None:
    with pytest.raises(RequestError) as error:
        limits_of(Work(layers=8, washes=3))
    assert is_sentence(str(error.value))


def test_the_paints_ticked_are_planned_with() -> None:
    shelf = load_shelf("starter")
    banned = replace(shelf, box=parse_box("PB29 | banned\nPR255\nPY154\n", "mine"))
    assert [p.key for p in chosen_paints(banned, ())] == ["PR255", "PY154"]
    assert [p.key for p in chosen_paints(banned, ("PY154", "PB29", "gone"))] == ["PB29", "PY154"]
    with pytest.raises(RequestError, match="tick some"):
        chosen_paints(banned, ("gone",))


def test_the_list_is_the_painters_or_the_starter_set(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("PB29\nPR255\n")
    assert [p.key for p in shelf_of(str(tmp_path / "mine.txt")).to_set().paints] == [
        "PB29",
        "PR255",
    ]
    starter = shelf_of("starter")
    assert shelf_of(str(tmp_path / "none.txt")).to_set().paints == starter.to_set().paints
    (tmp_path / "bad.txt").write_text("no such paint\n")
    with pytest.raises(PaintError):
        shelf_of(str(tmp_path / "bad.txt"))


# --- the work --------------------------------------------------------------------------------


def test_planning_leaves_all_it_promises(studio: Studio, tmp_path: Path) -> None:
    looked = the_cup(studio)
    asked = looked.brief.but(plan=None, drawing=None)
    steps = Steps()
    result = plan_work(
        tmp_path,
        steps,
        brief=asked.model_dump_json(),
        files=str(studio.files_folder()),
        paints="starter",
    )
    made = read_brief(result["brief"])
    assert made.plan is not None
    assert made.drawing is not None
    assert made.plan.judged
    assert not made.is_stale
    assert not made.drawing.by_hand
    new = {path.name: path.read_bytes() for path in (tmp_path / "files").iterdir()}
    assert set(new) == {made.plan.document, made.plan.cells, made.drawing.labels}
    assert all(sha256(data).hexdigest() == key for key, data in new.items())
    prints = {p.name for p in (tmp_path / "prints").iterdir()}
    stages = {f"stage-{n}.1200.jpg" for n in range(LITTLE.layers + 1)}
    assert prints == stages | {"finished.1200.jpg", "cells.700.png"}
    for path in (tmp_path / "prints").iterdir():
        with Image.open(path) as image:
            image.load()
    assert all(step and 0.0 <= done <= 1.0 for step, done in steps.told)
    assert [d for _, d in steps.told] == sorted(d for _, d in steps.told)
    # The same asked again gives the same plan, byte by byte: the kept one was made so too.
    assert looked.brief.plan is not None
    assert made.plan.document == looked.brief.plan.document


def test_the_lay_in_can_be_looked_at_before_the_plan_is_made(
    studio: Studio, tmp_path: Path
) -> None:
    looked = the_cup(studio)
    early: list[np.ndarray] = []
    told: list[str] = []

    def progress(step: str, _: float) -> None:
        told.append(step)
        if step == LOOKED:
            early.append(pixels(tmp_path / LOOK))

    plan_work(
        tmp_path,
        progress,
        brief=looked.brief.but(plan=None, drawing=None).model_dump_json(),
        files=str(studio.files_folder()),
        paints="starter",
    )
    (first,) = early  # once, and before the long part of the work
    assert told.index(LOOKED) < told.index("Allowing for the hand")
    lay_in = pixels(tmp_path / "prints" / "stage-1.1200.jpg")
    finished = pixels(tmp_path / "prints" / "finished.1200.jpg")
    assert first.shape == lay_in.shape
    # It may change a little, yet it is the lay-in: far nearer to it than to what comes after.
    off = np.abs(first - lay_in).mean()
    print(f"first look off by {off:.1f} of 255, the finished one {np.abs(first - finished).mean()}")
    assert off < np.abs(first - finished).mean() / 3.0


def pixels(path: Path) -> np.ndarray:
    """A picture's sRGB values as floats, (rows, cols, 3)."""
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"), dtype=np.float64)


def test_another_picture_is_drawn_and_planned_anew(studio: Studio, tmp_path: Path) -> None:
    """What was drawn by hand and kept was for the other picture."""
    looked = the_cup(studio)
    b = by_size(studio.desk(looked.brief))[1]
    looked = reserved_shape(
        studio, looked.id, looked.revision, [middle(studio.desk(looked.brief), b)]
    )
    looked = kept_more(studio, looked.id, looked.revision, Kept(layers=(1,)))
    focal = looked.brief.scene.but(focal=(0.1, 0.1, 0.3, 0.3))
    looked = studio.change(
        looked.id, looked.revision, "Another focal area", lambda b: b.but(scene=focal)
    )
    assert looked.brief.is_stale
    made = plan_now(studio, looked, tmp_path / "room")
    assert not made.brief.is_stale
    assert made.brief.kept == Kept()
    assert made.brief.drawing is not None
    assert not made.brief.drawing.by_hand
    assert not studio.desk(made.brief).drawing.reserves


def test_shapes_drawn_by_hand_are_planned_as_they_are(studio: Studio, tmp_path: Path) -> None:
    looked = the_cup(studio)
    desk = studio.desk(looked.brief)
    reserve = by_size(desk)[3]
    looked = reserved_shape(studio, looked.id, looked.revision, [middle(desk, reserve)])
    fewer = looked.brief.work.but(paints=3)
    looked = studio.change(looked.id, looked.revision, "Fewer paints", lambda b: b.but(work=fewer))
    drawn = studio.desk(looked.brief).drawing
    made = studio.desk(plan_now(studio, looked, tmp_path / "room").brief)
    np.testing.assert_array_equal(made.drawing.shapes, drawn.shapes)
    assert made.drawing.reserves == {reserve}
    assert len(made.plan.paints) <= 3
    bare = np.flatnonzero(made.plan.cells.shape_of == reserve)
    assert all(not made.plan.coats[c] for c in bare)


def test_what_is_kept_stays_when_the_rest_is_planned_again(studio: Studio, tmp_path: Path) -> None:
    looked = the_cup(studio)
    before = studio.desk(looked.brief)
    wash = max(before.plan.washes, key=lambda w: w.area_mm2)
    puddle = before.plan.puddles[wash.puddle]
    kept = Kept(washes=((wash.layer, wash.number),))
    looked = kept_more(studio, looked.id, looked.revision, kept)
    other = looked.brief.work.but(puddles=5, washes=10)
    looked = studio.change(looked.id, looked.revision, "Less work", lambda b: b.but(work=other))
    made = studio.desk(plan_now(studio, looked, tmp_path / "room").brief)
    np.testing.assert_array_equal(made.plan.cells.index, before.plan.cells.index)
    ((layer, number),) = made.locks.washes
    same = next(w for w in made.plan.washes if (w.layer, w.number) == (layer, number))
    assert (same.cells, same.strength) == (wash.cells, wash.strength)
    paints = [made.plan.paints[p].key for p, _ in made.plan.puddles[same.puddle].parts]
    assert paints == [before.plan.paints[p].key for p, _ in puddle.parts]


def test_an_edited_plan_is_judged_again(studio: Studio, tmp_path: Path) -> None:
    looked = the_cup(studio)
    wash = studio.desk(looked.brief).plan.washes[0]
    key = (wash.layer, wash.number)
    edited = strengthened(studio, looked.id, looked.revision, key, 0.7 * wash.strength, False)
    assert edited.brief.plan is not None
    assert not edited.brief.plan.judged
    result = judge_work(
        tmp_path,
        Steps(),
        brief=edited.brief.model_dump_json(),
        files=str(studio.files_folder()),
        paints="starter",
    )
    made = studio.adopt(edited, result, tmp_path, "Judged again")
    assert made.brief.plan is not None
    assert made.brief.plan.judged
    one, other = studio.desk(edited.brief), studio.desk(made.brief)
    np.testing.assert_allclose(other.plan.stage_labs, one.plan.stage_labs, atol=1e-6)  # 9 digits
    assert other.plan.report.against_photo.mean != one.plan.report.against_photo.mean


def test_a_missing_file_is_said(studio: Studio, tmp_path: Path) -> None:
    brief = the_cup(studio).brief
    for work in (plan_work, judge_work):
        with pytest.raises(Missing) as error:
            work(
                tmp_path,
                Steps(),
                brief=brief.but(kept=Kept(layers=(1,))).model_dump_json(),
                files=str(tmp_path / "nowhere"),
                paints="starter",
            )
        assert is_sentence(str(error.value))


# --- keeping what a work made ----------------------------------------------------------------


def result_of(looked: Looked, room: Path) -> dict[str, str]:
    """What a work would leave that made the very same plan, noted as judged anew."""
    (room / "files").mkdir(parents=True)
    assert looked.brief.plan is not None
    again = looked.brief.but(plan=looked.brief.plan.but(judged=False))
    return {"brief": again.model_dump_json()}


def test_what_was_changed_while_planning_is_not_lost(studio: Studio, tmp_path: Path) -> None:
    begun = the_cup(studio)
    result = result_of(begun, tmp_path / "room")
    meanwhile = studio.change(
        begun.id, begun.revision, "Ticked", lambda b: b.but(paints=("PB29", "PR255"))
    )
    made = studio.adopt(begun, result, tmp_path / "room", "Planned")
    assert made.brief.paints == meanwhile.brief.paints
    assert made.brief.is_stale  # and the page says that the plan was made for other paints
    assert made.brief.plan is not None
    assert not made.brief.plan.judged


def test_an_edit_made_while_planning_is_not_overwritten(studio: Studio, tmp_path: Path) -> None:
    begun = the_cup(studio)
    result = result_of(begun, tmp_path / "room")
    a = by_size(studio.desk(begun.brief))[0]
    reserved_shape(studio, begun.id, begun.revision, [middle(studio.desk(begun.brief), a)])
    edited = the_cup(studio)
    with pytest.raises(Overtaken) as error:
        studio.adopt(begun, result, tmp_path / "room", "Planned")
    assert is_sentence(str(error.value))
    assert error.value.current == edited.revision
    assert the_cup(studio).opened == edited.opened


def test_a_change_in_the_very_moment_of_keeping_is_kept_too(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = the_cup(studio)
    result = result_of(begun, tmp_path / "room")
    accept, quicker = studio.store.accept, []

    def late(painting: str, base: str, *args: object, **more: object) -> object:
        if not quicker:
            quicker.append(1)
            monkeypatch.setattr(studio.store, "accept", accept)
            studio.change(painting, base, "Ticked", lambda b: b.but(paints=("PB29",)))
        return accept(painting, base, *args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(studio.store, "accept", late)
    made = studio.adopt(begun, result, tmp_path / "room", "Planned")
    assert quicker
    assert made.brief.paints == ("PB29",)
    assert [s.words for s in studio.store.history(begun.id)][-2:] == ["Ticked", "Planned"]


def test_pictures_drawn_by_the_worker_are_found_under_the_plans_name(studio: Studio) -> None:
    brief = the_cup(studio).brief
    assert brief.plan is not None
    folder = studio.store.folder / "prints" / plan_stamp(brief, brief.plan)
    assert (folder / "finished.1200.jpg").is_file()
