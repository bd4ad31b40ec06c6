"""Test strokes: the glaze chart of the painter's paints, greys, two stacks side by side."""

from typing import Annotated, Literal

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from firstwash.paints.shelf import Shelf
from firstwash.plan.glaze import Coat
from firstwash.web.services import Services
from firstwash.worksheet.chart import GlazeChart, glaze_chart
from firstwash.worksheet.grey import Grey, neutral_with
from firstwash.worksheet.studio import Studio
from firstwash.worksheet.two_stacks import Compared, compared

__all__ = ["router"]

Strength = Annotated[float, Query(gt=0.0, le=10.0)]
LightName = Literal["D65", "D50", "A", "LED"]
Share = Annotated[float, Field(gt=0.0, le=2.0)]
CoatAsked = Annotated[dict[str, Share], Field(min_length=1, max_length=6)]
Coats = Annotated[tuple[CoatAsked, ...], Field(min_length=1, max_length=8)]


class Stacks(BaseModel):
    """Two stacks of coats, bottom to top; a coat is shares of full coats by paint key."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    first: Coats
    second: Coats


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /api/glazes."""
    del services
    api = APIRouter(prefix="/api/glazes", tags=["test strokes"])

    @api.get("/chart")
    def chart(lower: Strength = 8.0, upper: Strength = 7.0, light: LightName = "D65") -> GlazeChart:
        """Every paint under every other. Strengths from 2 on are value steps, below that shares."""
        shelf = studio.paints.shelf()
        return glaze_chart(shelf.to_set().paints, shelf.paper, (lower, upper), light)

    @api.get("/greys")
    def greys(
        key: Annotated[str, Query(max_length=80)] = "",
        share: Annotated[float, Query(gt=0.0, le=1.0)] = 0.25,
    ) -> tuple[Grey, ...]:
        """Glazes that take the colour out of a wash of one paint, or greys on bare paper."""
        shelf = studio.paints.shelf()
        return neutral_with(shelf.to_set().paints, shelf.paper, (key, share) if key else None)

    @api.post("/compare")
    def compare(stacks: Stacks) -> Compared:
        """Two stacks side by side under every light."""
        shelf = studio.paints.shelf()
        first, second = (_coats(shelf, asked) for asked in (stacks.first, stacks.second))
        return compared(first, second, shelf.paper)

    return api


def _coats(shelf: Shelf, asked: tuple[dict[str, float], ...]) -> list[Coat]:
    """Coats by keys of paints. Raises PaintError for a paint nobody knows."""
    return [Coat(tuple((shelf.paint(key), share) for key, share in coat.items())) for coat in asked]
