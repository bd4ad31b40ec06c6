"""The paintings as a list: needs the store alone, so it is there with the first page."""

from secrets import token_hex
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import FileResponse, HTMLResponse, Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool

from firstwash.store.bundle import bundle_name, export_painting
from firstwash.store.records import Painting
from firstwash.store.unbundle import import_painting
from firstwash.web.errors import NotFound
from firstwash.web.page import page_of
from firstwash.web.services import Services, Settings, services_of
from firstwash.web.uploads import attachment, receive

__all__ = ["router"]

router = APIRouter(tags=["paintings"])
Given = Annotated[Services, Depends(services_of)]
FOREVER = "private, max-age=31536000, immutable"


class Renamed(BaseModel):
    """Another name for a painting."""

    model_config = ConfigDict(extra="forbid")

    name: Annotated[str, Field(min_length=1, max_length=120)]


class Emptied(BaseModel):
    """How many paintings left the bin for good."""

    gone: int


@router.get("/", include_in_schema=False)
@router.get("/painting/{painting}", include_in_schema=False)
def page(request: Request, services: Given, painting: str = "") -> HTMLResponse:
    """The worksheet."""
    del painting
    return page_of(request, services)


@router.get("/api/shelf")
def listed(services: Given, binned: bool = False) -> tuple[Painting, ...]:
    """The paintings, last changed first; or those in the bin."""
    return services.store.listed(binned)


@router.get("/thumbnails/{key}", include_in_schema=False)
def small(key: str, services: Given) -> Response:
    """The small picture of a painting on the list or in the bin; no other file is given by key."""
    store = services.store
    if key not in {p.thumbnail for binned in (False, True) for p in store.listed(binned)}:
        raise NotFound("That small picture is no longer kept; reload the worksheet.")
    data = store.files.get(key)
    return Response(data, media_type="image/jpeg", headers={"cache-control": FOREVER})


@router.post("/api/shelf/{painting}/rename")
def rename(painting: str, renamed: Renamed, services: Given) -> Painting:
    """Give a painting another name."""
    return services.store.rename(painting, renamed.name)


@router.post("/api/shelf/{painting}/duplicate")
def duplicate(painting: str, services: Given) -> Painting:
    """A copy with its whole history."""
    return services.store.duplicate(painting).painting


@router.delete("/api/shelf/bin")
def empty_bin(services: Given) -> Emptied:
    """Delete for good what is in the bin."""
    return Emptied(gone=services.store.empty_bin(0.0))


@router.delete("/api/shelf/{painting}")
def to_bin(painting: str, services: Given) -> Painting:
    """Put a painting in the bin."""
    return services.store.to_bin(painting)


@router.post("/api/shelf/{painting}/restore")
def from_bin(painting: str, services: Given) -> Painting:
    """Take a painting out of the bin."""
    return services.store.from_bin(painting)


@router.get("/api/shelf/{painting}/export", response_class=FileResponse)
def export(painting: str, services: Given) -> FileResponse:
    """One painting with its whole history, as a zip."""
    folder = services.uploads()
    target = folder / f"out-{token_hex(8)}.zip"
    export_painting(services.store, painting, target)
    name = bundle_name(services.store.get(painting).painting.name)
    return FileResponse(
        target,
        media_type="application/zip",
        headers={"content-disposition": attachment(name)},
        background=BackgroundTask(target.unlink, missing_ok=True),
    )


@router.post("/api/shelf/bring-in", max_body_size=Settings.bundle_bytes)
async def bring_in(request: Request, services: Given) -> Painting:
    """A painting from a zip that was exported here or elsewhere."""
    most = services.settings.bundle_bytes
    async with receive(request, services.uploads(), most, frozenset({"zip"})) as file:
        opened = await run_in_threadpool(import_painting, services.store, file)
    return opened.painting
