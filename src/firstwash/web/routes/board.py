"""At the board: the session step by step, what is ticked off, and the drying clock."""

import json
from typing import Annotated, Any, cast

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from firstwash.web.services import Services
from firstwash.worksheet.board import BoardStep, board_steps
from firstwash.worksheet.painting_view import preferences
from firstwash.worksheet.studio import Studio
from firstwash.worksheet.view import plan_stamp
from firstwash.worksheet.words import Units

__all__ = ["router"]

NOTE = "board"


class Clock(BaseModel):
    """A drying clock. ends: seconds since 1970 when it rings; minutes: it was set to."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    step: Annotated[str, Field(max_length=40)]
    ends: float
    minutes: Annotated[float, Field(ge=0.0, le=3000.0)]


class Marks(BaseModel):
    """Where the painter is at the board.

    version: 0 before the first; plan: stamp of the plan it belongs to; step: id of the screen;
    ticked: ids of puddles and steps done.
    """

    model_config = ConfigDict(extra="forbid")

    version: Annotated[int, Field(ge=0)] = 0
    plan: Annotated[str, Field(max_length=40)] = ""
    step: Annotated[str, Field(max_length=40)] = ""
    ticked: Annotated[tuple[Annotated[str, Field(max_length=60)], ...], Field(max_length=2000)] = ()
    clock: Clock | None = None


class Session(BaseModel):
    """All steps, and where the painter is."""

    plan: str
    steps: tuple[BoardStep, ...]
    marks: Marks


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /api/paintings/{painting}/board."""
    del services
    api = APIRouter(prefix="/api/paintings/{painting}/board", tags=["board"])

    @api.get("")
    def session(painting: str) -> Session:
        """The session for the plan as it is."""
        brief = studio.look(painting).brief
        desk = studio.desk(brief)
        assert brief.plan is not None
        units = cast(Units, preferences(studio.store).units)
        stamp = plan_stamp(brief, brief.plan)
        return Session(plan=stamp, steps=board_steps(desk.plan, units), marks=_marks(painting))

    @api.get("/marks")
    def marks(painting: str) -> Marks:
        """Where the painter is at the board."""
        return _marks(painting)

    @api.put("/marks")
    def mark(painting: str, marks: Marks) -> Marks:
        """Keep where the painter is. Refused if another tab was quicker."""
        told = marks.model_dump_json(exclude={"version"})
        note = studio.store.keep_note(painting, NOTE, told, marks.version)
        return marks.model_copy(update={"version": note.version})

    def _marks(painting: str) -> Marks:
        note = studio.store.note(painting, NOTE)
        if note is None:
            return Marks()
        try:
            told: dict[str, Any] = json.loads(note.json)
            return Marks(**{**told, "version": note.version})
        except (TypeError, ValueError):
            return Marks(version=note.version)

    return api
