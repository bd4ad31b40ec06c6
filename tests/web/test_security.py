"""Who gets an answer, and what every answer forbids the browser; on real sockets."""

import asyncio
import http.client
import re
import socket
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, StreamingResponse
from pydantic import BaseModel
from tests.web.serving import Serve, Served, running

from firstwash.errors import Cancelled, Missing, Overtaken, PhotoError
from firstwash.web.app import Settings
from firstwash.web.security import CSP, Door, Guard, Security, hosts

PLAIN = "Something went wrong that should not; nothing was lost. Try again."


class Told(BaseModel):
    """A body of an ordinary request."""

    words: str = ""


router = APIRouter()
RAISED = {
    "photo": PhotoError("This photo is too dark; choose another."),
    "overtaken": Overtaken("Another tab changed it first; reload.", "r9"),
    "missing": Missing("There is no such painting; reload the list."),
    "cancelled": Cancelled("Stopped."),
    "bug": ValueError("/home/somebody/secret name.jpg"),
}


@router.post("/api/say")
def say(told: Told) -> Told:
    return told


@router.get("/api/raise/{what}")
def fail(what: str) -> None:
    raise RAISED[what]


@router.get("/api/break")
async def break_off() -> StreamingResponse:
    async def half() -> Any:
        yield b"half"
        raise ValueError("too late to say so")

    return StreamingResponse(half())


@router.get("/page")
def page(request: Request) -> PlainTextResponse:
    return PlainTextResponse(request.app.state.services.security.token(request.scope))


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with running(
        tmp_path_factory.mktemp("data"), router, settings=Settings(warm=False, json_bytes=10_000)
    ) as it:
        yield it


def kind(answer: httpx.Response) -> str:
    """Every refusal has the same shape: a kind, and one sentence that is not the server's own."""
    error = answer.json()["error"]
    assert set(error) >= {"kind", "sentence"}
    assert re.fullmatch(r"([A-Z]|firstwash )[^\n]*\.", error["sentence"])
    return str(error["kind"])


def test_our_own_page_is_answered(served: Served) -> None:
    answer = served.client.post("/api/say", json={"words": "grün ☃"})
    assert answer.json() == {"words": "grün ☃"}
    assert served.stranger.get("/api/hello").status_code == 200
    assert served.client.get("/page").text == served.token


# A name that now points here is how a page of another site would read our answers.
@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:{port}",
        "127.0.0.1",
        "127.0.0.1:1",
        "127.0.0.1.:{port}",
        "127.0.0.1:{port}.evil.example",
        "localhost.:{port}",
        "0.0.0.0:{port}",
        "2130706433:{port}",
        "[::]:{port}",
        "user@127.0.0.1:{port}",
        "",
    ],
)
def test_other_names_are_not_answered(served: Served, host: str) -> None:
    answer = served.stranger.get("/page", headers={"Host": host.format(port=served.port)})
    assert answer.status_code == 421
    assert kind(answer) == "wrong host"
    assert served.token not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1:{}", "localhost:{}", "LocalHost:{}", "[::1]:{}"])
def test_own_names_are_answered(served: Served, host: str) -> None:
    answer = served.stranger.get("/page", headers={"Host": host.format(served.port)})
    assert answer.status_code == 200


def raw(served: Served, request: str) -> bytes:
    with socket.create_connection(("127.0.0.1", served.port), timeout=30) as to:
        to.sendall(request.format(port=served.port).encode("latin-1"))
        answer = b""
        while part := to.recv(65536):
            answer += part
    return answer


@pytest.mark.parametrize(
    "request_text",
    [
        "GET /page HTTP/1.0\r\n\r\n",
        "GET /page HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nHost: evil.example\r\n\r\n",
        "GET /page HTTP/1.1\r\nConnection: close\r\n\r\n",
        "GET http://evil.example/page HTTP/1.1\r\nHost: evil.example\r\n\r\n",
        "GET /page HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nHost : 127.0.0.1:{port}\r\n\r\n",
        "GET /page HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nA: b\r\n c: d\x00\r\n\r\n",
        "GET /page\r\nX: 1 HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n",
        "POST /api/say HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Length: 2\r\n"
        "Transfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        "NONSENSE\r\n\r\n",
    ],
)
def test_malformed_requests_get_no_page(served: Served, request_text: str) -> None:
    answer = raw(served, request_text)
    assert re.match(rb"HTTP/1.1 4\d\d ", answer)
    assert served.token.encode() not in answer
    assert served.stranger.get("/page").status_code == 200  # and the server goes on


GOOD, FOREIGN = "http://127.0.0.1:{port}", "http://evil.example"


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Origin": GOOD}, 200),
        ({"Origin": GOOD, "Sec-Fetch-Site": "same-origin"}, 200),
        ({"Origin": "null", "Sec-Fetch-Site": "same-origin"}, 200),  # by Referrer-Policy
        ({"Sec-Fetch-Site": "same-origin"}, 200),
        ({}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": FOREIGN}, 403),
        ({"Origin": "http://127.0.0.1:1"}, 403),
        ({"Origin": "https://127.0.0.1:{port}"}, 403),
        ({"Origin": "http://localhost:{port}"}, 403),  # ours, but not the page that was asked
        ({"Origin": GOOD, "Sec-Fetch-Site": "cross-site"}, 403),
        ({"Origin": GOOD, "Sec-Fetch-Site": "same-site"}, 403),
        ({"Origin": GOOD, "Sec-Fetch-Site": "none"}, 403),
        ({"Origin": FOREIGN, "Sec-Fetch-Site": "same-origin"}, 403),
    ],
)
def test_only_our_own_page_changes_anything(
    served: Served, headers: dict[str, str], status: int
) -> None:
    told = {k: v.format(port=served.port) for k, v in headers.items()}
    told["X-Firstwash-Token"] = served.token
    answer = served.stranger.post("/api/say", json={}, headers=told)
    assert answer.status_code == status
    if status == 403:
        assert kind(answer) == "not allowed"


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "BREW"])
@pytest.mark.parametrize("token", [None, "", "x", "é", "{token}x", "{token} "])
def test_without_the_secret_nothing_changes(served: Served, method: str, token: str | None) -> None:
    headers = {"Origin": served.url}
    if token is not None:
        headers["X-Firstwash-Token"] = token.format(token=served.token)
        if token.endswith(" "):  # the protocol drops white space; doubling the header is no way in
            headers["X-Firstwash-Token"] = f"{served.token}, {served.token}"
    encoded = {k: v.encode("utf-8") for k, v in headers.items()}
    answer = served.stranger.request(method, "/api/say", headers=encoded, content=b"{}")
    assert answer.status_code == 403
    assert "access-control-allow-origin" not in answer.headers


def test_a_doubled_secret_is_none(served: Served) -> None:
    headers = [("Origin", served.url), *[("X-Firstwash-Token", served.token)] * 2]
    assert served.stranger.post("/api/say", json={}, headers=headers).status_code == 403


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 200),
        ({"Sec-Fetch-Site": "none"}, 200),  # typed or bookmarked
        ({"Sec-Fetch-Site": "same-origin", "Sec-Fetch-Dest": "image"}, 200),
        (  # a link on another site
            {
                "Sec-Fetch-Site": "cross-site",
                "Sec-Fetch-Mode": "navigate",
                "Sec-Fetch-Dest": "document",
            },
            200,
        ),
        (  # a frame
            {
                "Sec-Fetch-Site": "cross-site",
                "Sec-Fetch-Mode": "navigate",
                "Sec-Fetch-Dest": "iframe",
            },
            403,
        ),
        ({"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Dest": "image"}, 403),
        ({"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors"}, 403),  # another port
        ({"Sec-Fetch-Site": "none", "Accept": "text/event-stream"}, 403),
        ({"Origin": FOREIGN}, 403),
        ({"Origin": FOREIGN, "Accept": "text/event-stream"}, 403),
    ],
)
def test_other_sites_may_only_open_the_page(
    served: Served, headers: dict[str, str], status: int
) -> None:
    assert served.stranger.get("/page", headers=headers).status_code == status


@pytest.mark.parametrize(
    "path", ["/page", "/nowhere", "/api/raise/bug", "/assets/styles/type.css", "/api/openapi.json"]
)
def test_every_answer_forbids_everything_foreign(served: Served, path: str) -> None:
    answer = served.client.get(path)
    told = answer.headers
    assert told["content-security-policy"] == CSP
    assert told["x-content-type-options"] == "nosniff"
    assert told["referrer-policy"] == "no-referrer"
    assert told["cross-origin-opener-policy"] == "same-origin"
    assert told["cross-origin-resource-policy"] == "same-origin"
    assert "camera=()" in told["permissions-policy"]
    assert "server" not in told
    assert told["cache-control"] == ("no-cache" if "assets" in path else "no-store")


def test_the_policy_lets_nothing_inline_or_foreign_in() -> None:
    policy = dict(part.split(" ", 1) for part in CSP.split("; "))
    assert policy["default-src"] == "'none'"
    assert "unsafe" not in CSP
    assert "http" not in CSP
    assert "data:" not in CSP
    assert policy["img-src"] == "'self' blob:"
    for shut in ("form-action", "base-uri", "frame-ancestors"):
        assert policy[shut] == "'none'"


@pytest.mark.parametrize(
    ("what", "status", "word"),
    [
        ("photo", 400, "photo"),
        ("overtaken", 409, "overtaken"),
        ("missing", 404, "missing"),
        ("cancelled", 400, "cancelled"),
        ("bug", 500, "unexpected"),
    ],
)
def test_errors_have_one_shape(
    served: Served, what: str, status: int, word: str, caplog: pytest.LogCaptureFixture
) -> None:
    answer = served.client.get(f"/api/raise/{what}")
    assert (answer.status_code, kind(answer)) == (status, word)
    error = answer.json()["error"]
    if what == "overtaken":
        assert error["current"] == "r9"
    if what == "bug":
        assert error["sentence"] == PLAIN
        assert error["id"] in caplog.text
        assert "ValueError" in caplog.text
        assert "secret" not in caplog.text + answer.text  # where it failed, not with whose file


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/nowhere", 404),
        ("GET", "/api/say", 405),
        ("POST", "/nowhere", 404),
        ("GET", "/docs", 404),
    ],
)
def test_the_frameworks_own_errors_have_it_too(
    served: Served, method: str, path: str, status: int
) -> None:
    answer = served.client.request(method, path)
    assert answer.status_code == status
    assert kind(answer)


def test_a_wrong_form_is_said_without_repeating_it(served: Served) -> None:
    answer = served.client.post("/api/say", json={"words": ["<script>"]})
    assert answer.status_code == 422
    assert kind(answer) == "form"
    assert "script" not in answer.text
    assert served.client.post("/api/say", content=b"{}").status_code == 422  # not called JSON


def test_an_answer_that_fails_half_way_is_not_taken_for_whole(served: Served) -> None:
    with pytest.raises(httpx.RemoteProtocolError):
        served.client.get("/api/break")
    assert served.client.get("/page").status_code == 200


def chunked(size: int) -> Any:
    for _ in range(size // 1000):
        yield b"x" * 1000


@pytest.mark.parametrize("declared", [True, False])
def test_a_huge_body_is_refused(served: Served, declared: bool) -> None:
    json = {"Content-Type": "application/json"}
    content = b"x" * 50_000 if declared else chunked(50_000)
    answer = served.client.post("/api/say", content=content, headers=json)
    assert answer.status_code == 413
    assert kind(answer) == "too large"
    assert answer.headers["content-security-policy"] == CSP


def test_a_body_that_lies_about_its_size_is_refused_before_it_comes(served: Served) -> None:
    to = http.client.HTTPConnection("127.0.0.1", served.port, timeout=30)
    to.putrequest("POST", "/api/say")
    for name, value in (("Origin", served.url), ("X-Firstwash-Token", served.token)):
        to.putheader(name, value)
    to.putheader("Content-Type", "application/json")
    to.putheader("Content-Length", str(10**15))
    to.endheaders()
    answer = to.getresponse()
    assert answer.status == 413
    to.close()


def test_a_body_that_stops_coming_is_given_up(serve: Serve) -> None:
    served = serve(router)
    served.services.security.stall_seconds = 0.3
    to = http.client.HTTPConnection("127.0.0.1", served.port, timeout=30)
    to.putrequest("POST", "/api/say")
    for name, value in (("Origin", served.url), ("X-Firstwash-Token", served.token)):
        to.putheader(name, value)
    to.putheader("Content-Type", "application/json")
    to.putheader("Content-Length", "100")
    to.endheaders(b'{"words":')
    answer = to.getresponse()
    assert answer.status == 408
    assert b"too slow" in answer.read()
    to.close()


@pytest.mark.parametrize(
    "path",
    [
        "/assets/../app.py",
        "/assets/styles/../app.py",
        "/assets/styles/%2e%2e/app.py",
        "/assets/styles/..%2fapp.py",
        "/assets/styles/..%5capp.py",
        "/assets/%2fetc%2fpasswd",
        "/assets//etc/passwd",
        "/assets/styles//etc/passwd",
        "/assets/styles/type.css%00.js",
        "/assets/styles/%ff",
        "/assets/app.py",
        "/assets/v/app.py",
        "/assets/pages/worksheet.html",
        "/assets/v/pages/worksheet.html",
        "/assets/styles",
        "/assets/styles/",
        "/assets/",
        "/assets/v/w/styles/type.css",
        "/assets/styles/" + "a" * 5000 + ".css",
    ],
)
def test_no_other_file_of_the_package_is_served(served: Served, path: str) -> None:
    text = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{{port}}\r\nConnection: close\r\n\r\n"
    answer = raw(served, text)
    assert answer.startswith(b"HTTP/1.1 404"), answer[:100]
    assert b"import" not in answer


def test_files_of_the_page_are_kept_only_under_their_version(served: Served) -> None:
    address = served.app.state.assets.url("styles/type.css")
    fresh = served.client.get(address)
    assert "immutable" in fresh.headers["cache-control"]
    for old in ("/assets/styles/type.css", "/assets/000000000000/styles/type.css"):
        answer = served.client.get(old)
        assert answer.headers["cache-control"] == "no-cache"
        assert answer.content == fresh.content
        again = served.client.get(old, headers={"If-None-Match": answer.headers["etag"]})
        assert again.status_code == 304


def test_what_is_asked_while_the_server_is_closed_is_told_so() -> None:
    """The server cancels what still runs when it is stopped; the page hears why."""
    said: list[Any] = []

    async def never(_scope: Any, _receive: Any, _send: Any) -> None:
        await asyncio.Event().wait()

    async def hear(message: Any) -> None:
        said.append(message)

    async def closing() -> None:
        headers = [(b"host", b"127.0.0.1:80")]
        scope = {"type": "http", "method": "GET", "path": "/", "scheme": "http", "headers": headers}
        guard = Guard(never, Security(Door.here(80)))
        task = asyncio.create_task(guard(scope, asyncio.Event().wait, hear))  # type: ignore[arg-type]
        await asyncio.sleep(0.01)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task

    asyncio.run(closing())
    assert said[0]["status"] == 503
    assert "being closed" in said[1]["body"].decode()
    assert (b"connection", b"close") in said[0]["headers"]


def test_hosts_are_spelt_as_browsers_spell_them() -> None:
    assert hosts("fd00::A", [80]) == {"[fd00::a]:80"}
    assert hosts("10.0.0.2", [8, 9]) == {"10.0.0.2:8", "10.0.0.2:9"}


def test_secrets_differ_and_are_not_shown() -> None:
    one, other = Security(Door.here(1)), Security(Door.here(1))
    assert one.here.token != other.here.token
    assert len(one.here.token) >= 43  # 256 bits
    assert one.here.token not in repr(one)
