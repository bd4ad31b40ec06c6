"""Getting ready: once, in two processes, and never in the way."""

import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from firstwash import warming, warming_work
from firstwash.errors import Cancelled
from firstwash.paints.catalogue import load_set
from firstwash.usecases import plan_photo


class Other:
    """A second process that only remembers what became of it."""

    def __init__(self, code: int) -> None:
        self.code, self.killed = code, False

    def wait(self) -> int:
        return self.code

    def kill(self) -> None:
        self.killed = True


@pytest.fixture
def stamp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The stamp of a fresh installation whose kernels need no compiling."""
    path = tmp_path / "compiled"
    monkeypatch.setattr(warming, "_stamp", lambda _: path)
    monkeypatch.setattr(warming, "_compile_a_plan", lambda: None)
    return path


def starts(monkeypatch: pytest.MonkeyPatch, code: int) -> list[Other]:
    begun: list[Other] = []

    def begin(*_: Any, **__: Any) -> Other:
        begun.append(Other(code))
        return begun[-1]

    monkeypatch.setattr(subprocess, "Popen", begin)
    return begun


def test_it_happens_once(stamp: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    begun = starts(monkeypatch, 0)
    told: list[str] = []
    warming.warm_up_plans(lambda step, _: told.append(step))
    assert stamp.exists()
    assert "once" in told[0]
    warming.warm_up_plans(lambda step, _: told.append(step))
    assert len(begun) == 1


def test_a_request_is_read_before_anything_is_compiled(
    stamp: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = starts(monkeypatch, 0)
    tell = warming.ready_first()
    tell("Reading the photo", 0.0)
    tell("Reading the photo", 0.5)
    assert not begun
    tell("Finding the shapes", 0.1)
    tell("Choosing the paints", 0.3)
    assert len(begun) == 1
    assert stamp.exists()


def test_a_study_gets_ready_for_itself(stamp: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    begun = starts(monkeypatch, 0)
    studied: list[bool] = []
    monkeypatch.setattr(warming, "_compile_a_study", lambda: studied.append(True))
    tell = warming.ready_first(get_ready=warming.warm_up_study)
    for step in ("Reading the photo", "Looking at values", "Trying first washes"):
        tell(step, 0.0)
    assert (len(begun), studied) == (1, [True])
    assert stamp.exists()


def test_a_second_process_that_fails_is_tried_again(
    stamp: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = starts(monkeypatch, 1)
    warming.warm_up_plans()
    warming.warm_up_plans()
    assert not stamp.exists()
    assert len(begun) == 2


def test_where_no_process_may_start_the_plan_compiles_for_itself(
    stamp: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise OSError

    monkeypatch.setattr(subprocess, "Popen", refuse)
    warming.warm_up_plans()
    assert not stamp.exists()


def test_where_nothing_can_be_written_the_plan_goes_on(
    stamp: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = starts(monkeypatch, 0)

    def full() -> None:
        raise OSError("no space left")

    monkeypatch.setattr(warming, "_compile_a_plan", full)
    warming.warm_up_plans()
    assert begun[0].killed
    assert not stamp.exists()


def test_stopping_takes_the_second_process_along(
    stamp: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = starts(monkeypatch, 0)

    def stop() -> None:
        raise Cancelled

    monkeypatch.setattr(warming, "_compile_a_plan", stop)
    with pytest.raises(Cancelled):
        warming.warm_up_plans()
    assert begun[0].killed
    assert not stamp.exists()


def test_other_sources_need_compiling_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = warming._stamp("plans")
    assert before is not None  # the tests' own cache can be written
    package = tmp_path / "firstwash"
    package.mkdir()
    (package / "a.py").write_text("")
    monkeypatch.setattr(warming, "PACKAGE", package)
    other = warming._stamp("plans")
    assert other is not None
    assert other.parent == before.parent
    assert other != before
    (package / "a.py").write_text("x = 1")
    assert warming._stamp("plans") not in (before, other)
    assert len({warming._stamp(part) for part in ("plans", "rest", "study")}) == 3


def test_the_tiny_picture_has_all_that_a_plan_works_at() -> None:
    plan = plan_photo(warming_work._tiny_picture(), warming_work.TINY).plan
    assert len(plan.paints) == len(load_set("starter").paints)  # no palette is chosen here
    assert {t.way for t in plan.touches} >= {"laid last"}
    assert len(np.unique(plan.edges.kind)) > 1
    assert len(plan.washes) > plan.layers
    warming_work.compile_a_study()
    warming_work.compile_palettes()  # is what the second process does, and raises nothing


@pytest.mark.slow
def test_the_rest_is_compiled_after_the_plans_and_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stamps = {part: tmp_path / part for part in ("plans", "rest")}
    monkeypatch.setattr(warming, "_stamp", stamps.get)
    stamps["plans"].touch()
    warming.warm_up()  # works out what pictures, maps, answers and edits need
    assert stamps["rest"].exists()
    monkeypatch.setattr(warming_work, "plan_photo", lambda *_: pytest.fail("worked out again"))
    warming.warm_up()


def test_what_is_left_for_later_never_stops_anything(
    stamp: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(warming_work, "plan_photo", full)
    warming.warm_up_rest()
    assert not stamp.exists()
