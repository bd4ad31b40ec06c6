"""A plan as the versioned document `plan.json`, enough to recompute every predicted stage.

The format is described in docs/reference/plan-json.md. Numbers are rounded to nine
significant digits, so the same plan always gives the same bytes.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any, Final

from firstwash.arrays import FloatArray
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.optics.observer import light
from firstwash.paints.catalogue import Handling, Paint
from firstwash.picture.edges import EDGE_KINDS, Edges
from firstwash.plan.board.order import Step, Wait
from firstwash.plan.board.ranges import Range
from firstwash.plan.locks import NO_LOCKS, Locks
from firstwash.plan.result import Plan
from firstwash.plan.schedule import Schedule
from firstwash.plan.sureness import cell_ranges, puddle_ranges
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Puddle, Wash

__all__ = ["FORMAT", "VERSION", "plan_document", "plan_json"]

FORMAT: Final = "firstwash-plan"
VERSION: Final = 1
DIGITS = 9
_HANDLING = [f.name for f in fields(Handling) if f.name != "sources"]


def plan_json(
    plan: Plan,
    files: Mapping[str, Any],
    photo: Mapping[str, Any],
    focal: Mapping[str, Any] | None = None,
    locks: Locks = NO_LOCKS,
) -> bytes:
    """The document as UTF-8 JSON.

    files: names of pictures; photo: what it was made from; focal: the area that matters most;
    locks: what was kept of the plan before, by its names in this one.
    """
    document = _rounded(plan_document(plan, files, photo, focal, locks))
    return (json.dumps(document, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def plan_document(
    plan: Plan,
    files: Mapping[str, Any],
    photo: Mapping[str, Any],
    focal: Mapping[str, Any] | None = None,
    locks: Locks = NO_LOCKS,
) -> dict[str, Any]:
    """The document as plain lists and dictionaries."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "photo": dict(photo),
        "files": dict(files),
        "sheet": _sheet(plan),
        "paper": _paper(plan),
        "light": {"name": "D65", "observer": "CIE 1931 2°", "weights": light("D65").weights},
        "wavelengths_nm": WAVELENGTHS_NM,
        "paints": [_paint(p) for p in plan.paints],
        "puddles": [
            _puddle(p, plan, own) for p, own in zip(plan.puddles, puddle_ranges(plan), strict=True)
        ],
        "layers": [_layer(plan, n, files) for n in range(1, plan.layers + 1)],
        "cells": _cells(plan),
        "tone": {"floor": plan.tone.floor, "ceiling": plan.tone.ceiling},
        "limits": asdict(plan.limits),
        "background": {"treatment": plan.background},
        "report": asdict(plan.report),
        "notes": list(plan.notes),
        "edges": _edges(plan.edges),
        "touches": [_touch(t, plan) for t in plan.touches],
        "schedule": _schedule(plan.schedule),
        "locks": _locks(locks),
        "focal": None if focal is None else dict(focal),
        # Later versions fill it; present so that readers can rely on it.
        "ground": None,
    }


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(k): _rounded(v) for k, v in value.items()}
    if hasattr(value, "tolist"):
        return _rounded(value.tolist())
    if isinstance(value, list | tuple):
        return [_rounded(v) for v in value]
    return float(f"{value:.{DIGITS}g}") if isinstance(value, float) else value


def _locks(locks: Locks) -> list[dict[str, Any]]:
    return [
        *({"kind": "layer", "name": n} for n in sorted(locks.layers)),
        *({"kind": "wash", "name": list(key)} for key in sorted(locks.washes)),
        *({"kind": "puddle", "name": n} for n in sorted(locks.puddles)),
        *({"kind": "paint", "name": n} for n in sorted(locks.paints)),
    ]


def _sheet(plan: Plan) -> dict[str, Any]:
    s = plan.sheet
    return {
        "name": s.name,
        "width_mm": s.width_mm,
        "height_mm": s.height_mm,
        "weight_gsm": s.weight_gsm,
        "surface": s.surface,
    }


def _paper(plan: Plan) -> dict[str, Any]:
    p = plan.paper
    return {
        "name": p.name,
        "reflectance": p.reflectance,
        "k1": p.k1,
        "k2": p.k2,
        "soak": p.soak,
        "fibre_scattering": p.fibre_scattering,
        "provenance": p.provenance,
    }


def _paint(paint: Paint) -> dict[str, Any]:
    return {
        "key": paint.key,
        "name": paint.name,
        "pigments": list(paint.pigments),
        "provenance": paint.provenance,
        "source": paint.source,
        "note": paint.note,
        "full_coat": paint.full_coat,
        "sigma": paint.sigma,
        "spread": paint.spread,
        "k": paint.k,
        "s": paint.s,
        "handling": {f: getattr(paint.handling, f) for f in _HANDLING},
    }


def _puddle(puddle: Puddle, plan: Plan, ranges: FloatArray) -> dict[str, Any]:
    return {
        "name": puddle.name,
        "parts": [{"paint": plan.paints[p].key, "amount": a} for p, a in puddle.parts],
        "strength_range": puddle.strength_range,
        "value_steps": puddle.value_steps,
        "area_mm2": puddle.area_mm2,
        "swatch_lab": puddle.swatch,
        "swatch_l_90": ranges.round(2),
        "wet_lab": puddle.wet,
        "amount": asdict(puddle.amount),
    }


def _layer(plan: Plan, number: int, files: Mapping[str, Any]) -> dict[str, Any]:
    masks = files.get("masks", [])
    return {
        "number": number,
        "mask": masks[number - 1] if masks else None,
        "washes": [_wash(w, plan) for w in plan.washes_of(number)],
    }


def _wash(wash: Wash, plan: Plan) -> dict[str, Any]:
    return {
        "number": wash.number,
        "kind": wash.kind,
        "puddle": plan.puddles[wash.puddle].name,
        "strength": wash.strength,
        "end_strength": wash.end_strength,
        "value_step": wash.value_step,
        "area_mm2": wash.area_mm2,
        "areas": wash.areas,
        "shapes": wash.shapes,
        "cells": wash.cells,
        "lab_before": wash.before,
        "lab_after": wash.after,
        "technique": wash.technique,
        "edges_mm": dict(zip(EDGE_KINDS, wash.edges_mm, strict=True)),
        "into": wash.into,
        "stroke_lab": wash.stroke,
    }


def _cells(plan: Plan) -> list[dict[str, Any]]:
    areas, ranges = plan.cells.areas_mm2(), cell_ranges(plan)
    return [
        {
            "shape": int(plan.cells.shape_of[i]),
            "level": int(plan.cells.level_of[i]),
            "roughness": plan.cells.roughness([i]),
            "area_mm2": areas[i],
            "photo_lab": plan.targets[i],
            "target_lab": plan.aims[i],
            "coats": [
                {"layer": layer, "puddle": plan.puddles[q].name, "strength": strength}
                for layer, q, strength in plan.coats[i]
            ],
            "stage_labs": plan.stage_labs[:, i],
            "doubt": plan.doubts[i],
            "l_90": ranges[i].round(2),
        }
        for i in range(plan.cells.count)
    ]


def _touch(touch: Touch, plan: Plan) -> dict[str, Any]:
    return {
        "points_mm": touch.stroke.points_mm,
        "half_widths_mm": touch.stroke.half_widths_mm,
        "form": touch.stroke.kind,
        "way": touch.way,
        "after": touch.after,
        "puddle": None if touch.puddle is None else plan.puddles[touch.puddle].name,
        "strength": touch.strength,
        "lab": touch.lab,
        "gain": touch.gain,
    }


def _schedule(schedule: Schedule) -> dict[str, Any]:
    parts = ("mixing", "painting", "pauses", "drying")
    return {
        "room": asdict(schedule.room),
        "hurried": schedule.hurried,
        "total_minutes": _range(schedule.minutes),
        "passes": [{p: _range(getattr(t, p)) for p in parts} for t in schedule.time.layers],
        "steps": [[_step(s) for s in steps] for steps in schedule.steps],
    }


def _range(span: Range) -> list[float | None]:
    """Low, middle and high; null for what never happens."""
    return [v if math.isfinite(v) else None for v in (span.low, span.mid, span.high)]


def _step(step: Step) -> dict[str, Any]:
    wait = isinstance(step, Wait)
    return {
        "action": "wait" if wait else "paint",
        "washes": list(step.until if isinstance(step, Wait) else step.ids),
        "minutes": step.minutes if isinstance(step, Wait) else None,
        "before": list(step.before) if isinstance(step, Wait) else [],
        "reason": step.reason.value,
    }


def _edges(edges: Edges) -> list[dict[str, Any]]:
    rows = zip(
        edges.cells.tolist(),
        edges.kind.tolist(),
        edges.length_mm.tolist(),
        edges.sigma_mm.tolist(),
        edges.contrast.tolist(),
        edges.centre_mm.tolist(),
        strict=True,
    )
    return [
        {
            "between": cells,
            "kind": EDGE_KINDS[kind],
            "length_mm": length,
            "softness_mm": sigma,
            "contrast": contrast,
            "at_mm": at,
        }
        for cells, kind, length, sigma, contrast, at in rows
    ]
