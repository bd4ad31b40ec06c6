"""The finished painting: its photo taken in, squared by a worker, shown and taken along."""

import secrets
import shutil
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool

from firstwash.errors import FirstwashError, RequestError
from firstwash.finished.record import Record
from firstwash.language import texts_for
from firstwash.pack.settings import Lesson
from firstwash.picture.load import photo_size
from firstwash.store.cleaning import clean_photo
from firstwash.web.errors import NotFound
from firstwash.web.kept_folders import read_told, sweep, write_told
from firstwash.web.routes.handout import kept_lesson
from firstwash.web.routes.work import Based, Begun
from firstwash.web.services import Services
from firstwash.web.uploads import attachment, receive
from firstwash.worksheet.studio import Looked, Studio
from firstwash.worksheet.view import plan_stamp

__all__ = ["router"]

WORK = "firstwash.usecases_finished:finished_work"
FOLDER = "finished"
NO_CACHE = "private, no-cache"

Words = Annotated[str, Field(max_length=400)]  # a Record says how long they may be
Share = Annotated[float, Field(ge=0.0, le=1.0)]
Corner = tuple[Share, Share]
Corners = tuple[Corner, Corner, Corner, Corner]


class Squaring(Based):
    """Have the photo squared. corners: of the sheet, as shares of the photo's width and height,
    upper left first, then clockwise; None to have them found.
    """

    corners: Corners | None = None


class Caption(BaseModel):
    """What the painter says of the painting; "" is left off."""

    model_config = ConfigDict(extra="forbid")

    title: Words = ""
    painter: Words = ""
    year: Words = ""
    remark: Words = ""


class Finished(BaseModel):
    """What there is of a finished painting.

    caption: what the painter says of it. photo: stamp of the photo, "" for none; seen: whether it
    was read, so that its corners can be touched; lost: why its sheet was not found, or ""; corners:
    of the sheet as found or touched, touched: whether they were. ready: whether a squared picture
    lies there, made: its stamp; fresh: of the plan and the caption as they are now; line: the
    catalogue's.
    """

    caption: Caption
    photo: str = ""
    seen: bool = False
    lost: str = ""
    corners: Corners | None = None
    touched: bool = False
    ready: bool = False
    fresh: bool = False
    made: str = ""
    line: str = ""
    notes: tuple[str, ...] = ()


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /api/paintings/{painting}/finished."""
    api = APIRouter(prefix="/api/paintings/{painting}/finished", tags=["finished"])
    store, jobs, place = studio.store, services.jobs, services.folder / FOLDER
    most = services.settings.photo_bytes
    services.when_idle.append(lambda: sweep(place, studio))

    def planned(painting: str) -> Looked:
        looked = studio.look(painting)
        studio.desk(looked.brief)  # refused here where there is no plan
        return looked

    def told(painting: str) -> Finished:
        looked = studio.look(painting)
        record = _record(place / looked.id, kept_lesson(store), looked)
        return _told(place / looked.id, record, _stamp(looked))

    @api.get("")
    def look(painting: str) -> Finished:
        """What there is."""
        return told(painting)

    @api.put("/caption")
    def keep_caption(painting: str, caption: Caption) -> Finished:
        """Keep title, painter, year and remark."""
        folder = place / studio.look(painting).id
        write_told(folder, "caption.json", asdict(Record(**caption.model_dump())))
        return told(painting)

    @api.post("/photo", max_body_size=most)
    async def photo(painting: str, request: Request) -> Finished:
        """Take in a photo of the finished painting, in place of the one before."""
        looked = await run_in_threadpool(planned, painting)
        async with receive(request, services.uploads(), most) as file:
            await run_in_threadpool(_take_in, file, place / looked.id)
        return await run_in_threadpool(told, painting)

    @api.post("")
    def begin(painting: str, asked: Squaring) -> Begun:
        """Begin to square the photo."""
        looked = studio.at(painting, asked.base)
        studio.desk(looked.brief)
        folder, lesson = place / looked.id, kept_lesson(store)
        texts_for(lesson.language)
        seen = read_told(folder, "photo.json").get("stamp", "")
        if not seen:
            raise RequestError("Choose a photo of the finished painting first.")
        record = asdict(_record(folder, lesson, looked))
        known = {"stamp": _stamp(looked), "record": record}

        def keep(result: dict[str, Any], out: Path) -> Mapping[str, Any]:
            touched = asked.corners is not None
            corners = asked.corners if touched else result.get("corners")
            told = {"lost": result["lost"], "corners": corners, "touched": touched}
            _keep_photo(folder, out, {"stamp": seen, **told})
            if not result["lost"]:
                _keep_made(folder, out, {**known, **result})
            return {"painting": painting, "lost": result["lost"]}

        args = {
            "brief": looked.brief.model_dump_json(),
            "files": str(studio.files_folder()),
            "photo": str(folder / _photo(str(seen))),
            "record": record,
            "corners": asked.corners,
            "page": lesson.page,
            "language": lesson.language,
        }
        job = jobs.start("finished", WORK, args, key=f"finished {painting}", on_done=keep)
        return Begun(job=job.id)

    @api.get("/pictures/{name}", response_class=FileResponse)
    def picture(painting: str, name: Literal["painting.jpg", "photo.jpg"]) -> FileResponse:
        """The squared picture, or the photo in which corners are touched, as large as shown."""
        file = place / studio.look(painting).id / name
        if not file.is_file():
            raise NotFound("There is no such picture yet; choose a photo first.")
        headers = {"cache-control": NO_CACHE}
        return FileResponse(file, media_type="image/jpeg", headers=headers)

    @api.get("/finished.zip", response_class=FileResponse)
    def take(painting: str) -> FileResponse:
        """Pictures, label and catalogue line as one zip."""
        folder = place / studio.look(painting).id
        made = read_told(folder, "told.json")
        if not made:
            raise NotFound("There is no squared picture yet; choose a photo first.")
        headers = {"content-disposition": attachment(str(made["file"]))}
        return FileResponse(folder / "finished.zip", media_type="application/zip", headers=headers)

    return api


def _take_in(file: Path, folder: Path) -> None:
    """Keep a photo, cleared of where it was taken; what was told of the one before goes."""
    photo = clean_photo(file.read_bytes())
    photo_size(photo)  # refuses what cannot be read or is too large
    folder.mkdir(parents=True, exist_ok=True)
    before, stamp = read_told(folder, "photo.json").get("stamp"), secrets.token_hex(8)
    (folder / _photo(stamp)).write_bytes(photo)
    write_told(folder, "photo.json", {"stamp": stamp, "lost": ""})
    (folder / "photo.jpg").unlink(missing_ok=True)
    if before:
        (folder / _photo(str(before))).unlink(missing_ok=True)


def _photo(stamp: str) -> str:
    return f"photo-{stamp}"


def _keep_photo(folder: Path, out: Path, told: Mapping[str, Any]) -> None:
    """What was seen in the photo, unless another came meanwhile."""
    if read_told(folder, "photo.json").get("stamp") == told["stamp"]:
        shutil.move(out / "photo.jpg", folder / "photo.jpg")
        write_told(folder, "photo.json", told)


def _keep_made(folder: Path, out: Path, told: Mapping[str, Any]) -> None:
    """Put what was made in the place of what was there; what is told of it comes last."""
    (folder / "told.json").unlink(missing_ok=True)
    shutil.move(out / "painting.jpg", folder / "painting.jpg")
    shutil.move(out / str(told["file"]), folder / "finished.zip")
    write_told(folder, "told.json", {**told, "made": secrets.token_hex(8)})


def _told(folder: Path, record: Record, stamp: str) -> Finished:
    photo, made = read_told(folder, "photo.json"), read_told(folder, "told.json")
    there = Finished(
        caption=Caption(**asdict(record)),
        photo=str(photo.get("stamp", "")),
        seen=(folder / "photo.jpg").is_file(),
        lost=str(photo.get("lost", "")),
        corners=photo.get("corners"),
        touched=bool(photo.get("touched")),
    )
    if not made:
        return there
    fresh = made["stamp"] == stamp and made["record"] == asdict(record)
    more = {"ready": True, "fresh": fresh} | {n: made[n] for n in ("made", "line", "notes")}
    return Finished(**there.model_dump() | more)


def _record(folder: Path, lesson: Lesson, looked: Looked) -> Record:
    """What was said of the painting, or the painting's name and the teacher's."""
    kept = read_told(folder, "caption.json")
    if kept:
        return Record(**kept)
    try:
        return Record(lesson.title or looked.opened.painting.name, lesson.teacher)
    except FirstwashError:
        return Record()


def _stamp(looked: Looked) -> str:
    plan = looked.brief.plan
    return "" if plan is None else plan_stamp(looked.brief, plan)
