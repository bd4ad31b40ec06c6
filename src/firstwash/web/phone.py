"""Using a phone: the page opened to one device on the home network, until closed.

Off until asked for. Then a second listener waits at this computer's address on the home network,
at a port of chance. Its one-time code is in the address shown and drawn; the first device that
comes with it gets a session, everybody else is refused, with the code or without. Closing ends
the session and the listener.

The way is not encrypted: who listens in on the home network could read what is shown.
"""

import asyncio
import hmac
import io
import ipaddress
import secrets
import socket
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from html import escape
from http import HTTPStatus
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from firstwash.errors import FirstwashError
from firstwash.web.errors import WebError
from firstwash.web.listener import Listener
from firstwash.web.security import DOOR, Door, check_host, hardened, hosts

__all__ = ["Phone", "home_addresses", "is_home"]

CODE_BYTES: Final = 16  # 128 bits
CODE_SECONDS: Final = 600.0
COOKIE: Final = "firstwash_phone"
TRIES: Final = 5  # wrong codes a device may bring within
TRIES_SECONDS: Final = 60.0
DEVICES: Final = 200  # whose tries are remembered
HOME: Final = tuple(
    ipaddress.ip_network(net)
    for net in (
        *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16"),  # [RFC1918]
        "169.254.0.0/16",  # [RFC3927]
        "fc00::/7",  # [RFC4193]
    )
)
# Nothing is sent to these: asking for a way there tells which of our addresses it starts from.
ASKED: Final = ("192.0.2.1", "10.255.255.254", "172.31.255.254", "192.168.255.254", "fd00::1")
NO_HOME = "This computer is not on a home network; join one, then try again."
ELSEWHERE = "This worksheet is open on another device, or closed; ask for a new code there."
WRONG_CODE = "This code was used, is too old or wrong; ask for a new one at the worksheet."
WAIT = "Too many wrong codes came from this device; wait a minute."
WELCOME = "The worksheet is now open on this device."


def is_home(address: str) -> bool:
    """Whether an address is one of a home network, reachable from nowhere else.

    Link-local IPv6 is left out: browsers take no address with a zone.
    """
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return False
    return any(parsed in net for net in HOME if net.version == parsed.version)


def home_addresses() -> list[str]:
    """This computer's addresses on home networks, the likeliest first; nothing is sent."""
    found: list[str] = []
    for target in ASKED:
        family = socket.AF_INET6 if ":" in target else socket.AF_INET
        with suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((target, 9))
            found.append(str(probe.getsockname()[0]))
    with suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None)]
    return [a for a in dict.fromkeys(found) if is_home(a)]


@dataclass(frozen=True)
class _Open:
    """An open listener. code: None once used. session: of the one device, once it came."""

    address: str
    port: int
    door: Door
    listener: Listener
    code: str | None = field(repr=False)
    until: float = 0.0
    session: str | None = field(default=None, repr=False)
    since: float | None = None


class Phone:
    """The listener on the home network, and who may use it. Used from the event loop only."""

    def __init__(
        self,
        addresses: Callable[[], Sequence[str]] = home_addresses,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Closed. addresses: finds those to choose from; clock: seconds."""
        self.addresses, self._clock = addresses, clock
        self._app: ASGIApp | None = None
        self._open: _Open | None = None
        self._tries: dict[str, list[float]] = {}
        self._changing = asyncio.Lock()

    def serve(self, app: ASGIApp) -> None:
        """Name the application to be served."""
        self._app = app

    async def open(self, address: str | None = None) -> dict[str, Any]:
        """Listen with a new code, at `address` or at the likeliest; gives the new state.

        What was open is closed first. Raises WebError when there is no such home network.
        """
        async with self._changing:
            await self._shut()
            choices = await asyncio.to_thread(self.addresses)
            if not choices:
                raise WebError(NO_HOME)
            if address is not None and address not in choices:
                raise WebError("That is not an address of this computer; choose another.")
            chosen = address or choices[0]
            listener = Listener.bound(self._answer, chosen, 0, connections=64)
            names = hosts(chosen, [listener.port])
            code = secrets.token_urlsafe(CODE_BYTES)
            until = self._clock() + CODE_SECONDS
            self._open = _Open(chosen, listener.port, Door("phone", names), listener, code, until)
            await listener.start()
            return self._told(choices)

    async def close(self) -> dict[str, Any]:
        """End the device's session and stop listening; gives the new state."""
        async with self._changing:
            await self._shut()
        return {"state": "closed"}

    async def state(self) -> dict[str, Any]:
        """Whether closed, waiting (url, qr, expires), expired or in use (since), in seconds."""
        choices = [] if self._open is None else await asyncio.to_thread(self.addresses)
        return self._told(choices)

    async def _shut(self) -> None:
        before, self._open = self._open, None  # from here on every request is refused
        self._tries.clear()
        if before is not None:
            await before.listener.stop()

    def _told(self, choices: Sequence[str]) -> dict[str, Any]:
        now, at = self._clock(), self._open
        if at is None:
            return {"state": "closed"}
        shared = {"address": at.address, "addresses": list(choices)}
        if at.since is not None:
            return {"state": "in use", "since": round(now - at.since), **shared}
        if at.code is None or now >= at.until:
            return {"state": "expired", **shared}
        url = f"http://{next(iter(at.door.hosts))}/phone/{at.code}"
        return {
            "state": "waiting",
            "url": url,
            "qr": qr_svg(url),
            "expires": round(at.until - now),
            **shared,
        }

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Everything that comes in from the home network (ASGI)."""
        if scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
            return
        at, request = self._open, Request(scope)
        if at is not None and self._app is not None and self._is_session(request, at):
            await self._app({**scope, DOOR: at.door}, receive, send)  # the app's guard comes next
            return
        answer = self._refuse_or_welcome(request, at)
        answer.headers["connection"] = "close"
        await answer(scope, receive, hardened(send, local=False))

    def _is_session(self, request: Request, at: _Open) -> bool:
        given = request.cookies.get(COOKIE, "")
        return at.session is not None and hmac.compare_digest(given.encode(), at.session.encode())

    def _refuse_or_welcome(self, request: Request, at: _Open | None) -> Response:
        if at is None:
            return plain_page(ELSEWHERE, HTTPStatus.FORBIDDEN)
        try:
            check_host(request.headers, at.door)
        except FirstwashError as error:
            return plain_page(str(error), HTTPStatus.MISDIRECTED_REQUEST)
        code = _code_of(request)
        if code is None:
            return plain_page(ELSEWHERE, HTTPStatus.FORBIDDEN)
        device = request.client.host if request.client else ""
        if self._too_many(device):
            return plain_page(WAIT, HTTPStatus.TOO_MANY_REQUESTS)
        right = at.code is not None and hmac.compare_digest(code.encode(), at.code.encode())
        if not right or self._clock() >= at.until:
            self._tries.setdefault(device, []).append(self._clock())
            return plain_page(WRONG_CODE, HTTPStatus.FORBIDDEN)
        return self._welcome(at)

    def _welcome(self, at: _Open) -> Response:
        session = secrets.token_urlsafe(32)
        self._open = replace(at, code=None, session=session, since=self._clock())
        # A page that goes on by itself rather than a redirect: a strict cookie is not sent along
        # when the code was opened from another site's page.
        answer = plain_page(WELCOME, HTTPStatus.OK, onwards=True)
        answer.set_cookie(COOKIE, session, path="/", httponly=True, samesite="strict")
        return answer

    def _too_many(self, device: str) -> bool:
        now = self._clock()
        if len(self._tries) > DEVICES:
            self._tries.clear()
        recent = [t for t in self._tries.get(device, []) if now - t < TRIES_SECONDS]
        self._tries[device] = recent
        return len(recent) >= TRIES


def _code_of(request: Request) -> str | None:
    """The code a device brings: only opening its address counts, not a mere look at the head."""
    path = request.url.path
    if request.method != "GET" or not path.startswith("/phone/"):
        return None
    return path.removeprefix("/phone/")[:100]


def plain_page(sentence: str, status: int, onwards: bool = False) -> Response:
    """A page of one sentence."""
    go = '<meta http-equiv="refresh" content="0; url=/">' if onwards else ""
    link = '<p><a href="/">Go on</a></p>' if onwards else ""
    page = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"{go}<title>firstwash</title></head><body><p>{escape(sentence)}</p>{link}</body></html>"
    )
    return HTMLResponse(page, status)


def qr_svg(text: str) -> str:
    """A code to photograph, as an SVG element without styles; dark on light, with its quiet edge.

    Sides are in modules: the page sets the size. Source: [ISO18004] by way of segno.
    """
    import segno

    code = segno.make(text, error="m", micro=False)
    drawn = io.BytesIO()
    code.save(
        drawn, kind="svg", scale=1, border=4, omitsize=True, xmldecl=False, nl=False,
        light="#fff", dark="#000", svgclass=None, lineclass=None,
    )  # fmt: skip
    return drawn.getvalue().decode()
