"""A painting as its painter asked for it: everything accepted so far, in one value.

A brief is what the store keeps of every accepted change, so stepping back is looking at an
earlier brief. It holds no pixels: photos, drawings and plans lie beside it under the key of
their contents. Numbers of places are fractions (0-1) of the picture or the sheet, across and
down from the upper left, unless a name says mm.
"""

from typing import Annotated, Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from firstwash.errors import RequestError

__all__ = [
    "Area",
    "Asked",
    "Background",
    "Brief",
    "DrawingFile",
    "Grid",
    "Kept",
    "Mark",
    "Picture",
    "Place",
    "PlanFile",
    "Scene",
    "SheetAsked",
    "Values",
    "Work",
    "read_brief",
    "said_wrong",
]

VERSION: Final = 1
MOST_POINTS: Final = 4000  # of one stroke
MOST_MARKS: Final = 400
MOST_PICTURES: Final = 8
LONGEST_WHERE: Final = 80  # letters of what is wrong, which may be a name somebody made up

Key = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Share = Annotated[float, Field(ge=0.0, le=1.0)]
Point = tuple[
    Annotated[float, Field(ge=-0.5, le=1.5)],  # a stroke may run over the edge of the picture
    Annotated[float, Field(ge=-0.5, le=1.5)],
]
Points = Annotated[tuple[Point, ...], Field(min_length=1, max_length=MOST_POINTS)]
Name = Annotated[str, Field(max_length=120)]
Side = Annotated[int, Field(ge=1, le=1_000_000)]  # pixels; no photo that is taken has as many


class Asked(BaseModel):
    """Base of all parts of a brief: frozen, and nothing unknown is let in."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    def but(self, **changes: object) -> Self:
        """The same with some fields other. Raises RequestError for what cannot be."""
        fields: dict[str, object] = {name: getattr(self, name) for name in type(self).model_fields}
        try:
            return type(self).model_validate({**fields, **changes})
        except ValidationError as error:
            raise RequestError(said_wrong(error)) from None


class Place(Asked):
    """Where a further picture lies on the sheet; its height follows from its proportions."""

    left: Annotated[float, Field(ge=-1.0, le=1.0)]
    top: Annotated[float, Field(ge=-1.0, le=1.0)]
    width: Annotated[float, Field(ge=0.02, le=2.0)]


class Picture(Asked):
    """One reference photo and what is done to it before it lies on the sheet.

    size: upright, pixels. Turned by quarter turns clockwise, then straightened by so many
    degrees, then mirrored; crop and neutral are told in the picture so turned. place: None for
    the one that fills the sheet.
    """

    file: Key
    name: Name = ""
    size: tuple[Side, Side]
    turns: Annotated[int, Field(ge=0, le=3)] = 0
    tilt: Annotated[float, Field(ge=-15.0, le=15.0)] = 0.0
    mirrored: bool = False
    neutral: tuple[Share, Share] | None = None
    crop: tuple[Share, Share, Share, Share] | None = None
    place: Place | None = None


class SheetAsked(Asked):
    """The sheet of paper as the painter would say it. lie: how it lies in front of the painter."""

    size: Annotated[str, Field(max_length=40)] = "28x38cm"
    lie: Literal["as the photo", "upright", "across"] = "as the photo"
    weight_gsm: Annotated[float, Field(ge=40.0, le=2000.0)] = 300.0
    surface: Literal["hot-pressed", "cold-pressed", "rough"] = "cold-pressed"


class Mark(Asked):
    """A stroke of the painter's finger on the sheet. width: fraction of the sheet's width."""

    kind: Literal["background", "subject"]
    points: Points
    width: Annotated[float, Field(gt=0.0, le=0.5)] = 0.03


class Background(Asked):
    """How the background is treated, and what the painter marked of it."""

    treatment: Literal["painted", "bare", "graded"] = "painted"
    marks: Annotated[tuple[Mark, ...], Field(max_length=MOST_MARKS)] = ()


class Area(Asked):
    """A part of the picture changed before it is planned. colour: wanted, "#rrggbb"."""

    kind: Literal["leave out", "lighten", "darken", "recolour"]
    outline: Annotated[tuple[Point, ...], Field(min_length=3, max_length=MOST_POINTS)]
    amount: Share = 0.5
    colour: Annotated[str, Field(pattern=r"^#[0-9a-fA-F]{6}$")] | None = None


class Scene(Asked):
    """The picture to paint: photos on a sheet, edited."""

    pictures: Annotated[tuple[Picture, ...], Field(min_length=1, max_length=MOST_PICTURES)]
    sheet: SheetAsked = SheetAsked()
    background: Background = Background()
    focal: tuple[Share, Share, Share, Share] | None = None
    areas: Annotated[tuple[Area, ...], Field(max_length=100)] = ()


class Work(Asked):
    """How much work the painter is ready for; see `firstwash.plan.problem.Limits`."""

    layers: Annotated[int, Field(ge=2, le=8)] = 4
    paints: Annotated[int, Field(ge=1, le=24)] = 6
    puddles: Annotated[int, Field(ge=1, le=60)] | None = 16
    washes: Annotated[int, Field(ge=2, le=400)] | None = 60
    hours: Annotated[float, Field(ge=0.25, le=500.0)] | None = 5.0
    shapes: Annotated[int, Field(ge=5, le=600)] = 150
    touches: Annotated[int, Field(ge=0, le=200)] = 40
    hand: Share = 0.2
    handling: Annotated[float, Field(ge=0.0, le=5.0)] = 1.0
    local_first: bool = True
    darkest_step: Annotated[int, Field(ge=1, le=10)] | None = None
    prefer: tuple[Name, ...] = ()
    ban: tuple[Name, ...] = ()
    min_area_mm2: Annotated[float, Field(ge=1.0, le=10_000.0)] = 25.0
    min_width_mm: Annotated[float, Field(ge=0.5, le=50.0)] = 2.0


class Values(Asked):
    """How the painter likes to see values: steps, numbered from light or dark, and squint."""

    steps: Annotated[int, Field(ge=2, le=10)] = 5
    first: Literal["light", "dark"] = "dark"
    squint: Share = 0.0


class Grid(Asked):
    """A drawing grid over the picture; across: squares from left to right, None for none."""

    across: Annotated[int, Field(ge=2, le=30)] | None = None
    diagonals: bool = False


class DrawingFile(Asked):
    """The shapes as they are drawn. labels: key of their map; details: reserves and edge marks."""

    labels: Key
    details: str = "{}"
    by_hand: bool = False


class PlanFile(Asked):
    """A finished plan and what it was made from.

    document: key of its plan.json; cells: of the map of its cells. judged: whether its report
    was made after the last edit.
    """

    document: Key
    cells: Key
    scene: Scene
    paints: tuple[Name, ...]
    work: Work
    judged: bool = True


class Kept(Asked):
    """What the painter locked, by names of the plan."""

    washes: tuple[tuple[int, int], ...] = ()
    puddles: tuple[Name, ...] = ()
    paints: tuple[Name, ...] = ()
    layers: tuple[int, ...] = ()


class Brief(Asked):
    """Everything accepted of one painting.

    paints: keys of those ticked; () for all on the painter's list. drawing, plan: None before
    the first plan.
    """

    version: Literal[1] = 1
    scene: Scene
    paints: tuple[Name, ...] = ()
    work: Work = Work()
    values: Values = Values()
    grid: Grid = Grid()
    drawing: DrawingFile | None = None
    plan: PlanFile | None = None
    kept: Kept = Kept()

    @property
    def files(self) -> frozenset[str]:
        """Keys of all files that the brief needs."""
        scenes = [self.scene] + ([] if self.plan is None else [self.plan.scene])
        keys = {p.file for scene in scenes for p in scene.pictures}
        if self.drawing is not None:
            keys.add(self.drawing.labels)
        if self.plan is not None:
            keys |= {self.plan.document, self.plan.cells}
        return frozenset(keys)

    @property
    def is_stale(self) -> bool:
        """Whether the plan, if any, was made for something else than is asked now."""
        plan = self.plan
        return plan is not None and (plan.scene, plan.paints, plan.work) != (
            self.scene,
            self.paints,
            self.work,
        )


def read_brief(text: str | bytes) -> Brief:
    """A brief from its JSON. Raises RequestError, one sentence, for anything else."""
    try:
        return Brief.model_validate_json(text)
    except ValidationError as error:
        raise RequestError(said_wrong(error)) from None


def said_wrong(error: ValidationError) -> str:
    """One sentence on the first thing that is wrong."""
    first = error.errors(include_url=False)[0]
    where = " ".join(str(part) for part in first["loc"])[:LONGEST_WHERE] or "request"
    return f"The {where} cannot be used: {first['msg'][0].lower()}{first['msg'][1:]}."
