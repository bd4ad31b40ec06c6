"""The painter's paints: the list, every known paint, swatch cards."""

import math
import secrets
import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Literal

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, PlainTextResponse
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool

from firstwash.errors import Overtaken, PaintError, RequestError
from firstwash.handout.cautions import CAUTIONS
from firstwash.paints.catalogue import all_paints
from firstwash.web.routes.work import Begun
from firstwash.web.services import Services
from firstwash.web.uploads import attachment, receive
from firstwash.worksheet.cards import CardFile, cards_of, check_card, file_of, new_card
from firstwash.worksheet.strips import PaintCard, paint_cards
from firstwash.worksheet.studio import Studio

__all__ = ["router"]

Word = Annotated[str, Field(min_length=1, max_length=200)]
MOST_EARLIER = 40
READ = "firstwash.worksheet.cards:read_work"
MEASURED_BYTES = 32_000_000


class OwnPaints(BaseModel):
    """The painter's list. own: whether the painter wrote it, or it is still the starter set.

    caution: what to mind with any paint.
    """

    own: bool
    text: str
    stamp: str
    paper: str
    paper_known: str
    caution: str
    paints: tuple[PaintCard, ...]
    cards: tuple[CardFile, ...]


class Earlier(BaseModel):
    """The list as it was. words: what was done then; created: seconds since 1970."""

    version: int
    words: str
    created: float
    text: str


class Added(BaseModel):
    """A paint more, by name; unknown: its pigment is, and hue says its colour."""

    model_config = ConfigDict(extra="forbid")

    name: Word
    unknown: bool = False
    hue: Annotated[str, Field(max_length=40)] | None = None


class Said(BaseModel):
    """Other words on a paint; what is left out stays."""

    model_config = ConfigDict(extra="forbid")

    favourite: bool | None = None
    banned: bool | None = None
    form: Literal["pan", "half pan", "tube"] | None = None
    fill: Literal["new", "half empty", "nearly empty", "empty"] | None = None
    note: Annotated[str, Field(max_length=300)] | None = None


class Written(BaseModel):
    """The whole list anew. base: stamp of the list it was written on, so that nothing is lost."""

    model_config = ConfigDict(extra="forbid")

    base: Annotated[str, Field(max_length=80)] | None = None
    text: Annotated[str, Field(max_length=200_000)]


class Printed(BaseModel):
    """A card to print."""

    model_config = ConfigDict(extra="forbid")

    paints: Annotated[tuple[Word, ...], Field(max_length=8)] = ()
    size: Literal["A4", "Letter"] = "A4"
    loads: Literal["drops", "brush-loads"] = "drops"
    by_hand: bool = False


def router(services: Services, studio: Studio) -> APIRouter:
    """Addresses below /api/paints."""
    api = APIRouter(prefix="/api/paints", tags=["paints"])
    own = studio.paints
    most = services.settings.photo_bytes

    def told() -> OwnPaints:
        shelf = own.shelf()
        listed = shelf.box.to_set(with_banned=True, own=shelf.own.paints).paints
        paper = shelf.paper
        return OwnPaints(
            own=own.is_own,
            text=own.text(),
            stamp=own.stamp(),
            paper=paper.name,
            paper_known=paper.provenance,
            caution=CAUTIONS,
            paints=paint_cards(listed, paper, shelf.box),
            cards=cards_of(own),
        )

    @api.get("")
    def mine() -> OwnPaints:
        """The painter's list."""
        return told()

    def keep(words: str) -> None:
        """A copy of the list for the store, if it has none yet."""
        now, text = studio.store.box(), own.text()
        if now is None or now.text != text:
            with suppress(Overtaken):  # another change came between, and was kept itself
                studio.store.keep_box(text, "{}", 0 if now is None else now.version, words)

    def done(words: str, change: Callable[[], object]) -> OwnPaints:
        """The list after a change. Both lists are kept: as it was, and as it is."""
        with suppress(PaintError):  # a file spoilt by hand is no list to go back to
            keep("As it was found")
        change()
        keep(words)
        return told()

    def called(key: str) -> str:
        """The paint's plain name, or the key if it is not listed."""
        with suppress(PaintError):
            return own.shelf().paint(key).name
        return key

    @api.get("/earlier")
    def earlier() -> tuple[Earlier, ...]:
        """The list as it was before, the latest first."""
        boxes = reversed(studio.store.box_history()[-MOST_EARLIER:])
        return tuple(
            Earlier(version=b.version, words=b.words, created=b.created, text=b.text) for b in boxes
        )

    @api.get("/known")
    def known() -> tuple[PaintCard, ...]:
        """Every paint firstwash knows."""
        shelf = own.shelf()
        return paint_cards(all_paints(), shelf.paper, shelf.box)

    @api.post("")
    def add(added: Added) -> OwnPaints:
        """A paint more on the list."""
        return done(f"Added {added.name}", lambda: own.added(added.name, added.unknown, added.hue))

    @api.patch("/{key}")
    def say(key: str, said: Said) -> OwnPaints:
        """Other words on a paint."""
        change = said.model_dump(exclude_none=True)
        return done(f"Changed what is said of {called(key)}", lambda: own.changed(key, **change))

    @api.delete("/{key}")
    def remove(key: str) -> OwnPaints:
        """A paint less on the list."""
        return done(f"Took {called(key)} off the list", lambda: own.without(key))

    @api.put("/list")
    def write(written: Written) -> OwnPaints:
        """The whole list anew. Refused if it was changed meanwhile."""
        return done("Wrote the list anew", lambda: own.replaced(written.text, written.base))

    @api.get("/list.txt", response_class=PlainTextResponse)
    def listed() -> PlainTextResponse:
        """The list as a text file to keep."""
        headers = {"content-disposition": attachment("my-paints.txt")}
        return PlainTextResponse(own.text(), headers=headers)

    @api.post("/cards")
    def card(printed: Printed) -> CardFile:
        """A swatch card to print, or to draw by hand."""
        return new_card(own, printed.paints, printed.size, printed.loads, printed.by_hand)

    @api.get("/cards/{number}/{name}", response_class=FileResponse)
    def page(number: int, name: str) -> FileResponse:
        """A page of a card, as a file to keep."""
        path, kind = file_of(own, number, name)
        headers = {"content-disposition": attachment(f"card-{number}-{name}")}
        return FileResponse(path, media_type=kind, headers=headers)

    @api.post("/cards/{number}/photo", max_body_size=most)
    async def read_photo(number: int, request: Request, corners: str = "") -> Begun:
        """Begin to read the photo of a painted card. corners: of a card by hand, "x,y x,y …"."""
        places = _corners(corners)
        await run_in_threadpool(check_card, own, number)
        async with receive(request, services.uploads(), most) as file:
            kept = await run_in_threadpool(_put_aside, file, services.uploads())
        return _begin(number, kept, "photo", places)

    @api.post("/cards/{number}/measured", max_body_size=MEASURED_BYTES)
    async def read_measured(number: int, request: Request) -> Begun:
        """Begin to read an instrument's file of a painted card."""
        await run_in_threadpool(check_card, own, number)
        async with receive(request, services.uploads(), MEASURED_BYTES, None) as file:
            kept = await run_in_threadpool(_put_aside, file, services.uploads())
        return _begin(number, kept, "measured", None)

    def _begin(
        number: int, file: Path, kind: str, corners: list[tuple[float, float]] | None
    ) -> Begun:
        args = {
            "paints": str(own.folder), "number": number, "file": str(file), "kind": kind,
            "corners": corners,
        }  # fmt: skip
        job = services.jobs.start("card", READ, args, key="card", on_done=lambda told, _: told)
        return Begun(job=job.id)

    return api


def _put_aside(file: Path, folder: Path) -> Path:
    """The file under another name, so that it stays until it has been read."""
    kept = folder / f"card-{secrets.token_hex(8)}"
    shutil.move(file, kept)
    return kept


def _corners(text: str) -> list[tuple[float, float]] | None:
    if not text:
        return None
    try:
        pairs = [tuple(float(v) for v in pair.split(",")) for pair in text.split()]
        found = [(x, y) for x, y in pairs]
    except ValueError:
        raise RequestError("The corners cannot be read; touch all four again.") from None
    if not all(math.isfinite(v) for place in found for v in place):
        raise RequestError("The corners cannot be read; touch all four again.")
    if len(found) != 4:
        raise RequestError("Touch all four corners of the pencil frame, upper left first.")
    return found
