"""Who may talk to the worksheet: only a page it served itself, on this computer.

A browser lets any page it shows send requests to this computer. So every request is checked
before anything else sees it:

- Host must be a name we answer to, or a foreign name that now points here could read our pages;
- a request another site caused (Sec-Fetch-Site, Origin) may at most open a page;
- whatever changes something must carry the secret of this start, which only our pages hold.

And every answer tells the browser to load and run nothing but our own files.
Sources: [Fetch] for Origin and Sec-Fetch-Site, [CSP3] for the policy.
"""

import asyncio
import hmac
import secrets
from collections.abc import Iterable
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from firstwash.errors import FirstwashError
from firstwash.web.errors import (
    SENTENCES,
    Busy,
    NotAllowed,
    TooLarge,
    TooSlow,
    WrongHost,
    error_answer,
    unexpected_answer,
)

__all__ = [
    "CSP",
    "DOOR",
    "TOKEN_HEADER",
    "Door",
    "Guard",
    "Security",
    "check",
    "check_host",
    "hardened",
    "hosts",
]

TOKEN_HEADER: Final = "x-firstwash-token"
HERE: Final = "here"
DOOR: Final = "firstwash.door"  # key of the scope under which a listener says who it is
SAFE: Final = frozenset({"GET", "HEAD"})
CSP: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "media-src 'self'",
        "form-action 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS: Final = {
    "content-security-policy": CSP,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "x-frame-options": "DENY",
    # The drying clock needs its sound and a screen that stays lit; nothing else is ours to use.
    "permissions-policy": "autoplay=(self), screen-wake-lock=(self), fullscreen=(self), "
    "camera=(), microphone=(), geolocation=(), usb=(), serial=(), midi=(), "
    "payment=(), display-capture=()",
}
# Browsers take it from encrypted or local addresses only, and complain about it elsewhere.
ALONE: Final = {"cross-origin-opener-policy": "same-origin"}
NOT_OURS = "This came from another page than the worksheet; open the worksheet itself."
NO_SECRET = "The worksheet was opened before firstwash was last started; reload it."
NOT_HERE = "firstwash does not answer to this address; open the one it printed when it started."
CLOSING = "firstwash is being closed; start it again, and reload this page."
STALLED = "The sending stopped half way; try again."


@dataclass(frozen=True)
class Door:
    """A listener: the names it answers to ("127.0.0.1:8737") and the secret of its pages."""

    name: str
    hosts: frozenset[str]
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)

    @property
    def is_local(self) -> bool:
        """Whether it is the one for this computer's own browser."""
        return self.name == HERE

    @classmethod
    def here(cls, port: int) -> "Door":
        """The door for this computer's own browser."""
        return cls(HERE, frozenset(f"{h}:{port}" for h in ("127.0.0.1", "localhost", "[::1]")))


@dataclass
class Security:
    """The secrets of this start. stall_seconds: the longest wait for more of a body."""

    here: Door
    stall_seconds: float = 30.0

    def door(self, scope: Scope) -> Door:
        """The door a request came through."""
        door = scope.get(DOOR, self.here)
        assert isinstance(door, Door)
        return door

    def token(self, scope: Scope) -> str:
        """The secret a page served through this door carries, for its meta element."""
        return self.door(scope).token


def check(scope: Scope, door: Door) -> None:
    """Raise WrongHost or NotAllowed unless our own page on this door may send this request."""
    headers = Headers(scope=scope)
    check_host(headers, door)
    _check_sender(scope, headers)
    if scope["method"] not in SAFE:
        given = headers.getlist(TOKEN_HEADER)
        if len(given) != 1 or not hmac.compare_digest(given[0].encode(), door.token.encode()):
            raise NotAllowed(NO_SECRET)


def check_host(headers: Headers, door: Door) -> None:
    """Raise WrongHost unless the request names exactly one host, one of the door's."""
    named = headers.getlist("host")
    if len(named) != 1 or named[0].lower() not in door.hosts:
        raise WrongHost(NOT_HERE)


def _check_sender(scope: Scope, headers: Headers) -> None:
    """Another site may send the painter here with a link, and nothing else.

    Browsers leave Sec-Fetch-Site out on addresses of the home network; Origin, which then has to
    do, comes with everything that changes something and with whatever another site reads.
    """
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    own = f"{scope.get('scheme', 'http')}://{headers['host']}".lower()
    if origin is not None and origin.lower() != own and (origin != "null" or site != "same-origin"):
        raise NotAllowed(NOT_OURS)
    if site in (None, "same-origin"):
        if site is None and origin is None and scope["method"] not in SAFE:
            raise NotAllowed(NOT_OURS)
        return
    link = (headers.get("sec-fetch-mode"), headers.get("sec-fetch-dest")) == (
        "navigate",
        "document",
    )
    streams = "text/event-stream" in headers.get("accept", "")
    if scope["method"] not in SAFE or streams or not (link or site == "none"):
        raise NotAllowed(NOT_OURS)


def hardened(send: Send, local: bool) -> Send:
    """`send` that adds our headers to every answer; nothing is kept unless the answer says so.

    local: for this computer's own browser.
    """
    ours = HEADERS | (ALONE if local else {})

    async def add(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in ours.items():
                headers[name] = value
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return add


def patient(receive: Receive, seconds: float) -> Receive:
    """`receive` that raises TooSlow when the rest of a body does not come.

    seconds: the longest wait between two parts. What is awaited after the body, the closing of
    the connection, may take as long as it likes.
    """
    coming = True

    async def wait() -> Message:
        nonlocal coming
        if not coming:
            return await receive()
        try:
            async with asyncio.timeout(seconds):
                message = await receive()
        except TimeoutError:
            raise TooSlow(STALLED) from None
        coming = message["type"] == "http.request" and message.get("more_body", False)
        return message

    return wait


class Guard:
    """The outermost part of the application: checks every request, hardens every answer."""

    def __init__(self, app: ASGIApp, security: Security) -> None:
        """Guard `app`; no request reaches it unchecked."""
        self.app, self.security = app, security

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request (ASGI)."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif scope["type"] == "http":
            await self._http(scope, receive, hardened(send, self.security.door(scope).is_local))
        else:  # no web sockets here
            await receive()
            await send({"type": "websocket.close", "code": 1008})

    async def _http(self, scope: Scope, receive: Receive, send: Send) -> None:
        out = _Answer(send)
        answer: Response | None = None
        try:
            check(scope, self.security.door(scope))
            await self.app(scope, patient(receive, self.security.stall_seconds), out)
        except ClientDisconnect:
            return  # nobody is left to answer
        except asyncio.CancelledError:  # the server is being stopped, and waits no longer
            if not out.started:
                answer = error_answer(Busy(CLOSING))
                answer.headers["connection"] = "close"
                await answer(scope, receive, send)
            raise
        except FirstwashError as error:
            answer = error_answer(error)
        except Exception as error:
            answer = unexpected_answer(error)
        if out.held == HTTPStatus.REQUEST_ENTITY_TOO_LARGE:
            answer = error_answer(TooLarge(SENTENCES[out.held][1]))
        if answer is None:
            return
        if out.started:  # too late to say it: break off, so that half an answer is not taken whole
            raise ConnectionAbortedError
        answer.headers["connection"] = "close"  # the rest of the body is not wanted
        await answer(scope, receive, send)


class _Answer:
    """A `send` that holds back the frameworks' own bare error texts, to be told in our shape."""

    def __init__(self, send: Send) -> None:
        self.send, self.started, self.held = send, False, 0

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start" and not self.started:
            kind = Headers(raw=message.get("headers", [])).get("content-type", "")
            if message["status"] in (413, 500) and kind.startswith("text/plain"):
                self.held = message["status"]
        if not self.held:
            self.started = True
            await self.send(message)


def hosts(address: str, ports: Iterable[int]) -> frozenset[str]:
    """Host headers of an address, IPv6 in brackets, at some ports."""
    name = f"[{address}]" if ":" in address else address
    return frozenset(f"{name}:{port}".lower() for port in ports)
