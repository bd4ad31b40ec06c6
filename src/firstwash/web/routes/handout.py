"""The hand-out of a painting: asked for, made by a worker, taken along as one zip."""

import json
import shutil
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter
from fastapi.responses import FileResponse
from pydantic import BaseModel, Field

from firstwash.errors import FirstwashError
from firstwash.language import texts_for
from firstwash.pack.settings import Lesson
from firstwash.store.paintings import Store
from firstwash.web.errors import NotFound
from firstwash.web.routes.work import Based, Begun
from firstwash.web.services import Services
from firstwash.web.uploads import attachment
from firstwash.worksheet.studio import Studio
from firstwash.worksheet.view import plan_stamp

__all__ = ["kept_lesson", "router"]

WORK = "firstwash.usecases_handout:handout_work"
SETTING = "lesson"
FOLDER = "handouts"


class Wanted(Based):
    """A hand-out to be made. detail: 0-1, of the outline; grid: squares across, or None."""

    detail: Annotated[float, Field(ge=0.0, le=1.0)] = 0.5
    grid: Annotated[int, Field(ge=1, le=40)] | None = None


class Made(BaseModel):
    """Whether a hand-out lies ready. fresh: of the plan as it is now; warning: "" or what to
    know before it is given away.
    """

    ready: bool
    fresh: bool = False
    name: str = ""
    warning: str = ""


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /api/handout and /api/paintings/{painting}/handout."""
    api = APIRouter(tags=["hand-out"])
    store, jobs, place = studio.store, services.jobs, services.folder / FOLDER

    def lesson() -> Lesson:
        return kept_lesson(store)

    @api.get("/api/handout/lesson")
    def settings() -> Lesson:
        """The teacher's settings for all hand-outs."""
        return lesson()

    @api.put("/api/handout/lesson")
    def keep_settings(told: Lesson) -> Lesson:
        """Keep the teacher's settings."""
        store.keep_setting(SETTING, json.dumps(asdict(told)))
        return told

    @api.post("/api/paintings/{painting}/handout")
    def begin(painting: str, asked: Wanted) -> Begun:
        """Begin to make the hand-out of the plan as it is now."""
        looked = studio.at(painting, asked.base)
        studio.desk(looked.brief)  # refused here where there is no plan
        assert looked.brief.plan is not None
        texts_for(lesson().language)  # and here where no pages can be made in it
        stamp = plan_stamp(looked.brief, looked.brief.plan)

        def keep(result: dict[str, Any], folder: Path) -> Mapping[str, Any]:
            told = {"stamp": stamp, "name": result["file"], "warning": result["warning"]}
            _keep(place / painting, folder / result["file"], told)
            return {"painting": painting}

        args = {
            "brief": looked.brief.model_dump_json(),
            "files": str(studio.files_folder()),
            "name": looked.opened.painting.name,
            "lesson": asdict(lesson()),
            "detail": asked.detail,
            "grid": asked.grid,
        }
        job = jobs.start("handout", WORK, args, key=f"handout {painting}", on_done=keep)
        return Begun(job=job.id)

    @api.get("/api/paintings/{painting}/handout")
    def made(painting: str) -> Made:
        """What lies ready."""
        looked = studio.look(painting)
        told = _told(place / looked.id)
        if told is None:
            return Made(ready=False)
        plan = looked.brief.plan
        fresh = plan is not None and plan_stamp(looked.brief, plan) == told["stamp"]
        return Made(ready=True, fresh=fresh, name=told["name"], warning=told["warning"])

    @api.get("/api/paintings/{painting}/handout.zip", response_class=FileResponse)
    def take(painting: str) -> FileResponse:
        """The hand-out as one zip."""
        folder = place / studio.look(painting).id
        told = _told(folder)
        if told is None:
            raise NotFound("There is no hand-out yet; have it made first.")
        headers = {"content-disposition": attachment(told["name"])}
        return FileResponse(folder / "handout.zip", media_type="application/zip", headers=headers)

    return api


def kept_lesson(store: Store) -> Lesson:
    """The teacher's settings as they are kept, or the defaults."""
    text = store.setting(SETTING)
    try:
        return Lesson(**json.loads(text)) if text else Lesson()
    except (TypeError, ValueError, FirstwashError):
        return Lesson()


def _keep(folder: Path, made: Path, told: Mapping[str, str]) -> None:
    """Put a hand-out in the place of the one before; what is told of it comes last."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "told.json").unlink(missing_ok=True)
    shutil.move(made, folder / "handout.zip")
    half = folder / "told.half"
    half.write_text(json.dumps(dict(told)), "utf-8")
    half.replace(folder / "told.json")


def _told(folder: Path) -> dict[str, str] | None:
    try:
        told = json.loads((folder / "told.json").read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return {str(k): str(v) for k, v in told.items()}
