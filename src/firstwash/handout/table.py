"""Rows for tables and JSON: a plan, a stack of glazes, a list of paints."""

from collections.abc import Sequence
from dataclasses import asdict, fields
from math import isfinite
from typing import Any

import numpy as np

from firstwash.arrays import FloatArray, IntArray
from firstwash.card.findings import certainties, to_repaint
from firstwash.card.outcome import Taught
from firstwash.errors import PaintError
from firstwash.handout.steps import board_words, consistency_words
from firstwash.handout.words import (
    area_words,
    change_words,
    colour_words,
    parts_words,
    washes_by_puddle,
)
from firstwash.language import tr
from firstwash.optics.observer import lab_to_srgb8, srgb_encode, xyz_to_linear_srgb
from firstwash.optics.surface import Paper
from firstwash.paints.box import Box, paint_of
from firstwash.paints.catalogue import Paint, default_paper, load_set, set_names
from firstwash.paints.doubt import doubt_of_stacks
from firstwash.paints.facts import PigmentFacts, facts
from firstwash.picture.values import value_step
from firstwash.plan.board.ranges import Range
from firstwash.plan.glaze import Coat, GlazeStage
from firstwash.plan.outlook import Expected
from firstwash.plan.result import Errors, Plan

__all__ = [
    "by_hand_name",
    "errors_words",
    "expected_words",
    "fact_rows",
    "glaze_rows",
    "hand_words",
    "handling_words",
    "learnt_rows",
    "note_words",
    "paint_rows",
    "plan_rows",
    "plan_summary",
    "set_rows",
]

_PUDDLE_HEAD = ("Puddle", "Parts at full strength", "Dries to value", "As runny as", "Covers")

Rows = list[tuple[str, ...]]
Block = tuple[str, tuple[str, ...], Rows]


def plan_rows(plan: Plan) -> list[Block]:
    """Tables of a plan for a terminal: (heading, columns, rows)."""
    return [
        _puddle_block(plan),
        *(_layer_block(plan, n) for n in range(1, plan.layers + 1)),
        _quality_block(plan),
    ]


def _puddle_block(plan: Plan) -> Block:
    rows: Rows = []
    for puddle in plan.puddles:
        low, high = puddle.value_steps
        rows.append(
            (
                puddle.name,
                parts_words(puddle, plan),
                f"{low}" if low == high else f"{low}-{high}",
                consistency_words(puddle),
                area_words(puddle.area_mm2),
            )
        )
    heading = f"Puddles: {len(plan.puddles)} from {len(plan.paints)} paints"
    return heading, _PUDDLE_HEAD, rows


def _layer_block(plan: Plan, number: int) -> Block:
    rows: Rows = []
    for puddle, group in washes_by_puddle(plan.washes_of(number)):
        steps = [w.value_step for w in group]
        biggest = max(group, key=lambda w: w.area_mm2)
        rows.append(
            (
                plan.puddles[puddle].name,
                str(len(group)),
                str(sum(w.areas for w in group)),
                f"{min(steps)}" if min(steps) == max(steps) else f"{min(steps)}-{max(steps)}",
                area_words(sum(w.area_mm2 for w in group)),
                change_words(biggest, plan),
            )
        )
    count = len(plan.washes_of(number))
    name = "First wash" if number == 1 else f"Layer {number}"
    return (
        f"{name}: {count} washes",
        ("Puddle", "Washes", "Areas", "Dries to value", "Covers", "Largest goes from"),
        rows,
    )


def errors_words(e: Errors) -> str:
    """Mean, median and 95th percentile, one digit each."""
    return f"{e.mean:.1f} / {e.median:.1f} / {e.p95:.1f}"


def expected_words(e: Expected) -> str:
    """What to expect, and what nine of ten painters lie between."""
    return f"{e.mean:.1f} ({e.low:.1f} to {e.high:.1f})"


def by_hand_name(plan: Plan) -> str:
    """The last rung's name: the same washes as hands lay them."""
    off = hand_words(plan.limits.hand)
    return f"the same, painted by hands off by {off} (nine of ten within)"


def hand_words(sigma: float) -> str:
    """How far a hand errs, σ of a logarithm: "20 %", or a factor where a share misleads."""
    return f"{sigma:.0%}" if sigma <= 0.3 else f"a factor of {np.exp(sigma):.1f}"


def _quality_block(plan: Plan) -> Block:
    rows: Rows = [
        (
            r.name,
            errors_words(r.against_photo),
            errors_words(r.against_target),
            "-" if r.puddles is None else str(r.puddles),
            "-" if r.washes is None else str(r.washes),
        )
        for r in plan.report.rungs
    ]
    if plan.report.by_hand is not None:
        rows.append((by_hand_name(plan), expected_words(plan.report.by_hand.whole), "", "", ""))
    time = board_words(plan)
    return (
        f"At the board {time}. How close it can come (CIEDE2000: mean / median / 95th percentile)",
        ("Painted with", "Against photo", "Against target", "Puddles", "Washes"),
        rows,
    )


def plan_summary(plan: Plan, notes: Sequence[str]) -> dict[str, Any]:
    """The same as plain data for another program."""
    last = plan.report.rungs[-1]
    return {
        "sheet_mm": [plan.sheet.width_mm, plan.sheet.height_mm],
        "paints": [p.key for p in plan.paints],
        "puddles": {
            p.name: {plan.paints[i].key: round(a, 4) for i, a in p.parts} for p in plan.puddles
        },
        "layers": [len(plan.washes_of(n)) for n in range(1, plan.layers + 1)],
        "washes": len(plan.washes),
        "touches": len(plan.touches),
        "minutes": [round(v, 1) if isfinite(v) else None for v in _ends(plan.schedule.minutes)],
        "areas": sum(w.areas for w in plan.washes),
        "reserve_share": round(plan.reserve_share(), 4),
        "ciede2000_against_photo": last.against_photo.__dict__,
        "ciede2000_against_target": last.against_target.__dict__,
        "ciede2000_by_hand": _by_hand(plan),
        "value_pattern": plan.report.agreement.value_pattern,
        "palette": None if plan.report.palette is None else asdict(plan.report.palette),
        "notes": [*notes, *plan.notes],
    }


def _by_hand(plan: Plan) -> dict[str, float] | None:
    found = plan.report.by_hand
    return None if found is None else {"hand": found.sigma, **found.whole.__dict__}


def _ends(span: Range) -> tuple[float, float, float]:
    return span.low, span.mid, span.high


def _hex(code: IntArray | FloatArray) -> str:
    return "#" + "".join(f"{int(v):02x}" for v in code)


def glaze_rows(stages: Sequence[GlazeStage]) -> list[dict[str, Any]]:
    """One row per stage of a stack, bare paper first."""
    rows = []
    for stage in stages:
        shown = np.rint(255 * srgb_encode(xyz_to_linear_srgb(stage.xyz_d65)))
        light, dark = (int(value_step(lab[0])) for lab in (stage.lighter, stage.darker))
        rows.append(
            {
                "coat": "bare paper" if stage.coat is None else str(stage.coat),
                "lab": [round(float(v), 2) for v in stage.lab],
                "srgb": _hex(shown),
                "lighter_srgb": _hex(lab_to_srgb8(stage.lighter)),
                "darker_srgb": _hex(lab_to_srgb8(stage.darker)),
                "lightness_90": [round(float(v), 1) for v in (stage.darker[0], stage.lighter[0])],
                "words": "paper" if stage.coat is None else colour_words(tuple(stage.lab)),
                "value_step": stage.value_step,
                "within_ciede2000_90": round(stage.doubt, 2),
                "range": f"value {light}" if light == dark else f"value {dark} to {light}",
                "paler_than_any_swatch": _paler(stage.coat),
            }
        )
    return rows


def _paler(coat: Coat | None) -> list[str]:
    """Keys of a coat's paints that are laid paler than any swatch behind their curves."""
    parts = () if coat is None else coat.parts
    return [
        p.key
        for p, share in parts
        if p.thinnest_measured is not None and share * p.full_coat < p.thinnest_measured
    ]


def handling_words(paint: Paint) -> str:
    """What matters under the brush: "stains, granulates"; empty where nothing is known."""
    h = paint.handling
    tests = (
        (h.staining is not None and h.staining >= 3, tr("stains")),
        (h.staining is not None and h.staining <= 1, tr("lifts")),
        (h.granulation is not None and h.granulation >= 2, tr("granulates")),
        (h.transparency is not None and h.transparency <= 1, tr("opaque")),
        (h.lightfast is not None and h.lightfast not in ("I", "II"), tr("fades")),
    )
    return ", ".join(word for holds, word in tests if holds)


def note_words(box: Box, paint: Paint) -> str:
    """What a painter's list says of a paint besides its name."""
    for one in box.paints:
        if paint_of(one).key == paint.key:
            marks = ("favourite" if one.favourite else "", "banned" if one.banned else "")
            told = (one.form, one.fill, *marks, one.note)
            return ", ".join(str(t) for t in told if t)
    return ""


def paint_rows(paints: Sequence[Paint], paper: Paper | None = None) -> list[dict[str, Any]]:
    """One row per paint, blank where nothing is known.

    within: CIEDE2000 that nine of ten coats of a quarter of full strength stay within, on paper.
    """
    quarter = 0.25 * np.diag([p.full_coat for p in paints])[:, None]
    found = doubt_of_stacks(paper or default_paper(), paints, quarter).differences()
    return [
        {
            "key": p.key,
            "name": p.name,
            "pigments": list(p.pigments),
            "provenance": p.provenance,
            "source": p.source,
            "note": p.note,
            "within": round(float(found[i]), 1),
            "handling": handling_words(p),
            "lightfast": p.handling.lightfast or "",
            "hazard": " ".join(
                v
                for v in (p.handling.hazard, p.handling.hazard_elements)
                if v and p.handling.hazard != "none"
            ),
        }
        for i, p in enumerate(paints)
    ]


def learnt_rows(taught: Taught) -> list[dict[str, Any]]:
    """One row per paint that a card taught: how unsure before and now, what to paint again."""
    again = to_repaint(taught)
    return [
        {
            "key": c.paint.key,
            "name": c.paint.name,
            "before": round(c.within[0], 1),
            "now": round(c.within[1], 1),
            "fit": c.paint.fit_error,
            "again": ", ".join(s.swatch.name for s in again if c.paint.key in s.amounts),
        }
        for c in certainties(taught)
    ]


def fact_rows(names: Sequence[str], every: bool = False) -> list[dict[str, Any]]:
    """Everything known of pigments, each value with its source; all pigments if none is named.

    every: a Colour Index name means every kind of that pigment.

    Raises PaintError for a name that is no pigment's.
    """
    if every:
        chosen = [f for f in facts() if f.pigment in names]
    else:
        chosen = [_facts_named(name) for name in names] if names else list(facts())
    return [
        {
            "key": one.key,
            "name": one.name,
            "facts": {
                f.name.replace("_", " "): {
                    "value": value,
                    "source": one.source_of(f.name) or "our own words",
                }
                for f in fields(one)
                if f.name not in ("key", "name", "pigment")
                and (value := getattr(one, f.name)) not in (None, "", ())
                and isinstance(value, str | int | float)
            },
        }
        for one in chosen
    ]


def _facts_named(word: str) -> PigmentFacts:
    """Facts of a kind of pigment by its key, its Colour Index name if only one kind has it, or
    its plain name.
    """
    plain = word.strip().casefold()
    found = [f for f in facts() if plain in (f.key.casefold(), f.name.casefold())]
    found = found or [f for f in facts() if plain == f.pigment.casefold()]
    if len(found) == 1:
        return found[0]
    keys = ", ".join(f.key for f in found)
    said = f"say which of {keys}" if found else "list them with: firstwash paints --facts"
    raise PaintError(f"No one kind of pigment is called “{word}”: {said}.")


def set_rows() -> list[tuple[str, ...]]:
    """Name and paints of every shipped set."""
    return [(name, ", ".join(p.key for p in load_set(name).paints)) for name in set_names()]
