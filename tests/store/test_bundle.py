"""One painting as one zip: out and in again, and what is sent to do harm."""

import hashlib
import io
import json
import stat
import struct
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from firstwash.errors import Missing, StoreError
from firstwash.store.bundle import bundle_name, export_painting
from firstwash.store.paintings import Store
from firstwash.store.unbundle import import_painting


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "one") as opened:
        yield opened


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Store]:
    """Another painter's store."""
    with Store.open(tmp_path / "two") as opened:
        yield opened


def photo(place: bool = False) -> bytes:
    """A JPEG, with or without where it was taken."""
    block = Image.Exif()
    if place:
        block.get_ifd(0x8825).update({1: "N", 2: (48.0, 51.0, 29.0), 29: "SECRET"})
    out = io.BytesIO()
    pixels = np.random.default_rng(1).integers(0, 256, (20, 30, 3), dtype=np.uint8)
    Image.fromarray(pixels).save(out, "JPEG", exif=block.tobytes() if place else b"")
    return out.getvalue()


def painted(store: Store) -> str:
    """A painting with two branches, files, thumbnails and notes; at an older revision."""
    key, small, plane = store.files.put(photo()), store.files.put(b"small"), store.files.put(b"p")
    first = store.create("Pears", json.dumps({"photo": key}), [key], "From a photo", kind="photo")
    of = first.painting.id
    second = store.accept(of, first.revision.id, "2", [key, plane], "Cropped", thumbnail=small)
    store.step_back(of, second.revision.id)
    third = store.accept(of, first.revision.id, '"dritté"', [key], "Turned")
    fourth = store.accept(of, third.revision.id, "4", [], "Planned", kind="plan")
    store.go_to(of, third.revision.id, fourth.revision.id)
    store.keep_note(of, "ticks", "[1, 2]", 0)
    store.keep_note(of, "ticks", "[1, 2, 3]", 1)
    return of


def told(store: Store, of: str) -> object:
    """Everything of a painting that an export and an import must keep; ids by place."""
    steps = store.history(of)
    place: dict[str | None, int | None] = {s.id: i for i, s in enumerate(steps)} | {None: None}
    at = store.get(of)
    revisions = [store.revision(of, s.id) for s in steps]
    return (
        [(r.state, r.files, r.thumbnail, r.words, r.kind, r.created) for r in revisions],
        [(place[s.parent], s.is_head) for s in steps],
        (at.can_step_back, at.can_step_forward, at.painting.created, at.painting.changed),
        store.notes(of),
    )


def test_all_of_a_painting_comes_through(store: Store, other: Store, tmp_path: Path) -> None:
    of = painted(store)
    export_painting(store, of, tmp_path / "pears.zip")
    new = import_painting(other, tmp_path / "pears.zip")
    assert new.painting.name == "Pears"
    assert told(other, new.painting.id) == told(store, of)
    for step in other.history(new.painting.id):
        for key in other.revision(new.painting.id, step.id).files:
            assert other.files.get(key) == store.files.get(key)
    assert new.painting.id != of
    assert not {s.id for s in other.history(new.painting.id)} & {s.id for s in store.history(of)}
    # Forward leads along the same branch.
    forward = other.step_forward(new.painting.id, new.revision.id)
    assert forward.revision.state == "4"


def test_an_import_beside_the_original_gets_a_number(store: Store, tmp_path: Path) -> None:
    of = painted(store)
    export_painting(store, of, tmp_path / "pears.zip")
    names = [import_painting(store, tmp_path / "pears.zip").painting.name for _ in range(2)]
    assert names == ["Pears 2", "Pears 3"]
    assert store.get(of).painting.name == "Pears"


def test_an_export_of_an_import_is_the_same_to_the_byte(store: Store, tmp_path: Path) -> None:
    of = painted(store)
    export_painting(store, of, tmp_path / "a.zip")
    store.to_bin(of)
    store.empty_bin(0)
    export_painting(
        store, import_painting(store, tmp_path / "a.zip").painting.id, tmp_path / "b.zip"
    )
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_a_state_that_packs_very_well_comes_through(store: Store, tmp_path: Path) -> None:
    """Packed a thousandfold it would look like a zip bomb, so it is stored plainly."""
    of = store.create("A", json.dumps([0] * 1_000_000)).painting.id
    export_painting(store, of, tmp_path / "a.zip")
    assert import_painting(store, tmp_path / "a.zip").revision.state == store.get(of).revision.state


def test_the_place_of_a_photo_never_leaves(store: Store, other: Store, tmp_path: Path) -> None:
    """Even of a photo that came in unclean; states that name it are changed to match."""
    key = store.files.put(photo(place=True))
    of = store.create("A", json.dumps({"photo": key}), [key], thumbnail=key).painting.id
    export_painting(store, of, tmp_path / "a.zip")
    assert b"SECRET" not in (tmp_path / "a.zip").read_bytes()
    new = import_painting(other, tmp_path / "a.zip")
    (clean,) = new.revision.files
    assert json.loads(new.revision.state) == {"photo": clean}
    assert new.painting.thumbnail == clean != key
    assert b"SECRET" not in other.files.get(clean)


def test_a_photo_that_cannot_be_cleaned_does_not_leave(store: Store, tmp_path: Path) -> None:
    key = store.files.put(b"GIF89a and where it was taken")
    of = store.create("A", "1", [key]).painting.id
    with pytest.raises(StoreError, match="cannot be cleared"):
        export_painting(store, of, tmp_path / "a.zip")
    assert list(tmp_path.glob("*.zip")) == list(tmp_path.glob(".*half")) == []


def test_what_cannot_be_written_is_told(store: Store, tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="could not be written"):
        export_painting(store, painted(store), tmp_path / "no" / "folder" / "a.zip")
    with pytest.raises(Missing):
        export_painting(store, "nowhere", tmp_path / "a.zip")
    assert not (tmp_path / "a.zip").exists()


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Pears in blue bowl", "Pears-in-blue-bowl.firstwash.zip"),
        ("../../etc/passwd", "etc-passwd.firstwash.zip"),
        ('a"; rm\r\nX: y', "a-rm-X-y.firstwash.zip"),
        ("梨", "painting.firstwash.zip"),
    ],
)
def test_the_file_name_is_plain(name: str, expected: str) -> None:
    assert bundle_name(name) == expected


# What follows is not from us. Each case takes a good zip apart and puts it together wrongly.

Parts = dict[str, bytes]


def parts_of(path: Path) -> Parts:
    with zipfile.ZipFile(path) as source:
        return {name: source.read(name) for name in source.namelist()}


def put_together(path: Path, parts: Parts, **more: Any) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, **more) as to:
        for name, data in parts.items():
            to.writestr(name, data)


@pytest.fixture
def good(store: Store, tmp_path: Path) -> Path:
    """A zip of ours; the painting it came from is gone from the store."""
    of = painted(store)
    export_painting(store, of, tmp_path / "good.zip")
    store.to_bin(of)
    store.empty_bin(0)
    return tmp_path / "good.zip"


def refused(store: Store, path: Path) -> None:
    with pytest.raises(StoreError) as error:
        import_painting(store, path)
    assert str(error.value).count(".") == 1  # one sentence
    assert store.listed() == store.listed(binned=True) == ()


def test_packed_anew_by_another_program_is_still_good(store: Store, good: Path) -> None:
    put_together(good, parts_of(good))
    assert import_painting(store, good).painting.name == "Pears"


Wrong = Callable[[dict[str, Any]], object]
MANIFESTS: dict[str, Wrong] = {
    "other format": lambda m: m.update(format="another"),
    "no version": lambda m: m.pop("version"),
    "newer": lambda m: m.update(version=2),
    "version true": lambda m: m.update(version=True),
    "no name": lambda m: m.update(name=""),
    "name of another kind": lambda m: m.update(name=["Pears"]),
    "half a character": lambda m: m.update(name="\ud800"),
    "head too far": lambda m: m.update(head=4),
    "head before": lambda m: m.update(head=-1),
    "head half": lambda m: m.update(head=0.5),
    "no time": lambda m: m.update(created="now"),
    "never": lambda m: m.update(changed=float("nan")),
    "far away": lambda m: m.update(changed=1e300),
    "no revisions": lambda m: m.update(revisions=[]),
    "revisions a word": lambda m: m.update(revisions="abc"),
    "parent of itself": lambda m: m["revisions"][1].update(parent=1),
    "parent later": lambda m: m["revisions"][1].update(parent=2),
    "two roots": lambda m: m["revisions"][2].update(parent=None),
    "forward to no child": lambda m: m["revisions"][0].update(onward=3),
    "forward nowhere": lambda m: m["revisions"][0].update(onward=99),
    "unknown file": lambda m: m["revisions"][0]["files"].append("0" * 64),
    "file twice": lambda m: m["revisions"][1]["files"].append(m["revisions"][1]["files"][0]),
    "file outside": lambda m: m["files"].update({"../x": 1}),
    "wrong size": lambda m: m["files"].update(dict.fromkeys(m["files"], 10**9)),
    "thumbnail unknown": lambda m: m["revisions"][0].update(thumbnail="0" * 64),
    "other hash": lambda m: m["revisions"][0].update(sha256="0" * 64),
    "hash a list": lambda m: m["revisions"][0].update(sha256=[]),
    "kind is a path": lambda m: m["revisions"][0].update(kind="../../x"),
    "note no json": lambda m: m["notes"][0].update(json="{"),
    "note name": lambda m: m["notes"][0].update(name="<script>"),
    "note twice": lambda m: m["notes"].append(m["notes"][0]),
    "note version 0": lambda m: m["notes"][0].update(version=0),
    "files a list": lambda m: m.update(files=[]),
    "notes missing": lambda m: m.pop("notes"),
}


@pytest.mark.parametrize("what", MANIFESTS)
def test_a_wrong_manifest_brings_nothing_in(store: Store, good: Path, what: str) -> None:
    parts = parts_of(good)
    manifest = json.loads(parts["manifest.json"])
    MANIFESTS[what](manifest)
    parts["manifest.json"] = json.dumps(manifest).encode()
    put_together(good, parts)
    refused(store, good)


def test_a_newer_format_says_so(store: Store, good: Path) -> None:
    parts = parts_of(good)
    parts["manifest.json"] = json.dumps({"format": "firstwash painting", "version": 2}).encode()
    put_together(good, parts)
    with pytest.raises(StoreError, match="newer firstwash"):
        import_painting(store, good)


PARTS: dict[str, Callable[[Parts], object]] = {
    "no manifest": lambda p: p.pop("manifest.json"),
    "manifest no json": lambda p: p.update({"manifest.json": b"{"}),
    "manifest a list": lambda p: p.update({"manifest.json": b"[]"}),
    "manifest deep": lambda p: p.update({"manifest.json": b"[" * 200_000}),
    "a state gone": lambda p: p.pop("states/000001.json"),
    "a state changed": lambda p: p.update({"states/000001.json": b"3"}),
    "a file gone": lambda p: p.pop(next(n for n in p if n.startswith("files/"))),
    "a file changed": lambda p: p.update({next(n for n in p if n.startswith("files/")): b"?"}),
    "a stranger": lambda p: p.update({"readme.txt": b"hello"}),
    "a way out": lambda p: p.update({"../../outside": b"x"}),
    "from the root": lambda p: p.update({"/etc/outside": b"x"}),
    "a drive": lambda p: p.update({"C:\\outside": b"x"}),
    "a folder": lambda p: p.update({"files/": b""}),
    "a bomb": lambda p: p.update({"states/000001.json": b" " * 50_000_000}),
}


@pytest.mark.parametrize("what", PARTS)
def test_wrong_parts_bring_nothing_in(store: Store, good: Path, what: str, tmp_path: Path) -> None:
    parts = parts_of(good)
    PARTS[what](parts)
    put_together(good, parts)
    refused(store, good)
    assert not list(tmp_path.rglob("outside"))


def with_info(good: Path, change: Callable[[zipfile.ZipInfo], object], name: str) -> None:
    """Write the zip again with one entry's own record changed."""
    parts = parts_of(good)
    with zipfile.ZipFile(good, "w") as to:
        for each, data in parts.items():
            info = zipfile.ZipInfo(each)
            if each == name:
                change(info)
            to.writestr(info, data)


def test_a_link_is_refused(store: Store, good: Path) -> None:
    def link(info: zipfile.ZipInfo) -> None:
        info.external_attr = (stat.S_IFLNK | 0o777) << 16

    with_info(good, link, "states/000001.json")
    refused(store, good)


def test_another_packing_is_refused(store: Store, good: Path) -> None:
    with_info(good, lambda i: setattr(i, "compress_type", zipfile.ZIP_LZMA), "states/000001.json")
    refused(store, good)


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_twice_the_same_name_is_refused(store: Store, good: Path) -> None:
    with zipfile.ZipFile(good, "a") as to:
        to.writestr("states/000001.json", b"other")
    refused(store, good)


def test_a_password_is_refused(store: Store, good: Path) -> None:
    data = bytearray(good.read_bytes())
    data[6] |= 1  # the first entry's flags, in its own head ...
    data[data.index(b"PK\x01\x02") + 8] |= 1  # ... and in the table of contents
    good.write_bytes(data)
    refused(store, good)


def test_a_bomb_that_lies_about_its_size_is_refused(store: Store, good: Path) -> None:
    parts = parts_of(good)
    parts["states/000001.json"] = b" " * 50_000_000
    put_together(good, parts)
    data = bytearray(good.read_bytes())
    at = data.index(b"states/000001.json", data.index(b"PK\x01\x02")) - 46
    struct.pack_into("<I", data, at + 24, 1)  # the unpacked size in the table of contents
    good.write_bytes(data)
    refused(store, good)


def test_a_table_of_contents_too_long_is_refused_unread(store: Store, tmp_path: Path) -> None:
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 65000, 65000, 2**30, 0, 0)
    (tmp_path / "a.zip").write_bytes(bytes(1000) + end)
    refused(store, tmp_path / "a.zip")


def test_the_longer_form_of_zip_is_refused(store: Store, good: Path) -> None:
    data = good.read_bytes()
    locator = struct.pack("<4sLQL", b"PK\x06\x07", 0, 0, 1)
    good.write_bytes(data[:-22] + locator + data[-22:])
    refused(store, good)


@pytest.mark.parametrize("data", [b"", b"PK", b"hello" * 100, b"PK\x05\x06" + bytes(18)])
def test_what_is_no_zip_is_refused(store: Store, tmp_path: Path, data: bytes) -> None:
    (tmp_path / "a.zip").write_bytes(data)
    refused(store, tmp_path / "a.zip")
    refused(store, tmp_path / "nowhere.zip")


def test_cut_short_anywhere_brings_nothing_in(store: Store, good: Path) -> None:
    data = good.read_bytes()
    for end in range(0, len(data), 37):
        good.write_bytes(data[:end])
        refused(store, good)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100)
@given(where=st.integers(0, 10**6), value=st.integers(0, 255))
def test_a_wrong_byte_brings_in_all_or_nothing(
    store: Store, good: Path, where: int, value: int
) -> None:
    before = good.read_bytes()
    data = bytearray(before)
    data[where % len(data)] = value
    good.write_bytes(data)
    try:
        new = import_painting(store, good)
    except StoreError:
        assert store.listed() == ()
    else:  # the byte was the same, or in a place that means nothing: a date, say
        assert store.history(new.painting.id)[0].words == "From a photo"
        store.to_bin(new.painting.id)
        store.empty_bin(0)
    finally:
        good.write_bytes(before)


def test_a_photo_that_says_where_is_cleaned_on_the_way_in(store: Store, good: Path) -> None:
    """A zip made by hand, with a photo that no export of ours would let out."""
    data = photo(place=True)
    key = hashlib.sha256(data).hexdigest()
    state = json.dumps({"photo": key}).encode()
    entry = {
        "sha256": hashlib.sha256(state).hexdigest(), "parent": None, "onward": None, "words": "x",
        "kind": "change", "created": 1.0, "thumbnail": None, "files": [key],
    }  # fmt: skip
    manifest = {
        "format": "firstwash painting", "version": 1, "name": "A", "created": 1.0, "changed": 1.0,
        "head": 0, "revisions": [entry], "files": {key: len(data)}, "notes": [],
    }  # fmt: skip
    parts = {
        "manifest.json": json.dumps(manifest).encode(),
        "states/000000.json": state,
        f"files/{key}": data,
    }
    put_together(good, parts)
    new = import_painting(store, good)
    (clean,) = new.revision.files
    assert json.loads(new.revision.state) == {"photo": clean}
    assert b"SECRET" not in store.files.get(clean)
    assert not store.files.has(key)
