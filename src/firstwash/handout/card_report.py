"""The page that tells what a swatch card taught: one HTML file, nothing fetched."""

from collections.abc import Mapping, Sequence
from html import escape

import numpy as np

from firstwash.arrays import FloatArray
from firstwash.card.findings import Certainty, certainties, glazes_found, to_repaint
from firstwash.card.outcome import SwatchFound, Taught
from firstwash.handout.markup import listed, table, whole
from firstwash.handout.summary import STYLE
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.optics.observer import lab_to_srgb8, reflectance_to_lab
from firstwash.picture.values import value_step

__all__ = ["MARK", "card_report"]

MARK = '<meta name="generator" content="firstwash swatch card">'

OWN_STYLE = """
.pair { display: inline-block; width: 4.2rem; margin: .3rem .25rem .3rem 0; text-align: center;
  font-size: 1rem; color: #000; }
.pair span { display: block; height: 2.1rem; }
.pair .again { font-weight: 700; }
.swatches { background: #777; padding: .8rem 1rem; }
.range { display: inline-flex; border: .35rem solid #777; }
.range span { width: 1.9rem; height: 1.9rem; }
.range span.mid { width: 2.6rem; }
svg.chart { background: #fff; border: 1px solid var(--line); max-width: 100%; height: auto; }
"""


EXPLAINED = (
    "<h2>Swatch by swatch</h2><p>Above what was found, below what the fit predicts for it; the two "
    "should look alike. The number is how far apart they are (CIEDE2000): 1 can hardly be seen, 6 "
    "is worth painting again.</p>"
)


def card_report(
    taught: Taught, warnings: Sequence[str], known_by: str, kept_in: str, older: str | None
) -> str:
    """The page as HTML.

    warnings: about the photo. known_by: "target", "habit" or "instrument". kept_in: the file that
    holds the paints now; older: the copy of what it held before, if it was there.
    """
    names = ", ".join(p.name for p in taught.paints)
    parts = [
        f"<h1>What your swatch card taught</h1><p>{escape(names)}</p>",
        _kept(kept_in, older),
        _warned(warnings, taught.notes, known_by),
        _again(taught),
        _sure(taught),
        EXPLAINED,
        *(_paint(c, taught.swatches) for c in certainties(taught)),
        _layers(taught),
        _limits(taught),
    ]
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'{MARK}<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Swatch card: {escape(names)}</title><style>{STYLE}{OWN_STYLE}</style></head>"
        f"<body><main>{''.join(parts)}</main></body></html>\n"
    )


def _kept(kept_in: str, older: str | None) -> str:
    back = (
        f" What was known before is kept in {escape(older)}; to go back, delete the new file and "
        "give the old one its name."
        if older
        else " To forget it all, delete that file."
    )
    return (
        f"<p>From now on these paints are planned with as found here ({escape(kept_in)}).{back}</p>"
    )


def _warned(warnings: Sequence[str], notes: Sequence[str], known_by: str) -> str:
    told = [*warnings, *notes]
    if known_by == "habit":
        told.append(
            "No colour target was in the photo, so what this phone does to colours was guessed "
            "from what phones usually do; the ranges below are wider for it."
        )
    if not told:
        return ""
    return (
        f'<div class="caution"><h2>About this reading</h2>{listed([escape(t) for t in told])}</div>'
    )


def _again(taught: Taught) -> str:
    odd = to_repaint(taught)
    if not odd:
        return "<h2>To paint again</h2><p>Nothing: every swatch fits with the others.</p>"
    known = {p.key: p.name for p in (*taught.paints, *taught.before)}
    rows = [f"<strong>{s.swatch.name}</strong>: {escape(_what(s, known))}" for s in odd]
    return (
        "<h2>To paint again</h2><p>These do not fit with the rest of the card. A wrong cup, a "
        "dirty brush or a puddle left to run would do that.</p>" + listed(rows)
    )


def _what(s: SwatchFound, names: Mapping[str, str]) -> str:
    """A swatch in words: "cobalt blue over cadmium yellow"."""
    coats = [" with ".join(names.get(key, key) for key, _ in coat) for coat in s.swatch.coats]
    if s.swatch.kind == "double":
        return f"two coats of {coats[0]}"
    return " over ".join(reversed(coats))


def _sure(taught: Taught) -> str:
    rows = []
    for c in certainties(taught):
        (low_b, high_b), (low, high) = (d.lightness[0] for d in (c.before, c.after))
        rows.append(
            [
                escape(c.paint.name),
                f"{_range(c, before=True)} {whole(_values(low_b, high_b))}",
                f"{_range(c, before=False)} {whole(_values(low, high))}",
                whole(f"{c.within[0]:.0f}, now {c.within[1]:.0f}"),
            ]
        )
    head = ("Paint", "Before, dries to", "Now, dries to", "9 of 10 within, CIEDE2000")
    return (
        "<h2>How sure the paints are now</h2><p>A coat of a quarter of full strength on your "
        "paper: in the middle what to expect, beside it the lighter and darker end of what nine "
        "of ten such coats should lie between.</p>" + table(head, rows)
    )


def _values(low: float, high: float) -> str:
    a, b = int(value_step(low)), int(value_step(high))
    return f"value {a}" if a == b else f"value {a} to {b}"


def _range(c: Certainty, before: bool) -> str:
    found = c.before if before else c.after
    lighter, darker = found.ends
    cells = "".join(
        f'<span{k} style="background: {_rgb(lab)}"></span>'
        for lab, k in ((lighter[0], ""), (found.lab[0], ' class="mid"'), (darker[0], ""))
    )
    words = "before" if before else "now"
    return (
        f'<span class="range" role="img" aria-label="{escape(c.paint.name)} {words}">{cells}</span>'
    )


def _rgb(lab: FloatArray) -> str:
    return "#" + "".join(f"{int(v):02x}" for v in lab_to_srgb8(lab))


def _paint(c: Certainty, swatches: Sequence[SwatchFound]) -> str:
    own = [s for s in swatches if _row_of(s, swatches, c.paint.key)]
    pairs = "".join(_pair(s) for s in own)
    full = [s for s in own if s.swatch.kind == "dilution"]
    said = "" if not full else f"<p>{escape(_amounts(full, c.paint.key))}</p>"
    grade = c.paint.handling.granulation
    grain = "" if grade is None or grade < 2 else "<p>Its swatches are speckled: it granulates.</p>"
    return (
        f"<h2>{escape(c.paint.name)}</h2>"
        f'<div class="swatches">{pairs}</div>{said}{grain}{_chart(c)}'
    )


def _row_of(s: SwatchFound, swatches: Sequence[SwatchFound], key: str) -> bool:
    alone = next(
        x for x in swatches if x.swatch.row == s.swatch.row and x.swatch.kind == "dilution"
    )
    return key in alone.amounts


def _pair(s: SwatchFound) -> str:
    again = f'<b class="again">{s.off:.0f} again</b>' if s.repaint else f"{s.off:.0f}"
    return (
        f'<div class="pair">{s.swatch.name}<span style="background: {_rgb(s.found)}"></span>'
        f'<span style="background: {_rgb(s.predicted)}"></span>{again}</div>'
    )


def _amounts(own: Sequence[SwatchFound], key: str) -> str:
    meant = {s.swatch.name: s.swatch.coats[0][0][1] for s in own}
    ratio = {s.swatch.name: s.amounts[key] / meant[s.swatch.name] for s in own}
    strong = [n for n, r in ratio.items() if r > 1.15]
    weak = [n for n, r in ratio.items() if r < 0.87]
    if not strong and not weak:
        return "The dilutions came out evenly, each about twice the one before."
    told = []
    if strong:
        told.append(f"stronger than meant: {', '.join(strong)}")
    if weak:
        told.append(f"weaker than meant: {', '.join(weak)}")
    return f"Some came out {'; '.join(told)}. The fit allows for that."


def _chart(c: Certainty) -> str:
    """Reflectance of a quarter coat over wavelength, with its range before and now."""
    width, height, left, bottom = 560, 200, 44, 30
    x = left + (WAVELENGTHS_NM - 380) / 350 * (width - left - 10)

    def y(values: FloatArray) -> FloatArray:
        return np.asarray(8 + (1.0 - values) * (height - bottom - 8))

    def band(values: FloatArray, fill: str) -> str:
        up = [f"{a:.1f},{b:.1f}" for a, b in zip(x, y(values[:, 2]), strict=True)]
        down = [f"{a:.1f},{b:.1f}" for a, b in zip(x[::-1], y(values[::-1, 0]), strict=True)]
        return f'<polygon points="{" ".join(up + down)}" fill="{fill}"/>'

    line = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y(c.bands[:, 1]), strict=True))
    marks = "".join(
        f'<text x="{left + (nm - 380) / 350 * (width - left - 10):.0f}" y="{height - 8}" '
        f'font-size="14" text-anchor="middle">{nm}</text>'
        for nm in (400, 500, 600, 700)
    ) + "".join(
        f'<text x="{left - 8}" y="{float(y(np.array(v))) + 5:.0f}" font-size="14" '
        f'text-anchor="end">{100 * v:.0f} %</text>'
        for v in (0.0, 0.5, 1.0)
    )
    return (
        "<details><summary>Its curve, band by band</summary>"
        f'<svg class="chart" viewBox="0 0 {width} {height}" width="{width}" role="img" '
        f'aria-label="Light sent back by a quarter coat of {escape(c.paint.name)}, 380 to 730 nm">'
        f"{band(c.bands_before, '#e2dfd8')}{band(c.bands, '#a9a59c')}"
        f'<polyline points="{line}" fill="none" stroke="#222" stroke-width="2"/>{marks}</svg>'
        '<p class="small">Light sent back by a quarter coat over wavelength in nm. Pale band: what '
        "nine of ten were thought to lie between before; dark band: now.</p></details>"
    )


def _layers(taught: Taught) -> str:
    glazes = glazes_found(taught.swatches)
    known = {p.key: p.name for p in (*taught.paints, *taught.before)}
    if not glazes:
        return ""
    rows = [
        [
            f"<strong>{s.swatch.name}</strong>",
            escape(_what(s, known)),
            _chip(s.found),
            _chip(s.predicted),
            whole(f"value {int(value_step(s.found[0]))} / {int(value_step(s.predicted[0]))}"),
            whole(f"{s.off:.1f}"),
        ]
        for s in glazes
    ]
    off = float(np.median([s.off for s in glazes]))
    paper = taught.paper
    white = reflectance_to_lab(paper.reflectance)
    head = ("Place", "Coats", "Found", "Predicted", "Value found / predicted", "CIEDE2000")
    return (
        "<h2>Your paper, and layer over layer on it</h2>"
        f"<p>About {100 * paper.soak:.0f} % of a first coat sinks among the fibres; later coats "
        f"lie on top. Its white has lightness L* {white[0]:.0f}. Two coats are predicted with "
        f"these numbers; the middle miss is {off:.1f}.{_tooth(taught)}</p>" + table(head, rows)
    )


def _tooth(taught: Taught) -> str:
    """What the photo shows of the paper's surface; light from the side shows more of it."""
    if taught.texture is None:
        return ""
    share = 100 * taught.texture
    word = "smooth" if share < 0.8 else "slightly rough" if share < 2.0 else "rough"
    return (
        f" Its bare surface looks {word} in this light (speckle of {share:.1f} %, noise included)."
    )


def _chip(lab: FloatArray) -> str:
    return f'<span class="swatch" style="background: {_rgb(lab)}" aria-hidden="true"></span>'


def _limits(taught: Taught) -> str:
    thin = {p.name: p.thinnest_measured or 0.0 for p in taught.paints}
    rows = [f"{escape(n)}: {100 * a:.1f} % of your full strength" for n, a in thin.items()]
    return (
        "<h2>Where the swatches end</h2><p>Washes paler than the thinnest swatch are the model’s "
        "word alone. Thinnest of each:</p>" + listed(rows) + '<p class="small">Colours here are '
        "read by a phone or an instrument, fitted and shown on a screen: close, never exact.</p>"
    )
