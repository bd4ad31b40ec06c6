"""Using a phone: one device, one code, one time, and nobody else, until closed."""

import asyncio
import http.client
import re
import socket
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import httpx
import pytest
from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse
from tests.web.serving import Served, in_a_loop, running

from firstwash.web.errors import WebError
from firstwash.web.phone import CODE_SECONDS, TRIES, Phone, home_addresses, is_home, qr_svg
from firstwash.web.security import CSP

# The home network of the tests: an address of this computer no worksheet listens at.
HOME = "127.0.0.2"
ELSEWHERE = "This worksheet is open on another device"
router = APIRouter()


@router.get("/page")
def page(request: Request) -> PlainTextResponse:
    return PlainTextResponse(request.app.state.services.security.token(request.scope))


@router.post("/api/say")
def say() -> dict[str, bool]:
    return {"heard": True}


class Clock:
    """Time that passes when told to."""

    now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def served(tmp_path: Path, clock: Clock, samples: None) -> Iterator[Served]:
    del samples
    with running(tmp_path, router, phone=Phone(lambda: [HOME, "127.0.0.3"], clock)) as it:
        yield it


def opened(served: Served, **choice: str) -> dict[str, str]:
    answer = served.client.post("/api/phone", json=choice)
    assert answer.status_code == 200, answer.text
    told = answer.json()
    assert told["state"] == "waiting"
    return dict(told)


def device(url: str) -> httpx.Client:
    """A device's browser; it keeps its own cookies."""
    return httpx.Client(
        base_url=url.rpartition("/phone/")[0], trust_env=False, timeout=30, follow_redirects=False
    )


def state(served: Served) -> str:
    return str(served.client.get("/api/phone").json()["state"])


def test_it_is_off_until_asked_for(served: Served) -> None:
    assert served.client.get("/api/phone").json() == {"state": "closed"}
    told = opened(served)
    code = re.fullmatch(rf"http://{re.escape(HOME)}:\d+/phone/([\w-]+)", told["url"])
    assert code is not None
    assert len(code[1]) >= 22  # 128 bits
    assert told["expires"] == CODE_SECONDS
    assert told["addresses"] == [HOME, "127.0.0.3"]


def test_the_first_device_gets_in_and_stays_in(served: Served) -> None:
    url = opened(served)["url"]
    with device(url) as phone:
        welcome = phone.get(url)
        cookie = welcome.headers["set-cookie"].lower()
        assert "httponly" in cookie
        assert "samesite=strict" in cookie
        assert "path=/" in cookie
        assert welcome.headers["content-security-policy"] == CSP
        assert 'content="0; url=/"' in welcome.text
        for answer in (welcome, phone.get("/page")):  # browsers log an error about it there
            assert "cross-origin-opener-policy" not in answer.headers
        token = phone.get("/page").text
        assert token not in ("", served.token)  # a secret of its own
        origin = str(phone.base_url).rstrip("/")
        headers = {"Origin": origin, "X-Firstwash-Token": token}
        assert phone.post("/api/say", headers=headers).json() == {"heard": True}
        assert state(served) == "in use"
        # What only the computer's own page may do, and what only our own page may do at all.
        assert phone.get("/api/phone").status_code == 403
        assert phone.delete("/api/phone", headers=headers).status_code == 403
        assert phone.post("/api/say", headers={"Origin": origin}).status_code == 403
        assert phone.post("/api/say", headers={**headers, "Origin": served.url}).status_code == 403
        there = {**headers, "X-Firstwash-Token": served.token}
        assert phone.post("/api/say", headers=there).status_code == 403
        assert phone.get("/page", headers={"Host": "evil.example"}).status_code == 421


def test_nobody_else_gets_in_with_the_code_or_without(served: Served) -> None:
    url = opened(served)["url"]
    with device(url) as other:
        for path in ("/", "/page", "/api/jobs", "/api/hello", "/assets/styles/type.css", "/phone"):
            answer = other.get(path)
            assert answer.status_code == 403
            assert ELSEWHERE in answer.text
            assert answer.headers["content-security-policy"] == CSP
        assert other.head(url).status_code == 403  # a look ahead does not use the code up
        assert other.post(url).status_code == 403
    with device(url) as first:
        assert first.get(url).status_code == 200
        assert first.get(url).status_code == 404  # inside, the address is none of the app's
    with device(url) as late:
        assert late.get(url).status_code == 403
        assert late.get("/page", headers={"Cookie": "firstwash_phone="}).status_code == 403
        assert late.get("/page", headers={"Cookie": "firstwash_phone=x"}).status_code == 403
        assert "set-cookie" not in late.get(url).headers


def test_two_devices_at_once_are_never_both_let_in(served: Served) -> None:
    url = opened(served)["url"]

    async def rush() -> list[int]:
        async with httpx.AsyncClient(trust_env=False, timeout=30) as client:
            answers = await asyncio.gather(*(client.get(url) for _ in range(12)))
        return [a.status_code for a in answers]

    assert sorted(in_a_loop(rush))[:2] in ([200, 403], [200, 429])


def test_a_code_grows_old(served: Served, clock: Clock) -> None:
    url = opened(served)["url"]
    clock.now += CODE_SECONDS - 1
    assert state(served) == "waiting"
    clock.now += 1
    assert state(served) == "expired"
    with device(url) as phone:
        assert phone.get(url).status_code == 403
    again = opened(served)["url"]
    assert again != url
    with device(again) as phone:
        assert phone.get(again).status_code == 200


def test_guessing_is_slowed_down(served: Served, clock: Clock) -> None:
    url = opened(served)["url"]
    root = url.rpartition("/")[0]
    with device(url) as phone:
        tries = [phone.get(f"{root}/guess{i}").status_code for i in range(TRIES + 2)]
        assert tries == [403] * TRIES + [429] * 2
        assert phone.get(url).status_code == 429  # even with the right one
        clock.now += 61
        assert phone.get(url).status_code == 200


def test_closing_ends_the_session_and_the_listener(served: Served) -> None:
    url = opened(served)["url"]
    with device(url) as phone:
        phone.get(url)
        assert phone.get("/page").status_code == 200
        assert served.client.delete("/api/phone").json() == {"state": "closed"}
        with pytest.raises(httpx.TransportError):
            phone.get("/page")
    assert state(served) == "closed"
    address, port = httpx.URL(url).host, httpx.URL(url).port
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection((address, port or 0), timeout=5)


def test_closing_ends_a_stream_the_device_listens_to(served: Served, tmp_path: Path) -> None:
    url = opened(served)["url"]
    note = tmp_path / "note"
    job = served.services.jobs.start("hold", "sample_work:hold", {"note": str(note)})
    with device(url) as phone:
        phone.get(url)
        with phone.stream("GET", f"/api/jobs/{job.id}/events") as listening:
            parts = listening.iter_text()
            assert next(parts).startswith("retry:")
            served.client.delete("/api/phone")
            with pytest.raises(httpx.TransportError):
                list(parts)
    assert job.live  # the work itself goes on


def test_the_code_to_photograph_is_a_picture_of_its_own(served: Served) -> None:
    assert served.client.get("/api/phone/code.svg").status_code == 404
    told = opened(served)
    drawn = served.client.get("/api/phone/code.svg")
    assert drawn.headers["content-type"].startswith("image/svg+xml")
    assert drawn.headers["cache-control"] == "no-store"
    assert drawn.text == told["qr"]


def test_opening_again_ends_what_was_before(served: Served) -> None:
    first = opened(served)["url"]
    with device(first) as phone:
        phone.get(first)
        second = opened(served, address="127.0.0.3")["url"]
        assert "127.0.0.3" in second
        with pytest.raises(httpx.TransportError):
            phone.get("/page")
        with device(second) as other:
            other.cookies = phone.cookies  # an old session is none
            assert other.get("/page").status_code == 403


def test_the_phone_s_address_is_no_way_in_at_the_computer(served: Served) -> None:
    url = opened(served)["url"]
    with device(url) as phone:
        phone.get(url)
        token = phone.get("/page").text
    answer = served.client.get("/page", headers={"Host": httpx.URL(url).netloc.decode()})
    assert answer.status_code == 421
    assert served.client.post("/api/say", headers={"X-Firstwash-Token": token}).status_code == 403


def test_a_slow_or_shapeless_request_gets_no_further(served: Served) -> None:
    url = httpx.URL(opened(served)["url"])
    to = http.client.HTTPConnection(url.host, url.port, timeout=30)
    to.putrequest("POST", "/api/say")
    to.putheader("Content-Length", "1000000000")
    to.endheaders(b"x")
    assert to.getresponse().status == 403  # without waiting for the rest
    to.close()


def test_only_addresses_of_the_home_are_offered(served: Served) -> None:
    for strange in ("8.8.8.8", "0.0.0.0", "localhost", "127.0.0.1"):
        answer = served.client.post("/api/phone", json={"address": strange})
        assert answer.status_code == 400
    assert state(served) == "closed"


def test_without_a_home_network_it_says_so(tmp_path: Path) -> None:
    with running(tmp_path, phone=Phone(list)) as served:
        answer = served.client.post("/api/phone")
        assert answer.status_code == 400
        assert "home network" in answer.json()["error"]["sentence"]
        assert served.client.get("/api/phone/addresses").json() == {"addresses": []}


def test_an_address_that_went_away_is_said(tmp_path: Path) -> None:
    with running(tmp_path, phone=Phone(lambda: ["192.0.2.7"])) as served:
        answer = served.client.post("/api/phone")
        assert answer.status_code == 400
        assert answer.json()["error"]["sentence"].startswith("This computer cannot be reached")


@pytest.mark.parametrize(
    ("address", "home"),
    [
        ("10.1.2.3", True),
        ("172.16.0.1", True),
        ("172.32.0.1", False),
        ("192.168.178.20", True),
        ("169.254.7.7", True),
        ("fd12::1", True),
        ("fe80::1", False),  # no browser takes the zone it needs
        ("2001:db8::1", False),
        ("100.64.0.1", False),
        ("127.0.0.1", False),
        ("8.8.8.8", False),
        ("fe80::1%eth0", False),
        ("", False),
        ("home", False),
    ],
)
def test_home_networks_are_the_private_ranges(address: str, home: bool) -> None:
    assert is_home(address) is home


def test_this_computer_s_addresses_are_all_private() -> None:
    assert all(map(is_home, home_addresses()))


def test_the_drawn_code_is_a_picture_without_styles_or_scripts() -> None:
    drawn = ElementTree.fromstring(qr_svg("http://192.168.1.2:40000/phone/abc"))
    assert drawn.tag == "{http://www.w3.org/2000/svg}svg"
    names = {node.tag.rpartition("}")[2] for node in drawn.iter()}
    assert names <= {"svg", "path", "g"}
    assert not any("style" in node.attrib for node in drawn.iter())
    assert "viewBox" in drawn.attrib


def test_an_error_of_the_phone_is_a_web_error() -> None:
    with pytest.raises(WebError):
        in_a_loop(Phone(list).open)
