"""Test strokes over the wire: the chart, greys, two stacks."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.web.asking import JSON, refusal, told
from tests.web.serving import Served, running

BAD = ["nan", "inf", "-inf", "1e999", "", "x", "-1", "0", "11"]


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """With a short list, so that charts are quick."""
    folder: Path = tmp_path_factory.mktemp("data")
    with running(folder) as it:
        told(it.client.put("/api/paints/list", json={"text": "PB29\nPR255\nPY154\n"}))
        yield it


def test_every_paint_under_every_other(served: Served) -> None:
    for light in ("D65", "D50", "A", "LED"):
        chart = told(served.client.get("/api/glazes/chart", params={"light": light}))
        assert chart
    strong = told(served.client.get("/api/glazes/chart", params={"lower": 0.5, "upper": 0.3}))
    assert strong != chart


@pytest.mark.parametrize("number", BAD)
def test_a_strength_that_is_none_is_refused(served: Served, number: str) -> None:
    for what in ("lower", "upper"):
        refusal(served.client.get("/api/glazes/chart", params={what: number}), 400, 422)
    refusal(served.client.get("/api/glazes/chart", params={"light": "candle"}), 422)


def test_greys(served: Served) -> None:
    told(served.client.get("/api/glazes/greys"))
    told(served.client.get("/api/glazes/greys", params={"key": "PB29", "share": 0.2}))
    for key in ("nothing", "PB28", "\0", "☃" * 80):
        refusal(served.client.get("/api/glazes/greys", params={"key": key}), 400)
    refusal(served.client.get("/api/glazes/greys", params={"key": "x" * 81}), 422)
    for share in BAD:
        params = {"key": "PB29", "share": share}
        refusal(served.client.get("/api/glazes/greys", params=params), 400, 422)


def test_two_stacks_side_by_side(served: Served) -> None:
    body = {"first": [{"PB29": 0.3}], "second": [{"PR255": 0.2}, {"PB29": 0.1, "PY154": 0.1}]}
    assert told(served.client.post("/api/glazes/compare", json=body))
    same = {"first": [{"PB29": 0.3}], "second": [{"PB29": 0.3}]}
    assert told(served.client.post("/api/glazes/compare", json=same))


WRONG: list[Any] = [
    {},
    {"first": [], "second": []},
    {"first": [{}], "second": [{"PB29": 0.1}]},
    {"first": [{"PB29": 0.0}], "second": [{"PB29": 0.1}]},
    {"first": [{"PB29": -1}], "second": [{"PB29": 0.1}]},
    {"first": [{"PB29": 3}], "second": [{"PB29": 0.1}]},
    {"first": [{"PB29": float("nan")}], "second": [{"PB29": 0.1}]},
    {"first": [{"PB29": float("inf")}], "second": [{"PB29": 0.1}]},
    {"first": [{"PB29": 0.1}] * 9, "second": [{"PB29": 0.1}]},
    {"first": [{f"P{i}": 0.1 for i in range(7)}], "second": [{"PB29": 0.1}]},
    {"first": [{"nothing": 0.1}], "second": [{"PB29": 0.1}]},
    {"first": [{"": 0.1}], "second": [{"PB29": 0.1}]},
    {"first": [{"<script>": 0.1}], "second": [{"PB29": 0.1}]},
    {"first": {"PB29": 0.1}, "second": [{"PB29": 0.1}]},
]


@pytest.mark.parametrize("body", WRONG)
def test_stacks_that_are_none_are_refused(served: Served, body: Any) -> None:
    answer = served.client.post("/api/glazes/compare", content=json.dumps(body), headers=JSON)
    refusal(answer, 400, 422)
