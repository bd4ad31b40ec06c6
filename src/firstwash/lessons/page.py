"""One HTML page for each lesson, and the page that lists them: no script, nothing fetched."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Any, Final

from firstwash.handout.cautions import CAUTIONS, caution_lines
from firstwash.handout.markup import folded, listed
from firstwash.handout.summary import STYLE
from firstwash.paints.catalogue import Paint

__all__ = ["Boxes", "Lesson", "index_page", "lesson_page", "told", "why_folded"]

OWN_STYLE: Final = """
nav { margin: 0 0 2rem; }
nav a, .next a { display: inline-block; padding: .6rem 1rem .6rem 0; min-height: 2.75rem; }
a { color: inherit; }
.lead { font-size: 1.3rem; }
.colours { padding: .6rem; background: #777; margin: 1rem 0 0; print-color-adjust: exact;
  -webkit-print-color-adjust: exact; }
.boxes { display: flex; height: 4rem; }
.boxes span { flex: 1; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.halves span { display: flex; flex-direction: column; }
.halves i { flex: 1; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.run { height: 3rem; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.under { display: flex; padding: .3rem .6rem 0; margin-bottom: 1rem; gap: .25rem; }
.under span { flex: 1; overflow-wrap: anywhere; line-height: 1.25; }
.ends { padding: .2rem .6rem 0; margin-bottom: 1rem; }
.ends p { display: flex; justify-content: space-between; gap: 1rem; margin: 0; max-width: none; }
.ends p span:last-child { text-align: right; }
.ends .mark { position: relative; height: 1.6rem; }
.ends .mark span { position: absolute; transform: translateX(-50%); white-space: nowrap; }
.pics { display: grid; gap: 1.5rem; margin: 1.5rem 0;
  grid-template-columns: repeat(auto-fill, minmax(min(17rem, 100%), 1fr)); }
.pics.few { grid-template-columns: repeat(auto-fill, minmax(min(24rem, 100%), 1fr)); }
.pic { margin: 0; padding: 0; background: none; break-inside: avoid; }
.pic img { padding: .6rem; background: #777; print-color-adjust: exact;
  -webkit-print-color-adjust: exact; }
.pic figcaption { color: inherit; padding-top: .4rem; }
.chart { width: 100%; max-width: 46rem; height: auto; display: block; margin: 1rem 0; }
.chart text { font: 18px "Atkinson Hyperlegible", "Atkinson Hyperlegible Next", Verdana, sans-serif;
  fill: #222; }
.teacher { border-top: 3px double var(--ink); margin-top: 3.5rem; }
.teacher h2 { border: 0; margin-top: 1rem; }
.illustration { border-left: .35rem solid #777; padding-left: 1rem; }
.lessons { padding: 0 0 0 1.6rem; }
.lessons li { padding: .35rem 0 .35rem .3rem; }
.sheet td { width: 30mm; height: 26mm; border: 1px solid #777; padding: 1mm 2mm; }
.strips.two { display: grid; gap: 0 1.5rem;
  grid-template-columns: repeat(auto-fill, minmax(min(16rem, 100%), 1fr)); }
.strips > div > p { margin: 1rem 0 -.5rem; }
td:first-child { min-width: 8rem; }
.sheet th { border: 0; padding-right: 4mm; vertical-align: middle; max-width: 45mm; }
.sheet table { width: auto; border-collapse: separate; border-spacing: 2mm; margin: 0; }
.sheet { overflow-x: auto; }
h2, h3 { break-after: avoid; }
tr, .colours, .strips > div { break-inside: avoid; }
@media (max-width: 40rem) { main { padding: 1rem 1rem 4rem; } .boxes { height: 3.2rem; } }
@media print { html { font-size: 10.5pt; } nav, .next { display: none; } @page { margin: 15mm; }
  body { background: #fff; } main { max-width: none; padding: 0; } p, li { max-width: none; }
  .pics { grid-template-columns: repeat(3, 1fr); gap: 5mm; }
  .pics.few { grid-template-columns: repeat(2, 1fr); }
  .strips.two { grid-template-columns: 1fr 1fr; }
  .teacher { break-inside: avoid; } .scroll { overflow: visible; } td, th { padding-right: 2.5mm; }
  .why details::details-content { content-visibility: visible; }
  .sheet { break-before: page; overflow: visible; } .sheet h2 { margin-top: 0; } }
"""


@dataclass(frozen=True)
class Boxes:
    """A row of empty boxes on the sheet to paint on: its name, and a word in each box."""

    name: str
    words: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Lesson:
    """One lesson.

    key: name of its file, without ".html". lead: what is learnt, one sentence. body: HTML.
    sentences: what the page says of the prediction, as text; numbers: what they follow from.
    asks: questions for students. task, answer: a small exercise and its answer, HTML hidden
    until asked for. sheet: boxes to print and paint in. paints: those that are named.
    """

    key: str
    title: str
    lead: str
    body: str
    sentences: tuple[str, ...]
    numbers: dict[str, Any]
    asks: tuple[str, ...]
    task: str
    answer: str
    sheet: tuple[Boxes, ...] = ()
    paints: tuple[Paint, ...] = ()


def why_folded(summary: str, inside: str) -> str:
    """What is shown when its summary is opened, and always in print."""
    return f'<div class="why">{folded(summary, inside)}</div>'


def told(sentences: Sequence[str]) -> str:
    """Sentences as a list of findings."""
    return listed([escape(s) for s in sentences])


def _frame(title: str, body: str) -> bytes:
    page = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{STYLE}{OWN_STYLE}</style></head>"
        f"<body><main>{body}</main></body></html>\n"
    )
    return page.encode("utf-8")


def _cautions(paints: Sequence[Paint]) -> str:
    named = caution_lines(paints)
    if not named:
        return ""
    lines = listed([escape(line) for line in named])
    return f'<h2>Cautions</h2><div class="caution"><p>{CAUTIONS}</p>{lines}</div>'


def _teacher(lesson: Lesson) -> str:
    asks = listed([escape(a) for a in lesson.asks])
    return (
        '<section class="teacher"><h2>For the teacher</h2><h3>Ask</h3>'
        f"{asks}<h3>A small exercise</h3><p>{escape(lesson.task)}</p>"
        f"{folded('The answer', lesson.answer)}</section>"
    )


def _sheet(lesson: Lesson) -> str:
    if not lesson.sheet:
        return ""
    rows = "".join(
        f'<tr><th scope="row">{escape(r.name)}</th>'
        f"{''.join(f'<td>{escape(w)}</td>' for w in r.words)}</tr>"
        for r in lesson.sheet
    )
    return (
        '<section class="sheet"><h2>Sheet to paint on</h2><p>Print this page, or rule the boxes '
        "in pencil on your own paper, 30 by 26 mm each. Let every coat dry before the next.</p>"
        f"<table><tbody>{rows}</tbody></table></section>"
    )


def _next(lessons: Sequence[Lesson], place: int) -> str:
    if place + 1 >= len(lessons):
        return ""
    after = lessons[place + 1]
    return f'<p class="next"><a href="{after.key}.html">Next: {escape(after.title)}</a></p>'


def lesson_page(lessons: Sequence[Lesson], place: int) -> bytes:
    """The page of one lesson among all, as UTF-8 HTML."""
    lesson = lessons[place]
    body = (
        '<nav><a href="index.html">All lessons</a></nav>'
        f'<h1>{escape(lesson.title)}</h1><p class="lead">{escape(lesson.lead)}</p>'
        f"{lesson.body}{_cautions(lesson.paints)}{_teacher(lesson)}{_next(lessons, place)}"
        f"{_sheet(lesson)}"
    )
    return _frame(lesson.title, body)


def index_page(lessons: Sequence[Lesson], opening: str, palette: str) -> bytes:
    """The page that lists the lessons; opening, palette: HTML before and after the list."""
    items = [
        f'<a href="{one.key}.html"><strong>{escape(one.title)}</strong></a><br>{escape(one.lead)}'
        for one in lessons
    ]
    paints = [p for one in lessons for p in one.paints]
    unique = tuple({p.key: p for p in paints}.values())
    body = (
        f"<h1>Lessons with your own paints</h1>{opening}"
        f'<ol class="lessons">{"".join(f"<li>{item}</li>" for item in items)}</ol>'
        f"{palette}{_cautions(unique)}"
    )
    return _frame("Lessons with your own paints", body)
