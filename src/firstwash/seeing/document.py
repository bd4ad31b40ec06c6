"""A study as a versioned document: `study.json`, told in docs/reference/study-json.md."""

from typing import Any

from firstwash.advice.first_washes import FirstWash, FirstWashAdvice
from firstwash.advice.first_words import strip_hex, verdict_words, wash_words
from firstwash.seeing.light_words import light_words
from firstwash.seeing.study import Area, Study

__all__ = ["FORMAT", "VERSION", "study_document"]

FORMAT, VERSION = "firstwash study", 1
DIGITS = 4


def study_document(study: Study) -> dict[str, Any]:
    """The study in numbers and words, ready for JSON; numbers to four digits."""
    found = {
        "format": FORMAT,
        "version": VERSION,
        "values": [
            {
                "number": s.name.number,
                "name": s.name.words,
                "lightness": s.lightness,
                "munsell_value": s.munsell,
                "share": s.share,
            }
            for s in study.steps
        ],
        "pattern": {
            "words": study.pattern.words,
            "names": study.pattern.names,
            "lightness": study.pattern.lightness,
            "shares": study.pattern.shares,
            "masses": [
                {"tone": m.tone, "share": m.share, "at": (m.x, m.y)} for m in study.pattern.masses
            ],
        },
        "lost_edges": {"words": study.lost.words, "share": study.lost.share},
        "extremes": {
            "words": study.extremes.words,
            "places": [
                {
                    "kind": e.kind,
                    "at_mm": (e.x_mm, e.y_mm),
                    "area_mm2": e.area_mm2,
                    "lightness": e.lightness,
                }
                for e in (*study.extremes.lights, *study.extremes.darks)
            ],
        },
        "whites": {"words": study.whites.words, "share": study.whites.share},
        "reach": {
            "words": study.reach.words,
            "paper": study.reach.paper,
            "floor": study.reach.floor,
            "lightest": study.reach.lightest,
            "darkest": study.reach.darkest,
            "too_dark": study.reach.too_dark,
            "too_strong": study.reach.too_strong,
            "changed": study.reach.changed,
            "painted": study.reach.painted(),
        },
        "light": {
            "words": light_words(study.light).sentences,
            "numbers": dict(light_words(study.light).numbers),
        },
        "areas": [_area(n, a) for n, a in enumerate(study.areas, 1)],
    }
    rounded: dict[str, Any] = _rounded(found)
    return rounded


def _area(number: int, area: Area) -> dict[str, Any]:
    return {
        "number": number,
        "place": area.place,
        "share": area.share,
        "seen_lab": area.seen,
        "local_lab": area.local,
        "sure": area.sure,
        "light": None
        if area.light is None
        else {"words": area.light.words, "numbers": dict(area.light.numbers)},
        "verdict": verdict_words(area.advice),
        "first_washes": [_wash(w, area.advice) for w in area.advice.washes],
    }


def _wash(wash: FirstWash, advice: FirstWashAdvice) -> dict[str, Any]:
    judged = wash.judged
    return {
        "words": wash_words(wash, advice),
        "origins": judged.origins,
        "lab": judged.lab,
        "paints": {p.key: amount / p.full_coat for p, amount in judged.parts},
        "strength": judged.strength,
        "either": wash.either,
        "behind": wash.behind,
        "error": judged.error,
        "by_hand": judged.by_hand,
        "room": {"spent": judged.room.spent, "left": judged.room.left},
        "keeps": [c.rule.name for c in wash.kept],
        "breaks": [c.rule.name for c in wash.broken],
        "stages": strip_hex(judged.strip),
    }


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _rounded(v) for k, v in value.items()}
    if hasattr(value, "tolist"):
        return _rounded(value.tolist())
    if isinstance(value, list | tuple):
        return [_rounded(v) for v in value]
    return float(f"{value:.{DIGITS}g}") if isinstance(value, float) else value
