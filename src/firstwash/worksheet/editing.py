"""Changes of a finished plan that the painter makes by hand, each accepted as it is made."""

from collections.abc import Callable, Mapping

from firstwash.errors import RequestError
from firstwash.picture.drawing import Drawing
from firstwash.plan.edits import change_strength, recolour, replace_puddle
from firstwash.plan.from_drawing import keep_up
from firstwash.plan.locks import held
from firstwash.plan.result import Plan
from firstwash.worksheet.brief import Kept
from firstwash.worksheet.desk import Desk, locks_of, with_drawing, with_plan
from firstwash.worksheet.laying import lab_of_hex
from firstwash.worksheet.spot import cell_at
from firstwash.worksheet.studio import Looked, Studio

__all__ = ["kept_more", "recoloured", "redrawn", "strengthened", "swapped"]

WashKey = tuple[int, int]


def _edited(
    studio: Studio, painting: str, base: str, words: str, edit: Callable[[Desk], Desk]
) -> Looked:
    """One edit of the plan, accepted on the revision the painter saw."""
    looked = studio.at(painting, base)
    if looked.brief.plan is not None and looked.brief.plan.scene != looked.brief.scene:
        raise RequestError(
            "The picture was changed after this plan was made; plan again first, or step back."
        )
    desk = edit(studio.desk(looked.brief))
    brief = with_plan(looked.brief, desk, studio.store.files.put, judged=False)
    if desk.drawing is not studio.desk(looked.brief).drawing:
        brief = with_drawing(brief, desk.drawing, studio.store.files.put)
    studio.keep_at_hand(brief, desk)
    return studio.accept(looked, brief, words)


def _with(change: Callable[[Desk], Plan]) -> Callable[[Desk], Desk]:
    return lambda desk: desk.with_plan(change(desk))


def strengthened(
    studio: Studio, painting: str, base: str, wash: WashKey, strength: float, refit: bool
) -> Looked:
    """A wash laid stronger or weaker. Raises RequestError for what cannot be, or Overtaken."""
    words = f"Laid wash {wash[0]}.{wash[1]} stronger or weaker"
    return _edited(
        studio, painting, base, words,
        _with(lambda d: change_strength(d.plan, wash, strength, d.locks, refit)),
    )  # fmt: skip


def swapped(
    studio: Studio,
    painting: str,
    base: str,
    wash: WashKey,
    mixture: str | Mapping[str, float],
    strength: float | None,
) -> Looked:
    """A wash laid out of another puddle, and at another strength if one is given."""

    def change(desk: Desk) -> Plan:
        plan = replace_puddle(desk.plan, wash, mixture, desk.locks)
        if strength is None:
            return plan
        before = {w.cells for w in desk.plan.washes_of(wash[0]) if w.number == wash[1]}
        laid = [w for w in plan.washes_of(wash[0]) if w.cells in before]
        if not laid:  # it joined another wash, and is as strong as that
            return plan
        return change_strength(plan, (laid[0].layer, laid[0].number), strength, desk.locks)

    words = f"Laid wash {wash[0]}.{wash[1]} out of another puddle"
    return _edited(studio, painting, base, words, _with(change))


def recoloured(
    studio: Studio, painting: str, base: str, place: tuple[float, float], colour: str
) -> Looked:
    """Another colour for the shape at a place (mm)."""
    lab = lab_of_hex(colour)

    def change(desk: Desk) -> Plan:
        shape = int(desk.plan.cells.shape_of[cell_at(desk.plan, *place)])
        return recolour(desk.plan, shape, lab, locks=desk.locks).plan

    return _edited(studio, painting, base, "Gave a shape another colour", _with(change))


def kept_more(studio: Studio, painting: str, base: str, kept: Kept) -> Looked:
    """What is locked from now on. Raises RequestError for what the plan does not have."""
    looked = studio.at(painting, base)
    held(studio.desk(looked.brief).plan, locks_of(kept))
    words = _kept_words(looked.brief.kept, kept)
    return studio.accept(looked, looked.brief.but(kept=kept), words)


def _kept_words(before: Kept, after: Kept) -> str:
    """What changed between two lists of what is kept."""
    for name, one in (
        ("washes", "wash"),
        ("puddles", "puddle"),
        ("paints", "paint"),
        ("layers", "layer"),
    ):
        was, now = set(getattr(before, name)), set(getattr(after, name))
        for verb, found in (("Held", now - was), ("Let go of", was - now)):
            if found:
                told = [".".join(map(str, f)) if isinstance(f, tuple) else str(f) for f in found]
                return f"{verb} {one} {', '.join(sorted(told))}"
    return "Held what was held"


def redrawn(
    studio: Studio,
    painting: str,
    base: str,
    words: str,
    change: Callable[[Desk], Drawing],
) -> Looked:
    """Shapes drawn otherwise; the plan keeps up."""

    def edit(desk: Desk) -> Desk:
        drawing = change(desk)
        plan = keep_up(desk.plan, desk.reference, drawing, desk.locks)
        return desk.with_plan(plan, drawing)

    return _edited(studio, painting, base, words, edit)
