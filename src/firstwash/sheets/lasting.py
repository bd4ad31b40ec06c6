"""How well paints last in the light, and what to mind with them."""

from collections.abc import Callable, Sequence
from typing import Final

from firstwash.handout.cautions import CAUTIONS, MASKING, UNMASKING, caution_lines
from firstwash.language import listed, tr, tr_count
from firstwash.paints.catalogue import Paint
from firstwash.plan.result import Plan
from firstwash.sheets.pages import bullets, heading, kept_whole, para, soft, upper

__all__ = ["cautions", "fading_words", "lasting"]


def lasting(used: Sequence[Paint]) -> str:
    """How well paints last, as markup: the lasting ones together, each other one alone."""
    by: dict[str, list[Paint]] = {}
    for paint in used:
        by.setdefault(paint.handling.lightfast or "", []).append(paint)
    items = [_lasts(words, by[c]) for c, words in LASTS.items() if c in by]
    if "" in by:
        told = tr(
            "{paints}: nothing published was found; hang a test stroke in a window with half of it "
            "covered, and look again after a month.",
            paints=listed([p.name for p in by[""]]),
        )
        items.append(upper(told))
    items += [
        upper(tr("{paint}: {note}.", paint=p.name, note=tr(p.handling.lightfast_note)))
        for p in used
        if p.handling.lightfast_note
    ]
    if not items:
        return ""
    shown = bullets([f"#{soft(item)}" for item in items])
    return kept_whole(f"{heading(2, tr('How well the colours last'))}\n\n{shown}")


def fading_words(paints: Sequence[Paint]) -> list[str]:
    """A sentence for each category of paints that do not last (III to V); [] for none."""
    return [
        _lasts(words, own)
        for category, words in LASTS.items()
        if category in WEAK and (own := [p for p in paints if p.handling.lightfast == category])
    ]


def _lasts(words: Callable[[int, str], str], paints: Sequence[Paint]) -> str:
    return upper(words(len(paints), listed([p.name for p in paints])))


def _very_well(count: int, paints: str) -> str:
    return tr_count(
        "{paints} keeps its colour very well (category I).",
        "{paints} keep their colour very well (category I).",
        count,
        paints=paints,
    )


def _well(count: int, paints: str) -> str:
    return tr_count(
        "{paints} keeps its colour well (category II).",
        "{paints} keep their colour well (category II).",
        count,
        paints=paints,
    )


def _in_time(count: int, paints: str) -> str:
    return tr_count(
        "{paints} fades in time (category III).",
        "{paints} fade in time (category III).",
        count,
        paints=paints,
    )


def _fades(count: int, paints: str) -> str:
    return tr_count(
        "{paints} fades (category IV).", "{paints} fade (category IV).", count, paints=paints
    )


def _fast(count: int, paints: str) -> str:
    return tr_count(
        "{paints} fades fast (category V).",
        "{paints} fade fast (category V).",
        count,
        paints=paints,
    )


# By category of [ASTMD4303].
LASTS: Final = {"I": _very_well, "II": _well, "III": _in_time, "IV": _fades, "V": _fast}
WEAK: Final = ("III", "IV", "V")


def cautions(plan: Plan, used: Sequence[Paint]) -> str:
    """What to mind with the paints used and the masking fluid of a plan, as markup."""
    items = [f"{upper(line)}." for line in caution_lines(used)]
    if any(t.way == "masked" for t in plan.touches):
        items += [tr(MASKING), tr(UNMASKING)]
    told = bullets([f"#{soft(item)}" for item in items])
    return kept_whole(f"{heading(2, tr('Cautions'))}\n\n{para(tr(CAUTIONS))}\n\n{told}")
