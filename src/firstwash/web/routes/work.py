"""A painting: making it, looking at it, changing what is asked, planning, its history."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import unquote

from fastapi import APIRouter, Header, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool

from firstwash.store.cleaning import clean_photo
from firstwash.store.records import Step
from firstwash.web.jobs import Jobs
from firstwash.web.services import Services
from firstwash.web.uploads import clean_name, receive
from firstwash.web.warm import GETTING_READY
from firstwash.worksheet.brief import (
    Brief,
    Grid,
    Name,
    Place,
    Scene,
    SheetAsked,
    Values,
    Work,
)
from firstwash.worksheet.painting_view import (
    PaintingView,
    Preferences,
    keep_preferences,
    painting_view,
)
from firstwash.worksheet.studio import Looked, Studio

__all__ = ["router"]

PLAN = "firstwash.worksheet.planning:plan_work"
JUDGE = "firstwash.worksheet.planning:judge_work"


class Based(BaseModel):
    """Base of what the page sends: which revision it was looking at."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    base: Annotated[str, Field(max_length=80)]


class Changed(Based):
    """A change of what is asked; what is left out stays. words: what the painter did."""

    words: Annotated[str, Field(min_length=1, max_length=120)]
    scene: Scene | None = None
    paints: tuple[Name, ...] | None = None
    work: Work | None = None
    values: Values | None = None
    grid: Grid | None = None


class Gone(Based):
    """A step to a revision of the history."""

    to: Annotated[str, Field(max_length=80)]


class Begun(BaseModel):
    """A job that was begun."""

    job: str


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /api/paintings."""
    jobs, most = services.jobs, services.settings.photo_bytes
    api = APIRouter(prefix="/api/paintings", tags=["painting"])

    def shown(looked: Looked) -> PaintingView:
        return painting_view(studio, looked)

    @api.post("", max_body_size=most)
    async def new(
        request: Request,
        x_file_name: Annotated[str, Header()] = "",
        x_sheet: Annotated[str, Header()] = "",
    ) -> PaintingView:
        """A new painting from the photo in the body. The file's name comes percent-encoded."""
        name = clean_name(unquote(x_file_name))
        async with receive(request, services.uploads(), most) as file:
            return await run_in_threadpool(_new, studio, file, name, unquote(x_sheet))

    @api.post("/{painting}/photos", max_body_size=most)
    async def more(
        painting: str, base: str, request: Request, x_file_name: Annotated[str, Header()] = ""
    ) -> PaintingView:
        """One more photo, laid on the sheet."""
        name = clean_name(unquote(x_file_name))
        async with receive(request, services.uploads(), most) as file:
            looked = await run_in_threadpool(_more, studio, painting, base, file, name)
        return await run_in_threadpool(shown, looked)

    @api.get("/{painting}")
    def look(painting: str) -> PaintingView:
        """A painting as it is now."""
        return shown(studio.look(painting))

    @api.post("/{painting}/change")
    def change(painting: str, changed: Changed) -> PaintingView:
        """Accept a change of what is asked."""
        given = {n: getattr(changed, n) for n in ("scene", "paints", "work", "values", "grid")}
        new = {n: v for n, v in given.items() if v is not None}
        looked = studio.change(painting, changed.base, changed.words, lambda b: b.but(**new))
        return shown(looked)

    @api.post("/{painting}/back")
    def back(painting: str, based: Based) -> PaintingView:
        """Go back by one change."""
        studio.store.step_back(painting, based.base)
        return shown(studio.look(painting))

    @api.post("/{painting}/forward")
    def forward(painting: str, based: Based) -> PaintingView:
        """Go forward again."""
        studio.store.step_forward(painting, based.base)
        return shown(studio.look(painting))

    @api.post("/{painting}/go")
    def go(painting: str, gone: Gone) -> PaintingView:
        """Go to any revision of the history."""
        studio.store.go_to(painting, gone.to, gone.base)
        return shown(studio.look(painting))

    @api.get("/{painting}/history")
    def history(painting: str) -> tuple[Step, ...]:
        """Every change ever accepted."""
        return studio.store.history(painting)

    @api.post("/{painting}/plan")
    def plan(painting: str, based: Based) -> Begun:
        """Begin to plan what is asked."""
        looked = studio.at(painting, based.base)
        return Begun(job=_begin(studio, jobs, "plan", PLAN, looked, "Planned"))

    @api.post("/{painting}/judge")
    def judge(painting: str, based: Based) -> Begun:
        """Begin to judge an edited plan again."""
        looked = studio.at(painting, based.base)
        return Begun(job=_begin(studio, jobs, "judge", JUDGE, looked, "Judged again"))

    @api.put("/preferences")
    def prefer(liked: Preferences) -> Preferences:
        """Keep how the painter likes things told."""
        keep_preferences(studio.store, liked)
        return liked

    return api


def _new(studio: Studio, file: Path, name: str, sheet: str) -> PaintingView:
    photo = clean_photo(file.read_bytes())
    asked = SheetAsked(size=sheet[:40]) if sheet else None
    title = Path(name).stem.strip() or "Painting"
    return painting_view(studio, studio.new(photo, title, name, asked))


def _more(studio: Studio, painting: str, base: str, file: Path, name: str) -> Looked:
    picture = studio.picture_of(clean_photo(file.read_bytes()), name)
    placed = picture.but(place=Place(left=0.3, top=0.3, width=0.4))

    def laid(brief: Brief) -> Brief:
        return brief.but(scene=brief.scene.but(pictures=(*brief.scene.pictures, placed)))

    return studio.change(painting, base, "Laid another photo on the sheet", laid)


def _begin(studio: Studio, jobs: Jobs, kind: str, work: str, looked: Looked, words: str) -> str:
    """Start the work on a brief; what it makes is accepted when it is done."""
    painting = looked.id

    def keep(result: dict[str, Any], folder: Path) -> Mapping[str, Any]:
        studio.adopt(looked, result, folder, words)
        return {"painting": painting}

    args = {
        "brief": looked.brief.model_dump_json(),
        "files": str(studio.files_folder()),
        "paints": str(studio.paints.source),
    }
    job = jobs.start(kind, work, args, key=f"{kind} {painting}", after=GETTING_READY, on_done=keep)
    return job.id
