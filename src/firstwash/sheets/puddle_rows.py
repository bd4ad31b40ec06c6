"""The puddles of one layer: strip, paints, consistency, value and how much to mix.

A puddle is mixed once, for all its layers: its amounts stand on the sheet of the first of them.
"""

from collections.abc import Sequence
from math import gcd
from typing import Final

from firstwash.handout.steps import consistencies, consistency_words
from firstwash.handout.words import washes_by_puddle
from firstwash.language import listed, tr, tr_count
from firstwash.paints.catalogue import Paint
from firstwash.plan.board.amounts import Counted, volume_words
from firstwash.plan.result import Plan
from firstwash.plan.wash import Puddle, Wash
from firstwash.sheets.measures import beads_words
from firstwash.sheets.pages import (
    NOTE_PT,
    beside,
    both,
    heading,
    kept_whole,
    note,
    painted_strip,
    para,
    soft,
    stacked,
    strong,
    upper,
)  # fmt: skip
from firstwash.sheets.told import puddle_strip

__all__ = ["letter_words", "mixed_parts", "paint_words", "puddles_to_mix", "span_words"]

STRIP_MM: Final = 7.5
LETTER_PT: Final = 24.0
INDEX_PT: Final = 10.0  # of Colour Index names behind a trade name
TOLD_PT: Final = 10.0
TOLD_MM: Final = 44.0  # what a puddle is like, beside what goes into it
TUBE_MM, PAN_MM = 22.5, 30.5  # columns of "9 × pinhead" and "9 × medium brush"
MOST_DROPS_ML: Final = 2.0  # of water, from which it is told in millilitres


def puddles_to_mix(plan: Plan, layer: int) -> str:
    """Puddles to mix for this layer, then those that are on the palette already."""
    groups = washes_by_puddle(plan.washes_of(layer))
    first = {q: min(w.layer for w in plan.washes if w.puddle == q) for q, _ in groups}
    new = [_puddle(plan, q, group) for q, group in groups if first[q] == layer]
    old = [_mixed(plan, q, group, first[q]) for q, group in groups if first[q] < layer]
    told = []
    if new:
        kitchen = _kitchen(plan, [q for q, _ in groups if first[q] == layer])
        told += _under(f"{heading(2, tr('Puddles to mix'))}\n\n{kitchen}", new)
    if old:
        again = para(tr("Stir them up again, with a drop of water where they have dried in."))
        pairs = [
            beside((*old[i : i + 2], "")[:2], "1fr, 1fr", "7mm") for i in range(0, len(old), 2)
        ]
        told += _under(f"{heading(2, tr('Puddles mixed before'))}\n\n{again}", pairs)
    return "\n".join(told)


def _under(head: str, blocks: Sequence[str]) -> list[str]:
    """Blocks that no page break cuts; the first stays with the heading."""
    return [kept_whole(f"{head}\n\n{blocks[0]}"), *(kept_whole(block) for block in blocks[1:])]


def _kitchen(plan: Plan, puddles: Sequence[int]) -> str:
    """What the kitchen words of these puddles mean, the thickest first."""
    found = {c.step: c for q in puddles if (c := plan.puddles[q].amount.consistency)}
    told = "; ".join(
        tr("{consistency} {test}", consistency=tr(found[n].name), test=tr(found[n].test))
        for n in sorted(found, reverse=True)
    )
    return f"#par[{note(upper(told) + '.')}]"


def _puddle(plan: Plan, q: int, washes: Sequence[Wash]) -> str:
    puddle = plan.puddles[q]
    layers = sorted({w.layer for w in plan.washes if w.puddle == q})
    told = [
        _like(puddle),
        _reads(puddle, washes),
    ]
    strokes = any(t.puddle == q for t in plan.touches)
    names = listed([str(n) for n in layers])
    if len(layers) > 1 and strokes:
        told.append(tr("Enough for layers {layers} and the fine strokes.", layers=names))
    elif len(layers) > 1:
        told.append(tr("Enough for layers {layers}.", layers=names))
    elif strokes:
        told.append(tr("Enough for the fine strokes, too."))
    words = f"#text({TOLD_PT}pt)[{para(' '.join(told))}]"
    lines = [
        painted_strip(puddle_strip(plan, q), STRIP_MM),
        both(words, _mixing(plan, puddle), f"{TOLD_MM:g}mm, 1fr", "4mm"),
    ]
    return both(letter_words(puddle), stacked(lines, "2.5mm"), "11mm, 1fr", "2mm")


def _like(puddle: Puddle) -> str:
    """How runny the puddle is with the water told, and how far it is let down for pale washes."""
    strong, pale = consistencies(puddle)
    if strong == pale:
        return tr("With this water it is like {strong}.", strong=strong)
    return tr(
        "With this water it is like {strong}, for the strongest wash; let some of it down to "
        "{pale} for the palest.",
        strong=strong,
        pale=pale,
    )


def letter_words(puddle: Puddle) -> str:
    """A puddle's name, large, as markup."""
    size = LETTER_PT / max(1.0, 0.75 * len(puddle.name))  # beyond Z come two letters
    return f"#text({size:g}pt, {strong(puddle.name).removeprefix('#')})"


def _mixed(plan: Plan, q: int, washes: Sequence[Wash], first: int) -> str:
    """A puddle that an earlier layer was painted with, in half the width."""
    puddle = plan.puddles[q]
    lines = [
        painted_strip(puddle_strip(plan, q), STRIP_MM),
        f"#par[{paint_words(plan, puddle)}]",
        para(
            tr("Like {consistency}.", consistency=consistency_words(puddle))
            + f" {_reads(puddle, washes)}"
        ),
        f"#par[{note(tr('Mixed for layer {layer}: its amounts are on that sheet.', layer=first))}]",
    ]
    return both(letter_words(puddle), stacked(lines, "2mm"), "9mm, 1fr", "2mm")


def paint_words(plan: Plan, puddle: Puddle) -> str:
    """The recipe as markup: parts, trade names in bold, Colour Index names small behind them."""
    told = []
    for p, parts in mixed_parts(puddle):
        count = f"#{soft(_parts(parts))} " if len(puddle.parts) > 1 else ""
        told.append(f"{count}{named(plan.paints[p])}")
    return ", ".join(told)


def mixed_parts(puddle: Puddle) -> tuple[tuple[int, int], ...]:
    """(paint, parts) of a puddle as it is mixed from tubes: the counts told, in lowest terms.

    Print tells one ratio only. Parts at full strength, as on the screen, are another: a weak
    paint takes more of what leaves the tube.
    """
    counts = puddle.amount.tubes.counts
    common = gcd(*counts)
    return tuple((p, n // common) for (p, _), n in zip(puddle.parts, counts, strict=True))


def named(paint: Paint) -> str:
    """A paint as markup: its trade name in bold, Colour Index names small behind it."""
    index = f" #text({INDEX_PT}pt, {soft(', '.join(paint.pigments))})" if paint.pigments else ""
    return f"{strong(paint.name)}{index}"


def _parts(count: int) -> str:
    return tr_count("{count} part", "{count} parts", count)


def _reads(puddle: Puddle, washes: Sequence[Wash]) -> str:
    """What a dry test stroke shows: "A test stroke dries to value 5 to 8, in this layer 8."."""
    whole = span_words(puddle.value_steps)
    here = span_words([w.value_step for w in washes])
    if here == whole:
        return tr("A test stroke dries to value {value}.", value=whole)
    return tr("A test stroke dries to value {value}, in this layer {here}.", value=whole, here=here)


def span_words(steps: Sequence[int]) -> str:
    """Value steps from the lowest to the highest: "4", "5 to 8"."""
    low, high = min(steps), max(steps)
    return f"{low}" if low == high else tr("{low} to {high}", low=low, high=high)


def _mixing(plan: Plan, puddle: Puddle) -> str:
    """What goes into a puddle as a small table: paints, how much from tube or pan, water."""
    tubes, pans = puddle.amount.tubes, puddle.amount.pans
    heads = (tr("Paint"), tr("From tubes"), tr("From pans"))
    rows: list[tuple[str, ...]] = [tuple(note(head) for head in heads)]
    for (p, _), tube, pan in zip(puddle.parts, tubes.counts, pans.counts, strict=True):
        taken = (beads_words(tube, tubes.measure), beads_words(pan, pans.measure))
        rows.append((named(plan.paints[p]), *(_in_lines(told) for told in taken)))
    rows.append(("#" + soft(tr("water")), *(f"#{soft(_water(c))}" for c in (tubes, pans))))
    if tubes.taken or pans.taken:
        again = tr("of that, into fresh water")
        rows.append((f"#{soft(again)}", *(f"#{soft(_let_down(c))}" for c in (tubes, pans))))
    top, *below = (", ".join(f"[{c}]" for c in row) for row in rows)
    return (
        f"#[#set text({NOTE_PT}pt)\n#set par(leading: 0.45em)\n"
        f"#table(columns: (1fr, {TUBE_MM:g}mm, {PAN_MM:g}mm), column-gutter: 2mm, "
        f"row-gutter: 1.8mm, inset: 0pt, table.header({top}), {', '.join(below)})]"
    )


def _in_lines(measures: str) -> str:
    """Measures as markup, each in a line of its own."""
    return " + #linebreak() ".join(f"#{soft(one)}" for one in measures.split(" + "))


def _water(counted: Counted) -> str:
    """Water to add: "9 drops", "4 ml"."""
    if counted.drops == 0:
        return tr("none")
    if counted.water_ml < MOST_DROPS_ML:
        return tr_count("{count} drop", "{count} drops", counted.drops)
    return volume_words(counted.water_ml, "metric")


def _let_down(counted: Counted) -> str:
    """How a strong mixture is let down: "3 drops in 20 ml"."""
    if not counted.taken:
        return ""
    volume = volume_words(counted.let_down_ml, "metric")
    return tr_count(
        "{count} drop in {volume}", "{count} drops in {volume}", counted.taken, volume=volume
    )
