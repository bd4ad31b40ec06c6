"""Pictures of a painting: its photos, its reference, its stages, its maps.

A picture's address holds a stamp of what it shows, so it never changes and may be kept for ever.
"""

from collections.abc import Callable
from typing import Annotated, Final

from fastapi import APIRouter, Query
from fastapi.responses import Response

from firstwash.web.errors import NotFound
from firstwash.web.services import Services
from firstwash.worksheet.brief import Brief, read_brief
from firstwash.worksheet.pictures_of import plan_picture, scene_picture
from firstwash.worksheet.prints import Picture
from firstwash.worksheet.studio import Studio
from firstwash.worksheet.view import plan_stamp, scene_stamp

__all__ = ["router"]

FOREVER: Final = "private, max-age=31536000, immutable"
LOOKED_BACK: Final = 400  # revisions searched for a stamp


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /prints."""
    del services
    api = APIRouter(prefix="/prints/{painting}", tags=["pictures"])
    Width = Annotated[int, Query(ge=40, le=2400)]

    @api.get("/scene/{stamp}/{name}", response_class=Response)
    def scene(painting: str, stamp: str, name: str, w: Width = 1200) -> Response:
        """A picture of the photos on the sheet: "reference", "photo-0", "squint-40", …"""
        brief = _with(studio, painting, lambda b: scene_stamp(b.scene) == stamp)
        return _answer(
            studio.printed.of(stamp, name, w, lambda: scene_picture(studio, brief.scene, name, w))
        )

    @api.get("/plan/{stamp}/{name}", response_class=Response)
    def plan(painting: str, stamp: str, name: str, w: Width = 1200) -> Response:
        """A picture of the plan: "stage-2", "finished", "cells", "map-1", "wash-1-3", …"""
        brief = _with(
            studio, painting, lambda b: b.plan is not None and plan_stamp(b, b.plan) == stamp
        )
        return _answer(
            studio.printed.of(stamp, name, w, lambda: plan_picture(studio, brief, name, w))
        )

    return api


def _with(studio: Studio, painting: str, fits: Callable[[Brief], bool]) -> Brief:
    """The latest revision's brief that fits, the one the painter is at first."""
    head = studio.look(painting)
    if fits(head.brief):
        return head.brief
    for step in reversed(studio.store.history(painting)[-LOOKED_BACK:]):
        brief = read_brief(studio.store.revision(painting, step.id).state)
        if fits(brief):
            return brief
    raise NotFound("That picture is no longer kept; reload the worksheet.")


def _answer(picture: Picture) -> Response:
    return Response(picture.data, media_type=picture.media_type, headers={"cache-control": FOREVER})
