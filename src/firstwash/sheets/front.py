"""The first pages of a lesson's book: cover, the reference and its rights, values."""

from dataclasses import dataclass
from typing import Final

from firstwash.arrays import FloatArray
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
    both,
    heading,
    kept_whole,
    note,
    page_of,
    para,
    picture,
    soft,
    stacked,
    upper,
)
from firstwash.sheets.typeset import lit

__all__ = [
    "Cover", "cover_page", "outline_page", "reference_page", "reference_picture", "rights_words",
    "values_page", "white_words",
]  # fmt: skip

DPI: Final = 200  # of pictures on paper
LONGEST_MM: Final = 180.0  # of a picture on a cover
TIMES: Final = 2  # how many times finer cells are drawn, then averaged
QUALITY: Final = 90
SEEN_PX: Final = 900  # of a value study: half a page wide
STEPS: Final = 5  # of the study; print counts in ten everywhere, so each stands for two
SQUINT: Final = 0.3
LONG_TITLE: Final = 60  # letters, from which it is set smaller
TEXT_MM: Final = 174.0  # width of the text on the narrower of the two pages
PHOTO_MM: Final = 165.0  # height of the photo at most, so that its rights stand below it
TALL_MM: Final = 205.0  # the same with its rights beside it
BESIDE: Final = 0.55  # share of the text's width up to which there is room beside the photo
STUDIES_MM: Final = 150.0  # height of the two value studies together, at most


@dataclass(frozen=True)
class Cover:
    """What is told of a lesson and its photo; "" is left off.

    title, teacher, licence: the lesson's. author, source, permission: of the reference photo.
    in_class: one sentence on how long a class takes.
    """

    title: str
    teacher: str = ""
    licence: str = ""
    author: str = ""
    source: str = ""
    permission: str = ""
    in_class: str = ""


def cover_page(plan: Plan, cover: Cover) -> Pages:
    """The title page, with the painting as it is predicted to end."""
    width, height = _print_size(plan)
    index = cells_at(plan.cells, width * TIMES, height * TIMES)
    finished = encode_jpeg(paint_stage(plan, None, index, TIMES), quality=QUALITY)
    size = 30 if len(cover.title) < LONG_TITLE else 24
    top = stacked(
        (
            f"#text({size}pt, weight: 700, hyphenate: false, {soft(cover.title)})",
            para(_subtitle(plan)),
            para(_how_long(plan, cover)),
        ),
        "5mm",
    )
    # Whatever the words take, the picture has the rest of the page.
    shown = (
        f"#align(center + horizon, image({lit('finished.jpg')}, height: 100%, width: 100%, "
        f"fit: {lit('contain')}, alt: {lit(_finished(cover))}))"
    )
    below = stacked(
        (
            f"#text(14pt, {soft(cover.teacher)})" if cover.teacher else "",
            note(cover.licence) if cover.licence else "",
        ),
        "4mm",
    )
    rows = f"rows: (auto, 1fr, auto), row-gutter: 8mm, [{top}], [{shown}], [{below}]"
    return Pages(
        f"#page(footer: none)[#v(6mm)#block(height: 100% - 10mm)[#grid({rows})]]\n",
        {"finished.jpg": finished},
    )


def _finished(cover: Cover) -> str:
    return tr("{title}: the finished painting as predicted", title=cover.title)


def _subtitle(plan: Plan) -> str:
    sheet = plan.sheet
    return tr_count(
        "A transparent watercolour in {count} layer, {width} wide and {height} high.",
        "A transparent watercolour in {count} layers, {width} wide and {height} high.",
        plan.layers,
        width=format_length(sheet.width_mm),
        height=format_length(sheet.height_mm),
    )


def _how_long(plan: Plan, cover: Cover) -> str:
    """What it takes one painter, and a class."""
    alone = tr("One painter at the board, drying and all: {time}.", time=board_words(plan))
    return f"{alone} {cover.in_class}".rstrip()


def _print_size(plan: Plan) -> tuple[int, int]:
    """Pixels across and down of a picture as wide or high as a page can show it."""
    wide, high = plan.sheet.width_mm, plan.sheet.height_mm
    scale = LONGEST_MM / max(wide, high) * DPI / 25.4
    return max(2, round(wide * scale)), max(2, round(high * scale))


def reference_page(plan: Plan, reference: Reference, cover: Cover) -> Pages:
    """The photo that is painted from, and what is known of the rights in it."""
    name, shown = reference_picture(reference)
    words = [
        para(rights_words(cover)),
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
    sheet = plan.sheet
    share = min(1.0, PHOTO_MM / TEXT_MM * sheet.width_mm / sheet.height_mm)
    tall = min(BESIDE, TALL_MM / TEXT_MM * sheet.width_mm / sheet.height_mm)
    alt = tr("The photo that {title} is painted from", title=cover.title)
    if share > BESIDE:
        photo = picture(name, alt, width=f"{100 * share:.1f}%")
        told = [heading(1, tr("The reference")), photo, *words]
    else:
        photo = picture(name, alt)
        beside_it = both(photo, "\n\n".join(words), f"{100 * tall:.1f}%, 1fr", "6mm")
        told = [heading(1, tr("The reference")), beside_it]
    return page_of(told, {name: shown})


def outline_page(outline: tuple[str, bytes], shape: float) -> Pages:
    """The drawing as large as a page shows it, to compare with; shape: its width over its height.

    outline: name and SVG of it.
    """
    name, svg = outline
    share = min(1.0, PHOTO_MM / TEXT_MM * shape)
    told = [
        heading(1, tr("The outline")),
        para(
            tr(
                "The shapes that the washes follow. Trace them from the outline at true size, or "
                "draw them by eye and compare."
            )
        ),
        picture(name, tr("The outline of the shapes on bare paper"), width=f"{100 * share:.1f}%"),
    ]
    return page_of(told, {name: svg})


def reference_picture(reference: Reference) -> tuple[str, bytes]:
    """Name and JPEG of the photo as it lies on the sheet."""
    shown = linear_to_srgb8(xyz_to_linear_srgb(reference.xyz))
    return "reference.jpg", encode_jpeg(shown, ppmm=reference.ppmm)


def rights_words(cover: Cover) -> str:
    """Whose the photo is and what may be done with it, in sentences."""
    author, source, permission = (
        words.rstrip(".") for words in (cover.author, cover.source, cover.permission)
    )
    told = [tr("Photo: {words}.", words=author)] if cover.author else []
    told += [tr("Source: {words}.", words=source)] if cover.source else []
    told += [tr("Permission: {words}.", words=permission)] if cover.permission else []
    if not cover.permission:
        told.append(tr("No permission to use this photo is stated: for your own practice only."))
    return " ".join(told)


def values_page(plan: Plan, reference: Reference) -> Pages:
    """Value studies, what stays bare, lightest lights and darkest darks."""
    xyz, ppmm = smaller(reference, SEEN_PX)
    lab = xyz_to_lab(xyz)
    lightness = lab[..., 0]
    pattern = value_pattern(lightness)
    files = {
        "values.png": encode_png(in_value_steps(lightness, STEPS, SQUINT)),
        "masses.png": encode_png(pattern.picture()),
    }
    ends = extremes(lightness, ppmm)
    studies = _two_studies(
        plan.sheet.width_mm / plan.sheet.height_mm,
        picture(
            "values.png",
            tr_count("The picture in {count} grey", "The picture in {count} greys", STEPS),
            tr("Five values; each stands for two of the ten steps"),
        ),
        picture("masses.png", tr("The picture's big masses in three greys"), tr("The big masses")),
    )
    told = [
        heading(1, tr("Values first")),
        para(
            tr(
                "Squint until only masses are left. A painting that keeps this pattern reads. "
                "Values are counted in ten steps on all these sheets, from 1, the darkest, to 10, "
                "white paper."
            )
        ),
        studies,
        kept_whole(_scale()),
        para(f"{pattern.words} {upper(ends.words)}"),
        para(_whites(plan, lab, ppmm)),
    ]
    return page_of(told, files)


def white_words(plan: Plan, reference: Reference) -> str:
    """Which whites of the photo stay bare paper, in a sentence."""
    xyz, ppmm = smaller(reference, SEEN_PX)
    return _whites(plan, xyz_to_lab(xyz), ppmm)


def _whites(plan: Plan, lab: FloatArray, ppmm: float) -> str:
    paper = xyz_to_lab(Bench.of([], plan.paper).white_xyz())
    return whites(lab, paper, ppmm).words


def _two_studies(shape: float, first: str, second: str) -> str:
    """Two pictures side by side or one below the other, whichever shows them larger.

    shape: their width over their height.
    """
    half = min((TEXT_MM - 4.0) / 2.0, STUDIES_MM * shape)
    below = min(TEXT_MM, STUDIES_MM / 2.0 * shape)
    if half >= below:
        return beside((first, second), f"{half:.1f}mm, {half:.1f}mm")
    return f"#block(width: {below:.1f}mm)[{stacked((first, second), '4mm')}]"


def _scale() -> str:
    """The study's greys in a row, each with its two of the ten steps, and its name."""
    cells = []
    for step, name in enumerate(step_names(STEPS), 1):
        r, g, b = step_grey(step, STEPS)
        patch = f"#block(width: 100%, height: 7mm, fill: rgb({r}, {g}, {b}))"
        of_ten = tr("{low} and {high}", low=2 * step - 1, high=2 * step)
        words = f"{of_ten}, {name.words}" if name.words else of_ten
        cells.append(f"[{stacked([patch, note(words)])}]")
    return f"#grid(columns: ({', '.join(['1fr'] * STEPS)}), column-gutter: 2mm, {', '.join(cells)})"
