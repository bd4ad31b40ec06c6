"""A touched spot: what lies there, other mixtures, and washes laid otherwise."""

from typing import Annotated, cast

from fastapi import APIRouter, Query
from pydantic import Field

from firstwash.web.routes.work import Based
from firstwash.web.services import Services
from firstwash.worksheet.brief import Kept, Name
from firstwash.worksheet.editing import kept_more, recoloured, strengthened, swapped
from firstwash.worksheet.first_choice import FirstChoices, first_choices
from firstwash.worksheet.painting_view import PaintingView, painting_view, preferences
from firstwash.worksheet.spot import (
    OtherMixture,
    SpotAnswer,
    alternatives_at,
    answer_at,
    photo_lab,
)
from firstwash.worksheet.spot_light import SpotLight, spot_light
from firstwash.worksheet.strength import Moved, moved_strength
from firstwash.worksheet.studio import Studio
from firstwash.worksheet.why import WhySo, why_so
from firstwash.worksheet.words import Units

__all__ = ["router"]

Layer = Annotated[int, Field(ge=1, le=8)]
Cell = Annotated[int, Query(ge=0, le=99_999)]
Number = Annotated[int, Field(ge=1, le=2000)]


class Stronger(Based):
    """A wash at another strength. refit: let the washes over it make up for it."""

    layer: Layer
    number: Number
    strength: Annotated[float, Field(gt=0.0, le=1.0)]
    refit: bool = False


class Swapped(Based):
    """A wash out of another puddle: its letter, or parts of paints by key."""

    layer: Layer
    number: Number
    mixture: Name | dict[Name, float]
    strength: Annotated[float, Field(gt=0.0, le=1.0)] | None = None


class Recoloured(Based):
    """Another colour for the shape at a spot. colour: "#rrggbb"."""

    x_mm: float
    y_mm: float
    colour: Annotated[str, Field(pattern=r"^#[0-9a-fA-F]{6}$")]


class KeptMore(Based):
    """What is kept from now on."""

    kept: Kept


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /api/paintings."""
    del services
    api = APIRouter(prefix="/api/paintings/{painting}", tags=["spot"])

    def units() -> Units:
        return cast(Units, preferences(studio.store).units)

    @api.get("/spot")
    def spot(painting: str, x: float, y: float) -> SpotAnswer:
        """What lies at a place of the sheet, mm from its upper left corner."""
        desk = studio.desk(studio.look(painting).brief)
        photo = photo_lab(desk.reference, x, y)
        return answer_at(desk.plan, x, y, photo, desk.locks, units())

    @api.get("/first-washes")
    def first_washes(painting: str, x: float, y: float) -> FirstChoices:
        """Which first washes could lie at a place of the sheet, ranked, with their stages."""
        brief = studio.look(painting).brief
        desk = studio.desk(brief)
        assert brief.plan is not None
        light = studio.split(brief.plan.scene)
        fits = light.sure.shape == desk.reference.zone.shape
        return first_choices(desk.plan, x, y, desk.reference, light if fits else None)

    @api.get("/light-here")
    def light_here(painting: str, x: float, y: float) -> SpotLight:
        """What the light does to the shape at a place of the sheet, and its own colour."""
        brief = studio.look(painting).brief
        plan = studio.desk(brief).plan
        assert brief.plan is not None
        return spot_light(plan, x, y, studio.light(brief.plan.scene))

    @api.get("/why")
    def why(painting: str, cell: Cell, layer: Layer) -> WhySo:
        """Why a cell looks as it does once a layer is dry."""
        return why_so(studio.desk(studio.look(painting).brief).plan, cell, layer)

    @api.get("/others")
    def others(
        painting: str, layer: Layer, number: Number, most: Annotated[int, Query(ge=1, le=8)] = 5
    ) -> tuple[OtherMixture, ...]:
        """Other mixtures that a wash could be laid with."""
        desk = studio.desk(studio.look(painting).brief)
        return alternatives_at(desk.plan, layer, number, most)

    @api.get("/try")
    def tried(
        painting: str, layer: Layer, number: Number, strength: float, cell: int | None = None
    ) -> Moved:
        """A wash laid stronger or weaker, seen at once; nothing is accepted."""
        desk = studio.desk(studio.look(painting).brief)
        return moved_strength(
            desk.plan, (layer, number), strength=strength, cell=cell, locks=desk.locks
        )

    @api.post("/strength")
    def strength(painting: str, asked: Stronger) -> PaintingView:
        """Accept a wash at another strength."""
        key = (asked.layer, asked.number)
        return painting_view(
            studio, strengthened(studio, painting, asked.base, key, asked.strength, asked.refit)
        )

    @api.post("/swap")
    def swap(painting: str, asked: Swapped) -> PaintingView:
        """Accept a wash out of another puddle."""
        key = (asked.layer, asked.number)
        return painting_view(
            studio, swapped(studio, painting, asked.base, key, asked.mixture, asked.strength)
        )

    @api.post("/recolour")
    def recolour(painting: str, asked: Recoloured) -> PaintingView:
        """Accept another colour for the shape at a spot."""
        return painting_view(
            studio,
            recoloured(studio, painting, asked.base, (asked.x_mm, asked.y_mm), asked.colour),
        )

    @api.post("/keep")
    def keep(painting: str, asked: KeptMore) -> PaintingView:
        """Accept what is kept when the rest is planned again."""
        return painting_view(studio, kept_more(studio, painting, asked.base, asked.kept))

    return api
