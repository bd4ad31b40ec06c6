"""The list of paintings: names, copies, the bin, small pictures, one zip in and out."""

import io
import zipfile
from collections.abc import Iterator

import pytest
from tests.web.asking import cup, history, refusal, told, with_cup
from tests.web.serving import Serve, Served, until
from tests.worksheet.small import cup_png

from firstwash.web.app import Settings

ZIP = {"Content-Type": "application/zip"}
HOSTILE = '<script>alert(1)</script> "x" \\ ../../etc/passwd %00'


@pytest.fixture(scope="module")
def shared() -> Iterator[Served]:
    """For tests that leave everything as it is."""
    with with_cup() as it:
        yield it


@pytest.fixture
def served() -> Iterator[Served]:
    with with_cup() as it:
        yield it


def names(served: Served, binned: bool = False) -> list[str]:
    return [p["name"] for p in told(served.client.get("/api/shelf", params={"binned": binned}))]


def test_the_page_is_there_under_every_address_of_a_painting(shared: Served) -> None:
    served = shared
    for path in ("/", "/painting/anything", "/painting/<script>alert(1)"):
        answer = served.client.get(path)
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/html")
        assert answer.headers["cache-control"] == "no-store"
        assert served.token in answer.text
        assert "alert" not in answer.text
        assert "<script>" not in answer.text  # none inline
    assert served.stranger.get("/", headers={"Origin": "http://evil.example"}).status_code == 403


def test_names_are_kept_as_text_and_never_as_anything_else(served: Served) -> None:
    one = cup(served)["id"]
    for name in (HOSTILE, "☃ grün", "x" * 120, "' OR 1=1; --", "{{ token }}"):
        told(served.client.post(f"/api/shelf/{one}/rename", json={"name": name}))
        answer = served.client.get("/api/shelf")
        assert answer.headers["content-type"] == "application/json"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.json()[0]["name"] == name
    tidy = told(served.client.post(f"/api/shelf/{one}/rename", json={"name": " a\n\0b\u202e "}))
    assert tidy["name"] == "a b"
    for wrong in ({"name": ""}, {"name": "x" * 121}, {"name": None}, {}, {"name": "a", "id": 1}):
        refusal(served.client.post(f"/api/shelf/{one}/rename", json=wrong), 422)
    for empty in (" ", "\u202e", "\0\n"):
        refusal(served.client.post(f"/api/shelf/{one}/rename", json={"name": empty}), 400)
    assert names(served) == ["a b"]


def test_a_copy_the_bin_and_back(served: Served) -> None:
    one = cup(served)
    copy = told(served.client.post(f"/api/shelf/{one['id']}/duplicate"))
    assert copy["name"] == "Cup copy"
    assert history(served, copy["id"]) == history(served, one["id"])
    assert told(served.client.delete(f"/api/shelf/{copy['id']}"))["binned"] is not None
    assert (names(served), names(served, True)) == (["Cup"], ["Cup copy"])
    told(served.client.post(f"/api/shelf/{copy['id']}/restore"))
    assert sorted(names(served)) == ["Cup", "Cup copy"]
    told(served.client.delete(f"/api/shelf/{copy['id']}"))
    assert told(served.client.delete("/api/shelf/bin")) == {"gone": 1}
    assert (names(served), names(served, True)) == (["Cup"], [])
    refusal(served.client.post(f"/api/shelf/{copy['id']}/restore"), 404)


def test_a_painting_in_the_bin_is_not_worked_on(served: Served) -> None:
    one = cup(served)
    told(served.client.delete(f"/api/shelf/{one['id']}"))
    body = {"base": one["revision"], "words": "Steps", "values": {"steps": 3}}
    refusal(served.client.post(f"/api/paintings/{one['id']}/change", json=body))
    told(served.client.post(f"/api/shelf/{one['id']}/restore"))
    told(served.client.post(f"/api/paintings/{one['id']}/change", json=body))


# --- small pictures --------------------------------------------------------------


def test_only_small_pictures_are_handed_out_by_key(served: Served) -> None:
    key = told(served.client.get("/api/shelf"))[0]["thumbnail"]
    answer = served.client.get(f"/thumbnails/{key}")
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.content.startswith(b"\xff\xd8\xff")
    assert "immutable" in answer.headers["cache-control"]
    brief = cup(served)["brief"]
    others = [brief["scene"]["pictures"][0]["file"], brief["plan"]["document"],
              brief["plan"]["cells"], brief["drawing"]["labels"]]  # fmt: skip
    photo = served.services.store.files.put(b"\xff\xd8\xff a whole photo, say")
    for other in (*others, photo, "0" * 64, "x", "..%2f..%2fpaintings.db", key.upper(), key[:-1]):
        refusal(served.client.get(f"/thumbnails/{other}"), 404)
    told(served.client.delete(f"/api/shelf/{cup(served)['id']}"))
    assert served.client.get(f"/thumbnails/{key}").status_code == 200  # the bin shows them too


# --- one zip -------------------------------------------------------------------------


def test_a_painting_goes_out_and_comes_in_whole(served: Served) -> None:
    one = cup(served)
    told(served.client.post(f"/api/shelf/{one['id']}/rename", json={"name": HOSTILE}))
    answer = served.client.get(f"/api/shelf/{one['id']}/export")
    assert answer.headers["content-type"] == "application/zip"
    disposition = answer.headers["content-disposition"]
    assert disposition.startswith("attachment; ")
    assert not set("<>/\\\r\n") & set(disposition.split("filename*")[0])
    assert zipfile.ZipFile(io.BytesIO(answer.content)).testzip() is None
    # Nothing is left of it here once it is sent.
    until(lambda: not list(served.services.uploads().iterdir()), "the zip to go")
    back = told(served.client.post("/api/shelf/bring-in", content=answer.content, headers=ZIP))
    assert back["id"] != one["id"]
    again = told(served.client.get(f"/api/paintings/{back['id']}"))
    assert again["brief"] == one["brief"]
    assert again["plan"]["layers"] == one["plan"]["layers"]
    assert history(served, back["id"]) == history(served, one["id"])
    assert list(served.services.uploads().iterdir()) == []


def zipped(*files: tuple[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as bundle:
        for name, data in files:
            bundle.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"PK\x03\x04",
        b"PK\x03\x04" + b"\0" * 100,
        b"no zip at all, but longer than its head",
        cup_png(),
        zipped(),
        zipped(("../../evil", b"x")),
        zipped(("painting.json", b"{}")),
        zipped(("painting.json", b"[" * 100_000)),
        zipped(("zeros", bytes(30_000_000))),
    ],
)
def test_what_was_not_exported_here_is_refused(shared: Served, content: bytes) -> None:
    served = shared
    before = sorted(p.as_posix() for p in served.services.folder.parent.rglob("*evil*"))
    answer = served.client.post("/api/shelf/bring-in", content=content, headers=ZIP)
    refusal(answer, 400)
    assert names(served) == ["Cup"]
    assert sorted(p.as_posix() for p in served.services.folder.parent.rglob("*evil*")) == before
    assert list(served.services.uploads().iterdir()) == []


def test_a_zip_cut_short_or_changed_is_refused_whole(served: Served) -> None:
    one = cup(served)["id"]
    whole = served.client.get(f"/api/shelf/{one}/export").content
    middle = len(whole) // 2
    changed = whole[:middle] + bytes([whole[middle] ^ 0xFF]) + whole[middle + 1 :]
    for content in (whole[:-30], whole[:middle], changed):
        refusal(served.client.post("/api/shelf/bring-in", content=content, headers=ZIP), 400)
    assert names(served) == ["Cup"]


def test_uploads_have_an_end(serve: Serve) -> None:
    served = serve(settings=Settings(warm=False, bundle_bytes=1000, photo_bytes=2000))
    big = b"PK\x03\x04" + bytes(5000)

    def dripping() -> Iterator[bytes]:
        for start in range(0, len(big), 500):
            yield big[start : start + 500]

    for content in (big, dripping()):
        answer = served.client.post("/api/shelf/bring-in", content=content, headers=ZIP)
        refusal(answer, 413)
    answer = served.client.post("/api/paintings", content=b"\xff\xd8\xff" + bytes(5000))
    refusal(answer, 413)
    assert list(served.services.uploads().iterdir()) == []


# --- what is not there -----------------------------------------------------------------


@pytest.mark.parametrize("painting", ["nothing", "..", "%2e%2e%2fetc", "1%00", "☃", "x" * 3000])
def test_a_painting_that_is_not_there_is_said_everywhere(shared: Served, painting: str) -> None:
    served, ask = shared, shared.client
    for method, path in (
        ("POST", "duplicate"),
        ("POST", "restore"),
        ("GET", "export"),
    ):
        refusal(ask.request(method, f"/api/shelf/{painting}/{path}"), 404)
    refusal(ask.post(f"/api/shelf/{painting}/rename", json={"name": "x"}), 404)
    if painting != "..":
        refusal(ask.delete(f"/api/shelf/{painting}"), 404)
    assert names(served) == ["Cup"]
    assert list(served.services.uploads().iterdir()) == []
