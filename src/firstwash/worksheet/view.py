"""What the page shows of a plan: layers, washes and puddles in painter's words."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from firstwash.handout.layer_map import wash_letters
from firstwash.handout.steps import (
    board_words,
    consistency_words,
    dry_words,
    hair_words,
    reserve_words,
    run_words,
    technique_words,
    touch_words,
    wait_words,
)
from firstwash.handout.words import colour_words
from firstwash.language import tr
from firstwash.plan.board.order import Step, Wait
from firstwash.plan.board.ranges import range_words
from firstwash.plan.result import Plan
from firstwash.plan.wash import Puddle, Wash
from firstwash.worksheet.board_words import mix_told
from firstwash.worksheet.brief import Brief, PlanFile, Scene
from firstwash.worksheet.desk import Desk
from firstwash.worksheet.parts import Part, parts_of, recipe_words
from firstwash.worksheet.strips import mind_words, paint_strip, puddle_strip
from firstwash.worksheet.words import Units, area_told, edges_told, hex_of

__all__ = [
    "LayerView",
    "PaletteView",
    "PlanView",
    "PuddleView",
    "StepView",
    "WashView",
    "layer_inside",
    "layer_title",
    "plan_stamp",
    "plan_view",
    "scene_stamp",
]

DARK = 45.0  # L*, from which a layer is called after its darks; own judgement
STAMP = 16  # hex digits of a name for pictures; two of one painting never meet


def _stamp(*parts: str) -> str:
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:STAMP]


def scene_stamp(scene: Scene) -> str:
    """A name for the pictures of a scene: the same scene has the same."""
    return _stamp(scene.model_dump_json())


def plan_stamp(brief: Brief, plan: PlanFile) -> str:
    """A name for the pictures of a plan."""
    drawing = brief.drawing
    drawn = "" if drawing is None else drawing.labels + drawing.details
    return _stamp(plan.document, plan.cells, drawn)


@dataclass(frozen=True)
class WashView:
    """One wash. label: as on the map, the puddle's letter and a small number where the layer has
    it in several strengths. stroke: "#rrggbb" of its test stroke; seen: mean colour once dry.
    """

    layer: int
    number: int
    letter: str
    label: str
    step: int
    stroke: str
    seen: str
    seen_words: str
    before_words: str
    how: str
    where: str
    edges: str
    locked: bool
    cells: tuple[int, ...]
    strength: float


@dataclass(frozen=True)
class StepView:
    """A line of a layer: washes laid one after another, with words before them, or a wait."""

    kind: str
    words: str
    washes: tuple[int, ...]
    minutes: float


@dataclass(frozen=True)
class LayerView:
    """One layer: its title, what it is for, how long it takes, its lines and washes."""

    number: int
    title: str
    time: str
    dry: str
    hair: str
    steps: tuple[StepView, ...]
    washes: tuple[WashView, ...]
    locked: bool


@dataclass(frozen=True)
class PaletteView:
    """One paint on the palette. mind: harm and fading in a few words, "" for neither."""

    key: str
    name: str
    strip: tuple[str, ...]
    provenance: str
    mind: str
    locked: bool


@dataclass(frozen=True)
class PuddleView:
    """One puddle. strips: of its parts, each in its own colour; strip: of the mixture."""

    letter: str
    parts: tuple[Part, ...]
    words: str
    strip: tuple[str, ...]
    strips: tuple[tuple[str, ...], ...]
    runny: str
    tubes: str
    pans: str
    dries: str
    layers: tuple[int, ...]
    area: str
    wet: str
    dry: str
    locked: bool


@dataclass(frozen=True)
class PlanView:
    """A plan for the page. stamp: names its pictures. stale: made for something else than is
    asked now; judged: whether its quality was told after the last edit.
    """

    stamp: str
    stale: bool
    judged: bool
    width_mm: float
    height_mm: float
    cells: int
    shapes: int
    layers: tuple[LayerView, ...]
    puddles: tuple[PuddleView, ...]
    palette: tuple[PaletteView, ...]
    summary: str
    time: str
    bare: str
    keeps: tuple[str, ...]
    strokes: tuple[str, ...]
    notes: tuple[str, ...]
    quality: str
    numbers: tuple[tuple[str, str], ...]


def plan_view(brief: Brief, desk: Desk, units: Units) -> PlanView:
    """The brief's plan as the page shows it."""
    plan = desk.plan
    assert brief.plan is not None
    return PlanView(
        stamp=plan_stamp(brief, brief.plan),
        stale=brief.is_stale,
        judged=brief.plan.judged,
        width_mm=plan.sheet.width_mm,
        height_mm=plan.sheet.height_mm,
        cells=plan.cells.count,
        shapes=plan.cells.shapes,
        layers=tuple(_layer(desk, n, units) for n in range(1, plan.layers + 1)),
        puddles=tuple(_puddle(desk, q, units) for q in range(len(plan.puddles))),
        palette=tuple(_palette(desk)),
        summary=_summary(plan),
        time=board_words(plan),
        bare=f"{100 * plan.reserve_share():.0f} % of the sheet stays bare paper",
        keeps=tuple(reserve_words(plan.touches)),
        strokes=tuple(touch_words(plan)),
        notes=plan.notes,
        quality=quality_words(plan) if brief.plan.judged else "",
        numbers=_numbers(plan) if brief.plan.judged else (),
    )


def _summary(plan: Plan) -> str:
    return (
        f"{plan.layers} layers, {_count(len(plan.paints), 'paint')}, "
        f"{_count(len(plan.puddles), 'puddle')}, {_count(len(plan.washes), 'wash')}"
    )


def _count(n: int, word: str) -> str:
    ending = "" if n == 1 else ("es" if word.endswith("sh") else "s")
    return f"{n} {word}{ending}"


def _layer(desk: Desk, number: int, units: Units) -> LayerView:
    plan = desk.plan
    washes = plan.washes_of(number)
    time, dry = _times(plan, number)
    labels = {
        n: f"{letter}{index or ''}" for n, (letter, index) in wash_letters(plan, number).items()
    }
    return LayerView(
        number=number,
        title=layer_title(plan, number),
        time=time,
        dry=dry,
        hair=hair_words(plan, number) if washes else "",
        steps=tuple(_step(s) for s in plan.schedule.steps[number - 1]) if washes else (),
        washes=tuple(_wash(desk, w, labels[w.number], units) for w in washes),
        locked=number in desk.locks.layers,
    )


def layer_title(plan: Plan, number: int) -> str:
    """What painters call a layer."""
    if number == 1:
        return tr("The lay-in")
    return (
        tr("The last darks") if _is_last(plan, number) else tr("Glaze {number}", number=number - 1)
    )


def layer_inside(plan: Plan, number: int) -> str:
    """What painters call a layer, inside a sentence: "the lay-in"."""
    if number == 1:
        return tr("the lay-in")
    return (
        tr("the last darks") if _is_last(plan, number) else tr("glaze {number}", number=number - 1)
    )


def _is_last(plan: Plan, number: int) -> bool:
    """Whether a layer is the last one, and leaves darks."""
    if number != max((w.layer for w in plan.washes), default=0):
        return False
    return min(w.after[0] for w in plan.washes_of(number)) < DARK


def _times(plan: Plan, number: int) -> tuple[str, str]:
    painted = sorted({w.layer for w in plan.washes})
    if number not in painted:
        return "", ""
    time = plan.schedule.time.layers[painted.index(number)]
    return f"With mixing it takes {range_words(time.busy)}.", dry_words(time.drying)


def _step(step: Step) -> StepView:
    if isinstance(step, Wait):
        return StepView("wait", wait_words(step), step.until, step.minutes)
    return StepView("paint", run_words(step), step.ids, 0.0)


def _wash(desk: Desk, wash: Wash, label: str, units: Units) -> WashView:
    plan = desk.plan
    places = "" if wash.areas == 1 else f" in {wash.areas} places"
    return WashView(
        layer=wash.layer,
        number=wash.number,
        letter=plan.puddles[wash.puddle].name,
        label=label,
        step=wash.value_step,
        stroke=hex_of(wash.stroke),
        seen=hex_of(wash.after),
        seen_words=colour_words(wash.after),
        before_words=colour_words(wash.before),
        how=technique_words(wash),
        where=f"{area_told(wash.area_mm2, units)}{places}",
        edges=edges_told(wash, units),
        locked=(wash.layer, wash.number) in desk.locks.washes or wash.layer in desk.locks.layers,
        cells=wash.cells,
        strength=wash.strength,
    )


def _puddle(desk: Desk, q: int, units: Units) -> PuddleView:
    plan, puddle = desk.plan, desk.plan.puddles[q]
    names = [plan.paints[p].name for p, _ in puddle.parts]
    return PuddleView(
        letter=puddle.name,
        parts=parts_of(plan, q),
        words=recipe_words(parts_of(plan, q)),
        strip=puddle_strip(plan, q),
        strips=tuple(paint_strip(plan.paints[p], plan.paper) for p, _ in puddle.parts),
        runny=consistency_words(puddle),
        tubes=mix_told(puddle.amount, names, units),
        pans=mix_told(puddle.amount, names, units, pans=True),
        dries=_dries(puddle),
        layers=tuple(sorted({w.layer for w in plan.washes if w.puddle == q})),
        area=area_told(puddle.area_mm2, units),
        wet=hex_of(puddle.wet),
        dry=hex_of(puddle.swatch[0]),
        locked=puddle.name in desk.locks.puddles,
    )


def _dries(puddle: Puddle) -> str:
    low, high = puddle.value_steps
    return f"value {low}" if low == high else f"value {low} to {high}"


def _palette(desk: Desk) -> Sequence[PaletteView]:
    plan = desk.plan
    return [
        PaletteView(
            key=p.key,
            name=p.name,
            strip=paint_strip(p, plan.paper),
            provenance=p.provenance,
            mind=mind_words(p),
            locked=p.key in desk.locks.paints,
        )
        for p in plan.paints
    ]


# Mean CIEDE2000 of the predicted painting up to which it is called so; own judgement.
CLOSE, FAIR = 4.0, 6.5
SOME_LIFTED = 0.05  # share of the sheet whose darks the tone map lifts, worth a word


def quality_words(plan: Plan) -> str:
    """How near the plan comes to the photo, in a sentence."""
    mean, values = plan.report.against_photo.mean, plan.report.agreement.value_pattern
    near = (
        "comes close to the photo"
        if mean <= CLOSE
        else "comes fairly close to the photo"
        if mean <= FAIR
        else "keeps the picture, but not all of its colours"
    )
    held = f"The values agree in {100 * values:.0f} % of the sheet."
    lifted = ""
    if plan.report.lifted_share > SOME_LIFTED:
        lifted = " Its deepest darks are planned a little lighter, as dark as these paints go."
    return f"As planned the painting {near}. {held}{lifted}"


def _numbers(plan: Plan) -> tuple[tuple[str, str], ...]:
    report = plan.report
    rows = [
        (f"{r.name}, against the photo (CIEDE2000, mean / median / 95 %)",
         f"{r.against_photo.mean:.1f} / {r.against_photo.median:.1f} / {r.against_photo.p95:.1f}")
        for r in report.rungs
    ]  # fmt: skip
    if report.by_hand is not None:
        whole = report.by_hand.whole
        rows.append(
            (
                "by hand: mean, and nine of ten painters within",
                f"{whole.mean:.1f}, {whole.high:.1f}",
            )
        )
    rows.append(("doubt of the paints alone", f"{report.doubt:.1f}"))
    return tuple(rows)
