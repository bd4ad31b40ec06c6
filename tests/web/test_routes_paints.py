"""The painter's paints over the wire: the list, all known paints, cards and their photos."""

import io
from collections.abc import Iterator
from typing import Any

import pytest
from PIL import Image
from tests.web.asking import ended, refusal, told
from tests.web.serving import Serve, Served, running

OWN = "PB29 | favourite\nPR255\nPY154 | banned\n"


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """With one card, for tests that leave everything as it is."""
    with running(tmp_path_factory.mktemp("data")) as it:
        told(it.client.put("/api/paints/list", json={"text": OWN}))
        told(it.client.post("/api/paints/cards", json={"paints": ["PB29"]}))
        yield it


@pytest.fixture
def served(serve: Serve) -> Served:
    it = serve()
    told(it.client.put("/api/paints/list", json={"text": OWN}))
    return it


def keys(own: dict[str, Any]) -> list[str]:
    return [p["key"] for p in own["paints"]]


def mine(served: Served) -> dict[str, Any]:
    return dict(told(served.client.get("/api/paints")))


# --- the list -----------------------------------------------------------------------------


def test_at_first_it_is_the_starter_set(serve: Serve) -> None:
    served = serve()
    own = mine(served)
    assert not own["own"]
    assert len(own["paints"]) > 8
    assert own["cards"] == []
    assert not (served.services.folder / "paints").exists()
    known = told(served.client.get("/api/paints/known"))
    assert {p["key"] for p in known} > set(keys(own))


def test_paints_come_and_go(served: Served) -> None:
    assert keys(mine(served)) == ["PB29", "PR255", "PY154"]  # those banned are listed too
    more = told(served.client.post("/api/paints", json={"name": "burnt sienna"}))
    assert keys(more)[-1] == "PBr7-burnt"
    unknown = {"name": "my violet", "unknown": True, "hue": "violet"}
    assert len(told(served.client.post("/api/paints", json=unknown))["paints"]) == 5
    said = told(served.client.patch("/api/paints/PB29", json={"favourite": False, "note": "skies"}))
    assert "skies" in said["text"]
    assert "favourite" not in said["text"].splitlines()[0]
    less = told(served.client.delete("/api/paints/PR255"))
    assert "PR255" not in keys(less)
    assert mine(served) == less


def test_every_earlier_list_can_be_had_again(served: Served) -> None:
    first = mine(served)
    told(served.client.delete("/api/paints/PR255"))
    told(served.client.patch("/api/paints/PB29", json={"note": "skies"}))
    refusal(served.client.delete("/api/paints/none"), 400, 404)
    lists = told(served.client.get("/api/paints/earlier"))
    assert [one["words"].split()[0] for one in lists] == ["Changed", "Took", "Wrote", "As"]
    assert [one["version"] for one in lists] == [4, 3, 2, 1]  # what was refused left nothing
    assert lists[0]["words"] == "Changed what is said of ultramarine blue"  # no code
    assert lists[0]["text"] == mine(served)["text"]
    assert lists[2]["text"] == first["text"]
    back = {"text": lists[2]["text"], "base": mine(served)["stamp"]}
    again = told(served.client.put("/api/paints/list", json=back))
    assert keys(again) == keys(first)
    assert again["text"] == first["text"]


def test_a_list_changed_outside_the_page_is_kept_too(served: Served) -> None:
    by_hand = "PB29\nPY154\nPR108\n"
    (served.services.folder / "paints" / "my-paints.txt").write_text(by_hand)
    told(served.client.delete("/api/paints/PY154"))
    latest, before, *_ = told(served.client.get("/api/paints/earlier"))
    assert "PY154" not in latest["text"]
    assert "PY154" in before["text"]
    assert "PR108" in before["text"]


def test_the_list_is_a_text_to_keep(served: Served) -> None:
    answer = served.client.get("/api/paints/list.txt")
    assert answer.headers["content-type"].startswith("text/plain")
    assert answer.headers["content-disposition"].startswith("attachment")
    assert told(served.client.put("/api/paints/list", json={"text": answer.text})) == mine(served)


def test_words_of_a_painter_are_text(served: Served) -> None:
    note = "<script>alert(1)</script> \u202e"
    answer = served.client.patch("/api/paints/PB29", json={"note": note})
    if answer.status_code == 200:
        assert "<script>" in answer.json()["text"]  # as text; the page shows it as such
    else:
        refusal(answer, 400)
    for hostile in ("a\nPG7", "a | banned", "#", "\0"):
        answer = served.client.patch("/api/paints/PB29", json={"note": hostile})
        if answer.status_code == 200:
            assert "PG7" not in keys(answer.json())
        else:
            refusal(answer, 400)
    assert keys(mine(served)) == ["PB29", "PR255", "PY154"]


WRONG: list[tuple[str, str, Any]] = [
    ("POST", "", {}),
    ("POST", "", {"name": ""}),
    ("POST", "", {"name": "x" * 201}),
    ("POST", "", {"name": "nothing of the kind"}),
    ("POST", "", {"name": "PB29"}),
    ("POST", "", {"name": "../../etc"}),
    ("POST", "", {"name": "PG7", "odd": 1}),
    ("POST", "", {"name": "my violet", "unknown": True, "hue": "loud"}),
    ("POST", "", {"name": "my best", "unknown": True}),
    ("PATCH", "/PB29", {"form": "bucket"}),
    ("PATCH", "/PB29", {"favourite": "perhaps"}),
    ("PATCH", "/PB29", {"note": "x" * 301}),
    ("PATCH", "/PB29", {"favourite": True, "banned": True}),
    ("PATCH", "/nothing", {"favourite": True}),
    ("DELETE", "/nothing", None),
    ("DELETE", "/%00", None),
    ("PUT", "/list", {"text": ""}),
    ("PUT", "/list", {"text": "nothing of the kind"}),
    ("PUT", "/list", {"text": "PB29\nPB29"}),
    ("PUT", "/list", {"text": "x" * 200_001}),
    ("PUT", "/list", {"text": "PB29\n" * 2000}),
    ("PUT", "/list", {"text": 7}),
    ("PUT", "/list", []),
]


@pytest.mark.parametrize(("method", "path", "body"), WRONG)
def test_what_is_no_paint_changes_nothing(
    shared: Served, method: str, path: str, body: Any
) -> None:
    before = mine(shared)
    refusal(shared.client.request(method, f"/api/paints{path}", json=body), 400, 404, 422)
    assert mine(shared) == before


def test_the_last_paint_stays(served: Served) -> None:
    told(served.client.delete("/api/paints/PR255"))
    told(served.client.delete("/api/paints/PY154"))
    refusal(served.client.delete("/api/paints/PB29"), 400)
    assert keys(mine(served)) == ["PB29"]


def test_a_list_written_by_hand_that_cannot_be_read_is_said(served: Served) -> None:
    """Every address that needs paints says so, and none of them fails."""
    (served.services.folder / "paints" / "my-paints.txt").write_text("nothing of the kind\n")
    for path in ("/api/paints", "/api/paints/known", "/api/glazes/chart", "/api/paints/list.txt"):
        assert "nothing of the kind" in refusal(served.client.get(path), 400)
    told(served.client.put("/api/paints/list", json={"text": "PB29\n"}))  # and is mended here
    assert keys(mine(served)) == ["PB29"]


# --- cards ------------------------------------------------------------------------------------


def test_a_card_is_made_and_its_page_kept(served: Served) -> None:
    card = told(served.client.post("/api/paints/cards", json={"paints": ["PB29", "PR255"]}))
    assert card["paints"] == ["PB29", "PR255"]
    by_hand = told(served.client.post("/api/paints/cards", json={"by_hand": True}))
    assert [c["number"] for c in mine(served)["cards"]] == [by_hand["number"], card["number"]]
    page = served.client.get(f"/api/paints/cards/{card['number']}/card.pdf")
    assert page.content.startswith(b"%PDF")
    assert page.headers["content-type"] == "application/pdf"
    assert page.headers["content-disposition"].startswith("attachment")
    page = served.client.get(f"/api/paints/cards/{by_hand['number']}/card-by-hand.html")
    assert page.headers["content-disposition"].startswith("attachment")  # never shown as a page


@pytest.mark.parametrize(
    "body",
    [
        {"paints": ["nothing"]},
        {"paints": ["PB29", "PB29"]},
        {"paints": ["PB29"] * 9},
        {"paints": [""]},
        {"paints": "PB29"},
        {"size": "A0"},
        {"loads": "buckets"},
        {"by_hand": "perhaps"},
        {"folder": "/tmp"},
    ],
)
def test_a_card_that_is_none_is_not_made(shared: Served, body: dict[str, Any]) -> None:
    refusal(shared.client.post("/api/paints/cards", json=body), 400, 422)
    assert [c["number"] for c in mine(shared)["cards"]] == [1]


@pytest.mark.parametrize(
    "address",
    ["1/card.json", "1/outcome.json", "1/report.html", "2/card.pdf", "0/card.pdf", "-1/card.pdf",
     "1/..%2f..%2fmy-paints.txt", "1/%2e%2e", "1/", "1/card.pdf%00", "x/card.pdf", "1.5/card.pdf",
     "9" * 400 + "/card.pdf", "9" * 5000 + "/card.pdf", "1/" + "a" * 3000],
)  # fmt: skip
def test_no_other_file_is_handed_out(shared: Served, address: str) -> None:
    refusal(shared.client.get(f"/api/paints/cards/{address}"), 404, 422)


def photo_of_nothing() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (900, 700), (90, 120, 60)).save(out, "jpeg")
    return out.getvalue()


def test_a_photo_of_nothing_is_said_and_changes_nothing(served: Served) -> None:
    told(served.client.post("/api/paints/cards", json={"paints": ["PB29"]}))
    before = mine(served)
    path = "/api/paints/cards/1"
    for what, content in (("photo", photo_of_nothing()), ("measured", b"no measurements")):
        job = told(served.client.post(f"{path}/{what}", content=content))["job"]
        end = ended(served, job)
        assert end["state"] == "failed"
        assert end["ended"]["sentence"][0].isupper()
        assert "card-" not in end["ended"]["sentence"]  # no name that we made up
        assert "/" not in end["ended"]["sentence"]
    assert mine(served) == before
    assert list(served.services.uploads().iterdir()) == []


def test_what_cannot_be_a_photo_of_a_card_is_refused_at_once(served: Served) -> None:
    told(served.client.post("/api/paints/cards", json={"paints": ["PB29"]}))
    path = "/api/paints/cards/1"
    refusal(served.client.post(f"{path}/photo", content=b"GIF89a" + bytes(90)), 400)
    refusal(served.client.post(f"{path}/photo", content=b""), 400)
    refusal(served.client.post(f"{path}/measured", content=b""), 400)
    refusal(served.client.post(f"{path}/measured", content=bytes(32_000_001)), 413)
    for corners in ("1,2", "a,b c,d e,f g,h", "1,2 3,4 5,6", "1,2,3 4,5 6,7 8,9", "nan,1 " * 4,
                    "inf,1 2,3 4,5 6,7", "1e999,1 2,3 4,5 6,7"):  # fmt: skip
        answer = served.client.post(
            f"{path}/photo", params={"corners": corners}, content=photo_of_nothing()
        )
        refusal(answer, 400)
    for number in ("2", "0", "-1", "9" * 300):
        for what in ("photo", "measured"):
            where = f"/api/paints/cards/{number}/{what}"
            refusal(served.client.post(where, content=photo_of_nothing()), 404)
    assert list(served.services.uploads().iterdir()) == []
    assert told(served.client.get("/api/jobs"))["jobs"] == []


@pytest.fixture(autouse=True)
def _no_leftovers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Nothing is written next to the data folders, whatever names were sent."""
    base = tmp_path_factory.getbasetemp()
    yield
    assert not list(base.glob("*etc*"))


def test_a_list_changed_meanwhile_is_not_written_over(served: Served) -> None:
    before = told(served.client.put("/api/paints/list", json={"text": OWN}))
    told(served.client.post("/api/paints", json={"name": "PO48"}))
    late = {"base": before["stamp"], "text": "PB29\n"}
    answer = served.client.put("/api/paints/list", json=late)
    assert answer.status_code == 400
    assert "changed elsewhere" in answer.json()["error"]["sentence"]
    now = told(served.client.get("/api/paints"))
    assert "PO48" in now["text"]
    after = told(
        served.client.put("/api/paints/list", json={"base": now["stamp"], "text": "PB29\n"})
    )
    assert after["text"] == "PB29\n"
