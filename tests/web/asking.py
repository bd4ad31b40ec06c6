"""What the tests of the routes ask, and what every refusal must be."""

import contextlib
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
from tests.web.serving import Served, running, until
from tests.worksheet.small import copied

JSON = {"Content-Type": "application/json"}


@contextlib.contextmanager
def with_cup() -> Iterator[Served]:
    """A server on a folder of its own with one planned painting, "Cup"."""
    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder,
        running(copied(Path(folder))) as served,
    ):
        yield served


def cup(served: Served) -> dict[str, Any]:
    """The planned painting as the page gets it."""
    (listed,) = (p for p in told(served.client.get("/api/shelf")) if p["name"] == "Cup")
    return dict(told(served.client.get(f"/api/paintings/{listed['id']}")))


def told(answer: httpx.Response) -> Any:
    """What a good answer holds."""
    assert answer.status_code == 200, answer.text
    return answer.json()


def refusal(answer: httpx.Response, *statuses: int) -> str:
    """The sentence of a refusal, once it has the one shape and is one sentence."""
    assert answer.status_code in (statuses or (400, 404, 409, 413, 422)), answer.text
    assert answer.headers["content-type"] == "application/json"
    error = answer.json()["error"]
    assert re.fullmatch(r"[\w“\"'][^\n]{3,600}\.", error["sentence"]), error
    assert "Traceback" not in answer.text
    return str(error["sentence"])


def history(served: Served, painting: str) -> list[str]:
    """What was done to a painting, in order."""
    return [s["words"] for s in told(served.client.get(f"/api/paintings/{painting}/history"))]


def ended(served: Served, job: str) -> dict[str, Any]:
    """How a piece of work ended."""

    def state() -> dict[str, Any] | None:
        found = told(served.client.get(f"/api/jobs/{job}"))
        return found if found["state"] not in ("waiting", "running") else None

    return dict(until(state, "the work"))
