"""The store of paintings: kept, moved about in, shared by two tabs, and hostile input."""

import json
import os
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firstwash.errors import AlreadyOpen, Missing, Overtaken, StoreError
from firstwash.store.paintings import Store
from firstwash.store.records import Opened
from firstwash.store.shelf import Change, Line, shelve


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "data") as opened:
        yield opened


def change(store: Store, at: Opened, state: str, words: str = "Changed") -> Opened:
    """Accept a state on top of where `at` is."""
    return store.accept(at.painting.id, at.revision.id, state, (), words)


def test_a_new_painting_is_there_again_after_a_restart(tmp_path: Path) -> None:
    with Store.open(tmp_path) as store:
        key = store.files.put(b"photo")
        new = store.create("Pears", '{"a": 1}', [key], "From a photo", kind="photo", thumbnail=key)
    with Store.open(tmp_path) as store:
        assert store.get(new.painting.id) == new
        assert store.listed() == (new.painting,)
    assert new.painting.name == "Pears"
    assert new.painting.thumbnail == key
    assert new.revision.state == '{"a": 1}'
    assert new.revision.files == {key}
    assert (new.revision.words, new.revision.kind) == ("From a photo", "photo")
    assert not new.can_step_back
    assert not new.can_step_forward


def test_the_list_begins_with_what_was_changed_last(store: Store) -> None:
    first, second = store.create("A", "1"), store.create("B", "1")
    assert [p.name for p in store.listed()] == ["B", "A"]
    change(store, first, "2")
    assert [p.id for p in store.listed()] == [first.painting.id, second.painting.id]


def test_a_taken_name_gets_a_number(store: Store) -> None:
    names = [store.create(n, "1").painting.name for n in ("Pears", "Pears", "pears", "Pears 2")]
    assert names == ["Pears", "Pears 2", "pears 3", "Pears 4"]


def test_rename_says_exactly_what_the_painter_says(store: Store) -> None:
    one, two = store.create("A", "1"), store.create("B", "1")
    assert store.rename(two.painting.id, "A").name == "A"
    assert store.get(one.painting.id).painting.name == "A"


@pytest.mark.parametrize("name", ["", "  \n", "\u202e", "\x00\x01"])
def test_a_painting_needs_a_name(store: Store, name: str) -> None:
    with pytest.raises(StoreError, match="name"):
        store.create(name, "1")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(name=st.text(), words=st.text())
def test_any_name_and_words_survive_or_are_refused(store: Store, name: str, words: str) -> None:
    try:
        made = store.create(name, "null", (), words)
    except StoreError:
        assert not name.strip() or not any(c.isprintable() and not c.isspace() for c in name)
        return
    again = store.get(made.painting.id)
    assert again == made
    assert 0 < len(again.painting.name) <= 130
    assert "\n" not in again.painting.name + again.revision.words
    assert again.revision.words


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)  # fmt: skip


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(value=JSON, ascii_only=st.booleans())
def test_any_state_comes_back_to_the_letter(store: Store, value: object, ascii_only: bool) -> None:
    state = json.dumps(value, ensure_ascii=ascii_only)
    try:
        state.encode()
    except UnicodeEncodeError:  # half a character, which no page can send
        with pytest.raises(StoreError):
            store.create("A", state)
        return
    assert store.get(store.create("A", state).painting.id).revision.state == state


@pytest.mark.parametrize(
    "state", ["", "{", "NaN", "[Infinity]", '"\ud800"', "[" * 100_000, "1" * (16 * 2**20 + 1)]
)
def test_what_is_no_json_is_refused(store: Store, state: str) -> None:
    at = store.create("A", "1")
    with pytest.raises(StoreError):
        change(store, at, state)
    assert store.get(at.painting.id) == at


def test_a_file_that_is_not_there_is_refused(store: Store) -> None:
    at = store.create("A", "1")
    for key in ("0" * 64, "../../x"):
        with pytest.raises(StoreError, match="missing"):
            store.accept(at.painting.id, at.revision.id, "2", [key], "x")
        with pytest.raises(StoreError, match="missing"):
            store.accept(at.painting.id, at.revision.id, "2", [], "x", thumbnail=key)
    assert len(store.history(at.painting.id)) == 1


def test_a_change_on_an_old_revision_is_overtaken(store: Store) -> None:
    at = store.create("A", "1")
    newer = change(store, at, "2")
    with pytest.raises(Overtaken) as refused:
        change(store, at, "3")
    assert refused.value.current == newer.revision.id
    assert store.get(at.painting.id).revision.state == "2"


def test_of_many_tabs_at_once_exactly_one_wins(store: Store) -> None:
    at = store.create("A", "0")

    def tab(i: int) -> bool:
        try:
            change(store, at, str(i))
        except Overtaken:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(tab, range(24))) == 1
    assert len(store.history(at.painting.id)) == 2


def test_stepping_back_and_forward(store: Store) -> None:
    first = store.create("A", "1")
    second = change(store, first, "2")
    third = change(store, second, "3")
    of = first.painting.id
    back = store.step_back(of, third.revision.id)
    assert (back.revision.state, back.can_step_back, back.can_step_forward) == ("2", True, True)
    with pytest.raises(Overtaken):
        store.step_back(of, third.revision.id)
    first_again = store.step_back(of, back.revision.id)
    assert not first_again.can_step_back
    with pytest.raises(StoreError, match="nothing before"):
        store.step_back(of, first_again.revision.id)
    store.step_forward(of, first_again.revision.id)
    last = store.step_forward(of, second.revision.id)
    assert (last.revision.state, last.can_step_forward) == ("3", False)
    with pytest.raises(StoreError, match="nothing after"):
        store.step_forward(of, last.revision.id)


def test_a_change_after_stepping_back_is_a_new_branch_and_loses_nothing(store: Store) -> None:
    first = store.create("A", "1")
    old = change(store, first, '"old"')
    store.step_back(first.painting.id, old.revision.id)
    new = change(store, first, '"new"')
    of = first.painting.id
    assert [s.id for s in store.history(of)] == [r.revision.id for r in (first, old, new)]
    assert [s.is_head for s in store.history(of)] == [False, False, True]
    assert store.revision(of, old.revision.id).state == '"old"'
    assert not store.get(of).can_step_forward
    there = store.go_to(of, old.revision.id, new.revision.id)
    assert there.revision.state == '"old"'
    # Back and forward again: forward leads along the branch last left.
    assert store.step_back(of, old.revision.id).revision.state == "1"
    assert store.step_forward(of, first.revision.id).revision.state == '"old"'


def test_a_revision_of_another_painting_is_not_ours(store: Store) -> None:
    a, b = store.create("A", "1"), store.create("B", "2")
    with pytest.raises(Missing):
        store.go_to(a.painting.id, b.revision.id, a.revision.id)
    with pytest.raises(Missing):
        store.revision(a.painting.id, b.revision.id)
    with pytest.raises(Missing):
        store.set_thumbnail(a.painting.id, b.revision.id, store.files.put(b"t"))
    for word in ("back", "forward"):  # words of ours, where a revision's id should be
        with pytest.raises(Missing):
            store.go_to(a.painting.id, word, a.revision.id)


STEPS = st.lists(
    st.tuples(st.sampled_from(["accept", "back", "forward", "go"]), st.integers(0, 30)), max_size=25
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=50)
@given(steps=STEPS)
def test_whatever_is_done_every_accepted_revision_stays_reachable(
    store: Store, steps: list[tuple[str, int]]
) -> None:
    at = store.create("A", '"start"')
    of, kept = at.painting.id, {at.revision.id: at.revision}
    for i, (what, where) in enumerate(steps):
        base = at.revision.id
        if what == "accept":
            at = change(store, at, f'"{i}"')
            kept[at.revision.id] = at.revision
        elif what == "back" and at.can_step_back:
            came_from = base
            at = store.step_back(of, base)
            assert store.step_forward(of, at.revision.id).revision.id == came_from
            at = store.step_back(of, came_from)
        elif what == "forward" and at.can_step_forward:
            at = store.step_forward(of, base)
            assert at.revision.parent == base
        elif what == "go":
            at = store.go_to(of, list(kept)[where % len(kept)], base)
        assert store.get(of) == at
    history = store.history(of)
    assert [s.id for s in history] == list(kept)
    assert [s.id for s in history if s.is_head] == [at.revision.id]
    for name, revision in kept.items():
        assert store.revision(of, name) == revision
        at = store.go_to(of, name, at.revision.id)
        assert at.revision == revision


def test_the_thumbnail_goes_with_the_revision(store: Store) -> None:
    one, two = store.files.put(b"1"), store.files.put(b"2")
    first = store.create("A", "1", thumbnail=one)
    second = change(store, first, "2")
    assert second.painting.thumbnail == one
    store.set_thumbnail(first.painting.id, second.revision.id, two)
    assert store.get(first.painting.id).painting.thumbnail == two
    assert store.step_back(first.painting.id, second.revision.id).painting.thumbnail == one
    assert len(store.history(first.painting.id)) == 2


def test_a_copy_has_the_whole_history_and_a_life_of_its_own(store: Store) -> None:
    key = store.files.put(b"photo")
    first = store.create("A", "1", [key])
    second = change(store, first, "2", "Cropped")
    store.step_back(first.painting.id, second.revision.id)
    store.keep_note(first.painting.id, "ticks", "[1]", 0)
    copy = store.duplicate(first.painting.id)
    assert copy.painting.name == "A copy"
    assert (copy.revision.state, copy.revision.files) == ("1", {key})
    assert store.notes(copy.painting.id) == ()
    assert [s.words for s in store.history(copy.painting.id)] == ["Started", "Cropped"]
    assert store.step_forward(copy.painting.id, copy.revision.id).revision.state == "2"
    assert store.get(first.painting.id).revision.state == "1"
    assert store.duplicate(first.painting.id).painting.name == "A copy 2"


def test_the_bin_gives_back_and_is_emptied_when_old(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, gone = store.create("Kept", "1"), store.create("Gone", "1")
    store.to_bin(gone.painting.id)
    assert [p.name for p in store.listed()] == ["Kept"]
    assert [p.name for p in store.listed(binned=True)] == ["Gone"]
    with pytest.raises(StoreError, match="bin"):
        change(store, gone, "2")
    with pytest.raises(StoreError, match="bin"):
        store.step_back(gone.painting.id, gone.revision.id)
    assert store.empty_bin() == 0
    assert store.from_bin(gone.painting.id).binned is None
    store.to_bin(gone.painting.id)
    now = time.time()
    monkeypatch.setattr(time, "time", lambda: now + 31 * 86400)
    assert store.empty_bin() == 1
    with pytest.raises(Missing):
        store.get(gone.painting.id)
    store.to_bin(kept.painting.id)
    assert store.empty_bin(older_than_days=0) == 1
    assert store.listed() == store.listed(binned=True) == ()


def test_a_long_history_can_be_deleted(store: Store) -> None:
    """One row leads to the next: a deletion that followed them would be too deep for SQLite."""
    many = 1100  # SQLite follows at most 1000 from row to row
    lines = (
        Line(Change("1", frozenset(), "x"), 0.0, i - 1 if i else None, None) for i in range(many)
    )
    with store.database.writing() as to:
        at = shelve(to, "A", (0.0, 0.0), lines, many, many - 1)
    assert len(store.history(at.painting.id)) == many
    store.to_bin(at.painting.id)
    assert store.empty_bin(0) == 1


def test_a_sweep_takes_files_of_deleted_paintings_only(store: Store) -> None:
    photo, small, card, other = (store.files.put(bytes([i])) for i in range(4))
    at = store.create("A", "1", [photo], thumbnail=small)
    change(store, at, "2")  # needs no file, but its parent does
    gone = store.create("B", "1", [other])
    store.keep_box("PB29", "{}", 0, "Taught", [card])
    for key in (photo, small, card, other):
        os.utime(store.files.path(key), (0, 0))
    assert store.sweep() == 0
    store.to_bin(gone.painting.id)
    store.empty_bin(0)
    assert store.sweep() == 1
    assert [store.files.has(k) for k in (photo, small, card, other)] == [True, True, True, False]


def test_notes_are_compared_before_they_are_set(store: Store) -> None:
    of = store.create("A", "1").painting.id
    assert store.note(of, "ticks") is None
    assert store.keep_note(of, "ticks", "[1]", 0).version == 1
    assert store.keep_note(of, "ticks", "[1, 2]", 1).version == 2
    with pytest.raises(Overtaken) as refused:
        store.keep_note(of, "ticks", "[]", 1)
    assert refused.value.current == 2
    with pytest.raises(Overtaken):
        store.keep_note(of, "ticks", "[]", 0)
    found = store.note(of, "ticks")
    assert found is not None
    assert (found.json, found.version) == ("[1, 2]", 2)
    with pytest.raises(StoreError):
        store.keep_note(of, "x" * 61, "1", 0)
    with pytest.raises(StoreError):
        store.keep_note(of, "ticks", "{", 2)
    with pytest.raises(Missing):
        store.keep_note("nowhere", "ticks", "1", 0)
    with pytest.raises(Missing):
        store.note("nowhere", "ticks")


def test_settings_keep_the_last(store: Store) -> None:
    assert store.setting("units") is None
    store.keep_setting("units", '"cm"')
    store.keep_setting("units", '"inch"')
    assert store.setting("units") == '"inch"'


def test_older_boxes_of_paints_stay(store: Store) -> None:
    assert store.box() is None
    store.keep_box("PB29\n", "[]", 0, "First list")
    second = store.keep_box("PB29\nPY150\n", "[]", 1, "One more")
    with pytest.raises(Overtaken) as refused:
        store.keep_box("PR101\n", "[]", 1, "Another tab")
    assert refused.value.current == 2
    assert store.box() == second
    assert [b.text for b in store.box_history()] == ["PB29\n", "PB29\nPY150\n"]
    assert store.box(1) == store.box_history()[0]
    with pytest.raises(Missing):
        store.box(7)
    with pytest.raises(StoreError):
        store.keep_box("\ud800", "[]", 2, "Half a character")


@pytest.mark.parametrize("what", ["get", "rename", "duplicate", "to_bin", "from_bin", "history"])
def test_a_painting_that_is_not_there_is_told(store: Store, what: str) -> None:
    arguments = ("nowhere", "A") if what == "rename" else ("nowhere",)
    with pytest.raises(Missing, match="not here"):
        getattr(store, what)(*arguments)


def test_a_second_opening_is_refused_kindly(tmp_path: Path) -> None:
    with Store.open(tmp_path), pytest.raises(AlreadyOpen, match="another firstwash"):
        Store.open(tmp_path)
    Store.open(tmp_path).close()


def test_closed_is_closed(tmp_path: Path) -> None:
    store = Store.open(tmp_path)
    store.close()
    store.close()
    with pytest.raises(StoreError, match="closed"):
        store.listed()


def test_a_full_disk_is_told_and_loses_nothing(store: Store) -> None:
    at = store.create("A", "1")
    with store.database.reading() as here:
        pages = here.exec_driver_sql("PRAGMA page_count").scalar_one()
    with store.database.reading() as here:
        here.exec_driver_sql(f"PRAGMA max_page_count={pages}")  # of this connection, which is kept
    with pytest.raises(StoreError, match="room on the disk"):
        change(store, at, '"' + "x" * 100_000 + '"')
    assert store.get(at.painting.id) == at
