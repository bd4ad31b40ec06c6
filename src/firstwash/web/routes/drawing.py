"""The shapes: fewer or more, merged, split, redrawn, reserved, their edges."""

from typing import Annotated, Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field

from firstwash.web.routes.work import Based
from firstwash.web.services import Services
from firstwash.worksheet.painting_view import PaintingView, painting_view
from firstwash.worksheet.reshaping import (
    Place,
    another_border,
    another_count,
    another_edge,
    merged_shapes,
    released_shape,
    reserved_shape,
    split_shapes,
)
from firstwash.worksheet.studio import Studio

__all__ = ["router"]

Stroke = Annotated[tuple[Place, ...], Field(min_length=1, max_length=4000)]


class Stroked(Based):
    """A stroke over the sheet, mm from its upper left corner."""

    stroke: Stroke


class Counted(Based):
    """How many shapes at most."""

    count: Annotated[int, Field(ge=5, le=600)]


class Edged(Stroked):
    """A stroke along a border, and what edge it is to be."""

    edge: Literal["hard", "soft", "lost"]


class Touched(BaseModel):
    """The shape at a place."""

    shape: int
    reserved: bool


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /api/paintings/{painting}/shapes."""
    del services
    api = APIRouter(prefix="/api/paintings/{painting}/shapes", tags=["shapes"])

    @api.post("/count")
    def count(painting: str, asked: Counted) -> PaintingView:
        """Draw the picture in fewer or more shapes."""
        return painting_view(studio, another_count(studio, painting, asked.base, asked.count))

    @api.post("/merge")
    def merge(painting: str, asked: Stroked) -> PaintingView:
        """Make one shape of all that a stroke touches."""
        return painting_view(studio, merged_shapes(studio, painting, asked.base, asked.stroke))

    @api.post("/split")
    def split(painting: str, asked: Stroked) -> PaintingView:
        """Cut a shape along a stroke."""
        return painting_view(studio, split_shapes(studio, painting, asked.base, asked.stroke))

    @api.post("/border")
    def border(painting: str, asked: Stroked) -> PaintingView:
        """Draw the border of two shapes anew."""
        return painting_view(studio, another_border(studio, painting, asked.base, asked.stroke))

    @api.post("/reserve")
    def reserve(painting: str, asked: Stroked) -> PaintingView:
        """Leave a place bare: the shape touched, or what a stroke goes round."""
        return painting_view(studio, reserved_shape(studio, painting, asked.base, asked.stroke))

    @api.post("/release")
    def release(painting: str, asked: Stroked) -> PaintingView:
        """Paint a place after all that was left bare."""
        return painting_view(studio, released_shape(studio, painting, asked.base, asked.stroke[0]))

    @api.post("/edge")
    def edge(painting: str, asked: Edged) -> PaintingView:
        """Make the edges along a stroke hard, soft or lost."""
        return painting_view(
            studio, another_edge(studio, painting, asked.base, asked.stroke, asked.edge)
        )

    return api
