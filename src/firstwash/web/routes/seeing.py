"""Seeing: values, whites, masses, light, a hue beside a grey."""

from fastapi import APIRouter

from firstwash.web.services import Services
from firstwash.worksheet.looking import LightLook, PictureLook, light_looked_at, looked_at
from firstwash.worksheet.seeing import (
    BesideGreyView,
    DifferenceTold,
    ValueStudy,
    difference_told,
    hue_at,
    value_study,
)
from firstwash.worksheet.studio import Studio

__all__ = ["router"]


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /api/paintings/{painting}."""
    del services
    api = APIRouter(prefix="/api/paintings/{painting}", tags=["seeing"])

    @api.get("/values")
    def values(painting: str) -> ValueStudy:
        """The value steps asked for, and how much of the sheet each fills."""
        return value_study(studio, studio.look(painting).brief)

    @api.get("/looked")
    def looked(painting: str) -> PictureLook:
        """The big masses, the lightest lights and darkest darks, and what the paints reach."""
        return looked_at(studio, studio.look(painting).brief)

    @api.get("/light")
    def light(painting: str) -> LightLook:
        """The key light, the light in the shadows, and how light parts from local colour."""
        return light_looked_at(studio, studio.look(painting).brief)

    @api.get("/difference")
    def difference(painting: str) -> DifferenceTold:
        """Where and by how much the painting as planned differs from its reference."""
        return difference_told(studio, studio.look(painting).brief)

    @api.get("/hue")
    def hue(painting: str, x: float, y: float) -> BesideGreyView:
        """The hue of a spot (mm) beside a grey of the same value."""
        return hue_at(studio, studio.look(painting).brief, x, y)

    return api
