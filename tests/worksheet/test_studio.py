"""The studio: paintings made and changed through one door, plans at hand but never too many."""

import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from tests.worksheet.small import (
    SHEET,
    copied,
    cup_png,
    history,
    is_sentence,
    planned_folder,
    png,
    refused,
    studio_in,
    the_cup,
)

from firstwash.errors import (
    FirstwashError,
    Missing,
    Overtaken,
    PhotoError,
    RequestError,
    SheetError,
)
from firstwash.worksheet import studio as module
from firstwash.worksheet.brief import Brief, Grid, Picture, Scene, SheetAsked, Values, read_brief
from firstwash.worksheet.studio import Looked, Studio


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    made = studio_in(tmp_path / "data")
    yield made
    made.store.close()


@pytest.fixture
def with_cup(tmp_path: Path) -> Iterator[Studio]:
    made = studio_in(copied(tmp_path))
    yield made
    made.store.close()


def cup(studio: Studio) -> Looked:
    return studio.new(cup_png(), "Cup", "cup.png", SHEET)


def test_a_photo_becomes_a_painting(studio: Studio) -> None:
    made = cup(studio)
    assert made.brief.scene.pictures == (
        Picture(file=made.brief.scene.pictures[0].file, name="cup.png", size=(380, 280)),
    )
    assert made.brief.scene.sheet == SHEET
    assert studio.look(made.id).brief == made.brief
    assert history(studio, made.id) == ["Started from a photo"]
    listed = studio.store.listed()[0]
    assert listed.name == "Cup"
    assert listed.thumbnail is not None
    assert studio.store.files.get(listed.thumbnail).startswith(b"\xff\xd8\xff")
    assert studio.store.files.get(made.brief.scene.pictures[0].file) == cup_png()
    assert studio.new(cup_png(), "Cup", "c" * 999).brief.scene.pictures[0].name == "c" * 120


@pytest.mark.parametrize(
    ("data", "error"),
    [
        (b"", PhotoError),
        (b"no photo at all", PhotoError),
        (cup_png()[:5000], PhotoError),
        (png(np.zeros((20, 20, 3), dtype=np.uint8)), PhotoError),
    ],
)
def test_what_is_no_photo_makes_no_painting(
    studio: Studio, data: bytes, error: type[FirstwashError]
) -> None:
    with pytest.raises(error) as raised:
        studio.new(data, "Nothing", "nothing.png")
    assert is_sentence(str(raised.value))
    assert studio.store.listed() == ()


def test_a_size_that_is_none_makes_no_painting(studio: Studio) -> None:
    with pytest.raises(SheetError):
        studio.new(cup_png(), "Cup", "cup.png", SheetAsked(size="3 elephants"))
    assert studio.store.listed() == ()


# --- changes --------------------------------------------------------------------------------


def test_a_change_is_accepted_on_what_was_seen(studio: Studio) -> None:
    before = cup(studio)
    after = studio.change(
        before.id, before.revision, "Seven steps", lambda b: b.but(values=Values(steps=7))
    )
    assert after.brief.values.steps == 7
    assert after.opened.revision.parent == before.revision
    assert history(studio, before.id)[-1] == "Seven steps"
    refused(
        studio,
        after,
        lambda p, _: studio.change(
            p, before.revision, "Late", lambda b: b.but(grid=Grid(across=4))
        ),
    )
    assert studio.look(before.id).brief == after.brief


def test_a_scene_that_cannot_be_laid_out_is_not_kept(studio: Studio) -> None:
    before = cup(studio)
    scene = before.brief.scene
    picture = scene.pictures[0]
    wrong = [
        scene.but(pictures=(picture, picture)),
        scene.but(sheet=SheetAsked(size="no size")),
        scene.but(pictures=(picture.but(crop=(0.9, 0.9, 0.5, 0.5)),)),
        scene.but(pictures=(picture.but(size=(1_000_000, 2)),)),
        scene.but(pictures=(picture.but(size=(1_000_000, 2), turns=1),)),
        scene.but(pictures=(picture.but(file="0" * 64),)),
        scene.but(focal=(0.5, 0.5, 0.9, 0.9)),
    ]
    for one in wrong:
        refused(
            studio,
            before,
            lambda p, r, s=one: studio.change(p, r, "Wrong", lambda b: b.but(scene=s)),
        )
    # Nor may a brief name a file that is no photo: a small picture's key is known to the page.
    small = studio.store.listed()[0].thumbnail
    assert small is not None
    other = scene.but(pictures=(picture.but(file=small),))
    refused(studio, before, lambda p, r: studio.change(p, r, "Other", lambda b: b.but(scene=other)))


def test_the_small_picture_follows_the_scene(studio: Studio) -> None:
    before = cup(studio)
    first = studio.store.listed()[0].thumbnail
    mirrored = before.brief.scene.but(pictures=(before.brief.scene.pictures[0].but(mirrored=True),))
    now = studio.change(before.id, before.revision, "Mirrored", lambda b: b.but(scene=mirrored))
    second = studio.store.listed()[0].thumbnail
    assert second not in (None, first)
    studio.change(now.id, now.revision, "Steps", lambda b: b.but(values=Values(steps=3)))
    assert studio.store.listed()[0].thumbnail == second


def test_of_two_tabs_at_the_same_moment_one_is_told(studio: Studio) -> None:
    before = cup(studio)
    told: list[object] = []
    gate = threading.Barrier(4)

    def tab(steps: int) -> None:
        gate.wait(30)
        try:
            told.append(
                studio.change(
                    before.id,
                    before.revision,
                    f"{steps} steps",
                    lambda b: b.but(values=Values(steps=steps)),
                )
            )
        except Overtaken as error:
            told.append(error)

    threads = [threading.Thread(target=tab, args=(n,)) for n in (2, 3, 4, 6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    (won,) = (t for t in told if isinstance(t, Looked))
    assert sum(isinstance(t, Overtaken) for t in told) == 3
    assert studio.look(before.id).opened == won.opened
    assert len(history(studio, before.id)) == 2


def test_what_is_not_there_is_missing(studio: Studio) -> None:
    for painting in ("", "nothing", "../../etc/passwd", "\0", "1 or 1=1", "☃" * 999):
        with pytest.raises(Missing) as error:
            studio.look(painting)
        assert is_sentence(str(error.value))
        with pytest.raises(Missing):
            studio.at(painting, "")


def test_a_state_that_is_no_brief_is_said(studio: Studio) -> None:
    """As an import from elsewhere may bring it."""
    before = cup(studio)
    studio.store.accept(before.id, before.revision, '{"version": 9}', frozenset(), "Odd")
    with pytest.raises(RequestError) as error:
        studio.look(before.id)
    assert is_sentence(str(error.value))
    with pytest.raises(RequestError):
        read_brief("[]")


# --- plans and pictures at hand -------------------------------------------------------------


def test_a_plan_is_read_once_and_the_oldest_is_let_go(
    with_cup: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    brief, read = the_cup(with_cup).brief, []
    open_desk = module.open_desk

    def counted(of: Brief, fetch: object) -> object:
        read.append(of)
        return open_desk(of, fetch)  # type: ignore[arg-type]

    monkeypatch.setattr(module, "open_desk", counted)
    one = with_cup.desk(brief)
    assert with_cup.desk(brief) is one
    assert with_cup.desk(brief.but(values=Values(steps=3))) is one  # looked at otherwise
    assert len(read) == 1
    for layer in (1, 2):
        with_cup.desk(brief.but(kept=brief.kept.but(layers=(layer,))))
    assert with_cup.desk(brief) is not one
    assert len(read) == 4
    with_cup.forget()
    with_cup.desk(brief)
    assert len(read) == 5
    with pytest.raises(RequestError):
        with_cup.desk(brief.but(plan=None))


def test_many_who_ask_at_once_wait_for_one_reading(
    with_cup: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    brief, read = the_cup(with_cup).brief, []
    open_desk = module.open_desk

    def counted(of: Brief, fetch: object) -> object:
        read.append(of)
        return open_desk(of, fetch)  # type: ignore[arg-type]

    monkeypatch.setattr(module, "open_desk", counted)
    threads = [threading.Thread(target=with_cup.desk, args=(brief,)) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(read) == 1


def test_a_scene_is_laid_once(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    made, times = cup(studio), []
    lay = module.lay

    def counted(scene: Scene, *more: object) -> object:
        times.append(scene)
        return lay(scene, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(module, "lay", counted)
    studio.forget()
    one = studio.reference(made.brief.scene)
    assert studio.reference(made.brief.scene) is one
    assert len(times) == 1
    assert studio.sheet(made.brief.scene) == one.sheet


def test_locks_of_finished_work_do_not_pile_up(studio: Studio) -> None:
    for n in range(1000):
        with studio._one_at_a_time(f"scene {n}"):
            pass
    assert len(studio._busy) <= 202


def test_the_planned_folder_was_not_changed_by_these_tests() -> None:
    studio = studio_in(planned_folder())
    assert history(studio, the_cup(studio).id) == ["Started from a photo", "Less work", "Planned"]
    studio.store.close()
