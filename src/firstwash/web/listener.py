"""One listening address served by uvicorn, inside an event loop that others use too."""

import asyncio
import contextlib
import socket
import sys
from collections.abc import Generator, Sequence
from typing import Self

import uvicorn
from starlette.types import ASGIApp

from firstwash.web.errors import WebError

__all__ = ["Listener", "bind"]

GRACE = 1  # s that answers under way get when we stop


def bind(address: str, port: int) -> socket.socket:
    """A socket bound to an address and to it alone; port 0 for any. Raises OSError if taken."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    # With the protocol named, asyncio sends small answers at once; else each waits some 40 ms.
    bound = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if sys.platform == "win32":
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:  # there, it only lets a port be taken again soon after it was left
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            bound.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        bound.bind((address, port))
        bound.setblocking(False)
    except OSError:
        bound.close()
        raise
    return bound


class _Quiet(uvicorn.Server):
    """A server that leaves signals to whoever started it."""

    @contextlib.contextmanager
    def capture_signals(self) -> Generator[None, None, None]:
        yield


class Listener:
    """An application served at some sockets. lifespan: whether the application starts with it."""

    def __init__(
        self,
        app: ASGIApp,
        sockets: Sequence[socket.socket],
        connections: int = 256,
        lifespan: bool = False,
    ) -> None:
        """Not listening yet. connections: at once, at most."""
        self._sockets = list(sockets)
        self.port: int = self._sockets[0].getsockname()[1]
        config = uvicorn.Config(
            app,
            loop="asyncio",
            http="h11",
            ws="none",
            interface="asgi3",
            lifespan="on" if lifespan else "off",
            log_config=None,
            access_log=False,
            proxy_headers=False,  # nobody speaks for another here
            server_header=False,
            limit_concurrency=connections,
            timeout_keep_alive=20,
            timeout_graceful_shutdown=GRACE,
        )
        self._server = _Quiet(config)
        self._task: asyncio.Task[None] | None = None

    @classmethod
    def bound(cls, app: ASGIApp, address: str, port: int, connections: int) -> Self:
        """A listener at one address. Raises WebError when it cannot be had."""
        try:
            return cls(app, [bind(address, port)], connections)
        except OSError:
            raise WebError("This computer cannot be reached at that address.") from None

    async def start(self) -> None:
        """Listen; returns once connections are taken. Raises what keeps the application away."""
        self._task = asyncio.create_task(self._server.serve(self._sockets))
        while not self._server.started:
            if self._task.done():
                self._task.result()
                return
            await asyncio.sleep(0.005)

    async def until_left(self) -> None:
        """Wait until it has stopped."""
        if self._task is not None:
            await asyncio.wait([self._task])

    def leave(self) -> None:
        """Ask it to stop; it does within a moment. Asked again, it waits for nobody."""
        self._server.force_exit = self._server.should_exit
        self._server.should_exit = True

    async def stop(self) -> None:
        """Stop listening, and wait until it has."""
        self.leave()
        await self.until_left()
