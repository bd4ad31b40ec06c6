"""The web application: routes, files and the guard around them, made by one function.

Nothing heavy is imported here. The first page must be there within a second and a half of the
start, so the numerical packages wait for the first work that needs them.
"""

import hashlib
import mimetypes
import time
from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Annotated, Any, Final

import anyio.to_thread
from fastapi import APIRouter, Depends, FastAPI
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from firstwash.web import events, phone_routes
from firstwash.web.errors import install_error_answers
from firstwash.web.late import LateRoutes
from firstwash.web.routes import shelf
from firstwash.web.security import Guard
from firstwash.web.services import Services, Settings, services_of
from firstwash.web.warm import start_warming

__all__ = ["Assets", "Services", "Settings", "create_app", "services_of"]

HERE: Final = Path(__file__).parent
ASSET_FOLDERS: Final = ("static", "elements", "styles", "vendor", "fonts", "sounds", "pictures")
FOREVER: Final = "public, max-age=31536000, immutable"
KINDS: Final = {
    ".js": "text/javascript",
    ".mjs": "text/javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
    ".woff2": "font/woff2",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".map": "application/json",
    ".wav": "audio/wav",
    ".ogg": "audio/ogg",
}
for _ending, _kind in KINDS.items():  # some computers' own tables call scripts plain text
    mimetypes.add_type(_kind, _ending)


class Assets(StaticFiles):
    """Our own scripts, styles, fonts and sounds, and no other file of the package.

    `/assets/<version>/elements/x.js` may be kept for ever while <version> is the present one;
    without it, or with an old one, the browser asks each time whether the file has changed.
    Scripts importing each other by relative paths stay within one version.
    """

    def __init__(self, root: Path = HERE, folders: Iterable[str] = ASSET_FOLDERS) -> None:
        """Serve those of `folders` that are in `root`."""
        self.folders = frozenset(name for name in folders if (root / name).is_dir())
        self.version = _version_of(root, sorted(self.folders))
        super().__init__(directory=root)

    def url(self, path: str) -> str:
        """The address of a file, for example of "styles/page.css"."""
        return f"/assets/{self.version}/{path}"

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer with one file (Starlette's hook)."""
        parts = Path(path).parts
        named = parts[0] if parts else ""
        inner = parts if named in self.folders else parts[1:]
        if len(inner) < 2 or inner[0] not in self.folders or Path(path).suffix not in _SERVED:
            raise HTTPException(404)
        response = await super().get_response(str(Path(*inner)), scope)
        fresh = named == self.version
        response.headers["cache-control"] = FOREVER if fresh else "no-cache"
        return response


_SERVED: Final = frozenset((*KINDS, ".png", ".webp", ".ico", ".txt"))


def _version_of(root: Path, folders: Iterable[str]) -> str:
    """Twelve digits that change whenever any of the files does."""
    digest = hashlib.sha256()
    for folder in folders:
        for file in sorted(p for p in (root / folder).rglob("*") if p.is_file()):
            digest.update(f"{file.relative_to(root).as_posix()}\0".encode())
            digest.update(hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()[:12]


class _Guarded(FastAPI):
    """An application whose guard stands before everything the framework itself puts first."""

    def build_middleware_stack(self) -> ASGIApp:
        """Everything a request passes, from the outside in (FastAPI's hook)."""
        inner = super().build_middleware_stack()
        services: Services = self.state.services

        async def note_answers(scope: Scope, receive: Receive, send: Send) -> None:
            await inner(scope, receive, send)
            if scope["type"] == "http":
                services.answered.set()
                services.asked = time.monotonic()

        return Guard(note_answers, services.security)


@asynccontextmanager
async def _life(app: FastAPI) -> AsyncIterator[None]:
    services: Services = app.state.services
    start_warming(services, app.state.later)
    yield
    services.closing.set()
    await services.phone.close()
    await anyio.to_thread.run_sync(services.close)


hello = APIRouter()


@hello.get("/api/hello")
def say_hello(
    services: Annotated[Services, Depends(services_of)], question: str = ""
) -> dict[str, Any]:
    """Proof for a second start of firstwash that this server is the one it looks for."""
    return {"firstwash": True, "proof": services.proof(question[:200])}


def create_app(services: Services, routers: Iterable[APIRouter] = ()) -> FastAPI:
    """The application around `services`; `routers` are what the worksheet adds.

    `app.state.later` is a list for what may wait, called in a thread once the first page is out.
    Bodies are limited to `settings.json_bytes` unless a route says otherwise
    (`max_body_size=...`). `app.state.assets.url(path)` gives addresses of scripts and styles.
    """
    app = _Guarded(
        title="firstwash",
        openapi_url="/api/openapi.json",
        docs_url=None,  # its pages load scripts from elsewhere
        redoc_url=None,
        lifespan=_life,
        max_body_size=services.settings.json_bytes,
        redirect_slashes=False,
        # Nothing is reported to anybody, whatever the environment asks for.
        telemetry={"tracing": False, "metrics": False, "logs": False, "auto_configure": False},
    )
    app.state.services = services
    later: list[Callable[[], None]] = []
    app.state.later = later
    app.state.assets = Assets()
    services.phone.serve(app)
    for router in (hello, events.router, phone_routes.router, shelf.router, *routers):
        app.include_router(router)
    app.mount("/assets", app.state.assets, name="assets")
    later.append(LateRoutes(app, services).load)
    install_error_answers(app)
    return app
