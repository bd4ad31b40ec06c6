"""What a catalogue or a label says of a painting: title, size, paper, pigments, how they last."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

from firstwash.language import tr
from firstwash.paints.catalogue import Paint
from firstwash.picture.sheet import format_size
from firstwash.plan.result import Plan
from firstwash.typed_text import tidied

__all__ = ["Record", "catalogue_line", "lasting", "pigments", "used_paints"]

LONGEST: Final = 120
WORST_FIRST: Final = ("V", "IV", "III", "II", "I")  # categories of [ASTMD4303]


@dataclass(frozen=True)
class Record:
    """What the painter says of a painting; "" is left off. At most 120 characters each.

    title, painter, year; remark: such as "private collection".
    Raises RequestError, one sentence, for a text that is too long or not printable.
    """

    title: str = ""
    painter: str = ""
    year: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        """Check every text, and tidy white space."""
        for field in fields(self):
            plain = tidied(f"the {field.name}", str(getattr(self, field.name)), LONGEST)
            object.__setattr__(self, field.name, plain)


def used_paints(plan: Plan) -> tuple[Paint, ...]:
    """Paints that some wash or stroke takes, in the palette's order."""
    laid = {w.puddle for w in plan.washes} | {t.puddle for t in plan.touches}
    used = {p for q in laid if q is not None for p, _ in plan.puddles[q].parts}
    return tuple(plan.paints[p] for p in sorted(used))


def pigments(paints: Sequence[Paint]) -> tuple[str, ...]:
    """Colour Index names of the pigments, each once; a paint without one by its trade name."""
    told = [name for paint in paints for name in (paint.pigments or (paint.name,))]
    return tuple(dict.fromkeys(told))


def lasting(paints: Sequence[Paint]) -> str:
    """How well the painting lasts: as well as its weakest paint; what is not known is told."""
    known = {p.handling.lightfast for p in paints if p.handling.lightfast}
    unknown = [p.name for p in paints if not p.handling.lightfast]
    worst = next((c for c in WORST_FIRST if c in known), None)
    told = []
    if worst is not None:
        weak = [p.name for p in paints if p.handling.lightfast == worst]
        told.append(
            tr("Lightfastness category I throughout")
            if worst == "I"
            else tr(
                "Lightfastness category {category} or better, the least for {paints}",
                category=worst, paints=", ".join(weak),
            )
        )  # fmt: skip
    if unknown:
        told.append(tr("nothing published for {paints}", paints=", ".join(unknown)))
    return "; ".join(told)


def catalogue_line(plan: Plan, record: Record, sheet_mm: tuple[float, float] | None = None) -> str:
    """One line for a catalogue. sheet_mm: of the paper with its margin, if that is known.

    Pigments and paper are those of the plan: what was changed at the board must be changed here.
    """
    sheet = plan.sheet
    head = ", ".join(part for part in (record.painter, record.title, record.year) if part)
    paper = tr(
        "Transparent watercolour on {surface} paper, {weight} g/m²",
        surface=tr(sheet.surface), weight=f"{sheet.weight_gsm:.0f}",
    )  # fmt: skip
    size = tr("image {size}", size=format_size(sheet.width_mm, sheet.height_mm))
    if sheet_mm is not None:
        size += ", " + tr("sheet {size}", size=format_size(*sheet_mm))
    paints = used_paints(plan)
    own = tr("Pigments: {names}", names=", ".join(pigments(paints))) if paints else ""
    parts = [head, f"{paper}, {size}", own, lasting(paints), record.remark]
    return ". ".join(part.rstrip(".") for part in parts if part) + "."
