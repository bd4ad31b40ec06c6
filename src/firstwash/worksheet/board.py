"""The session at the board as one thing after another: mix, lay, wait, dry, touch in.

A page shows one step at a time. Ids tell a step by its layer and wash, so that ticks and a
running clock find it again when the same plan is opened later.
"""

from collections.abc import Iterator, Sequence
from math import isfinite

import numpy as np

from firstwash.handout.cautions import CAUTIONS, MASKING, UNMASKING, caution_lines
from firstwash.handout.steps import consistency_words, dry_words, run_words, wait_words
from firstwash.handout.words import change_words
from firstwash.plan.board.amounts import Consistency, consistency
from firstwash.plan.board.hours import LayerTime, WashWork, wash_minutes
from firstwash.plan.board.order import Paint as Run
from firstwash.plan.board.order import Wait
from firstwash.plan.board.ranges import Range
from firstwash.plan.result import Plan
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Wash
from firstwash.worksheet.board_step import BoardStep, Minutes, PuddleToMix, WashToLay
from firstwash.worksheet.board_words import (
    Where,
    hair_told,
    lay_words,
    loads_of,
    mistakes,
    mix_told,
    paper_words,
    strokes_told,
)
from firstwash.worksheet.parts import parts_of, recipe_words
from firstwash.worksheet.strips import strips_of
from firstwash.worksheet.words import (
    Units,
    area_told,
    edges_told,
    hex_of,
    lab_words,
    listed,
)

__all__ = ["BoardStep", "Minutes", "PuddleToMix", "WashToLay", "board_steps"]

WAIT_SPREAD = (0.7, 1.0, 1.5)  # of a wait's minutes, as the schedule counts pauses
SHORTEST_WAIT = 0.5  # minutes; less passes while the brush is rinsed


def board_steps(plan: Plan, units: Units = "cm") -> tuple[BoardStep, ...]:
    """The whole session in order, one thing a step; units: inches also mean spoons of water."""
    return tuple(_Session(plan, units).steps())


def _minutes(span: Range) -> Minutes | None:
    ends = (span.low, span.mid, span.high)
    return ends if all(isfinite(v) for v in ends) and span.high > 0 else None


class _Session:
    def __init__(self, plan: Plan, units: Units) -> None:
        self.plan, self.units = plan, units
        self.where = Where(plan, units)
        self.letters = [p.name for p in plan.puddles]
        self.loads = loads_of(plan, [p.full_coat for p in plan.paints])
        tops = np.array([p.strength_range[1] for p in plan.puddles]).reshape(-1, 1)
        self.strips = strips_of(plan.paper, plan.paints, plan.recipes * tops)
        self.mixed: set[int] = set()
        self.painted = sorted({w.layer for w in plan.washes})

    def steps(self) -> Iterator[BoardStep]:
        """All steps in order."""
        yield self._caution()
        for layer in range(self.plan.layers + 1):
            if layer in self.painted:
                yield self._mix(layer)
                yield from self._layer(layer)
                yield self._dry(layer)
            yield from self._reserve(layer)
        yield from self._unmask()
        yield from self._last()

    def _caution(self) -> BoardStep:
        return BoardStep(
            id="caution",
            kind="caution",
            layer=0,
            title="Before you begin",
            say=(CAUTIONS, *(f"{s[0].upper()}{s[1:]}." for s in caution_lines(self.plan.paints))),
            cells=(),
            touches=(),
            minutes=None,
            timed=False,
        )

    # --- mixing ------------------------------------------------------------------

    def _mix(self, layer: int) -> BoardStep:
        washes = self.plan.washes_of(layer)
        needed = sorted({w.puddle for w in washes}, key=lambda q: self.plan.puddles[q].name)
        puddles = tuple(self._puddle(q, washes) for q in needed)
        self.mixed |= set(needed)
        fresh = [p.letter for p in puddles if p.fresh]
        say = [self._mix_words(fresh, [p.letter for p in puddles if not p.fresh])]
        if hair := hair_told(self.plan, layer, self.units):
            say.append(hair)
        time = self._time(layer)
        return BoardStep(
            id=f"mix-{layer}",
            kind="mix",
            layer=layer,
            title="First wash: mix" if layer == 1 else f"Layer {layer}: mix",
            say=tuple(say),
            cells=tuple(sorted({c for w in washes for c in w.cells})),
            touches=(),
            minutes=_minutes(time.mixing),
            timed=False,
            puddles=puddles,
        )

    def _mix_words(self, fresh: list[str], again: list[str]) -> str:
        told = []
        if fresh:
            told.append(f"Mix {listed(fresh)} and try a stroke of each; let it dry and compare.")
        if again:
            one = len(again) == 1
            told.append(
                f"{listed(again)} {'is' if one else 'are'} mixed already; stir "
                f"{'it' if one else 'them'} with a drop of water if dry."
            )
        return " ".join(told)

    def _puddle(self, q: int, washes: list[Wash]) -> PuddleToMix:
        plan, puddle = self.plan, self.plan.puddles[q]
        names = [plan.paints[p].name for p, _ in puddle.parts]
        return PuddleToMix(
            letter=puddle.name,
            fresh=q not in self.mixed,
            parts_words=recipe_words(parts_of(plan, q)),
            parts=parts_of(plan, q),
            colour=hex_of(puddle.swatch[0]),
            step=puddle.value_steps[0],
            wet=hex_of(puddle.wet),
            tubes=mix_told(puddle.amount, names, self.units),
            pans=mix_told(puddle.amount, names, self.units, pans=True),
            consistency=consistency_words(puddle),
            test=puddle.amount.consistency.test,
            strip=self.strips[q],
            uses=tuple(w.number for w in washes if w.puddle == q),
        )

    # --- a layer -----------------------------------------------------------------

    def _time(self, layer: int) -> LayerTime:
        return self.plan.schedule.time.layers[self.painted.index(layer)]

    def _layer(self, layer: int) -> Iterator[BoardStep]:
        known = {w.number: w for w in self.plan.washes_of(layer)}
        for i, step in enumerate(self.plan.schedule.steps[layer - 1]):
            if isinstance(step, Wait):
                if step.minutes >= SHORTEST_WAIT:
                    yield self._wait(layer, i, step, known)
            else:
                yield from (self._wash(known[n], step) for n in step.ids)

    def _wait(self, layer: int, i: int, step: Wait, known: dict[int, Wash]) -> BoardStep:
        low, mid, high = (f * step.minutes for f in WAIT_SPREAD)
        return BoardStep(
            id=f"wait-{layer}-{step.before[0] if step.before else i}",
            kind="wait",
            layer=layer,
            title="Wait",
            say=(f"{wait_words(step)}", self._before(step)),
            cells=tuple(c for n in step.until for c in known[n].cells),
            touches=(),
            minutes=(low, mid, high),
            timed=True,
        )

    def _before(self, step: Wait) -> str:
        next_one = f"wash {step.before[0]}" if step.before else "the next wash"
        return f"Then {next_one} can meet its neighbour along a clean edge."

    def _wash(self, wash: Wash, run: Run) -> BoardStep:
        where = self.where.words(wash)
        told = self._to_lay(wash, run_words(run) if wash.number == run.ids[0] else "", where)
        say = (lay_words(wash, self.letters), f"{where[0].upper()}{where[1:]}.", told.keep)
        return BoardStep(
            id=f"wash-{wash.layer}-{wash.number}",
            kind="wash",
            layer=wash.layer,
            title=f"Wash {wash.number}, puddle {told.letter}",
            say=tuple(s for s in say if s),
            cells=wash.cells,
            touches=told.kept,
            minutes=_minutes(_painting(wash)),
            timed=False,
            wash=told,
            numbers=(
                ("strength, share of a full coat", f"{wash.strength:.3f}"),
                ("before, CIELAB", lab_words(wash.before)),
                ("after, CIELAB", lab_words(wash.after)),
            ),
        )

    def _to_lay(self, wash: Wash, run: str, where: str) -> WashToLay:
        plan, puddle = self.plan, self.plan.puddles[wash.puddle]
        runny = self._runny(wash)
        return WashToLay(
            number=wash.number,
            letter=puddle.name,
            parts_words=recipe_words(parts_of(plan, wash.puddle)),
            parts=parts_of(plan, wash.puddle),
            consistency=runny.name,
            test=runny.test,
            step=wash.value_step,
            stroke=hex_of(wash.stroke),
            technique=wash.technique,
            paper=paper_words(wash),
            where=where,
            area=area_told(wash.area_mm2, self.units),
            edges=edges_told(wash, self.units),
            keep=self.where.keep_words(wash),
            goes=change_words(wash, plan),
            run=run,
            before=hex_of(wash.before),
            after=hex_of(wash.after),
            into=wash.into,
            bare=self.where.bare_beside(wash),
            kept=self.where.kept(wash),
            mistakes=mistakes(plan, wash),
        )

    def _runny(self, wash: Wash) -> Consistency:
        """How runny the puddle is when it is let down for this wash."""
        strongest = max(wash.strength, wash.end_strength or 0.0)
        return consistency(strongest * float(self.loads[wash.puddle]), wash.technique)

    def _dry(self, layer: int) -> BoardStep:
        time = self._time(layer)
        last = layer == self.painted[-1] and not any(
            t.puddle is not None or t.way == "masked" for t in self.plan.touches
        )
        span = time.dry_after if time.drying.high <= 0 else time.drying
        then = "Then it is done." if last else ""
        wait = dry_words(span).removeprefix("Then ")
        say = (f"{wait[:1].upper()}{wait[1:]}", DRY_ENOUGH, then)
        return BoardStep(
            id=f"dry-{layer}",
            kind="dry",
            layer=layer,
            title=f"Let {'the first wash' if layer == 1 else f'layer {layer}'} dry",
            say=tuple(s for s in say if s),
            cells=tuple(sorted({c for w in self.plan.washes_of(layer) for c in w.cells})),
            touches=(),
            minutes=_minutes(span),
            timed=True,
        )

    # --- fine strokes ------------------------------------------------------------

    def _reserve(self, layer: int) -> Iterator[BoardStep]:
        """What is kept free from when a layer is dry (0: from the start)."""
        own = [i for i, t in enumerate(self.plan.touches) if t.after == layer]
        if not own or layer >= self.plan.layers:
            return
        say = []
        for way, how in KEEPING:
            some = [self.plan.touches[i] for i in own if self.plan.touches[i].way == way]
            if some:
                say.append(f"{how} {strokes_told(some, self.units)}.")
                if way == "masked":
                    say.append(MASKING)
        yield BoardStep(
            id=f"keep-{layer}",
            kind="reserve",
            layer=layer,
            title="Keep the fine lights" if layer == 0 else "Keep what is light now",
            say=tuple(say),
            cells=(),
            touches=tuple(own),
            minutes=None,
            timed=False,
        )

    def _unmask(self) -> Iterator[BoardStep]:
        """What was covered is laid bare before the last strokes, which may run beside it."""
        own = tuple(i for i, t in enumerate(self.plan.touches) if t.way == "masked")
        if own:
            yield BoardStep(
                id="unmask",
                kind="unmask",
                layer=self.plan.layers,
                title="Take the masking fluid off",
                say=(UNMASKING,),
                cells=(),
                touches=own,
                minutes=None,
                timed=False,
            )

    def _last(self) -> Iterator[BoardStep]:
        """Fine strokes laid when everything is dry, puddle by puddle, pale ones first."""
        used = {t.puddle for t in self.plan.touches if t.puddle is not None}
        for q in sorted(used, key=lambda q: -float(self.plan.puddles[q].swatch[0][0])):
            own = [i for i, t in enumerate(self.plan.touches) if t.puddle == q]
            letter = self.letters[q]
            told = strokes_told([self.plan.touches[i] for i in own], self.units)
            yield BoardStep(
                id=f"last-{letter}",
                kind="strokes",
                layer=self.plan.layers,
                title=f"Fine strokes, puddle {letter}",
                say=(f"With a pointed brush and puddle {letter}: {told}.", STROKE_HABIT),
                cells=(),
                touches=tuple(own),
                minutes=_minutes(_touching([self.plan.touches[i] for i in own], letter)),
                timed=False,
                puddles=(self._puddle(q, []),),
            )
            self.mixed.add(q)


# Common practice, no source.
DRY_ENOUGH = "It is dry when it no longer feels cool to the back of the hand."
STROKE_HABIT = "Try each stroke on a strip first; it cannot be taken back."
KEEPING = (
    ("painted round", "Mark lightly, to paint round:"),
    ("masked", "Cover with masking fluid:"),
)


def _painting(wash: Wash) -> Range:
    """Minutes with the brush in hand."""
    hard, soft, _ = wash.edges_mm
    wet = wash.technique == "wet-in-wet"
    return wash_minutes(
        WashWork(
            area_mm2=wash.area_mm2,
            areas=wash.areas,
            hard_mm=hard,
            soft_mm=0.0 if wet else soft,
            technique=wash.technique,
            puddle=str(wash.puddle),
        )
    )


def _touching(touches: Sequence[Touch], letter: str) -> Range:
    """Minutes for fine strokes of one puddle."""
    area = sum(t.stroke.area_mm2 for t in touches)
    return wash_minutes(WashWork(area, len(touches), 0.0, 0.0, "touch", letter))
