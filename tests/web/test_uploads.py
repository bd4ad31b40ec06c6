"""Files that come in: limited, recognised, never named by the sender, never left lying about."""

import http.client
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import APIRouter, Request
from hypothesis import given
from hypothesis import strategies as st
from tests.web.serving import Serve, Served, running

from firstwash.errors import PhotoError
from firstwash.web.uploads import LONGEST_NAME, attachment, clean_name, receive, sniff

MOST = 300_000
HEADS = {
    "JPEG": b"\xff\xd8\xff\xe0",
    "PNG": b"\x89PNG\r\n\x1a\n",
    "TIFF": b"II*\x00",
    "WebP": b"RIFF\x00\x00\x00\x00WEBP",
    "HEIF": b"\x00\x00\x00\x18ftypheic",
}
router = APIRouter()


@router.post("/api/up", max_body_size=10 * MOST)
async def up(request: Request) -> dict[str, Any]:
    folder = request.app.state.services.uploads()
    async with receive(request, folder, MOST) as path:
        if request.headers.get("x-fail"):
            raise PhotoError("This photo is too dark; choose another.")
        if request.headers.get("x-keep"):
            path.rename(folder.parent / "kept")
        return {"size": 0 if request.headers.get("x-keep") else path.stat().st_size}


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with running(tmp_path_factory.mktemp("data"), router) as it:
        yield it


def left(served: Served) -> list[Path]:
    return list(served.services.uploads().iterdir())


@pytest.mark.parametrize("what", HEADS)
def test_a_photo_comes_in_and_goes_again(served: Served, what: str) -> None:
    content = HEADS[what].ljust(250_000, b"x")
    answer = served.client.post("/api/up", content=content)
    assert answer.json() == {"size": 250_000}
    assert left(served) == []


def test_a_photo_can_be_moved_away(served: Served) -> None:
    content = HEADS["PNG"].ljust(1000, b"x")
    assert served.client.post("/api/up", content=content, headers={"X-Keep": "1"}).is_success
    assert (served.services.folder / "kept").read_bytes() == content
    assert left(served) == []


@pytest.mark.parametrize(
    ("content", "status"),
    [
        (b"", 400),
        (b"MZ", 400),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", 400),
        (b"PK\x03\x04" + b"x" * 100, 400),
        (b"GIF89a" + b"x" * 100, 400),
        (HEADS["JPEG"].ljust(MOST + 1, b"x"), 413),
    ],
)
def test_anything_else_is_refused_and_removed(served: Served, content: bytes, status: int) -> None:
    answer = served.client.post("/api/up", content=content)
    assert answer.status_code == status
    assert answer.json()["error"]["sentence"].endswith(".")
    assert left(served) == []


def test_one_that_does_not_say_its_size_is_cut_off(served: Served) -> None:
    def endless() -> Any:
        yield HEADS["JPEG"].ljust(1000, b"x")
        for _ in range(1000):
            yield b"x" * 1000

    answer = served.client.post("/api/up", content=endless())
    assert answer.status_code == 413
    assert left(served) == []


def test_what_fails_afterwards_leaves_nothing(served: Served) -> None:
    content = HEADS["JPEG"].ljust(1000, b"x")
    answer = served.client.post("/api/up", content=content, headers={"X-Fail": "1"})
    assert answer.status_code == 400
    assert left(served) == []


@pytest.mark.parametrize("hang_up", [True, False])
def test_a_sender_that_stops_half_way_leaves_nothing(serve: Serve, hang_up: bool) -> None:
    served = serve(router)
    served.services.security.stall_seconds = 0.3
    to = http.client.HTTPConnection("127.0.0.1", served.port, timeout=30)
    to.putrequest("POST", "/api/up")
    for name, value in (("Origin", served.url), ("X-Firstwash-Token", served.token)):
        to.putheader(name, value)
    to.putheader("Content-Length", "100000")
    to.endheaders(HEADS["JPEG"].ljust(1000, b"x"))
    if not hang_up:
        assert to.getresponse().status == 408
    to.close()
    # The server may not have begun yet when the sender is gone, and finds out when it looks
    # again: nothing is left once nothing has been there for half a second.
    clean, end = 0, time.monotonic() + 30.0
    while clean < 25 and time.monotonic() < end:
        time.sleep(0.02)
        clean = 0 if left(served) else clean + 1
    assert clean == 25


def test_what_an_earlier_server_left_half_done_is_removed(tmp_path: Path) -> None:
    (tmp_path / "incoming").mkdir()
    (tmp_path / "incoming" / "in-half").write_bytes(b"x")
    with running(tmp_path, router) as served:
        assert left(served) == []


def test_a_full_disk_is_said(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int, chunk: bytes) -> None:
        del handle, chunk
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("firstwash.web.uploads._write", full)
    answer = served.client.post("/api/up", content=HEADS["JPEG"].ljust(1000, b"x"))
    assert answer.status_code == 400
    assert "make room" in answer.json()["error"]["sentence"]
    assert left(served) == []


def test_files_are_known_by_what_they_are() -> None:
    for what, head in HEADS.items():
        assert sniff(head.ljust(32, b"\0")) == what
    assert sniff(b"PK\x03\x04") == "zip"
    for nothing in (b"", b"RIFF....WAVE", b"\0\0\0\x18ftypmp42", b"#!/bin/sh", b"%PDF-1.7"):
        assert sniff(nothing) is None


@pytest.mark.parametrize(
    ("given_name", "shown"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\photos\\jug.jpg", "jug.jpg"),
        ("jug\r\nSet-Cookie: a=b.jpg", "jug Set-Cookie: a=b.jpg"),
        ("gpj.\u202egnp.jpg", "gpj. gnp.jpg"),  # a mark that turns the writing round
        ("cafe\u0301.jpg", "café.jpg"),
        ("<b>jug</b>.jpg", "b>.jpg"),
        ("  a   b  ", "a b"),
        ("", "Untitled"),
        ("\x00\x1f/", "Untitled"),
        ("\ud800.jpg", ".jpg"),
    ],
)
def test_names_are_for_reading(given_name: str, shown: str) -> None:
    assert clean_name(given_name) == shown


@given(st.text(max_size=400))
def test_any_name_is_one_short_line_and_any_header_is_one_line(name: str) -> None:
    shown = clean_name(name)
    assert 0 < len(shown) <= LONGEST_NAME
    assert not set(shown) & {"\n", "\r", "/", "\\", "\0"}
    assert clean_name(shown) == shown
    header = attachment(name)
    assert header.isascii()
    assert header.isprintable()
    assert header.count('"') == 2
