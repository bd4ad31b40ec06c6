"""A plan that was written, read back: the same plan, or one sentence that says why not."""

import copy
import io
import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from firstwash.errors import FirstwashError, RequestError
from firstwash.picture.edges import Edges, find_edges
from firstwash.picture.profile import decode_numbers
from firstwash.plan.board.drying import Room
from firstwash.plan.document import plan_document, plan_json
from firstwash.plan.edits import change_strength
from firstwash.plan.fitting import in_a_hurry
from firstwash.plan.locks import parse_locks
from firstwash.plan.problem import Limits
from firstwash.plan.reading import read_cells, read_locks, read_plan
from firstwash.plan.result import Plan
from firstwash.usecases import PhotoPlan, Wishes, plan_again, plan_photo, write_plan


class Written:
    """A plan, its folder, and what is needed to read it."""

    def __init__(self, result: PhotoPlan, folder: Path) -> None:
        write_plan(result, folder)
        self.result, self.folder = result, folder
        self.told = json.loads((folder / "plan.json").read_bytes())
        self.index = decode_numbers((folder / "masks" / "cells.png").read_bytes())
        cells = read_cells(self.told, self.index, result.reference.ppmm)
        self.edges: Edges = find_edges(result.reference.lab, cells)

    def read(self, told: Any) -> Plan:
        """The plan of a document that may be damaged."""
        reference = self.result.reference
        cells = read_cells(told, self.index, reference.ppmm)
        return read_plan(told, cells, self.edges, reference)


@pytest.fixture(scope="module")
def wishes(tmp_path_factory: pytest.TempPathFactory) -> Wishes:
    mask = np.zeros((400, 600), dtype=np.uint8)
    mask[:120] = 255
    path = tmp_path_factory.mktemp("mask") / "mask.png"
    Image.fromarray(mask).save(path)
    return Wishes(
        sheet="12x18cm",
        limits=Limits(layers=3, puddles=8, washes=24, shapes=40, caps=(("PB29", 0.6),)),
        background="graded",
        background_mask=path,
    )


@pytest.fixture(scope="module")
def written(
    photo_png: Callable[[str], bytes], wishes: Wishes, tmp_path_factory: pytest.TempPathFactory
) -> Written:
    result = plan_photo(photo_png("coffee"), wishes)
    return Written(result, tmp_path_factory.mktemp("plan") / "plan")


# --- the same plan ---------------------------------------------------------------


def test_a_plan_read_back_is_written_as_it_was(written: Written) -> None:
    plan = written.read(written.told)
    again = plan_json(plan, written.told["files"], written.told["photo"], written.told["focal"])
    found = json.loads(again)
    # Minutes follow from strengths and areas of nine digits.
    times = found.pop("schedule"), {**written.told}.pop("schedule")
    assert _close(*times)
    assert found == {k: v for k, v in written.told.items() if k != "schedule"}


def _close(one: Any, other: Any) -> bool:
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(_close(one[k], other[k]) for k in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(_close, one, other))
    return one == pytest.approx(other, rel=1e-7) if isinstance(one, float) else one == other


def test_a_plan_read_back_paints_the_same_sheet(written: Written) -> None:
    plan, before = written.read(written.told), written.result.plan
    # Nine digits of every amount; XYZ of white is 1, kept as float32.
    np.testing.assert_allclose(plan.finished_xyz, before.finished_xyz, atol=2e-6)
    np.testing.assert_array_equal(plan.cells.index, before.cells.index)
    assert plan.limits == before.limits
    assert plan.schedule.minutes.mid == pytest.approx(before.schedule.minutes.mid)


def test_a_plan_in_a_hurry_is_read_back_in_a_hurry(written: Written) -> None:
    plan = in_a_hurry(written.read(written.told))
    assert plan.schedule.hurried
    assert not written.told["schedule"]["hurried"]
    told = json.loads(plan_json(plan, written.told["files"], written.told["photo"], None))
    again = written.read(told)
    assert again.schedule.hurried
    assert again.schedule.minutes.mid == pytest.approx(plan.schedule.minutes.mid)
    stronger = change_strength(again, (1, 1), 0.5 * again.washes[0].strength)
    assert stronger.schedule.hurried


def test_a_plan_read_back_can_be_edited(written: Written) -> None:
    plan = written.read(written.told)
    wash = next(w for w in plan.washes if w.kind == "wash")
    stronger = change_strength(plan, (wash.layer, wash.number), wash.strength * 1.2)
    before = change_strength(written.result.plan, (wash.layer, wash.number), wash.strength * 1.2)
    np.testing.assert_allclose(stronger.stage_labs, before.stage_labs, atol=1e-5)


# --- damaged documents -----------------------------------------------------------

junk = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**20), 10**20), st.floats(), st.text(max_size=8),
    st.lists(st.integers(), max_size=3),
    st.dictionaries(st.text(max_size=3), st.none(), max_size=2),
)  # fmt: skip


def _places(told: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Ways to every value of a document; of a long list only to the first two."""
    keys = list(told) if isinstance(told, dict) else range(min(len(told), 2))
    for key in keys:
        yield (*at, key)
        if isinstance(told[key], dict | list):
            yield from _places(told[key], (*at, key))


@settings(max_examples=400, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_damaged_plan_is_refused_or_read_never_a_crash(written: Written, data: Any) -> None:
    known = {k: v for k, v in written.told.items() if k not in ("light", "wavelengths_nm", "edges")}
    way = data.draw(st.sampled_from(sorted(_places(known), key=str)))
    told = copy.deepcopy(known)
    place = told
    for key in way[:-1]:
        place = place[key]
    if data.draw(st.booleans()):
        del place[way[-1]]
    else:
        place[way[-1]] = data.draw(junk)
    try:
        plan = written.read(told)
    except FirstwashError as refused:
        said = str(refused)
    else:
        plan_document(plan, {}, {})
        assert plan.finished_xyz.shape == written.result.reference.xyz.shape
        return  # planning again from it is tried below, for what it reads most
    assert said.endswith(".")
    assert "\n" not in said


@pytest.mark.parametrize(
    ("way", "wrong"),
    [
        (("puddles", 0, "parts"), []),
        (("puddles", 0, "parts", 0, "amount"), float("nan")),
        (("puddles", 0, "parts", 0, "amount"), -0.5),
        (("puddles", 0, "parts", 0, "amount"), 5.0),
        (("tone", "floor"), float("nan")),
        (("tone", "floor"), "abc"),
        (("tone", "floor"), 99.0),
        (("paints", 0, "full_coat"), -1.0),
        (("cells", 0, "shape"), 10**12),
    ],
)
def test_numbers_that_planning_would_choke_on_are_refused(
    written: Written, way: tuple[Any, ...], wrong: Any
) -> None:
    told = copy.deepcopy(written.told)
    place = told
    for key in way[:-1]:
        place = place[key]
    place[way[-1]] = wrong
    with pytest.raises(RequestError, match="cannot be read"):
        written.read(told)


@pytest.mark.parametrize("text", ['"plan"', "null", "[1]", '{"format": "firstwash-plan"}', "NaN"])
def test_a_file_that_is_no_plan_is_refused(
    written: Written, wishes: Wishes, photo_png: Callable[[str], bytes], tmp_path: Path, text: str
) -> None:
    (tmp_path / "masks").mkdir()
    (tmp_path / "plan.json").write_text(text)
    (tmp_path / "masks" / "cells.png").write_bytes(
        (written.folder / "masks" / "cells.png").read_bytes()
    )
    with pytest.raises(RequestError):
        plan_again(photo_png("coffee"), tmp_path, wishes)


@pytest.mark.parametrize("told", [None, 3, [], {}, {"format": "other"}])
def test_something_else_is_no_plan(written: Written, told: Any) -> None:
    with pytest.raises(RequestError, match="not a plan written by firstwash"):
        written.read(told)


def test_another_version_is_refused(written: Written) -> None:
    with pytest.raises(RequestError, match="version 7"):
        written.read({**written.told, "version": 7})


def test_a_map_of_other_cells_is_refused(written: Written) -> None:
    with pytest.raises(RequestError, match="does not belong"):
        read_cells(written.told, written.index[:-1] // 2, 1.0)


def test_a_coat_without_a_wash_is_refused(written: Written) -> None:
    told = copy.deepcopy(written.told)
    told["layers"][0]["washes"].pop()
    with pytest.raises(RequestError, match="do not fit together"):
        written.read(told)


# --- planning again from a folder -------------------------------------------------


def test_what_is_kept_stays(
    written: Written, wishes: Wishes, photo_png: Callable[[str], bytes], tmp_path: Path
) -> None:
    locks = parse_locks(["layer 1", "puddle b", "wash 2.1", "paint PR255"])
    letters = {p.name: p for p in written.result.plan.puddles}
    found = plan_again(photo_png("coffee"), written.folder, wishes, locks)
    plan, before = found.plan, written.read(written.told)
    assert [[c for c in own if c[0] == 1] != [] for own in plan.coats] == [
        [c for c in own if c[0] == 1] != [] for own in before.coats
    ]
    np.testing.assert_allclose(plan.stage_labs[1], before.stage_labs[1], atol=1e-9)
    kept = next(p for p in plan.puddles if p.name == "B")
    assert {plan.paints[p].key: pytest.approx(a) for p, a in kept.parts} == {
        written.result.plan.paints[p].key: a for p, a in letters["B"].parts
    }
    (key,) = found.locks.washes
    wash = next(w for w in plan.washes if (w.layer, w.number) == key)
    old = before.washes_of(2)[0]
    assert (wash.cells, wash.strength) == (old.cells, old.strength)
    assert "PR255" in {p.key for p in plan.paints}
    # Written and read again, the locks are there by their new names.
    write_plan(found, tmp_path / "again")
    told = json.loads((tmp_path / "again" / "plan.json").read_bytes())
    assert read_locks(told) == found.locks


def test_the_air_may_be_another(
    written: Written, wishes: Wishes, photo_png: Callable[[str], bytes]
) -> None:
    dry = replace(wishes, room=Room(30.0, 0.3, hair_dryer=True))
    plan = plan_again(photo_png("coffee"), written.folder, dry, parse_locks(["layer 1"])).plan
    assert plan.schedule.room == dry.room


def test_nothing_kept_is_a_plan_as_good(
    written: Written, wishes: Wishes, photo_png: Callable[[str], bytes]
) -> None:
    plan = plan_again(photo_png("coffee"), written.folder, wishes).plan
    was = written.result.plan.report.against_photo.mean
    assert plan.report.against_photo.mean == pytest.approx(was, abs=0.1)


def test_another_photo_or_sheet_is_refused(
    written: Written, wishes: Wishes, photo_png: Callable[[str], bytes], tmp_path: Path
) -> None:
    negative = 255 - np.asarray(Image.open(io.BytesIO(photo_png("coffee"))))
    file = io.BytesIO()
    Image.fromarray(negative).save(file, "png")
    with pytest.raises(RequestError, match="another photo"):
        plan_again(file.getvalue(), written.folder, wishes)
    with pytest.raises(RequestError, match="another"):
        plan_again(photo_png("coffee"), written.folder, Wishes(sheet="20x30cm"))
    with pytest.raises(RequestError, match="background"):
        plan_again(photo_png("coffee"), written.folder, Wishes(sheet="12x18cm"))
    with pytest.raises(RequestError, match="no whole plan"):
        plan_again(photo_png("coffee"), tmp_path, wishes)
    (tmp_path / "masks").mkdir()
    (tmp_path / "plan.json").write_text("{")
    (tmp_path / "masks" / "cells.png").write_bytes(b"no picture")
    with pytest.raises(RequestError, match="damaged"):
        plan_again(photo_png("coffee"), tmp_path, wishes)
