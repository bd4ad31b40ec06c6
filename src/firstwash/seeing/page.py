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
from firstwash.picture.munsell import munsell_value
from firstwash.seeing.ladders import ladders_svg
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
.beside { display: grid; grid-template-columns: 1fr 1fr; gap: 1.5rem; margin: 1.5rem 0; }
.beside.narrow { grid-template-columns: 20rem 1fr; }
.beside figure { margin: 0; padding: .8rem; align-self: start; }
.beside > div > :first-child { margin-top: 0; }
.tones img { outline: 2px solid var(--paper); }
.ladders { display: block; width: 100%; max-width: 300px; height: auto; margin: 0 auto; }
.small { font-size: 1.125rem; }
.area { display: grid; grid-template-columns: minmax(9rem, 16rem) 1fr; gap: 1.5rem;
  margin: 1rem 0; }
.area figure { margin: 0; padding: .6rem; align-self: start; }
.area ol { padding-left: 1.4rem; }
.area h3 { margin-top: 0; }
.area ul { padding-left: 1.4rem; margin: .5rem 0; }
.area ol > li { padding: .6rem 0; }
.stages { display: inline-grid; gap: .25rem; padding: .6rem; background: #777; margin: .4rem 0; }
.stages span { display: flex; gap: .15rem; }
.stages i { width: 2.4rem; height: 1.3rem; }
@media (max-width: 46rem) { main { padding: 1rem 1rem 4rem; }
  .area, .beside, .beside.narrow { grid-template-columns: minmax(0, 1fr); }
  .area figure { max-width: 16rem; } .scale { display: block; }
  .scale li { display: grid; grid-template-columns: 4rem 1fr auto; gap: 1rem; }
  .scale br { display: none; } }
@media print { figure, .stages, .tone, i { print-color-adjust: exact;
  -webkit-print-color-adjust: exact; } .area, figure { break-inside: avoid; } }
"""


def study_page(study: Study, title: str, notes: Sequence[str], paints: Sequence[Paint]) -> bytes:
    """The page as UTF-8 HTML. title: of the photo; notes: on it; paints: those that were tried."""
    body = "".join(
        (
            f"<h1>{escape(title)}, before the first wash</h1>",
            _sheet(study, paints),
            listed([escape(n) for n in notes]) if notes else "",
            _values(study),
            _pattern(study),
            _ends(study),
            _reach(study),
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


def _sheet(study: Study, paints: Sequence[Paint]) -> str:
    rows, cols = study.lab.shape[:2]
    wide, high = (side / study.ppmm / 10.0 for side in (cols, rows))
    count = "one paint" if len(paints) == 1 else f"{len(paints)} paints"
    return f"<p>On a sheet {wide:.0f} × {high:.0f} cm, with {count} to mix from.</p>"


def _figure(file: str, caption: str, alt: str = "", kind: str = "") -> str:
    named = f' class="{kind}"' if kind else ""
    return (
        f'<figure{named}><img src="{escape(file)}" alt="{escape(alt or caption)}" loading="lazy">'
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
        "values.png", f"In {len(study.steps)} values", kind="tones"
    )
    return (
        f'<h2>Values</h2><div class="pics">{pictures}</div>'
        f'<ol class="scale" aria-label="Value steps">{scale}</ol>'
        + folded("The steps in numbers", table(head, rows))
    )


def _pattern(study: Study) -> str:
    found = study.pattern
    rows = [
        [escape(name), f"{light:.0f}", f"{munsell_value(light):.1f}", _percent(share)]
        for name, light, share in zip(found.names, found.lightness, found.shares, strict=True)
    ]
    head = ("Mass", "Mean L*", "Munsell value", "Of the picture")
    return (
        f"<h2>The pattern</h2><p>{escape(found.words)} A painting that keeps this pattern reads "
        "from across the room.</p>"
        f'<div class="pics">{_figure("squint.jpg", "Squinted at: detail gone, masses left")}'
        f"{_figure('pattern.png', 'The big masses of value', kind='tones')}</div>"
        + folded("The masses in numbers", table(head, rows))
        + '<div class="beside">'
        + _figure("lost-edges.png", "Lines: edges lost inside a mass", kind="tones")
        + f"<div><h3>Lost and found</h3><p>{escape(study.lost.words)}</p>"
        "<p>Where an edge is lost, a glaze can run on across it, and what lies there is told by "
        "colour alone. Where you want it seen, part it by value.</p></div></div>"
    )


def _ends(study: Study) -> str:
    found = study.extremes
    rows = [
        [
            f"{e.kind}",
            f"{e.lightness:.0f}",
            f"{munsell_value(e.lightness):.1f}",
            str(e.step),
            f"{e.area_mm2 / 100:.1f} cm²",
            f"{e.x_mm / 10:.1f} cm from the left, {e.y_mm / 10:.1f} cm from the top",
        ]
        for e in (*found.lights, *found.darks)
    ]
    head = ("", "L*", "Munsell value", "Value of ten, from dark", "Area on the sheet", "Place")
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


def _reach(study: Study) -> str:
    found = study.reach
    numbers = [
        ["bare paper", f"L* {found.paper:.1f}"],
        ["darkest these paints come to here", f"L* {found.floor:.1f}"],
        ["the photo", f"L* {found.darkest:.1f} to {found.lightest:.1f}, hundredths left out"],
        ["below the darkest", _percent(found.too_dark)],
        ["stronger than can be mixed", _percent(found.too_strong)],
        ["painted lighter or darker by more than one L*", _percent(found.changed)],
    ]
    ladders = ladders_svg(found, study.asked.numbered_from)
    return (
        f'<h2>What your paints reach</h2><div class="beside narrow"><figure>{ladders}</figure>'
        f"<div><p>{escape(found.words)}</p>{_numbers(numbers)}</div></div>"
    )


# --- light and first washes --------------------------------------------------------


def _light(study: Study) -> str:
    told = light_words(study.light)
    return (
        f"<h2>Light and local colour</h2>{_paragraphs(told.sentences)}"
        '<div class="pics">'
        + _figure("local-colour.jpg", "The things’ own colours, the light taken away")
        + _figure("light.jpg", "The light alone, on a white cast of the subject")
        + "</div>"
        + _numbers(told.numbers)
    )


def _paragraphs(sentences: Iterable[str]) -> str:
    return "".join(f"<p>{escape(s)}</p>" for s in sentences)


def _first(areas: Sequence[Area]) -> str:
    if not areas:
        return ""
    return (
        "<h2>What to lay first</h2><p>For each of the largest areas, first washes painted on to "
        "the end by reckoning. Each row of patches runs from bare paper through every layer, in "
        "the lights, the middle and the darks of the area. Values are counted in ten here, 1 the "
        "darkest; rules in quotation marks are common practice.</p>"
        + "".join(_area(a, i) for i, a in enumerate(areas, 1))
    )


def _area(area: Area, number: int) -> str:
    seen = colour_words(area.seen)
    name = f"Area {number}: {seen}, {area.place}"
    place = f"{area.place[0].upper()}{area.place[1:]}"
    own = (
        "" if area.local is None else f" Its own colour in the light is {colour_words(area.local)}."
    )
    first, *others = [_wash(w, area.advice) for w in area.advice.washes[:CANDIDATES]]
    rest = "".join(f"<li>{told}</li>" for told in others)
    return (
        f'<div class="area">{_figure(f"area-{number}.jpg", place, f"In colour: {name}")}<div>'
        f"<h3>{escape(name)}</h3>"
        f"<p>{_percent(area.share)} of the picture.{own}</p>{_lit(area)}"
        f"<p>{escape(verdict_words(area.advice))}</p>"
        + first
        + (folded("Other first washes, and what they lead to", f"<ol>{rest}</ol>") if rest else "")
        + "</div></div>"
    )


def _lit(area: Area) -> str:
    """What the light does to an area, in words, and in numbers for those who ask."""
    if area.light is None:
        return ""
    numbers = [[escape(c) for c in row] for row in area.light.numbers]
    told = folded("The light on it, in numbers", table(("What", "How much"), numbers))
    return f"<p>{escape(area.light.words)}</p>{told}"


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
