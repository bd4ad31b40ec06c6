"""A plan put away and taken out again: the same plan, or one sentence that says it is damaged."""

import gzip
import json
from collections.abc import Iterator
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.worksheet.small import by_size, copied, is_sentence, middle, studio_in, the_cup

from firstwash.errors import FirstwashError, Missing, RequestError
from firstwash.picture.drawing_edits import shape_reserved, with_edge
from firstwash.plan.edits import change_strength
from firstwash.plan.from_drawing import keep_up
from firstwash.plan.locks import Locks
from firstwash.worksheet import desk as desks
from firstwash.worksheet.brief import Brief, Kept
from firstwash.worksheet.desk import (
    Desk,
    judged,
    kept_of,
    locks_of,
    open_desk,
    packed,
    planned,
    with_drawing,
    with_plan,
)


class Drawer:
    """Files by key, in memory."""

    def __init__(self) -> None:
        self.files: dict[str, bytes] = {}

    def put(self, data: bytes) -> str:
        key = sha256(data).hexdigest()
        self.files[key] = data
        return key

    def fetch(self, key: str) -> bytes:
        if key not in self.files:
            raise Missing("This file is not here.")
        return self.files[key]


Kit = tuple[Brief, Desk, Drawer]


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kit]:
    """The planned painting: its brief, its desk, and all its files."""
    studio = studio_in(copied(tmp_path_factory.mktemp("desk")))
    brief, drawer = the_cup(studio).brief, Drawer()
    for key in brief.files:
        drawer.put(studio.store.files.get(key))
    yield brief, open_desk(brief, drawer.fetch), drawer
    studio.store.close()


def same_plan(one: Desk, other: Desk) -> None:
    a, b = one.plan, other.plan
    np.testing.assert_array_equal(a.stage_labs, b.stage_labs)
    np.testing.assert_array_equal(a.cells.index, b.cells.index)
    np.testing.assert_array_equal(a.recipes, b.recipes)
    assert a.coats == b.coats
    assert [w.cells for w in a.washes] == [w.cells for w in b.washes]
    assert [(w.layer, w.number, w.puddle, w.strength, w.kind) for w in a.washes] == [
        (w.layer, w.number, w.puddle, w.strength, w.kind) for w in b.washes
    ]
    assert [p.key for p in a.paints] == [p.key for p in b.paints]
    assert one.locks == other.locks
    np.testing.assert_array_equal(one.drawing.shapes, other.drawing.shapes)
    assert one.drawing.reserves == other.drawing.reserves
    assert one.drawing.edge_marks == other.drawing.edge_marks
    assert one.drawing.by_hand == other.drawing.by_hand


# --- put away and taken out ------------------------------------------------------------


def test_a_plan_put_away_is_taken_out_as_it_was(first: Kit) -> None:
    brief, desk, drawer = first
    again = open_desk(planned(brief, desk, drawer.put), drawer.fetch)
    same_plan(again, desk)
    np.testing.assert_array_equal(again.reference.xyz, desk.reference.xyz)
    assert packed(again.plan, again.locks) == packed(desk.plan, desk.locks)


def test_the_colours_are_those_the_document_tells(first: Kit) -> None:
    """What was planned is read with the nine digits it was written with."""
    brief, desk, drawer = first
    assert brief.plan is not None
    told = json.loads(gzip.decompress(drawer.fetch(brief.plan.document)))
    for cell, labs in zip(told["cells"], desk.plan.stage_labs.transpose(1, 0, 2), strict=True):
        np.testing.assert_array_equal(labs, cell["stage_labs"])


def test_locks_come_along(first: Kit) -> None:
    brief, desk, drawer = first
    wash = desk.plan.washes[0]
    locks = Locks(
        washes=frozenset({(wash.layer, wash.number)}),
        puddles=frozenset({desk.plan.puddles[0].name}),
        paints=frozenset({desk.plan.paints[-1].key}),
        layers=frozenset({1}),
    )
    told = with_plan(brief, replace(desk, locks=locks), drawer.put, judged=False)
    assert locks_of(told.kept) == locks
    assert kept_of(locks_of(told.kept)) == told.kept
    assert told.plan is not None
    assert not told.plan.judged
    assert open_desk(told, drawer.fetch).locks == locks
    assert told.plan.scene == brief.scene  # what it was made from is told as before


def test_an_edited_plan_is_taken_out_as_it_was_edited(first: Kit) -> None:
    brief, desk, drawer = first
    wash = desk.plan.washes[0]
    edited = desk.with_plan(
        change_strength(desk.plan, (wash.layer, wash.number), 0.8 * wash.strength)
    )
    again = open_desk(with_plan(brief, edited, drawer.put, judged=False), drawer.fetch)
    # Written with nine digits: colours to a millionth.
    np.testing.assert_allclose(again.plan.stage_labs, edited.plan.stage_labs, atol=1e-6)
    assert again.plan.coats != desk.plan.coats
    twice = open_desk(with_plan(brief, again, drawer.put, judged=False), drawer.fetch)
    same_plan(twice, again)


def test_reserves_and_edge_marks_come_along(first: Kit) -> None:
    brief, desk, drawer = first
    small, *_, large = reversed(by_size(desk)[:4])
    drawing = shape_reserved(desk.drawing, desk.reference, small)
    stroke = [middle(desk, small), middle(desk, large)]
    drawing = with_edge(drawing, stroke, "lost")
    plan = keep_up(desk.plan, desk.reference, drawing, desk.locks)
    edited = desk.with_plan(plan, drawing)
    told = with_drawing(with_plan(brief, edited, drawer.put, judged=False), drawing, drawer.put)
    again = open_desk(told, drawer.fetch)
    assert again.drawing.reserves == drawing.reserves == {small}
    assert [m.kind for m in again.drawing.edge_marks] == ["lost"]
    assert again.drawing.edge_marks == drawing.edge_marks
    assert again.drawing.by_hand
    cells = np.flatnonzero(again.plan.cells.shape_of == small)
    assert all(not again.plan.coats[c] for c in cells)


def test_a_plan_is_judged_again_as_its_maker_judged_it(first: Kit) -> None:
    from firstwash.paints.shelf import load_shelf

    _, desk, _ = first
    shelf = load_shelf("starter")
    again = judged(desk, shelf.to_set().paints, shelf.paper)
    # The plan was read with nine digits, and hands are tried by the same random numbers.
    assert again.plan.report.against_photo.mean == pytest.approx(
        desk.plan.report.against_photo.mean, rel=1e-3
    )
    np.testing.assert_array_equal(again.plan.stage_labs, desk.plan.stage_labs)


# --- damaged ---------------------------------------------------------------------------


def test_without_a_plan_there_is_no_desk(first: Kit) -> None:
    brief, desk, drawer = first
    for less in (brief.but(plan=None), brief.but(drawing=None)):
        with pytest.raises(RequestError, match="plan the painting first"):
            open_desk(less, drawer.fetch)
    with pytest.raises(RequestError, match="plan the painting first"):
        with_plan(brief.but(plan=None), desk, drawer.put, judged=True)


def spoilt(kit: Kit, what: str, data: bytes) -> str:
    """The sentence that a brief is refused with once one of its files holds something else."""
    brief, _, drawer = kit
    assert brief.plan is not None
    assert brief.drawing is not None
    key = drawer.put(data)
    told = {
        "document": lambda: brief.but(plan=brief.plan.but(document=key)),  # type: ignore[union-attr]
        "cells": lambda: brief.but(plan=brief.plan.but(cells=key)),  # type: ignore[union-attr]
        "labels": lambda: brief.but(drawing=brief.drawing.but(labels=key)),  # type: ignore[union-attr]
        "details": lambda: brief.but(
            drawing=brief.drawing.but(details=data.decode("latin-1"))  # type: ignore[union-attr]
        ),
    }[what]()
    with pytest.raises(FirstwashError) as error:
        open_desk(told, drawer.fetch)
    return str(error.value)


def zipped(data: bytes) -> bytes:
    return gzip.compress(data, mtime=0)  # no clock in it: a test is named by its data


WRONG = [b"", b"{}", b"null", b"\x89PNG\r\n\x1a\n", zipped(b"[1, 2"), zipped(b"[]")]


@pytest.mark.parametrize("what", ["document", "cells", "labels", "details"])
@pytest.mark.parametrize("data", [*WRONG, zipped(b"[" * 200_000)])
def test_a_file_that_holds_something_else_is_refused(first: Kit, what: str, data: bytes) -> None:
    assert is_sentence(spoilt(first, what, data))


def test_files_of_another_place_are_refused(first: Kit) -> None:
    brief, _, drawer = first
    assert brief.plan is not None
    assert brief.drawing is not None
    photo = drawer.fetch(brief.scene.pictures[0].file)
    document = drawer.fetch(brief.plan.document)
    assert is_sentence(spoilt(first, "cells", photo))
    assert is_sentence(spoilt(first, "labels", photo))
    assert is_sentence(spoilt(first, "labels", document))
    assert is_sentence(spoilt(first, "document", drawer.fetch(brief.plan.cells)))


@pytest.mark.parametrize("what", ["document", "cells", "labels"])
def test_a_file_cut_short_is_refused(first: Kit, what: str) -> None:
    brief, _, drawer = first
    assert brief.plan is not None
    assert brief.drawing is not None
    keys = {"labels": brief.drawing.labels, **brief.plan.model_dump(include={"document", "cells"})}
    data = drawer.fetch(keys[what])
    for share in (0.1, 0.5, 0.99):
        assert is_sentence(spoilt(first, what, data[: int(share * len(data))]))


def test_a_document_that_unpacks_to_too_much_is_refused(
    first: Kit, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(desks, "LARGEST", 1000)
    assert "damaged" in spoilt(first, "document", gzip.compress(b" " * 5000 + b"{}"))


def nodes(told: Any) -> list[tuple[Any, Any]]:
    inner = list(told.items()) if isinstance(told, dict) else []
    inner = list(enumerate(told[:3])) if isinstance(told, list) else inner
    return [(told, k) for k, _ in inner] + [n for _, v in inner for n in nodes(v)]


odd = st.sampled_from([None, True, -1, 0, 10**30, 1e308, 0.5, "", "x", "PB29", [], {}, [1], [[]]])


@given(st.data())
@settings(max_examples=60)
def test_a_document_with_anything_in_any_place_opens_or_is_refused(
    first: Kit, data: st.DataObject
) -> None:
    brief, _, drawer = first
    assert brief.plan is not None
    told = json.loads(gzip.decompress(drawer.fetch(brief.plan.document)))
    holder, key = data.draw(st.sampled_from(nodes(told)))
    holder[key] = data.draw(odd)
    document = drawer.put(gzip.compress(json.dumps(told).encode()))
    refused = "Opened."
    try:
        open_desk(brief.but(plan=brief.plan.but(document=document)), drawer.fetch)
    except FirstwashError as error:
        refused = str(error)
    assert is_sentence(refused)


def test_a_lock_on_what_the_plan_has_not_is_found_when_it_is_used(first: Kit) -> None:
    """Names are checked where they matter; a stray one must not keep a painting from opening."""
    brief, desk, drawer = first
    stray = brief.but(kept=Kept(washes=((7, 90),), puddles=("Z",)))
    opened = open_desk(stray, drawer.fetch)
    same_plan(replace(opened, locks=desk.locks), desk)
    with pytest.raises(RequestError):
        opened.with_plan(opened.plan)


def test_files_are_named_by_nothing_but_their_contents(first: Kit, tmp_path: Path) -> None:
    """The same desk written twice makes no new file, so history costs nothing for what stays."""
    del tmp_path
    brief, desk, drawer = first
    one = planned(brief, desk, drawer.put)
    before = set(drawer.files)
    assert planned(brief, desk, drawer.put) == one
    assert set(drawer.files) == before
