"""The hand-out of a painting: asked for, made by a worker, taken along as one zip."""

import hashlib
import json
import secrets
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
from firstwash.web.kept_folders import read_told, sweep, write_told
from firstwash.web.routes.work import Based, Begun
from firstwash.web.services import Services
from firstwash.web.uploads import attachment
from firstwash.worksheet.studio import Studio
from firstwash.worksheet.view import plan_stamp

__all__ = ["kept_lesson", "router"]

WORK = "firstwash.usecases_handout:handout_work"
SETTING = "lesson"
FOLDER = "handouts"
TOLD = "told.json"


class Wanted(Based):
    """A hand-out to be made. detail: 0-1, of the outline; grid: squares across, or None."""

    detail: Annotated[float, Field(ge=0.0, le=1.0)] = 0.5
    grid: Annotated[int, Field(ge=1, le=40)] | None = None


class Made(BaseModel):
    """Whether a hand-out lies ready. fresh: of the plan and the settings as they are now; warning:
    "" or what to know before it is given away.
    """

    ready: bool
    fresh: bool = False
    name: str = ""
    warning: str = ""


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /api/handout and /api/paintings/{painting}/handout."""
    api = APIRouter(tags=["hand-out"])
    store, jobs, place = studio.store, services.jobs, services.folder / FOLDER
    services.when_idle.append(lambda: sweep(place, studio))

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
        name = looked.opened.painting.name
        wanted = {"detail": asked.detail, "grid": asked.grid}
        settings = _asked(lesson(), name, wanted)

        def keep(result: dict[str, Any], folder: Path) -> Mapping[str, Any]:
            told = {"stamp": stamp, "asked": settings, "wanted": wanted}
            told |= {"name": result["file"], "warning": result["warning"]}
            _keep(place / painting, folder / result["file"], told)
            return {"painting": painting}

        args = {
            "brief": looked.brief.model_dump_json(),
            "files": str(studio.files_folder()),
            "name": name,
            "lesson": asdict(lesson()),
            **wanted,
        }
        job = jobs.start("handout", WORK, args, key=f"handout {painting}", on_done=keep)
        return Begun(job=job.id)

    @api.get("/api/paintings/{painting}/handout")
    def made(painting: str) -> Made:
        """What lies ready."""
        looked = studio.look(painting)
        told = read_told(place / looked.id, TOLD)
        if not told:
            return Made(ready=False)
        plan = looked.brief.plan
        same = plan is not None and plan_stamp(looked.brief, plan) == told["stamp"]
        settings = _asked(lesson(), looked.opened.painting.name, told["wanted"])
        fresh = same and settings == told["asked"]
        return Made(ready=True, fresh=fresh, name=told["name"], warning=told["warning"])

    @api.get("/api/paintings/{painting}/handout.zip", response_class=FileResponse)
    def take(painting: str) -> FileResponse:
        """The hand-out as one zip."""
        folder = place / studio.look(painting).id
        told = read_told(folder, TOLD)
        if not told:
            raise NotFound("There is no hand-out yet; have it made first.")
        headers = {"content-disposition": attachment(str(told["name"]))}
        return FileResponse(
            folder / str(told["zip"]), media_type="application/zip", headers=headers
        )

    return api


def kept_lesson(store: Store) -> Lesson:
    """The teacher's settings as they are kept, or the defaults."""
    text = store.setting(SETTING)
    try:
        return Lesson(**json.loads(text)) if text else Lesson()
    except (TypeError, ValueError, FirstwashError):
        return Lesson()


def _keep(folder: Path, made: Path, told: Mapping[str, Any]) -> None:
    """Put a hand-out in the place of the one before; what is told of it comes last.

    Each has a name of its own, so that one being taken along stays whole.
    """
    before = read_told(folder, TOLD).get("zip")
    folder.mkdir(parents=True, exist_ok=True)
    name = f"handout-{secrets.token_hex(8)}.zip"
    shutil.move(made, folder / name)
    write_told(folder, TOLD, {**told, "zip": name})
    if before:
        (folder / str(before)).unlink(missing_ok=True)


def _asked(lesson: Lesson, name: str, wanted: Mapping[str, Any]) -> str:
    """A digest of all that is asked of a hand-out besides the plan."""
    told = json.dumps([asdict(lesson), name, dict(wanted)], sort_keys=True)
    return hashlib.sha256(told.encode()).hexdigest()[:16]
