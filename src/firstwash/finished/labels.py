"""Labels of a painting to cut out: a small one for the wall, a whole one for the back."""

from typing import Final

from firstwash.finished.record import Record, lasting, pigments, used_paints
from firstwash.language import tr
from firstwash.picture.sheet import format_size
from firstwash.plan.result import Plan
from firstwash.sheets.pages import Pages, note, page_of, para, soft, strong

__all__ = ["BACK_MM", "WALL_MM", "label_page"]

WALL_MM: Final = (90.0, 50.0)
BACK_MM: Final = (148.0, 105.0)  # A6 across [ISO216]
INSET_MM: Final = 6.0
SIZES_PT: Final = (11.0, 10.0, 9.0, 8.0, 7.0, 6.0, 5.0, 4.0)
CUT: Final = "0.4pt + luma(62%)"


def label_page(plan: Plan, record: Record, sheet_mm: tuple[float, float] | None) -> Pages:
    """A page with both labels at their true size, to be cut along the lines."""
    told = [
        note(tr("Print at 100 % and cut along the lines.")),
        _label(WALL_MM, _wall(plan, record)),
        _label(BACK_MM, _back(plan, record, sheet_mm)),
    ]
    page = page_of(told)
    return Pages(f"#set page(footer: none)\n{page.source}", page.files)


def _label(size: tuple[float, float], lines: list[str]) -> str:
    """A box of that size in mm; what it holds is set as large as goes in, and never cut."""
    wide, high = (side - 2 * INSET_MM for side in size)
    inner = "\n\n".join(line for line in lines if line)
    return (
        f"#block(width: {size[0]:g}mm, height: {size[1]:g}mm, stroke: {CUT}, "
        f"inset: {INSET_MM:g}mm, breakable: false)[#context {{\nlet told = [{inner}]\n"
        f"let laid(size) = block(width: {wide:g}mm, text(size, told))\n"
        f"let fits(size) = measure(laid(size)).height <= {high:g}mm\n"
        f"let sizes = ({', '.join(f'{size:g}pt' for size in SIZES_PT)})\n"
        "let most = sizes.find(fits)\n"
        "text(if most == none { sizes.last() } else { most }, told)\n}]"
    )


def _wall(plan: Plan, record: Record) -> list[str]:
    sheet = plan.sheet
    return [
        _line(record.painter, "1.1em"),
        f"#text(1.2em)[{strong(_titled(record))}]",
        para(tr("Watercolour, {size}", size=format_size(sheet.width_mm, sheet.height_mm))),
    ]


def _titled(record: Record) -> str:
    title = record.title or tr("Untitled")
    return f"{title}, {record.year}" if record.year else title


def _line(text: str, size: str) -> str:
    return f"#text({size}, {soft(text)})" if text else ""


def _back(plan: Plan, record: Record, sheet_mm: tuple[float, float] | None) -> list[str]:
    sheet, paints = plan.sheet, used_paints(plan)
    image = tr("Image {size}", size=format_size(sheet.width_mm, sheet.height_mm))
    paper = tr(
        "{surface} watercolour paper, {weight} g/m²",
        surface=tr(sheet.surface), weight=f"{sheet.weight_gsm:.0f}",
    )  # fmt: skip
    whole = [image]
    if sheet_mm is not None:
        whole.append(tr("sheet {size}", size=format_size(*sheet_mm)))
    whole.append(paper)
    return [
        f"#text(1.3em)[{strong(_titled(record))}]",
        _line(record.painter, "1.1em"),
        para(f"{', '.join(whole)}."),
        para(tr("Pigments: {names}.", names=", ".join(pigments(paints)))) if paints else "",
        para(f"{lasting(paints)}.") if paints else "",
        # Common practice, no source.
        para(tr("Keep behind glass, out of the sun and the damp.")),
        para(record.remark),
    ]
