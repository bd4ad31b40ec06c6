"""Step sheets: one layer, its pictures and map first, then puddles, washes, mistakes, drying."""

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from firstwash.errors import RequestError
from firstwash.handout.cautions import UNMASKING
from firstwash.handout.layer_map import wash_letters
from firstwash.handout.steps import (
    area_and_parts,
    dry_words,
    hair_words,
    reserve_words,
    run_words,
    soft_borders,
    technique_words,
    wait_words,
)
from firstwash.handout.words import area_words, change_words, washes_by_puddle
from firstwash.language import listed, mark, tr, tr_count
from firstwash.plan.board.hours import LayerTime
from firstwash.plan.board.order import Wait
from firstwash.plan.board.ranges import range_words
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash
from firstwash.sheets.drawn import Drawn
from firstwash.sheets.fine_strokes import fine_stroke_maps
from firstwash.sheets.map_key import map_key, map_words
from firstwash.sheets.mistakes import mistakes_of
from firstwash.sheets.pages import (
    NOTE_PT,
    Pages,
    beside,
    both,
    bullets,
    heading,
    joined,
    kept_whole,
    note,
    page_of,
    para,
    picture,
    soft,
    stacked,
    strong,
    table_of,
    upper,
)
from firstwash.sheets.puddle_rows import puddles_to_mix, span_words
from firstwash.sheets.told import layer_title, of_the_sheet

__all__ = ["edge_shares", "step_pages", "steps_pages"]

TABLE_PT: Final = 10.5
LEAST_EDGE_MM: Final = 3.0
AMOUNTS: Final = (
    (0.95, mark("all")), (0.8, mark("nearly all")), (0.5, mark("mostly")), (0.15, mark("some")),
    (0.05, mark("a little")), (0.0, ""),
)  # of a wash's border, from each share on  # fmt: skip
MOST_WASHES: Final = 40  # of a layer told one by one; more are gathered by puddle
MOST_NAMED: Final = 10  # washes told by their numbers
SCALES: Final = (1.0, 0.95, 0.9, 0.86)  # of the map, so that a first page holds its words


def steps_pages(plan: Plan, drawn: Drawn | None = None) -> Pages:
    """The step sheets of all layers, in order."""
    ready = drawn or Drawn(plan)
    return joined(step_pages(plan, n, ready) for n in range(1, plan.layers + 1))


def step_pages(plan: Plan, layer: int, drawn: Drawn | None = None) -> Pages:
    """The step sheet of one layer (1 …).

    drawn: the plan's pictures, if other sheets have them drawn too. Raises RequestError for a
    layer the plan has not.
    """
    if not 1 <= layer <= plan.layers:
        raise RequestError(f"This plan has {plan.layers} layers; ask for one of them.")
    ready = drawn or Drawn(plan)
    shown, files = _pictures(ready, layer)
    title = heading(1, layer_title(plan, layer))
    if not plan.washes_of(layer):
        nothing = para(tr("Nothing is left to paint in this layer."))
        return page_of([_first_page(f"{title}\n\n{nothing}", shown, "")], files)
    head = f"{title}\n\n{para(_opening(plan, layer))}"
    strokes, more = _strokes(ready, layer)
    parts = [
        _first_page(head, shown, _before(plan, layer)),
        puddles_to_mix(plan, layer),
        _washes(plan, layer),
        strokes,
        _mistakes(plan, layer),
    ]
    return page_of(parts, files | more)


def _time(plan: Plan, layer: int) -> LayerTime:
    painted = sorted({w.layer for w in plan.washes})
    return plan.schedule.time.layers[painted.index(layer)]


def _opening(plan: Plan, layer: int) -> str:
    return tr_count(
        "Layer {layer} of {layers}: {count} wash. With mixing it takes {time}.",
        "Layer {layer} of {layers}: {count} washes. With mixing it takes {time}.",
        len(plan.washes_of(layer)),
        layer=layer,
        layers=plan.layers,
        time=range_words(_time(plan, layer).busy),
    )


# --- pictures --------------------------------------------------------------------


def _first_page(head: str, shown: str, before: str) -> str:
    """Head, pictures and what comes before painting, the map made smaller if that saves a page.

    shown: markup in which `scale` is the map's.
    """
    scales = ", ".join(f"{scale:g}" for scale in SCALES)
    return (
        f"#let head = [{head}]\n#let shown(scale) = [{shown}]\n#let before = [{before}]\n"
        f"#let whole(scale) = [#head #shown(scale) #before]\n"
        "#layout(room => {\n"
        "let high(scale) = measure(width: room.width, whole(scale)).height\n"
        f"let fits = ({scales}).find(scale => high(scale) <= room.height)\n"
        "whole(if fits == none { 1.0 } else { fits })\n})\n"
    )


def _pictures(ready: Drawn, layer: int) -> tuple[str, dict[str, bytes]]:
    """The stages before and after and the map, as one block, with their files."""
    last = layer == ready.plan.layers and bool(ready.plan.touches)
    before = ready.outline() if layer == 1 else ready.stage(layer - 1)
    after = ready.stage(None if last else layer)
    name, svg, told = ready.layer_map(layer)
    bare = layer == 1
    found = (
        tr("Before: bare paper") if bare else tr("Before: layer {layer} is dry", layer=layer - 1)
    )
    done = tr("After: finished, with the fine strokes") if last else tr("After: this layer is dry")
    seen, left = _seen(ready, layer - 1), ready.stage_words(layer)
    stages = [
        picture(before[0], tr("The sheet before this layer, {seen}.", seen=seen), found),
        picture(after[0], tr("The sheet after this layer, {seen}.", seen=left), done),
    ]
    plain = f"{tr('Map of the washes of this layer.')} {told}"
    key, pieces = map_key(ready, layer)
    drawing = picture(name, plain, frame=False)
    told = f"#align(left)[{stacked([key, map_words(ready.map_of(layer))], '2mm')}]"
    return _laid_out(ready, stages, drawing, told), dict([before, after, (name, svg)]) | pieces


def _seen(ready: Drawn, stage: int) -> str:
    return ready.stage_words(stage) if stage else tr("bare paper with the outline of the shapes")


def _laid_out(ready: Drawn, stages: Sequence[str], drawing: str, told: str) -> str:
    """The stages and the map as the sheet's shape asks for, what is told of the map below it."""
    layout = ready.layout
    stage = f"{100 * layout.stage_share:.1f}%"
    whole = f"scale * {100 * layout.map_share:.1f}%"
    if layout.in_row:
        row = beside([*stages, drawing], f"{stage}, {stage}, {whole}", "8mm")
        return kept_whole(stacked([row, told], "1mm"))
    if layout.beside:
        row = both(stacked(stages, "5mm"), drawing, f"{stage}, {whole}", "1fr")
        return kept_whole(stacked([row, told], "1mm"))
    small = f"(2.5 * scale - 1.5) * {stage}"  # the stages give way first: letters must stay large
    row = beside(stages, f"{small}, {small}", "6mm")
    below = f"#block(width: {whole})[{drawing}]"
    # The map's own margins are room enough above and below it.
    return kept_whole(f"#align(center)[{stacked([row, below, told], '1mm')}]")


def _bare_share(plan: Plan, layer: int) -> float:
    """Share (0-1) of the sheet that is bare when a layer is dry."""
    areas = plan.cells.areas_mm2()
    bare = np.array([not any(c[0] <= layer for c in own) for own in plan.coats], dtype=np.bool_)
    return float(areas[bare].sum() / areas.sum())


# --- before ----------------------------------------------------------------------


def _before(plan: Plan, layer: int) -> str:
    kept = reserve_words([t for t in plan.touches if t.after == layer - 1])
    items = [_dry(layer), *(words for words in kept if words != tr(UNMASKING))]
    items += [_bare(plan, layer), _round(plan, layer), _wetted(plan, layer)]
    told = bullets([f"#{soft(item)}" for item in items if item])
    return f"{heading(2, tr('Before you begin'))}\n\n{told}"


def _dry(layer: int) -> str:
    if layer == 1:
        return tr("The outline is on the paper, and the paper is dry.")
    # A test that needs no instrument; common practice, no source.
    return tr(
        "Layer {layer} must be dry all through: to the back of the hand it feels no cooler than "
        "the table.",
        layer=layer - 1,
    )


def _bare(plan: Plan, layer: int) -> str:
    share = _bare_share(plan, layer)
    if share <= 0.0:
        return ""
    return tr("Leave bare what is hatched on the map, {share}.", share=of_the_sheet(share))


def _round(plan: Plan, layer: int) -> str:
    """What to do about fine strokes that this layer keeps free."""
    kept = [t.way for t in plan.touches if t.after is not None and t.after < layer]
    masked = sum(way == "masked" for way in kept)
    told = []
    if plain := len(kept) - masked:
        told.append(
            tr_count(
                "go round {count} fine light marked on the map",
                "go round {count} fine lights marked on the map",
                plain,
            )
        )
    if masked:
        told.append(
            tr_count(
                "{count} under masking fluid may be gone over",
                "{count} under masking fluid may be gone over",
                masked,
            )
        )
    return f"{upper('; '.join(told))}." if told else ""


def _wetted(plan: Plan, layer: int) -> str:
    """Which washes of a later layer want the paper wetted again first."""
    own = [w for w in plan.washes_of(layer) if w.technique == "wet-in-wet" and w.into is None]
    if not own:
        return ""
    if len(own) > MOST_NAMED:
        return tr("Wet the paper with clear water first for the washes told as wet-in-wet.")
    return tr_count(
        "Wet the paper with clear water first for wash {washes}.",
        "Wet the paper with clear water first for washes {washes}.",
        len(own),
        washes=listed([str(w.number) for w in own]),
    )


# --- washes ----------------------------------------------------------------------


def _washes(plan: Plan, layer: int) -> str:
    title = heading(2, tr("In this order"))
    washes = plan.washes_of(layer)
    told = _by_number(plan, layer) if len(washes) <= MOST_WASHES else _by_puddle(plan, layer)
    return f"{title}\n\n{told}\n\n{para(hair_words(plan, layer))}"


def _by_number(plan: Plan, layer: int) -> str:
    heads = (tr("Wash"), tr("Puddle"), tr("Test value"), tr("How"), tr("Area"), tr("Edges"))
    table = table_of(heads, "auto, auto, auto, 1.25fr, auto, 1fr", _wash_rows(plan, layer))
    return f"#[\n#set text({TABLE_PT}pt)\n{table}\n]"


def _wash_rows(plan: Plan, layer: int) -> Iterator[Sequence[str]]:
    known = {w.number: w for w in plan.washes_of(layer)}
    labels, borders = wash_letters(plan, layer), soft_borders(plan, layer)
    for step in plan.schedule.steps[layer - 1]:
        if isinstance(step, Wait):
            yield [strong(wait_words(step))]
            continue
        if told := run_words(step, borders):
            yield [f"#{soft(told)}"]
        for number in step.ids:
            yield _wash_row(plan, known[number], labels[number])
    yield [strong(_dries(plan, layer))]


def _wash_row(plan: Plan, wash: Wash, label: tuple[str, int]) -> list[str]:
    change = f" #linebreak() {note(change_words(wash, plan))}"
    return [
        f'#"{wash.number}"',
        _label(*label),
        f'#"{wash.value_step}"',
        f"#{soft(_laid(wash))}{change}",
        f"#{soft(area_and_parts(wash))}",
        f"#{soft(edge_shares(wash))}",
    ]


def _laid(wash: Wash) -> str:
    """How a wash is laid, short enough for a row."""
    if wash.technique == "dry-brush" and wash.into is None:
        return tr("Dry-brush, skimmed over the grain")
    return upper(technique_words(wash))


def edge_shares(wash: Wash) -> str:
    """Its edges in a few words, the most first: "Mostly hard, some lost, a little soft"."""
    whole = sum(wash.edges_mm)
    if whole < LEAST_EDGE_MM:
        return tr("No edge to mind")
    kinds = (tr("hard"), tr("soft"), tr("lost"))
    shares = sorted(zip((mm / whole for mm in wash.edges_mm), kinds, strict=True), reverse=True)
    first, *rest = [
        tr("{amount} {kind}", amount=tr(word), kind=kind)
        for share, kind in shares
        if (word := next(name for least, name in AMOUNTS if share >= least))
    ]
    return upper(", ".join((first, *rest)))


def _label(letter: str, index: int) -> str:
    """A wash's name as on the map: a capital with a small number."""
    return strong(letter) + (f'#text({NOTE_PT}pt, baseline: 1.5pt, "{index}")' if index else "")


def _by_puddle(plan: Plan, layer: int) -> str:
    """A layer of very many washes, gathered by puddle."""
    heads = [tr("Puddle"), tr("Washes"), tr("Value"), tr("Largest: how"), tr("Area"), tr("From")]
    rows = []
    for q, group in washes_by_puddle(plan.washes_of(layer)):
        biggest = max(group, key=lambda w: w.area_mm2)
        told = span_words([w.value_step for w in group])
        rows.append(
            [
                strong(plan.puddles[q].name),
                f'#"{len(group)}"',
                f"#{soft(told)}",
                f"#{soft(_how(biggest))}",
                f"#{soft(area_words(sum(w.area_mm2 for w in group)))}",
                f"#{soft(change_words(biggest, plan))}",
            ]
        )
    rows.append([strong(_dries(plan, layer))])
    many = para(
        tr_count(
            "{count} wash, gathered by puddle, the largest first. In each puddle go from the "
            "palest to the strongest.",
            "{count} washes, gathered by puddle, the largest first. In each puddle go from the "
            "palest to the strongest.",
            len(plan.washes_of(layer)),
        )
    )
    return f"{many}\n\n{table_of(heads, 'auto, auto, auto, 1.1fr, auto, 1fr', rows)}"


def _how(wash: Wash) -> str:
    """How a wash is laid, where washes have no numbers."""
    return upper(technique_words(wash)) if wash.into is None else tr("Dropped into a wet wash")


# --- mistakes and what comes after -----------------------------------------------


def _mistakes(plan: Plan, layer: int) -> str:
    items = [f"{strong(m.name + '.')} #{soft(m.advice)}" for m in mistakes_of(plan, layer)]
    return heading(2, tr("What goes wrong here")) + bullets(items) if items else ""


def _dries(plan: Plan, layer: int) -> str:
    """How long the whole layer takes to dry, or the sheet where nothing comes after."""
    time = _time(plan, layer)
    if layer < max(w.layer for w in plan.washes):
        return dry_words(time.drying) or tr("Then go on at once.")
    return tr("All of it is dry after {time}.", time=range_words(time.dry_after))


def _strokes(ready: Drawn, layer: int) -> tuple[str, dict[str, bytes]]:
    """The fine strokes, on the sheet of the last layer that is painted, with their maps."""
    plan = ready.plan
    if layer < max(w.layer for w in plan.washes):
        return "", {}
    masked = any(t.way == "masked" for t in plan.touches)
    off = para(tr(UNMASKING)) if masked else ""
    maps, files = fine_stroke_maps(ready)
    if not maps:
        return (kept_whole(heading(2, tr("Last of all")) + off) if off else ""), {}
    first = para(
        tr(
            "When all of it is dry, lay these with a pointed brush. Each map shows the strokes of "
            "one puddle."
        )
    )
    head = f"{heading(2, tr('The fine strokes, last of all'))}{off}{first}"
    return "\n".join([kept_whole(f"{head}\n\n{maps[0]}", "1.4em"), *maps[1:]]), files
