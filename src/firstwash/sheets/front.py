"""The first pages of a lesson's book: cover, the reference and its rights, values."""

from dataclasses import dataclass
from typing import Final

from firstwash.handout.pictures import cells_at, paint_stage
from firstwash.handout.steps import board_words
from firstwash.language import tr, tr_count
from firstwash.optics.observer import xyz_to_lab, xyz_to_linear_srgb
from firstwash.picture.extremes import extremes
from firstwash.picture.profile import encode_jpeg, encode_png, linear_to_srgb8
from firstwash.picture.reference import Reference, smaller
from firstwash.picture.sheet import format_length
from firstwash.picture.studies import in_value_steps, step_grey, step_names, whites
from firstwash.picture.value_pattern import value_pattern
from firstwash.plan.bench import Bench
from firstwash.plan.result import Plan
from firstwash.sheets.pages import (
    Pages,
    beside,
    heading,
    note,
    page_of,
    para,
    picture,
    stacked,
    upper,
)
from firstwash.sheets.typeset import lit

__all__ = ["Cover", "cover_page", "reference_page", "values_page"]

DPI: Final = 200  # of pictures on paper
LONGEST_MM: Final = 180.0  # of a picture on a cover
TIMES: Final = 2  # how many times finer cells are drawn, then averaged
QUALITY: Final = 90
SEEN_PX: Final = 900  # of a value study: half a page wide
STEPS: Final = 5
SQUINT: Final = 0.3
COVER_SHARE: Final = 0.62  # of the page's height that the picture may take


@dataclass(frozen=True)
class Cover:
    """What is told of a lesson and its photo; "" is left off.

    title, teacher, licence: the lesson's. author, source, permission: of the reference photo.
    """

    title: str
    teacher: str = ""
    licence: str = ""
    author: str = ""
    source: str = ""
    permission: str = ""


def cover_page(plan: Plan, cover: Cover) -> Pages:
    """The title page, with the painting as it is predicted to end."""
    width, height = _print_size(plan)
    index = cells_at(plan.cells, width * TIMES, height * TIMES)
    finished = encode_jpeg(paint_stage(plan, None, index, TIMES), quality=QUALITY)
    shown = (
        f"#align(center, block(height: {100 * COVER_SHARE:.0f}%)"
        f"[#image({lit('finished.jpg')}, height: 100%, width: 100%, fit: {lit('contain')}, "
        f"alt: {lit(tr('{title}: the finished painting as predicted', title=cover.title))})])"
    )
    told = [
        f"#v(6mm)#text(30pt, weight: 700, hyphenate: false, {lit(cover.title)})",
        para(_subtitle(plan)),
        shown,
        f"#text(14pt, {lit(cover.teacher)})" if cover.teacher else "",
        note(cover.licence) if cover.licence else "",
    ]
    return page_of(told, {"finished.jpg": finished})


def _subtitle(plan: Plan) -> str:
    sheet = plan.sheet
    return tr_count(
        "A transparent watercolour in {count} layer, {width} wide and {height} high; at the board "
        "{time}.",
        "A transparent watercolour in {count} layers, {width} wide and {height} high; at the board "
        "{time}.",
        plan.layers,
        width=format_length(sheet.width_mm),
        height=format_length(sheet.height_mm),
        time=board_words(plan),
    )


def _print_size(plan: Plan) -> tuple[int, int]:
    """Pixels across and down of a picture as wide or high as a page can show it."""
    wide, high = plan.sheet.width_mm, plan.sheet.height_mm
    scale = LONGEST_MM / max(wide, high) * DPI / 25.4
    return max(2, round(wide * scale)), max(2, round(high * scale))


def reference_page(plan: Plan, reference: Reference, cover: Cover) -> Pages:
    """The photo that is painted from, and what is known of the rights in it."""
    shown = encode_jpeg(linear_to_srgb8(xyz_to_linear_srgb(reference.xyz)), ppmm=reference.ppmm)
    told = [
        heading(1, tr("The reference")),
        picture("reference.jpg", tr("The photo that {title} is painted from", title=cover.title)),
        para(_rights(cover)),
        para(
            tr(
                "The sheet: {width} by {height}, {weight} g/m², {surface}. Colours on a screen or "
                "a home print are no match for paint; judge by your own test strokes.",
                width=format_length(plan.sheet.width_mm),
                height=format_length(plan.sheet.height_mm),
                weight=f"{plan.sheet.weight_gsm:.0f}",
                surface=tr(plan.sheet.surface),
            )
        ),
    ]
    return page_of(told, {"reference.jpg": shown})


def _rights(cover: Cover) -> str:
    author, source, permission = (
        words.rstrip(".") for words in (cover.author, cover.source, cover.permission)
    )
    told = [tr("Photo: {words}.", words=author)] if cover.author else []
    told += [tr("Source: {words}.", words=source)] if cover.source else []
    told += [tr("Used by: {words}.", words=permission)] if cover.permission else []
    if not cover.permission:
        told.append(tr("No permission to use this photo is stated: for your own practice only."))
    return " ".join(told)


def values_page(plan: Plan, reference: Reference) -> Pages:
    """Value studies, what stays bare, lightest lights and darkest darks."""
    xyz, ppmm = smaller(reference, SEEN_PX)
    lab = xyz_to_lab(xyz)
    lightness = lab[..., 0]
    pattern = value_pattern(lightness)
    paper = xyz_to_lab(Bench.of([], plan.paper).white_xyz())
    files = {
        "values.png": encode_png(in_value_steps(lightness, STEPS, SQUINT)),
        "masses.png": encode_png(pattern.picture()),
    }
    ends = extremes(lightness, ppmm, STEPS)
    studies = beside(
        (
            picture(
                "values.png",
                tr_count("The picture in {count} grey", "The picture in {count} greys", STEPS),
                tr_count("{count} value", "{count} values", STEPS),
            ),
            picture(
                "masses.png", tr("The picture's big masses in three greys"), tr("The big masses")
            ),
        ),
        "1fr, 1fr",
    )
    told = [
        heading(1, tr("Values first")),
        para(tr("Squint until only masses are left. A painting that keeps this pattern reads.")),
        studies,
        _scale(),
        para(f"{pattern.words} {upper(ends.words)}"),
        para(whites(lab, paper, ppmm).words),
    ]
    return page_of(told, files)


def _scale() -> str:
    """The value steps as a row of greys with their names."""
    cells = []
    for step, name in enumerate(step_names(STEPS), 1):
        r, g, b = step_grey(step, STEPS)
        patch = f"#block(width: 100%, height: 7mm, fill: rgb({r}, {g}, {b}))"
        words = f"{name.number}, {name.words}" if name.words else f"{name.number}"
        cells.append(f"[{stacked([patch, note(words)])}]")
    return f"#grid(columns: ({', '.join(['1fr'] * STEPS)}), column-gutter: 2mm, {', '.join(cells)})"
