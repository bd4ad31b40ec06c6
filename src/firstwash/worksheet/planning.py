"""From a brief to its plan: the long work, done in a process of its own."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from firstwash.errors import Missing, RequestError
from firstwash.paints.catalogue import Paint
from firstwash.paints.shelf import Shelf, load_shelf
from firstwash.picture.drawing import Drawing
from firstwash.picture.reference import Reference
from firstwash.plan.favourites import with_favourites
from firstwash.plan.from_drawing import drawing_of_plan, plan_drawing
from firstwash.plan.locks import NO_LOCKS, held, same_locks
from firstwash.plan.planner import make_plan
from firstwash.plan.problem import Limits, Progress
from firstwash.plan.replan import replan
from firstwash.plan.result import Plan
from firstwash.worksheet.brief import Brief, Work, read_brief
from firstwash.worksheet.desk import Desk, Fetch, judged, locks_of, open_desk, planned, with_plan
from firstwash.worksheet.laying import lay
from firstwash.worksheet.printed import WIDTH, print_stages
from firstwash.worksheet.prints import stage_picture

__all__ = ["chosen_paints", "judge_work", "limits_of", "plan_brief", "plan_work", "shelf_of"]

STARTER: Final = "starter"
LOOK: Final = "look.jpg"
LOOKED: Final = "The lay-in can be seen; going on with the rest"

Look = Callable[[Plan], None]


def limits_of(work: Work) -> Limits:
    """The planner's limits."""
    return Limits(**{name: getattr(work, name) for name in type(work).model_fields})


def chosen_paints(shelf: Shelf, keys: Sequence[str]) -> tuple[Paint, ...]:
    """The paints ticked, in the list's order; all that are not banned if none is.

    Raises RequestError where none of those ticked is on the list any more.
    """
    if not keys:
        return shelf.to_set().paints
    wanted = set(keys)
    found = tuple(p for p in shelf.to_set(with_banned=True).paints if p.key in wanted)
    if not found:
        raise RequestError("None of the paints ticked is on your list any more; tick some.")
    return found


def plan_brief(
    brief: Brief, fetch: Fetch, shelf: Shelf, progress: Progress, look: Look | None = None
) -> Desk:
    """The plan the brief asks for.

    look: called with a first attempt while the work goes on, where all is planned anew.

    What is locked and drawn by hand stays as long as the picture is the one it was made for;
    otherwise all is drawn and planned anew.
    """
    same_picture = brief.plan is not None and brief.plan.scene == brief.scene
    kept = locks_of(brief.kept)
    if same_picture and brief.drawing is not None and (kept or brief.drawing.by_hand):
        desk = open_desk(brief, fetch)
        if kept:
            return _again(desk, brief, shelf, progress)
        return _on_drawing(desk.reference, desk.drawing, brief, shelf, progress)
    progress("Laying the picture on the sheet", 0.0)
    reference = lay(brief.scene, fetch, shelf.paper)
    owned = chosen_paints(shelf, brief.paints)
    limits = limits_of(brief.work)
    paints, limits, notes = with_favourites(owned, _favourites(shelf, owned), limits, shelf.paper)
    plan = make_plan(reference, paints, limits, shelf.paper, _part(progress), look=look)
    plan = _noted(plan, notes)
    return Desk(reference, drawing_of_plan(plan), plan, NO_LOCKS)


def _favourites(shelf: Shelf, owned: Sequence[Paint]) -> tuple[str, ...]:
    keys = {p.key for p in owned}
    return tuple(k for k in shelf.box.favourites if k in keys)


def _part(progress: Progress) -> Progress:
    return lambda step, done: progress(step, 0.03 + 0.9 * done)


def _noted(plan: Plan, notes: tuple[str, ...]) -> Plan:
    return plan.told_more(notes=(*notes, *plan.notes)) if notes else plan


def _again(desk: Desk, brief: Brief, shelf: Shelf, progress: Progress) -> Desk:
    """The same drawing planned again around what is locked."""
    owned = chosen_paints(shelf, brief.paints)
    before = desk.plan
    stays = [before.paints[i].key for i in sorted(held(before, desk.locks).paints)]
    limits = _on_same_drawing(limits_of(brief.work), before.limits)
    paints, limits, notes = with_favourites(
        owned, _favourites(shelf, owned), limits, shelf.paper, stays
    )
    plan = replan(before, desk.reference, limits, desk.locks, paints, _part(progress))
    return replace(desk, plan=_noted(plan, notes), locks=same_locks(desk.locks, before, plan))


def _on_same_drawing(asked: Limits, before: Limits) -> Limits:
    """The limits with the sizes of shapes that the drawing was made by."""
    return replace(
        asked,
        shapes=before.shapes,
        min_area_mm2=before.min_area_mm2,
        min_width_mm=before.min_width_mm,
    )


def _on_drawing(
    reference: Reference, drawing: Drawing, brief: Brief, shelf: Shelf, progress: Progress
) -> Desk:
    """Another plan for shapes that the painter drew."""
    owned = chosen_paints(shelf, brief.paints)
    limits = limits_of(brief.work)
    paints, limits, notes = with_favourites(owned, _favourites(shelf, owned), limits, shelf.paper)
    plan = plan_drawing(reference, drawing, paints, limits, shelf.paper, _part(progress))
    return Desk(reference, drawing, _noted(plan, notes), NO_LOCKS)


class _Ahead:
    """Tells on what is told, but never of less than was done before."""

    def __init__(self, progress: Progress) -> None:
        self._progress, self._done = progress, 0.0

    def __call__(self, step: str, done: float) -> None:
        self._done = max(self._done, done)
        self._progress(step, self._done)


# --- in a process of its own -----------------------------------------------------


class _Folder:
    """Files by key as the store keeps them, read; and new ones, written to the work's folder."""

    def __init__(self, kept: Path, new: Path) -> None:
        self.kept, self.new = kept, new

    def fetch(self, key: str) -> bytes:
        try:
            return (self.kept / key[:2] / key).read_bytes()
        except OSError:
            raise Missing("A file of this painting is missing; step back to before it.") from None

    def put(self, data: bytes) -> str:
        key = sha256(data).hexdigest()
        (self.new / key).write_bytes(data)
        return key


def plan_work(
    folder: Path, progress: Progress, *, brief: str, files: str, paints: str
) -> dict[str, Any]:
    """Plan a brief; the new files lie in `folder`/files under their keys.

    brief: its JSON; files: the store's folder of files; paints: the painter's list, a path or a
    set's name. Returns the brief as planned.
    """
    new = folder / "files"
    new.mkdir(exist_ok=True)
    asked, desk_files = read_brief(brief), _Folder(Path(files), new)

    ahead = _Ahead(progress)

    def look(plan: Plan) -> None:
        (folder / LOOK).write_bytes(stage_picture(plan, 1, WIDTH).data)
        ahead(LOOKED, 0.5)

    desk = plan_brief(asked, desk_files.fetch, shelf_of(paints), ahead, look)
    progress("Painting the stages", 0.93)
    told = planned(asked, desk, desk_files.put)
    print_stages(desk.plan, folder / "prints")
    return {"brief": told.model_dump_json()}


def judge_work(
    folder: Path, progress: Progress, *, brief: str, files: str, paints: str
) -> dict[str, Any]:
    """Judge an edited plan again: how near it comes, and what hands make of it."""
    new = folder / "files"
    new.mkdir(exist_ok=True)
    asked, desk_files = read_brief(brief), _Folder(Path(files), new)
    progress("Judging the plan", 0.1)
    shelf = shelf_of(paints)
    desk = judged(
        open_desk(asked, desk_files.fetch), chosen_paints(shelf, asked.paints), shelf.paper
    )
    return {"brief": with_plan(asked, desk, desk_files.put, judged=True).model_dump_json()}


def shelf_of(paints: str) -> Shelf:
    """The painter's list by its path, or the starter set before there is one."""
    return load_shelf(Path(paints) if Path(paints).is_file() else STARTER)
