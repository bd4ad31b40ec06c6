"""Short words that captions, timetable and tables share."""

from collections.abc import Sequence

from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash

__all__ = ["counted", "layer_name", "letters_of", "listed", "painted_layers", "puddles_words"]

MOST_NAMED = 6  # puddles by their letters; more are counted


def listed(words: Sequence[str]) -> str:
    """Words in a row: "a", "a and b", "a, b and c"; "" for none."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def counted(count: int, what: str, more: str = "") -> str:
    """So many of a thing: "1 wash", "3 washes"; more: the word for several, if not with an s."""
    return f"{count} {what if count == 1 else more or f'{what}s'}"


def painted_layers(plan: Plan) -> tuple[int, ...]:
    """Numbers of the layers that have a wash, in order."""
    return tuple(sorted({w.layer for w in plan.washes}))


def layer_name(plan: Plan, number: int) -> str:
    """What painters call a layer: "The lay-in", "Glaze 2", "The last darks"."""
    if number == 1:
        return "The lay-in"
    return "The last darks" if number == painted_layers(plan)[-1] else f"Glaze {number - 1}"


def letters_of(plan: Plan, washes: Sequence[Wash]) -> tuple[str, ...]:
    """Letters of the puddles that washes take, each once, in the order they are first laid."""
    return tuple(dict.fromkeys(plan.puddles[w.puddle].name for w in washes))


def puddles_words(letters: Sequence[str]) -> str:
    """Puddles by letter, or counted where they are many: "puddles A and C", "9 puddles"."""
    if len(letters) > MOST_NAMED:
        return f"{len(letters)} puddles"
    return f"puddle{'s' * (len(letters) != 1)} {listed(letters)}"
