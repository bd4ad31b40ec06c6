"""A painting as the page shows it: its brief, its sheet, its photos, and its plan if any."""

import json
from dataclasses import dataclass
from typing import Final, cast

from firstwash.errors import FirstwashError, RequestError
from firstwash.picture.sheet import format_length
from firstwash.picture.upright import turned_size
from firstwash.store.paintings import Store
from firstwash.worksheet.brief import Brief, Scene
from firstwash.worksheet.laying import crop_of, sheet_of, turn_of
from firstwash.worksheet.studio import Looked, Studio
from firstwash.worksheet.view import PlanView, plan_view, scene_stamp
from firstwash.worksheet.words import Units

__all__ = [
    "PaintingView",
    "PhotoView",
    "Preferences",
    "keep_preferences",
    "painting_view",
    "preferences",
]

SETTING: Final = "preferences"


@dataclass(frozen=True)
class Preferences:
    """How the painter likes things told. units: "cm" or "in"; measure: "tubes" or "pans"."""

    units: str = "cm"
    measure: str = "tubes"

    def __post_init__(self) -> None:
        """Raises RequestError for words that mean nothing here."""
        if self.units not in ("cm", "in") or self.measure not in ("tubes", "pans"):
            raise RequestError("Sizes are told in cm or inches, paint from tubes or pans.")


def preferences(store: Store) -> Preferences:
    """The painter's preferences; what cannot be read is as if never said."""
    text = store.setting(SETTING)
    try:
        return Preferences(**json.loads(text)) if text else Preferences()
    except (TypeError, ValueError, FirstwashError):
        return Preferences()


def keep_preferences(store: Store, liked: Preferences) -> None:
    """Keep the painter's preferences."""
    store.keep_setting(SETTING, json.dumps({"units": liked.units, "measure": liked.measure}))


@dataclass(frozen=True)
class PhotoView:
    """One photo of the scene. width, height: set upright, pixels; crop: the part that fills the
    sheet, or is laid on it, as fractions of that.
    """

    name: str
    width: int
    height: int
    crop: tuple[float, float, float, float]


@dataclass(frozen=True)
class PaintingView:
    """Everything the page needs to show a painting."""

    id: str
    name: str
    revision: str
    can_step_back: bool
    can_step_forward: bool
    words: str
    brief: Brief
    scene: str
    sheet: str
    width_mm: float
    height_mm: float
    photos: tuple[PhotoView, ...]
    plan: PlanView | None
    problem: str
    liked: Preferences


def painting_view(studio: Studio, looked: Looked) -> PaintingView:
    """A painting to show. A plan that cannot be read is told as a problem, not refused."""
    brief, opened = looked.brief, looked.opened
    liked = preferences(studio.store)
    units = cast(Units, liked.units)
    sheet = sheet_of(brief.scene)
    plan, problem = None, ""
    if brief.plan is not None:
        try:
            plan = plan_view(brief, studio.desk(brief), units)
        except FirstwashError as error:
            problem = str(error)
    return PaintingView(
        id=looked.id,
        name=opened.painting.name,
        revision=looked.revision,
        can_step_back=opened.can_step_back,
        can_step_forward=opened.can_step_forward,
        words=opened.revision.words,
        brief=brief,
        scene=scene_stamp(brief.scene),
        sheet=f"{format_length(sheet.width_mm)} wide, {format_length(sheet.height_mm)} high",
        width_mm=sheet.width_mm,
        height_mm=sheet.height_mm,
        photos=_photos(brief.scene),
        plan=plan,
        problem=problem,
        liked=liked,
    )


def _photos(scene: Scene) -> tuple[PhotoView, ...]:
    sheet = sheet_of(scene)
    found = []
    for picture in scene.pictures:
        wide, high = turned_size(*picture.size, turn_of(picture))
        crop = picture.crop or (0.0, 0.0, 1.0, 1.0)
        if picture.place is None:
            box = crop_of(picture, sheet)
            crop = (box.x / wide, box.y / high, box.width / wide, box.height / high)
        found.append(PhotoView(picture.name, wide, high, crop))
    return tuple(found)
