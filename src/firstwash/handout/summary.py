"""The summary page of a plan: one HTML file that shows everything in the folder."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

import numpy as np

from firstwash.arrays import FloatArray
from firstwash.handout.cautions import CAUTIONS, caution_lines
from firstwash.handout.choices import greys, handling_notes, one_more, other_mixtures
from firstwash.handout.local_first import local_first_section
from firstwash.handout.markup import folded, table, whole
from firstwash.handout.reasons import reason_details, reason_words
from firstwash.handout.steps import (
    area_and_parts,
    board_words,
    consistency_words,
    dry_words,
    edges_words,
    hair_words,
    mix_words,
    reserve_words,
    run_words,
    technique_words,
    touch_words,
    wait_words,
)
from firstwash.handout.table import (
    by_hand_name,
    errors_words,
    expected_words,
    hand_words,
    handling_words,
)
from firstwash.handout.words import (
    area_words,
    change_words,
    palette_words,
    parts_words,
    unsure_words,
)
from firstwash.optics.observer import lab_to_srgb8
from firstwash.paints.catalogue import Paint
from firstwash.plan.bench import Bench
from firstwash.plan.board.order import Wait
from firstwash.plan.board.ranges import range_words
from firstwash.plan.one_more import PaintMore
from firstwash.plan.reasons import why
from firstwash.plan.result import Plan
from firstwash.plan.sureness import beyond_swatches, puddle_ranges
from firstwash.plan.wash import Puddle, Wash

__all__ = ["summary_page"]

UNKNOWN = "pigment not known"
STRIP = (1.0, 0.5, 0.25, 0.12, 0.06, 0.03, 0.015, 0.004, 0.0)  # strengths along a paint strip

STYLE = """
:root { --ink: #222; --paper: #fbfaf7; --grey: #777; --line: #c9c6bf; }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink);
  font: 1.125rem/1.5 "Atkinson Hyperlegible", "Atkinson Hyperlegible Next", Verdana, sans-serif;
  font-variant-numeric: tabular-nums; }
main { max-width: 62rem; margin: 0 auto; padding: 2rem 1.5rem 5rem; }
h1 { font-size: 2rem; line-height: 1.2; margin: 0 0 .5rem; }
h2 { font-size: 1.4rem; margin: 3rem 0 .75rem; padding-top: 1rem;
  border-top: 1px solid var(--line); }
p, li { max-width: 42rem; }
figure { margin: 1rem 0; padding: 1.25rem; background: #777; }
figure img { display: block; width: 100%; height: auto; }
figcaption { color: #fff; padding-top: .75rem; }
table { border-collapse: collapse; width: 100%; margin: .75rem 0; }
th, td { text-align: left; vertical-align: top; padding: .45rem .9rem .45rem 0;
  border-bottom: 1px solid var(--line); }
th { font-weight: 600; }
.scroll { overflow-x: auto; }
.strip { display: inline-block; width: 11rem; height: 1.9rem; border: .35rem solid #777; }
.small { font-size: 1rem; color: #444; }
.letter { font-weight: 700; font-size: 1.3rem; }
.swatch { display: inline-block; width: 3rem; height: 1.9rem; border: .35rem solid #777; }
.wait { font-weight: 600; }
h3 { font-size: 1.2rem; margin: 1.5rem 0 .5rem; }
.reasons { list-style: none; padding: 0; }
.reasons li { padding: .35rem 0; }
.whole { white-space: nowrap; }
details summary { cursor: pointer; padding: .5rem 0; min-height: 2.75rem; }
.caution { border-left: .35rem solid var(--ink); padding-left: 1rem; }
"""


KNOWN_BY = {
    "measured": "measurement",
    "estimated": "estimate",
    "calibrated": "your swatches",
}
MOST_OPEN = 40  # washes of a layer that are shown without asking


def _rgb(lab: FloatArray) -> str:
    r, g, b = (int(v) for v in lab_to_srgb8(lab))
    return f"#{r:02x}{g:02x}{b:02x}"


def _strip(labs: Sequence[FloatArray], label: str) -> str:
    stops = ", ".join(_rgb(lab) for lab in labs)
    return (
        f'<span class="strip" role="img" aria-label="{escape(label)}" '
        f'style="background: linear-gradient(to right, {stops})"></span>'
    )


def _paint_strip(paint: Paint, plan: Plan) -> str:
    bench = Bench.of([paint], plan.paper)
    labs = [bench.labs(np.array([[s * paint.full_coat]]))[1] for s in STRIP]
    return _strip(labs, f"{paint.name} from full strength to paper white")


def _puddle_strip(puddle: Puddle, plan: Plan) -> str:
    recipe = np.zeros(len(plan.paints))
    for paint, amount in puddle.parts:
        recipe[paint] = amount
    bench = Bench.of(plan.paints, plan.paper)
    top = puddle.strength_range[1]
    labs = [bench.labs((recipe * s * top)[None, :])[1] for s in STRIP]
    return _strip(labs, f"puddle {puddle.name} from its strongest use to paper white")


def _picture(file: str, caption: str, captioned: bool = False) -> str:
    """A picture; captioned: it carries its own words, so that none are written under it."""
    under = "" if captioned else f"<figcaption>{escape(caption)}</figcaption>"
    image = f'<img src="{escape(file)}" alt="{escape(caption)}" loading="lazy">'
    return f"<figure>{image}{under}</figure>"


def _paints(plan: Plan) -> str:
    rows = [
        [
            f"<strong>{escape(p.name)}</strong>"
            f'<br><span class="small">{escape(", ".join(p.pigments) or UNKNOWN)}</span>',
            _paint_strip(p, plan),
            escape(KNOWN_BY[p.provenance]),
            escape(handling_words(p)),
        ]
        for p in plan.paints
    ]
    heads = ("Paint", "Full strength to paper", "Colour known by", "Handling")
    return "<h2>Paints on the palette</h2>" + table(heads, rows) + _paler(plan)


def _paler(plan: Plan) -> str:
    """Which paints are laid paler than any swatch of them was seen."""
    told = []
    for p, least in beyond_swatches(plan).items():
        one = plan.paints[p]
        down, end = (_percent(a / one.full_coat) for a in (least, one.thinnest_measured or 0.0))
        told.append(f"{one.name} (down to {down} of full strength, swatches end at {end})")
    if not told:
        return ""
    return (
        f'<p class="small">Laid paler than any swatch: {escape("; ".join(told))}. There the colour '
        "is the model’s word alone.</p>"
    )


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 else f"{100 * share:.1g} %"


def _puddles(plan: Plan) -> str:
    if not plan.puddles:
        return "<h2>Puddles to mix</h2><p>None: the whole sheet stays bare paper.</p>"
    rows = []
    ranges = puddle_ranges(plan)
    for q, puddle in enumerate(plan.puddles):
        layers = sorted({w.layer for w in plan.washes if plan.puddles[w.puddle] is puddle})
        low, high = puddle.value_steps
        dries = f"{low}" if low == high else f"{low} to {high}"
        unsure = unsure_words(ranges[q, 0])
        rows.append(
            [
                f'<span class="letter">{puddle.name}</span>',
                _puddle_strip(puddle, plan),
                escape(parts_words(puddle, plan)),
                escape(consistency_words(puddle)),
                f'{whole(f"value {dries}")}<br><span class="small">{whole(unsure)}</span>',
                whole(", ".join(str(n) for n in layers)),
                whole(area_words(puddle.area_mm2)),
            ]
        )
    head = ("Puddle", "Strongest use to paper", "Parts", "As runny as", "Dries to", "Layers")
    return (
        "<h2>Puddles to mix</h2><p>Parts are told at each paint’s full strength, the left end of "
        "its strip above. More water makes the paler washes. The value step is what a test stroke "
        "shows when dry on this paper: 10 is paper white, 1 the darkest. Under it is what nine of "
        "ten test strokes of the strongest use should lie between, for all that is unsure about "
        "the paints; a swatch card narrows it. While it is wet a stroke looks darker.</p>"
        + table((*head, "Covers"), rows)
        + _amounts(plan)
    )


def _amounts(plan: Plan) -> str:
    """How much of each puddle to mix, by beads of tube paint or by brush-loads from pans."""
    rows = []
    for puddle in plan.puddles:
        names = [plan.paints[p].name for p, _ in puddle.parts]
        rows.append(
            [
                f'<span class="letter">{puddle.name}</span>',
                escape(mix_words(puddle.amount, names)),
                escape(mix_words(puddle.amount, names, pans=True)),
                escape(puddle.amount.consistency.test),
                f"{_swatch(puddle.wet)} {_swatch(puddle.swatch[0])}",
            ]
        )
    head = ("Puddle", "From tubes", "From pans, in brush-loads", "Thick enough when it")
    columns = (*head, "Wet, then dry (strongest)")
    return (
        "<details><summary>How much to mix, half as much again as the sheet should take</summary>"
        + table(columns, rows)
        + '<p class="small">A bead is what leaves the tube: a pinhead, a lentil (4 mm), a pea or a '
        "hazelnut. Amounts are habits put into numbers, not measurements. Wet colours follow from "
        "theory and are not validated.</p></details>"
    )


def _swatch(lab: FloatArray | tuple[float, float, float]) -> str:
    colour = _rgb(np.asarray(lab, dtype=np.float64))
    return f'<span class="swatch" style="background: {colour}" aria-hidden="true"></span>'


def _layer(plan: Plan, number: int, stage: str, mask: str) -> str:
    washes = plan.washes_of(number)
    heading = f"<h2>{escape(_layer_title(plan, number))}</h2>"
    if not washes:
        return f"{heading}<p>Nothing is left to paint in this layer.</p>"
    return (
        heading
        + _picture(stage, f"Predicted look of the sheet when layer {number} is dry")
        + f'<p>Where this layer goes: <a href="{escape(mask)}">its mask</a>, white where paint is '
        f"laid.{_layer_time(plan, number)}</p>"
        + _steps(plan, number)
        + _reasons(plan, number)
        + handling_notes(plan, number)
        + _by_hand(plan, number)
        + other_mixtures(plan, number)
    )


def _by_hand(plan: Plan, number: int) -> str:
    """Where to take the most care in a layer, and how every wash may come out."""
    found = plan.report.by_hand
    if found is None:
        return ""
    pairs = zip(plan.washes, found.washes, strict=True)
    own = [(w, o) for w, o in pairs if w.layer == number]
    worst = max(own, key=lambda pair: pair[1].dried.mean * pair[0].area_mm2)[0]
    rows = [
        [
            str(w.number),
            f'<span class="letter">{plan.puddles[w.puddle].name}</span>',
            whole(expected_words(o.dried)),
            whole(expected_words(o.end)),
        ]
        for w, o in own
    ]
    head = ("Wash", "Puddle", "Off from plan when dry", "Off from photo in the end")
    return (
        f"<p>Take most care with wash {worst.number} (puddle {plan.puddles[worst.puddle].name}): "
        f"a hand off by {hand_words(found.sigma)} shows most there. Try it on a strip first.</p>"
        "<details><summary>How every wash may come out by hand</summary>"
        f"<p>For {found.painters} imagined painters whose mixing and laying are off by about "
        f"{hand_words(found.sigma)}: the mean colour difference (CIEDE2000), and in brackets what "
        "nine of ten stay within.</p>" + table(head, rows) + "</details>"
    )


def _reasons(plan: Plan, number: int) -> str:
    """Why the first washes are what they are, in one sentence each, numbers on demand."""
    if number > 1 or not plan.washes_of(1):
        return ""
    rows = []
    for wash in plan.washes_of(1):
        if wash.kind == "graded wash":
            continue
        reason = why(plan, wash)
        rows.append(
            f"<li><strong>Wash {wash.number}.</strong> {escape(reason_words(reason, plan))}"
            f"<details><summary>The numbers</summary><p>{escape(reason_details(reason, plan))}</p>"
            "</details></li>"
        )
    told = f'<h3>Why these first</h3><ul class="reasons">{"".join(rows)}</ul>' if rows else ""
    return told + local_first_section(plan)


def _layer_title(plan: Plan, number: int) -> str:
    last = max((w.layer for w in plan.washes), default=0)
    if number == 1:
        return "First wash: the palest tints, under everything but the whites"
    if number == last:
        return f"Layer {number}: the last darks"
    return f"Layer {number}" + (": glazes, each over less of the sheet" if number < last else "")


def _layer_time(plan: Plan, number: int) -> str:
    painted = sorted({w.layer for w in plan.washes})
    time = plan.schedule.time.layers[painted.index(number)]
    told = (f"With mixing it takes {range_words(time.busy)}.", dry_words(time.drying))
    return escape("".join(f" {t}" for t in (*told, hair_words(plan, number)) if t))


def _steps(plan: Plan, number: int) -> str:
    """All washes of a layer in painting order, with what to wait for between them."""
    known = {w.number: w for w in plan.washes_of(number)}
    rows: list[Sequence[str]] = []
    for step in plan.schedule.steps[number - 1]:
        if isinstance(step, Wait):
            rows.append([f'<strong class="wait">{escape(wait_words(step))}</strong>'])
        else:
            if told := run_words(step):
                rows.append([escape(told)])
            rows += [_step_row(known[i], plan) for i in step.ids]
    head = ("Wash", "Puddle", "Dries to", "How", "Area", "Edges", "Goes from")
    steps = table(head, rows)
    if len(known) <= MOST_OPEN:
        return steps
    return folded(f"All {len(known)} washes, one by one", steps)


def _step_row(wash: Wash, plan: Plan) -> list[str]:
    return [
        str(wash.number),
        f'<span class="letter">{plan.puddles[wash.puddle].name}</span>',
        whole(f"value {wash.value_step}"),
        escape(technique_words(wash)),
        escape(area_and_parts(wash)),
        escape(edges_words(wash)),
        escape(change_words(wash, plan)),
    ]


def _touches(plan: Plan, finished: str, mask: str) -> str:
    if not plan.touches:
        return ""
    kept = "".join(f"<li>{escape(w)}</li>" for w in reserve_words(plan.touches))
    laid = "".join(f"<li>{escape(w)}</li>" for w in touch_words(plan))
    last = f"<p>To lay when everything is dry, with a pointed brush:</p><ul>{laid}</ul>"
    return (
        "<h2>Fine strokes</h2><p>What is finer than a wash. Lights cannot be added later, so they "
        f'are kept; darks are laid at the very end. <a href="{escape(mask)}">Where they go</a>: '
        "white is kept, black is laid last.</p>"
        + (f"<p>To keep:</p><ul>{kept}</ul>" if kept else "")
        + (last if laid else "")
        + _picture(finished, "The finished painting as predicted")
    )


def _quality(plan: Plan) -> str:
    rows = [
        [
            escape(r.name),
            errors_words(r.against_photo),
            errors_words(r.against_target),
            "–" if r.puddles is None else str(r.puddles),
            "–" if r.washes is None else str(r.washes),
        ]
        for r in plan.report.rungs
    ]
    if plan.report.by_hand is not None:
        expected = whole(expected_words(plan.report.by_hand.whole))
        rows.append([escape(by_hand_name(plan)), expected, "–", "–", "–"])
    return (
        "<h2>How close it can come</h2>"
        "<p>Colour difference (CIEDE2000, mean / median / 95th percentile) of the predicted "
        "painting at one pixel per millimetre. Each line has fewer freedoms than the one above. "
        "About 1 can just be seen side by side; 5 is a clear difference of the same colour. The "
        "last line is what to expect of a hand: the mean, and between what nine of ten painters "
        "end.</p>"
        + table(
            ("Painted with", "Against the photo", "Against the target", "Puddles", "Washes"), rows
        )
        + _quality_words(plan)
    )


def _quality_words(plan: Plan) -> str:
    report, found = plan.report, plan.report.agreement
    return (
        f"<p>Values agree in {found.value_pattern:.0%} of the area (five steps, against the "
        f"target). Of the picture's strong edges the painting keeps {found.edges_found:.0%}. "
        f"Darks below L* {report.darkened_from:.0f} ({report.lifted_share:.0%} of the picture) "
        f"are lifted to what these paints reach, L* {plan.tone.floor:.0f}. "
        f"{report.off_gamut_share:.0%} of the picture lies outside what the paints can mix. "
        f"The paints' own uncertainty may shift the result by {report.doubt:.1f} on average.</p>"
        + (f"<p>{escape(worth)}</p>" if (worth := palette_words(plan)) else "")
    )


def _cautions(plan: Plan) -> str:
    named = "".join(f"<li>{escape(line)}</li>" for line in caution_lines(plan.paints))
    return (
        f'<h2>Cautions</h2><div class="caution"><p>{CAUTIONS}</p>'
        + (f"<ul>{named}</ul>" if named else "")
        + "</div>"
    )


def summary_page(
    plan: Plan,
    files: Mapping[str, Any],
    title: str,
    notes: Sequence[str] = (),
    more: Sequence[PaintMore] | None = None,
) -> bytes:
    """The page as UTF-8 HTML.

    files: names of the pictures beside it; title: of the painting; notes: on the photo; more:
    paints not owned that would help, None if nobody asked.
    """
    listed = "".join(f"<li>{escape(n)}</li>" for n in (*notes, *plan.notes))
    layers = "".join(
        _layer(plan, n, files["stages"][n], files["masks"][n - 1])
        for n in range(1, plan.layers + 1)
    )
    body = (
        f"<h1>{escape(title)}</h1>"
        f"<p>{escape(str(plan.sheet))}. {plan.layers} layers, {len(plan.paints)} paints, "
        f"{len(plan.puddles)} puddles, {len(plan.washes)} washes and {len(plan.touches)} fine "
        f"strokes; {plan.reserve_share():.0%} of the sheet stays bare paper. At the board "
        f"{escape(board_words(plan))}, drying included.</p>"
        + _picture(
            files["comparison"],
            "Reference, target in flat cells, and predicted painting",
            captioned=True,
        )
        + f"<ul>{listed}</ul>"
        + _paints(plan)
        + _puddles(plan)
        + layers
        + _touches(plan, files["finished"], files["touches"])
        + greys(plan)
        + ("" if more is None else one_more(more))
        + _quality(plan)
        + _picture(
            files["difference"],
            "Where painting and photo differ: white not at all, black by 20 CIEDE2000 or more",
        )
        + _picture(
            files["given_up"],
            "What the tone map gives up: where the photo is darker or lighter than these paints "
            "and this paper can be, on the same scale",
        )
        + _cautions(plan)
    )
    page = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}: plan</title><style>{STYLE}</style></head>"
        f"<body><main>{body}</main></body></html>\n"
    )
    return page.encode("utf-8")
