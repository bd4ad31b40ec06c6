"""Short words that captions, timetable and tables share."""

from collections.abc import Sequence

from firstwash.handout.words import puddles_words as named
from firstwash.language import tr_count
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash

__all__ = ["letters_of", "painted_layers", "puddles_words"]

MOST_NAMED = 6  # puddles by their letters; more are counted


def painted_layers(plan: Plan) -> tuple[int, ...]:
    """Numbers of the layers that have a wash, in order."""
    return tuple(sorted({w.layer for w in plan.washes}))


def letters_of(plan: Plan, washes: Sequence[Wash]) -> tuple[str, ...]:
    """Letters of the puddles that washes take, each once, in the order they are first laid."""
    return tuple(dict.fromkeys(plan.puddles[w.puddle].name for w in washes))


def puddles_words(letters: Sequence[str]) -> str:
    """Puddles by letter, or counted where they are many: "puddles A and C", "9 puddles"."""
    if len(letters) > MOST_NAMED:
        return tr_count("{count} puddle", "{count} puddles", len(letters))
    return named(letters)
