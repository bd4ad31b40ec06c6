"""Anything at all sent to the cheap addresses: an answer or a sentence, never a failure.

Requests are made up from the server's own description of itself: right in form most of the time,
with anything at all in one place or another.
"""

import json
from collections.abc import Iterator, Mapping
from typing import Any

import httpx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.web.asking import JSON, cup, refusal, told, with_cup
from tests.web.serving import Served

SLOW = ("/plan", "/judge", "/export", "/cards", "/events", "/bring-in", "/photos", "/greys",
        "/chart", "/known", "/duplicate")  # fmt: skip
ALONE = ("/api/phone", "/api/jobs", "/api/paintings")  # tested with what belongs to them
JUNK = [
    "",
    "\0",
    "nan",
    "NaN",
    "inf",
    "-1",
    "0",
    "1",
    "9" * 30,
    "1e308",
    "..",
    "a/b",
    "☃",
    "'",
    "x" * 500,
]
odd: st.SearchStrategy[Any] = st.sampled_from(
    [
        None,
        True,
        -1,
        0,
        1,
        10**30,
        1e308,
        -1e308,
        0.5,
        "",
        "\0",
        "☃",
        "PB29",
        "x" * 300,
        [],
        {},
        [[]],
    ]
)


@pytest.fixture(scope="module")
def served() -> Iterator[Served]:
    with with_cup() as it:
        told(it.client.put("/api/paints/list", json={"text": "PB29\nPR255\nPY154\n"}))
        yield it


@pytest.fixture(scope="module")
def schema(served: Served) -> dict[str, Any]:
    return dict(told(served.client.get("/api/openapi.json")))


def value(schema: Mapping[str, Any], known: Mapping[str, Any], name: str = "") -> Any:
    """A strategy for values of a JSON schema; name: of the field."""
    if name in ("base", "to"):
        return st.sampled_from(["{head}"] * 8 + ["", "x"])
    if name == "name" and "maxLength" not in schema:  # of a picture
        return st.sampled_from(["finished", "stage-1", "map-1", "wash-1-1", "hue", "values-3-10"])
    if "$ref" in schema:
        return value(known[schema["$ref"].rpartition("/")[2]], known)
    if "anyOf" in schema:
        return st.one_of([value(s, known, name) for s in schema["anyOf"]])
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    if "const" in schema:
        return st.just(schema["const"])
    kind = schema.get("type")
    if kind == "array":
        return _array(schema, known, name)
    if kind == "object":
        return _object(schema, known)
    low, high = schema.get("minimum", 0), schema.get("maximum", 200)
    plain = {
        "string": _text(schema),
        "integer": st.integers(int(low), int(high)),
        "number": st.floats(float(low), float(high)),
        "boolean": st.booleans(),
        "null": st.none(),
    }
    return plain.get(str(kind), odd)


def _text(schema: Mapping[str, Any]) -> Any:
    if "#" in schema.get("pattern", ""):
        return st.sampled_from(["#000000", "#ffffff", "#4060a0"])
    if "a-f" in schema.get("pattern", ""):
        return st.sampled_from(["{photo}", "0" * 64])
    return st.sampled_from(["A", "B", "PB29", "28x38cm", "words", "☃"])


def _array(schema: Mapping[str, Any], known: Mapping[str, Any], name: str) -> Any:
    if "prefixItems" in schema:
        return st.tuples(*(value(s, known, name) for s in schema["prefixItems"])).map(list)
    least = schema.get("minItems", 0)
    return st.lists(value(schema.get("items", {}), known, name), min_size=least, max_size=least + 2)


def _object(schema: Mapping[str, Any], known: Mapping[str, Any]) -> Any:
    inner = schema.get("properties", {})
    if not inner:
        more = schema.get("additionalProperties")
        each = value(more, known) if isinstance(more, dict) else odd
        return st.dictionaries(st.sampled_from(["PB29", "PR255", "x"]), each, max_size=2)
    must = set(schema.get("required", ()))
    return st.fixed_dictionaries(
        {k: value(s, known, k) for k, s in inner.items() if k in must},
        optional={k: value(s, known, k) for k, s in inner.items() if k not in must},
    )


def spoilt(told: Any, draw: st.DrawFn) -> Any:
    """The same with anything at all in one place."""
    if isinstance(told, dict) and told and draw(st.booleans()):
        key = draw(st.sampled_from(sorted(told)))
        return {**told, key: spoilt(told[key], draw)}
    if isinstance(told, list) and told and draw(st.booleans()):
        at = draw(st.integers(0, len(told) - 1))
        return [spoilt(v, draw) if i == at else v for i, v in enumerate(told)]
    return draw(odd)


Asked = tuple[str, str, dict[str, str], Any]


@st.composite
def asked(draw: st.DrawFn, schema: Mapping[str, Any]) -> Asked:
    """A request: method, path, query and body."""
    known = schema["components"]["schemas"]
    ways = [
        (method, path, operation)
        for path, own in sorted(schema["paths"].items())
        for method, operation in sorted(own.items())
        if not path.endswith(SLOW) and "/cards" not in path and path not in ALONE
        and not path.startswith(("/api/phone", "/api/jobs"))
        and (method in ("get", "post", "put", "patch"))
    ]  # fmt: skip
    method, path, operation = draw(st.sampled_from(ways))
    query = {}
    for param in operation.get("parameters", ()):
        usual = value(param["schema"], known, param["name"]).map(str)
        given = draw(st.sampled_from(JUNK) if draw(st.integers(0, 7)) == 0 else usual)
        if param["in"] == "query":
            query[param["name"]] = given
        elif param["in"] == "path":
            often = param["name"] in ("painting", "stamp") and draw(st.integers(0, 7))
            given = f"{{{param['name']}}}" if often else given
            path = path.replace(f"{{{param['name']}}}", f"<{given}>" if often else given, 1)
    body = None
    content = operation.get("requestBody", {}).get("content", {}).get("application/json")
    if content:
        body = draw(value(content["schema"], known))
        body = spoilt(body, draw) if draw(st.integers(0, 2)) == 0 else body
    return method, path, query, body


def filled(told: Any, now: Mapping[str, Any]) -> Any:
    """With the head's revision and the photo's key where they belong."""
    if isinstance(told, dict):
        return {k: filled(v, now) for k, v in told.items()}
    if isinstance(told, list):
        return [filled(v, now) for v in told]
    if told == "{head}":
        return now["revision"]
    if told == "{photo}":
        return now["brief"]["scene"]["pictures"][0]["file"]
    return told


def send(served: Served, what: Asked) -> httpx.Response:
    method, path, query, body = what
    now = planned(served)
    stamp = now["plan"]["stamp"] if "/plan/" in path else now["scene"]
    path = path.replace("<{painting}>", now["id"]).replace("<{stamp}>", stamp)
    headers = JSON if body is not None else {}
    content = None if body is None else json.dumps(filled(body, now))
    try:
        address = httpx.URL(f"{served.url}{path}", params=query)
    except httpx.InvalidURL:
        address = httpx.URL(f"{served.url}/", params=query)
    return served.client.request(method, address, content=content, headers=headers)


def planned(served: Served) -> dict[str, Any]:
    """The painting whatever it is called by now, with its plan, wherever the last request went."""
    one = told(served.client.get("/api/shelf"))[0]["id"]
    now = dict(told(served.client.get(f"/api/paintings/{one}")))
    if now["plan"] is not None and not now["plan"]["stale"]:
        return now
    steps = told(served.client.get(f"/api/paintings/{one}/history"))
    (first,) = (s["id"] for s in steps if s["words"] == "Planned")
    body = {"base": now["revision"], "to": first}
    return dict(told(served.client.post(f"/api/paintings/{one}/go", json=body)))


def test_the_painting_is_there(served: Served) -> None:
    assert cup(served)["plan"]


@given(data=st.data())
@settings(max_examples=150, suppress_health_check=list(HealthCheck))
def test_anything_sent_is_answered_or_refused_in_a_sentence(
    served: Served, schema: dict[str, Any], data: st.DataObject
) -> None:
    answer = send(served, data.draw(asked(schema)))
    if answer.status_code >= 400:
        refusal(answer, 400, 404, 405, 409, 413, 422)
    else:
        assert answer.status_code in (200, 204)
    assert answer.headers["x-content-type-options"] == "nosniff"
