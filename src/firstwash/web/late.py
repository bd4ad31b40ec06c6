"""Routes that load the numerical packages, added when somebody first asks for one of them.

The first page must be there at once, and the list of paintings with it; both do without. So the
application starts with the light routes, and the heavy ones are loaded in a thread: soon after
the first page is out, or when a request comes that no light route answers.
"""

import threading

from fastapi import FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.types import Receive, Scope, Send

from firstwash.web.services import Services

__all__ = ["LateRoutes"]


class LateRoutes:
    """The last resort of an application's router: loads the rest of the routes, once."""

    def __init__(self, app: FastAPI, services: Services) -> None:
        """Take the place of the router's own answer to what it does not know."""
        self._app, self._services = app, services
        self._otherwise = app.router.default
        self._loaded = threading.Event()
        self._lock = threading.Lock()
        app.router.default = self

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Load the routes and look again; what is unknown then is not there."""
        if self._loaded.is_set() or scope["type"] != "http":
            await self._otherwise(scope, receive, send)
            return
        await run_in_threadpool(self.load)
        await self._app.router(scope, receive, send)

    def load(self) -> None:
        """Load and add the routes unless that is done."""
        with self._lock:
            if self._loaded.is_set():
                return
            from firstwash.web.routes.all import heavy_routers

            for router in heavy_routers(self._services):
                self._app.include_router(router)
            self._app.openapi_schema = None  # the next one to ask is told of them too
            self._loaded.set()
