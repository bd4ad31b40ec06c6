"""The page of a study: one HTML file beside its pictures, no script, nothing fetched."""

from collections.abc import Iterable, Sequence
from html import escape
from typing import Final

from firstwash.advice.first_washes import FirstWash, FirstWashAdvice
from firstwash.advice.first_words import (
    rule_words,
    strip_hex,
    verdict_words,
    wash_details,
    wash_points,
)
from firstwash.handout.cautions import CAUTIONS, caution_lines
from firstwash.handout.markup import folded, listed, table
from firstwash.handout.summary import STYLE
from firstwash.handout.words import colour_words
from firstwash.optics.observer import lab_to_srgb8
from firstwash.paints.catalogue import Paint
from firstwash.plan.reach import Reach
from firstwash.seeing.light_words import light_words
from firstwash.seeing.study import Area, Study

__all__ = ["MARK", "study_page"]

MARK: Final = '<meta name="generator" content="firstwash study">'
CANDIDATES: Final = 4  # first washes shown for an area; the rest only repeat what is worse
ROWS: Final = ("its lights", "its middle", "its darks")

OWN_STYLE: Final = """
.pics { display: grid; gap: 1.5rem; margin: 1.5rem 0;
  grid-template-columns: repeat(auto-fill, minmax(min(22rem, 100%), 1fr)); }
.pics figure { margin: 0; padding: .8rem; }
.scale { display: flex; list-style: none; padding: 0; margin: 1rem 0; }
.scale li { flex: 1; min-width: 0; padding-right: .4rem; overflow-wrap: anywhere; }
.scale .tone { display: block; height: 2.6rem; }
.ladders { display: grid; grid-template-columns: 9rem 1fr; gap: .5rem 1rem; align-items: center;
  background: #777; color: #fff; padding: 1rem; margin: 1rem 0; }
.ladders .run { height: 2.2rem; position: relative; }
.area { display: grid; grid-template-columns: minmax(9rem, 16rem) 1fr; gap: 1.5rem;
  margin: 1rem 0; }
.area figure { margin: 0; padding: .6rem; align-self: start; }
.area ol { padding-left: 1.4rem; }
.area li { padding: .5rem 0; }
.stages { display: inline-grid; gap: .25rem; padding: .6rem; background: #777; margin: .4rem 0; }
.stages span { display: flex; gap: .15rem; }
.stages i { width: 2.4rem; height: 1.3rem; }
@media (max-width: 46rem) { main { padding: 1rem 1rem 4rem; } .area { grid-template-columns: 1fr; }
  .area figure { max-width: 16rem; } .ladders { grid-template-columns: 1fr; } }
@media print { figure, .ladders, .stages, .tone, i { print-color-adjust: exact;
  -webkit-print-color-adjust: exact; } .area, figure { break-inside: avoid; } }
"""


def study_page(study: Study, title: str, notes: Sequence[str], paints: Sequence[Paint]) -> bytes:
    """The page as UTF-8 HTML. title: of the photo; notes: on it; paints: those that were tried."""
    body = "".join(
        (
            f"<h1>{escape(title)}, before the first wash</h1>",
            listed([escape(n) for n in notes]) if notes else "",
            _values(study),
            _pattern(study),
            _ends(study),
            _reach(study.reach),
            _light(study),
            _first(study.areas),
            _cautions(paints),
        )
    )
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"{MARK}<title>{escape(title)}: study</title><style>{STYLE}{OWN_STYLE}</style></head>"
        f"<body><main>{body}</main></body></html>\n"
    ).encode()


def _figure(file: str, caption: str, alt: str = "") -> str:
    return (
        f'<figure><img src="{escape(file)}" alt="{escape(alt or caption)}" loading="lazy">'
        f"<figcaption>{escape(caption)}</figcaption></figure>"
    )


def _hex(lab: Sequence[float]) -> str:
    r, g, b = (int(v) for v in lab_to_srgb8(lab))
    return f"#{r:02x}{g:02x}{b:02x}"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _numbers(rows: Iterable[Sequence[str]]) -> str:
    cells = [[escape(c) for c in row] for row in rows]
    return folded("In numbers", table(("What", "How much"), cells))


# --- values ------------------------------------------------------------------------


def _values(study: Study) -> str:
    scale = "".join(
        f'<li><span class="tone" style="background: {_hex((sum(s.lightness) / 2, 0, 0))}"></span>'
        f"{s.name.number}, {escape(s.name.words)}<br>"
        f'<span class="small">{_percent(s.share)}</span></li>'
        for s in study.steps
    )
    rows = [
        [
            f"{s.name.number}, {escape(s.name.words)}",
            f"{s.lightness[0]:.0f} to {s.lightness[1]:.0f}",
            f"{s.munsell[0]:.1f} to {s.munsell[1]:.1f}",
            _percent(s.share),
        ]
        for s in study.steps
    ]
    head = ("Step", "L*", "Munsell value", "Of the picture")
    pictures = _figure("photo.jpg", "The photo on the sheet") + _figure(
        "values.png", f"In {len(study.steps)} values"
    )
    return (
        f'<h2>Values</h2><div class="pics">{pictures}'
        f"{_figure('squint.jpg', 'Squinted at: detail gone, masses left')}</div>"
        f'<ol class="scale" aria-label="Value steps">{scale}</ol>'
        + folded("The steps in numbers", table(head, rows))
    )


def _pattern(study: Study) -> str:
    found = study.pattern
    rows = [
        [escape(name), f"{light:.0f}", _percent(share)]
        for name, light, share in zip(found.names, found.lightness, found.shares, strict=True)
    ]
    return (
        f"<h2>The pattern</h2><p>{escape(found.words)} A painting that keeps this pattern reads "
        "from across the room.</p>"
        f'<div class="pics">{_figure("pattern.png", "The big masses of value")}</div>'
        + folded("The masses in numbers", table(("Mass", "Mean L*", "Of the picture"), rows))
    )


def _ends(study: Study) -> str:
    found = study.extremes
    rows = [
        [
            f"{e.kind}",
            f"{e.lightness:.0f}",
            str(e.step),
            f"{e.area_mm2 / 100:.1f} cm²",
            f"{e.x_mm / 10:.1f} cm from the left, {e.y_mm / 10:.1f} cm from the top",
        ]
        for e in (*found.lights, *found.darks)
    ]
    head = ("", "L*", "Value step of ten", "Area on the sheet", "Place")
    return (
        f"<h2>Lights and darks</h2><p>{escape(found.words)} {escape(study.whites.words)}</p>"
        '<div class="pics">'
        + _figure(
            "lights-and-darks.jpg",
            "Rings: the lightest lights. Squares: the darkest darks.",
        )
        + _figure("whites.jpg", "In colour: what stays bare paper")
        + "</div>"
        + folded("The places in numbers", table(head, rows))
    )


def _reach(found: Reach) -> str:
    def run(low: float, high: float) -> str:
        stops = ", ".join(_hex((low + (high - low) * i / 10, 0, 0)) for i in range(11))
        place = f"margin-left: {low:.1f}%; width: {high - low:.1f}%"
        return (
            f'<span class="run" style="{place}; background: linear-gradient(to right, {stops})">'
            "</span>"
        )

    numbers = [
        ["bare paper", f"L* {found.paper:.1f}"],
        ["darkest these paints come to here", f"L* {found.floor:.1f}"],
        ["the photo", f"L* {found.darkest:.1f} to {found.lightest:.1f}, hundredths left out"],
        ["below the darkest", _percent(found.too_dark)],
        ["stronger than can be mixed", _percent(found.too_strong)],
    ]
    return (
        f"<h2>What your paints reach</h2><p>{escape(found.words)}</p>"
        '<div class="ladders"><span>The photo</span>'
        f"{run(found.darkest, found.lightest)}<span>Your paints, your paper</span>"
        f"{run(found.floor, found.paper)}</div>"
        + folded(
            "In numbers", table(("What", "How much"), [[escape(c) for c in r] for r in numbers])
        )
    )


# --- light and first washes --------------------------------------------------------


def _light(study: Study) -> str:
    told = light_words(study)
    return (
        f"<h2>Light and local colour</h2>{_paragraphs(told.sentences)}"
        '<div class="pics">'
        + _figure("local-colour.jpg", "The things’ own colours, the light taken away")
        + _figure("light.jpg", "The light alone, on a white cast of the subject")
        + "</div>"
        + folded(
            "In numbers", table(("What", "How much"), [list(map(escape, r)) for r in told.numbers])
        )
    )


def _paragraphs(sentences: Iterable[str]) -> str:
    return "".join(f"<p>{escape(s)}</p>" for s in sentences)


def _first(areas: Sequence[Area]) -> str:
    if not areas:
        return ""
    return (
        "<h2>What to lay first</h2><p>For each of the largest areas, first washes painted on to "
        "the end by reckoning. Each row of patches runs from bare paper through every layer, in "
        "the lights, the middle and the darks of the area. Rules in quotation marks are common "
        "practice.</p>" + "".join(_area(a, i) for i, a in enumerate(areas, 1))
    )


def _area(area: Area, number: int) -> str:
    where = f"{area.place[0].upper()}{area.place[1:]}"
    own = (
        "" if area.local is None else f" Its own colour in the light is {colour_words(area.local)}."
    )
    first, *others = [_wash(w, area.advice) for w in area.advice.washes[:CANDIDATES]]
    rest = "".join(f"<li>{told}</li>" for told in others)
    return (
        f'<div class="area">{_figure(f"area-{number}.jpg", where, f"Area {number}: {where}")}<div>'
        f"<h3>{escape(where)}, {_percent(area.share)} of the picture</h3>"
        f"<p>Seen as {colour_words(area.seen)}.{own} {escape(verdict_words(area.advice))}</p>"
        + first
        + (folded("Other first washes, and what they lead to", f"<ol>{rest}</ol>") if rest else "")
        + "</div></div>"
    )


def _wash(wash: FirstWash, advice: FirstWashAdvice) -> str:
    strip = "".join(
        f'<span role="img" aria-label="The stages of {row}">'
        + "".join(f'<i style="background: {hex_}"></i>' for hex_ in stages)
        + "</span>"
        for row, stages in zip(ROWS, strip_hex(wash.judged.strip), strict=True)
    )
    told = rule_words(wash)
    broken = "".join(f'<p class="small">{escape(r)}</p>' for r in told[: len(wash.broken)])
    figures = [escape(line) for line in (*told[len(wash.broken) :], *wash_details(wash, advice))]
    name, points = wash_points(wash, advice)
    return (
        f"<p><strong>{escape(name)}</strong></p>{listed([escape(p) for p in points])}"
        f'<span class="stages">{strip}</span>{broken}'
        + folded("Rules it keeps, and the numbers", listed(figures))
    )


def _cautions(paints: Sequence[Paint]) -> str:
    named = [escape(line) for line in caution_lines(paints)]
    return (
        f'<h2>Cautions</h2><div class="caution"><p>{CAUTIONS}</p>'
        + (listed(named) if named else "")
        + "</div>"
    )
