"""Paper, brushes and what else stands on the table, for one painter or for a class."""

from collections.abc import Sequence
from math import ceil
from typing import Final

from firstwash.language import tr, tr_count
from firstwash.plan.result import Plan
from firstwash.sheets.brushes import Brushes, Span, brushes_for
from firstwash.sheets.pages import bullets, heading, kept_whole, para, soft, table_of

__all__ = ["brushes_needed", "kit_needed", "paper_needed", "wells_needed"]

# All of these: common practice, no source.
SPARE_EACH: Final = 6  # students for whom one spare sheet is kept
STRIPS_EACH: Final = 4  # students who share a sheet cut into test strips
WELLS: Final = 15  # of a palette plate


def paper_needed(plan: Plan, students: int) -> str:
    """Sheets to paint on and to try on, with a heading, as markup."""
    sheet = plan.sheet
    spare, strips = ceil(students / SPARE_EACH), ceil(students / STRIPS_EACH)
    items = [
        tr_count(
            "Watercolour paper, {surface}, {weight} g/m², for a picture of {sheet}: {count} sheet "
            "and {spare} spare.",
            "Watercolour paper, {surface}, {weight} g/m², for a picture of {sheet}: {count} sheets "
            "and {spare} spare.",
            students,
            surface=tr(sheet.surface),
            weight=f"{sheet.weight_gsm:g}",
            sheet=sheet,
            spare=spare,
        ),
        tr_count(
            "{count} more sheet of the same paper, cut into strips: test strokes on another paper "
            "dry to another colour.",
            "{count} more sheets of the same paper, cut into strips: test strokes on another paper "
            "dry to another colour.",
            strips,
        ),
        # Common practice, no source.
        tr("Cut them three centimetres larger each way: the tape needs a margin that stays bare."),
    ]
    return kept_whole(heading(2, tr("Paper")) + bullets([f"#{soft(item)}" for item in items]))


def brushes_needed(plan: Plan) -> str:
    """Brushes that fit the passages of a plan, as markup; "" where nothing is painted."""
    found = brushes_for(plan)
    if found is None:
        return ""
    told = bullets([f"#{soft(item)}" for item in _brush_items(*found)])
    span = found[1]
    narrow, wide = f"{span.narrow:.0f}", f"{span.wide:.0f}"
    if narrow == wide:
        width = f"{wide} mm"
    else:
        width = tr("{narrow} mm, the narrowest, to {wide} mm", narrow=narrow, wide=wide)
    first = para(
        tr(
            "The passages of this plan are {width} wide. A brush about a third as wide has room to "
            "turn. Numbers on handles differ; go by the width of the mark.",
            width=width,
        )
    )
    return kept_whole(f"{heading(2, tr('Brushes'))}\n\n{first}\n\n{told}")


def _brush_items(brushes: Brushes, span: Span) -> list[str]:
    items = [_round_words(i, brushes.rounds) for i in range(len(brushes.rounds))]
    if brushes.flat is not None:
        items.append(
            tr(
                "A flat, {flat} mm wide, for passages up to {wide} mm.",
                flat=f"{brushes.flat:g}",
                wide=f"{span.wide:.0f}",
            )
        )
    if brushes.pointed is not None:
        width = f"{brushes.pointed:.1f}"
        items.append(
            tr("A long pointed brush for the fine strokes, up to {width} mm wide.", width=width)
        )
    return items


def _round_words(place: int, rounds: Sequence[float]) -> str:
    """One of the round brushes, from the smallest to the largest."""
    mark = f"{rounds[place]:g}"
    if len(rounds) > 1 and place == 0:
        return tr("A small round with a good point, mark {mark} mm wide.", mark=mark)
    if len(rounds) > 1 and place == len(rounds) - 1:
        return tr("A large round with a good point, mark {mark} mm wide.", mark=mark)
    return tr("A medium round with a good point, mark {mark} mm wide.", mark=mark)


def kit_needed(plan: Plan, students: int) -> str:
    """What else stands on the table, for one painter or for a class, as markup."""
    items = _kit_items(plan)
    if students == 1:
        rows = [[f"#{soft(what)}", f"#{soft(str(each))}"] for what, each, _ in items]
        told = table_of((tr("On the table"), tr("Number")), "1fr, 24mm", rows)
        return kept_whole(f"{heading(2, tr('Kit'))}\n\n{told}")
    rows = [_kit_row(*item, students) for item in items]
    heads = (tr("On the table"), tr("Each"), tr("For {students}", students=students))
    told = table_of(heads, "1fr, 34mm, 24mm", rows)
    title = tr_count("Kit for {count} student", "Kit for {count} students", students)
    return kept_whole(f"{heading(2, title)}\n\n{told}")


def _kit_row(what: str, each: int, share: int, students: int) -> list[str]:
    needed = ceil(each * students / share)
    one = str(each) if share == 1 else tr("1 for {share}", share=share)
    return [f"#{soft(what)}", f"#{soft(one)}", f"#{soft(str(needed))}"]


def wells_needed(plan: Plan) -> int:
    """Puddles that stand mixed at one time, at most: each from its first layer to its last use."""
    used: dict[int, list[int]] = {}
    for wash in plan.washes:
        used.setdefault(wash.puddle, []).append(wash.layer)
    for touch in plan.touches:
        if touch.puddle is not None:
            used.setdefault(touch.puddle, []).append(plan.layers + 1)
    stages = range(1, plan.layers + 2)
    return max(1, *(sum(min(own) <= n <= max(own) for own in used.values()) for n in stages))


def _kit_items(plan: Plan) -> list[tuple[str, int, int]]:
    """What else stands on a table: its name, how many, and how many painters share one."""
    wells = wells_needed(plan)
    plates = tr_count(
        "Palette plate of {wells} wells, for the {count} puddle mixed at a time",
        "Palette plates of {wells} wells, for the {count} puddles mixed at a time",
        wells,
        wells=WELLS,
    )
    items = [
        (plates, ceil(wells / WELLS), 1),
        (tr("Water pots, one to rinse and one kept clean"), 2, 1),
        (tr("Dropper, for the drops of water"), 1, 1),
        (tr("Board, a little larger than the sheet"), 1, 1),
        (tr("Paper tape, a roll, to hold the sheet flat"), 1, 6),
        (tr("Soft pencil and kneaded eraser, one of each"), 1, 1),
        (tr("Rag or kitchen paper, to blot the brush"), 1, 1),
    ]
    if any(w.technique in ("wet-in-wet", "graded") for w in plan.washes):
        items.append((tr("Spray bottle or large soft brush, for clear water"), 1, 3))
    if any(t.way == "masked" for t in plan.touches):
        items.append((tr("Masking fluid, and an old brush for nothing else"), 1, 3))
    return items
