"""Routes that come late: the first page is there without them, and they are loaded once."""

import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import APIRouter
from tests.web.asking import refusal, told
from tests.web.serving import Serve, Served
from tests.worksheet.small import copied

from firstwash.errors import StoreError
from firstwash.web.routes import all as routes
from firstwash.web.services import Services

HEAVY = ("numpy", "numba", "cv2", "scipy", "skimage", "pyvips", "PIL", "matplotlib")
FIRST = """
import asyncio, sys, httpx
from pathlib import Path
from firstwash.web.app import Settings, create_app
from firstwash.web.serve import make_services

services = make_services(Path(sys.argv[1]), 8000, settings=Settings(warm=False))
app = create_app(services)

async def ask():
    transport, base = httpx.ASGITransport(app), "http://127.0.0.1:8000"
    async with httpx.AsyncClient(transport=transport, base_url=base) as client:
        shelf = await client.get("/api/shelf")
        small = [f"/thumbnails/{p['thumbnail']}" for p in shelf.json()]
        for path in ("/", "/painting/x", "/api/shelf?binned=true", "/api/jobs", "/api/hello",
                     "/assets/elements/main.js", "/assets/styles/type.css", *small):
            answer = await client.get(path)
            assert answer.status_code == 200, (path, answer.text)
        print(len(small), sorted({name.split(".")[0] for name in sys.modules}))

asyncio.run(ask())
services.close()
"""


def test_the_first_page_and_the_list_need_nothing_heavy(tmp_path: Path) -> None:
    """In a process of its own, as a start is: the numerical packages alone take a second."""
    run = subprocess.run(
        [sys.executable, "-c", FIRST, str(copied(tmp_path))],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert run.returncode == 0, run.stderr
    small, _, names = run.stdout.partition(" ")
    assert small == "1"  # the list held a painting, with its small picture
    assert [name for name in HEAVY if f"'{name}'" in names] == []


class Counted:
    """Counts how often the routes are loaded; fails the first times if told to."""

    def __init__(self, failing: int = 0) -> None:
        self.times, self.failing = 0, failing
        self.load = routes.heavy_routers

    def __call__(self, services: Services) -> tuple[APIRouter, ...]:
        self.times += 1
        if self.times <= self.failing:
            raise StoreError("The disk is asleep; wake it up.")
        return self.load(services)


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counted:
    made = Counted()
    monkeypatch.setattr(routes, "heavy_routers", made)
    return made


def at_once(served: Served, paths: list[str]) -> list[httpx.Response]:
    """Answers to requests sent at the same moment."""
    gate, answers = threading.Barrier(len(paths)), []

    def ask(path: str) -> None:
        with httpx.Client(base_url=served.url, trust_env=False, timeout=60) as client:
            gate.wait(30)
            answers.append(client.get(path))

    threads = [threading.Thread(target=ask, args=(p,)) for p in paths]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def test_light_addresses_do_not_load_the_rest(serve: Serve, counted: Counted) -> None:
    served = serve()
    for path in ("/", "/api/shelf", "/api/jobs", "/api/hello", "/assets/nothing.js"):
        served.client.get(path)
    refusal(served.client.put("/api/shelf"), 405)
    assert counted.times == 0


def test_many_who_ask_at_once_load_them_once(serve: Serve, counted: Counted) -> None:
    served = serve()
    answers = at_once(served, ["/api/paints", "/api/paintings/none", "/api/nothing"] * 4)
    assert counted.times == 1
    assert sorted(a.status_code for a in answers) == [200] * 4 + [404] * 8
    for path in ("/api/nothing", "/nothing/at/all"):
        refusal(served.client.get(path), 404)
    assert counted.times == 1
    schema = told(served.client.get("/api/openapi.json"))
    names = [o["operationId"] for p in schema["paths"].values() for o in p.values()]
    assert len(set(names)) == len(names)  # none is there twice


def test_a_load_that_fails_is_tried_again(serve: Serve, counted: Counted) -> None:
    counted.failing = 2
    served = serve()
    for _ in range(2):
        assert "asleep" in refusal(served.client.get("/api/paints"), 400, 500)
    told(served.client.get("/api/paints"))
    assert counted.times == 3
    told(served.client.get("/api/paints"))
    assert counted.times == 3


def test_a_body_waits_for_the_routes(serve: Serve, counted: Counted) -> None:
    """The very first request may be a change: nothing of it is lost while the routes load."""
    served = serve()
    text = "PB29\n" + "# a line to make it longer\n" * 500
    own = told(served.client.put("/api/paints/list", json={"text": text}))
    assert own["own"]
    assert counted.times == 1


def test_they_are_loaded_soon_after_the_first_page(serve: Serve) -> None:
    served = serve()
    (load, *_) = served.app.state.later
    load()
    load()
    assert "/api/paints" in told(served.client.get("/api/openapi.json"))["paths"]


# --- every address ---------------------------------------------------------------------------


@pytest.fixture
def loaded(serve: Serve) -> Served:
    served = serve()
    told(served.client.get("/api/paints"))
    return served


EXPECTED = """
GET /api/shelf
POST /api/shelf/{painting}/rename
DELETE /api/shelf/{painting}
POST /api/shelf/bring-in
GET /api/shelf/{painting}/export
POST /api/paintings
POST /api/paintings/{painting}/photos
GET /api/paintings/{painting}
POST /api/paintings/{painting}/change
POST /api/paintings/{painting}/back
POST /api/paintings/{painting}/forward
POST /api/paintings/{painting}/go
GET /api/paintings/{painting}/history
POST /api/paintings/{painting}/plan
POST /api/paintings/{painting}/judge
PUT /api/paintings/preferences
GET /api/handout/lesson
PUT /api/handout/lesson
POST /api/paintings/{painting}/handout
GET /api/paintings/{painting}/handout
GET /api/paintings/{painting}/handout.zip
GET /api/paintings/{painting}/finished
PUT /api/paintings/{painting}/finished/caption
POST /api/paintings/{painting}/finished/photo
POST /api/paintings/{painting}/finished
GET /api/paintings/{painting}/finished/pictures/{name}
GET /api/paintings/{painting}/finished/finished.zip
GET /prints/{painting}/scene/{stamp}/{name}
GET /prints/{painting}/plan/{stamp}/{name}
GET /api/paintings/{painting}/values
GET /api/paintings/{painting}/light
GET /api/paintings/{painting}/light-here
GET /api/paintings/{painting}/looked
GET /api/paintings/{painting}/hue
GET /api/paintings/{painting}/spot
GET /api/paintings/{painting}/first-washes
GET /api/paintings/{painting}/why
GET /api/paintings/{painting}/others
GET /api/paintings/{painting}/try
POST /api/paintings/{painting}/strength
POST /api/paintings/{painting}/swap
POST /api/paintings/{painting}/recolour
POST /api/paintings/{painting}/keep
POST /api/paintings/{painting}/shapes/count
POST /api/paintings/{painting}/shapes/merge
POST /api/paintings/{painting}/shapes/split
POST /api/paintings/{painting}/shapes/border
POST /api/paintings/{painting}/shapes/reserve
POST /api/paintings/{painting}/shapes/release
POST /api/paintings/{painting}/shapes/edge
GET /api/paintings/{painting}/board
GET /api/paintings/{painting}/board/marks
PUT /api/paintings/{painting}/board/marks
GET /api/paints
GET /api/paints/earlier
GET /api/paints/known
POST /api/paints
PATCH /api/paints/{key}
DELETE /api/paints/{key}
PUT /api/paints/list
POST /api/paints/cards
POST /api/paints/cards/{number}/photo
POST /api/paints/cards/{number}/measured
GET /api/glazes/chart
GET /api/glazes/greys
POST /api/glazes/compare
GET /api/jobs
"""


def addresses(served: Served) -> dict[str, dict[str, Any]]:
    paths = told(served.client.get("/api/openapi.json"))["paths"]
    return {f"{m.upper()} {path}": o for path, own in paths.items() for m, o in own.items()}


def test_every_address_is_described(loaded: Served) -> None:
    found = addresses(loaded)
    assert set(EXPECTED.strip().splitlines()) <= set(found)
    for name, operation in found.items():
        assert operation.get("description") or operation.get("summary"), name


def test_without_the_secret_no_address_changes_anything(loaded: Served) -> None:
    for name in addresses(loaded):
        method, path = name.split(" ")
        if method == "GET":
            continue
        path = path.replace("{painting}", "x").replace("{key}", "x").replace("{number}", "1")
        for headers in ({}, {"Origin": loaded.url}, {"X-Firstwash-Token": loaded.token}):
            answer = loaded.stranger.request(method, path, headers=headers, content=b"{}")
            refusal(answer, 403)


def test_what_an_address_does_not_do_is_said(loaded: Served) -> None:
    known: dict[str, set[str]] = {}
    for name in addresses(loaded):
        method, path = name.split(" ")
        known.setdefault(path, set()).add(method)
    for path, methods in known.items():
        plain = path.replace("{number}", "1")
        others = {"GET", "POST", "PUT", "PATCH", "DELETE"} - methods
        for method in sorted(others):
            answer = loaded.client.request(method, plain, json={})
            # Another address of the same form may take it: /api/paints/{key} for /api/paints/list.
            refusal(answer, 405, 404, 422, 400)
            assert answer.status_code != 200
