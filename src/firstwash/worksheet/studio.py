"""Everything the worksheet does with the kept paintings, whoever asks for it.

One studio has one store and the painter's list of paints. It reads plans back when they are
looked at and keeps the last few at hand; every change is checked here, worked out, written to
files and accepted by the store on top of the revision that the caller saw.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from firstwash.errors import Overtaken, RequestError
from firstwash.light.split import LightSplit, split_light
from firstwash.light.study import LightStudy, study_light
from firstwash.picture.load import photo_size
from firstwash.picture.reference import Reference, smaller
from firstwash.picture.sheet import Sheet
from firstwash.store.paintings import Store
from firstwash.store.records import Opened
from firstwash.worksheet.brief import Brief, Picture, Scene, SheetAsked, read_brief
from firstwash.worksheet.desk import Desk, open_desk
from firstwash.worksheet.laying import lay, sheet_of
from firstwash.worksheet.own_list import OwnList
from firstwash.worksheet.printed import Printed
from firstwash.worksheet.prints import thumbnail
from firstwash.worksheet.view import plan_stamp, scene_stamp

__all__ = ["Looked", "Studio"]

DESKS: Final = 2  # plans kept at hand; each takes some 80 MB
SCENES: Final = 2
SPLITS: Final = 2  # at 18 MB each
LIGHT_WIDTH: Final = 400  # pixels of the picture that the light is looked at on
TRIES: Final = 5


@dataclass(frozen=True)
class Looked:
    """A painting at a revision, with its brief read."""

    opened: Opened
    brief: Brief

    @property
    def id(self) -> str:
        """The painting's id."""
        return self.opened.painting.id

    @property
    def revision(self) -> str:
        """The revision looked at."""
        return self.opened.revision.id


class Studio:
    """The kept paintings and the paints, ready to be worked on. Safe from several threads."""

    def __init__(self, store: Store, paints: OwnList) -> None:
        """Use these; nothing is read yet."""
        self.store, self.paints = store, paints
        self.printed = Printed(store.folder / "prints")
        self._desks: OrderedDict[str, Desk] = OrderedDict()
        self._scenes: OrderedDict[str, Reference] = OrderedDict()
        self._splits: OrderedDict[str, LightSplit] = OrderedDict()
        self._lights: OrderedDict[str, LightStudy] = OrderedDict()
        self._lock = threading.Lock()
        self._busy: dict[str, threading.Lock] = {}

    # --- paintings ----------------------------------------------------------------

    def new(
        self, photo: bytes, name: str, file_name: str, sheet: SheetAsked | None = None
    ) -> Looked:
        """A new painting from a photo, already cleaned of where it was taken.

        Raises a FirstwashError for a photo that cannot be used.
        """
        picture = self.picture_of(photo, file_name)
        brief = Brief(scene=Scene(pictures=(picture,), sheet=sheet or SheetAsked()))
        sheet_of(brief.scene)
        small = self.store.files.put(thumbnail(self._laid(brief.scene)).data)
        opened = self.store.create(
            name, brief.model_dump_json(), brief.files, "Started from a photo", thumbnail=small
        )
        return Looked(opened, brief)

    def picture_of(self, photo: bytes, file_name: str) -> Picture:
        """A photo kept in the store, as a picture of a scene."""
        size = photo_size(photo)
        return Picture(file=self.store.files.put(photo), name=file_name[:120], size=size)

    def look(self, painting: str) -> Looked:
        """A painting as it is now. Raises Missing."""
        opened = self.store.get(painting)
        return Looked(opened, read_brief(opened.revision.state))

    def accept(
        self, looked: Looked, brief: Brief, words: str, kind: str = "change", small: bool = False
    ) -> Looked:
        """Keep a change made on what was looked at. Raises Overtaken if it is no longer the head.

        small: draw the small picture of the list of paintings again.
        """
        key = self.store.files.put(self._small(brief)) if small else None
        opened = self.store.accept(
            looked.id, looked.revision, brief.model_dump_json(), brief.files, words,
            kind=kind, thumbnail=key,
        )  # fmt: skip
        return Looked(opened, brief)

    def _small(self, brief: Brief) -> bytes:
        if brief.plan is not None:
            return thumbnail(self.desk(brief).plan).data
        return thumbnail(self._laid(brief.scene)).data

    def change(
        self, painting: str, base: str, words: str, change: Callable[[Brief], Brief]
    ) -> Looked:
        """One accepted change of a brief, checked by laying its scene out again if that changed."""
        looked = self.at(painting, base)
        brief = change(looked.brief)
        moved = brief.scene != looked.brief.scene
        if moved:
            self._laid(brief.scene)  # refuses what cannot be laid out before it is kept
        return self.accept(looked, brief, words, small=moved and brief.plan is None)

    def at(self, painting: str, base: str) -> Looked:
        """A painting whose head is `base`. Raises Overtaken with the head if it is another."""
        looked = self.look(painting)
        if looked.revision != base:
            raise Overtaken(
                "This painting was changed elsewhere meanwhile; look at it again first.",
                looked.revision,
            )
        return looked

    # --- pictures and plans at hand --------------------------------------------------

    def reference(self, scene: Scene) -> Reference:
        """A scene laid out on its sheet."""
        return self._laid(scene)

    def split(self, scene: Scene) -> LightSplit:
        """A scene as local colour and light; takes a second or two the first time."""
        stamp = scene_stamp(scene)
        with self._one_at_a_time("split " + stamp):
            with self._lock:
                found = self._splits.get(stamp)
                if found is not None:
                    self._splits.move_to_end(stamp)
                    return found
            made = split_light(self._laid(scene).xyz)
            _remember(self._lock, self._splits, stamp, made, SPLITS)
            return made

    def light(self, scene: Scene) -> LightStudy:
        """What the light does in a scene, looked at on a small picture of it."""
        stamp = scene_stamp(scene)
        with self._one_at_a_time("light " + stamp):
            with self._lock:
                found = self._lights.get(stamp)
                if found is not None:
                    self._lights.move_to_end(stamp)
                    return found
            xyz, ppmm = smaller(self._laid(scene), LIGHT_WIDTH)
            made = study_light(xyz, ppmm=ppmm, split=self.split(scene).smaller(*xyz.shape[:2]))
            _remember(self._lock, self._lights, stamp, made, SPLITS)
            return made

    def sheet(self, scene: Scene) -> Sheet:
        """The sheet of a scene, as it lies."""
        return sheet_of(scene)

    def _laid(self, scene: Scene) -> Reference:
        stamp = scene_stamp(scene)
        with self._one_at_a_time("scene " + stamp):
            with self._lock:
                found = self._scenes.get(stamp)
                if found is not None:
                    self._scenes.move_to_end(stamp)
                    return found
            made = lay(scene, self.store.files.get, self.paints.shelf().paper)
            _remember(self._lock, self._scenes, stamp, made, SCENES)
            return made

    def desk(self, brief: Brief) -> Desk:
        """The brief's plan, ready to be worked on. Raises RequestError if there is none."""
        if brief.plan is None:
            raise RequestError("There is no plan yet; plan the painting first.")
        stamp = plan_stamp(brief, brief.plan) + brief.kept.model_dump_json()
        with self._one_at_a_time("desk " + stamp):
            with self._lock:
                found = self._desks.get(stamp)
                if found is not None:
                    self._desks.move_to_end(stamp)
                    return found
            made = open_desk(brief, self.store.files.get)
            _remember(self._lock, self._desks, stamp, made, DESKS)
            return made

    def keep_at_hand(self, brief: Brief, desk: Desk) -> None:
        """A desk just edited, so that it need not be read back."""
        assert brief.plan is not None
        stamp = plan_stamp(brief, brief.plan) + brief.kept.model_dump_json()
        _remember(self._lock, self._desks, stamp, desk, DESKS)

    def forget(self) -> None:
        """Let go of plans and pictures at hand, to give memory back."""
        with self._lock:
            self._desks.clear()
            self._scenes.clear()
            self._splits.clear()
            self._lights.clear()

    def _one_at_a_time(self, what: str) -> threading.Lock:
        with self._lock:
            if len(self._busy) > 200:
                self._busy = {k: v for k, v in self._busy.items() if v.locked()}
            return self._busy.setdefault(what, threading.Lock())

    # --- finished work ----------------------------------------------------------------

    def adopt(self, asked: Looked, result: dict[str, Any], folder: Path, words: str) -> Looked:
        """Keep what a long work made: its new files, and the plan on top of the brief as it is
        now, so that nothing the painter changed meanwhile is lost.

        asked: what the work was begun on. Raises Overtaken if the plan was changed by hand since.
        """
        for path in sorted((folder / "files").iterdir()):
            self.store.files.adopt(path)
        made = read_brief(result["brief"])
        if made.plan is not None and (folder / "prints").is_dir():
            self.printed.take(plan_stamp(made, made.plan), folder / "prints")
        for _ in range(TRIES):  # the painter may well change something while this is being kept
            with suppress(Overtaken):
                return self._adopted(asked, made, words)
        return self._adopted(asked, made, words)

    def _adopted(self, asked: Looked, made: Brief, words: str) -> Looked:
        looked = self.look(asked.id)
        if _by_hand(looked.brief) != _by_hand(asked.brief):
            raise Overtaken(
                "The plan was changed by hand meanwhile, and stays as it is now; begin again to "
                "go on from there.",
                looked.revision,
            )
        brief = looked.brief.but(plan=made.plan, drawing=made.drawing, kept=made.kept)
        return self.accept(looked, brief, words, kind="plan", small=True)

    def files_folder(self) -> Path:
        """The folder of kept files, for a process that only reads them."""
        return self.store.folder / "files"


def _by_hand(brief: Brief) -> tuple[object, ...]:
    """All of a plan that the painter may have changed."""
    return brief.plan, brief.drawing, brief.kept


def _remember(
    lock: threading.Lock, at_hand: "OrderedDict[str, Any]", stamp: str, made: Any, most: int
) -> None:
    with lock:
        at_hand[stamp] = made
        at_hand.move_to_end(stamp)
        while len(at_hand) > most:
            at_hand.popitem(last=False)
