"""From a reference and paints to a plan: the main road."""

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray, IntArray
from firstwash.light.split import LightSplit, split_light
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, default_paper
from firstwash.parallel import in_parallel
from firstwash.picture.edges import Edges, core_colours, find_edges
from firstwash.picture.first_drawing import graded_strips, shapes_of
from firstwash.picture.reference import Reference
from firstwash.picture.shapes import Cells, find_cells, lightest
from firstwash.picture.texture import roughness
from firstwash.plan.around import Decided, KeptCoats, solve_around
from firstwash.plan.assemble import Coats, Solution, assemble
from firstwash.plan.bare import as_wished, clear_of, keeps_bare
from firstwash.plan.bench import Bench
from firstwash.plan.board.drying import HAIR_DRYER, Room
from firstwash.plan.board.ranges import minutes_words, range_words
from firstwash.plan.exchange import refine
from firstwash.plan.fitting import in_a_hurry, is_too_long, within_hours
from firstwash.plan.graded import GradedWash, fit_graded_wash
from firstwash.plan.handling import PaintPrices, StackPrices, glows, price_paints
from firstwash.plan.hands import Painters
from firstwash.plan.kept import RecipeRules
from firstwash.plan.layin import open_borders
from firstwash.plan.local_first import LocalFirst, OwnColours, compared, own_colours
from firstwash.plan.palette import choose_paints, choose_palette, colour_groups, floor_for
from firstwash.plan.polish import HANDS
from firstwash.plan.problem import LAYERS, Limits, Progress, no_progress
from firstwash.plan.puddles import Mixing, drop_idle_coats, own_puddles, share_puddles
from firstwash.plan.report import make_report, mean_error
from firstwash.plan.result import PaletteWorth, Plan
from firstwash.plan.say import Say, heard
from firstwash.plan.schedule import with_touches
from firstwash.plan.spots import Spots, gather, halfway
from firstwash.plan.stacks import FIRST_WASH_LIGHTNESS, Stack, prune, solve_stack
from firstwash.plan.tone import ToneMap
from firstwash.plan.touches import choose_touches
from firstwash.plan.washes import LayIn, share_washes

__all__ = ["cells_of", "make_plan", "most_levels"]

SPOTS = 4  # colours that stand for a cell's pixels in the last refinement
PLANNED_FOR = 1  # seed of the painters that a plan is made for


def make_plan(
    reference: Reference,
    paints: Sequence[Paint],
    limits: Limits | None = None,
    paper: Paper | None = None,
    progress: Progress = no_progress,
    room: Room | None = None,
    decided: Decided | None = None,
    look: Callable[[Plan], None] | None = None,
) -> Plan:
    """Plan the painting of a reference with these paints.

    paints: all the painter owns; at most `limits.paints` of them go on the palette.
    room: whose air dries the washes; 20 °C and 50 % humidity unless given.
    progress: called between steps; what it raises stops the work.
    decided: drawing, coats and recipes that an earlier plan hands on (`firstwash.plan.replan`).
    look: called with the first attempt before it allows for the hand, for whoever waits; what
    follows may change it.
    Raises PaintError for paints that cannot make a plan.
    """
    asked = limits or Limits()
    ground = paper or default_paper()
    heard_as = asked if decided is None else decided.preferring(asked, paints)
    say = heard(tuple(paints), heard_as, ground)
    desk = _Desk(reference, say, ground, room or Room(), decided, look)
    if asked.local_first:
        desk.begin_split()
    plan = desk.plan(asked, lambda step, done: progress(step, 0.8 * done))
    if decided is None:
        plan = within_hours(desk.plan, plan, asked, lambda p: mean_error(p, reference), progress)
    elif is_too_long(plan, asked.hours):  # a drawing that stays cannot be made simpler
        plan = in_a_hurry(plan)
    progress("Checking the result", 0.85)
    report = make_report(plan, desk.judged_by(plan), desk.box)
    report = replace(report, palette=desk.worth, local_first=desk.local_first(plan))
    notes = _notes(plan, asked, say)
    plan = plan.told_more(limits=asked, report=report, notes=notes)
    progress("Done", 1.0)
    return plan


class _Desk:
    """What all attempts at one plan share: picture, paints, and the palette once chosen."""

    def __init__(
        self,
        reference: Reference,
        say: Say,
        paper: Paper,
        room: Room,
        decided: Decided | None = None,
        look: Callable[[Plan], None] | None = None,
    ) -> None:
        self.reference, self.say, self.paper, self.room = reference, say, paper, room
        self.decided = decided
        self.look = look  # at the first attempt alone
        self.box = Bench.of(say.paints, paper).limited(say.shares)
        self.worth: PaletteWorth | None = None
        self._chosen: list[int] | None = None
        self._splitting: Future[LightSplit] | None = None

    def begin_split(self) -> None:
        """Tell light from local colour beside other work, which leaves a core free."""
        beside = ThreadPoolExecutor(max_workers=1)
        self._splitting = beside.submit(split_light, self.reference.xyz)
        beside.shutdown(wait=False)

    @cached_property
    def _split(self) -> LightSplit:
        """The picture as local colour and light; the same for every attempt."""
        assert self._splitting is not None
        return self._splitting.result()

    def plan(self, limits: Limits, progress: Progress = no_progress) -> Plan:
        """A plan within these limits, hours apart, not judged yet."""
        reference = self.reference
        progress("Finding the shapes", 0.0)
        if self.decided is None:
            cells, graded = cells_of(reference, shapes_of(reference, limits.for_shapes()), limits)
            edges = find_edges(reference.lab, cells)
        else:
            cells, graded, edges = self.decided.cells, self.decided.graded, self.decided.edges
        targets = core_colours(reference.lab, cells, edges, reference.weight)
        areas = np.bincount(cells.index.ravel(), reference.weight.ravel()) / reference.ppmm**2
        progress("Choosing the paints", 0.35)
        painted = self._painted(cells.count)
        if self._chosen is None:
            plain = cells.mean(reference.lab, reference.weight)[painted]
            self._chosen, self.worth = _choose(
                self.box, plain, areas[painted], limits.paints, self.say.must
            )
        bench = self.box.only(self._chosen)
        tone = _tone(bench, targets[painted], areas[painted])
        own = None
        if limits.local_first:
            progress("Telling light from local colour", 0.5)
            own = own_colours(self._split, cells.shape_of[cells.index])
        progress("Working out the layers", 0.6)
        paints = tuple(self.say.paints[i] for i in self._chosen)
        rough = roughness(reference.lab[..., 0], cells.shape_of[cells.index], reference.ppmm)
        cells = replace(cells, rough=rough)
        prices = price_paints(bench, list(paints), limits.handling)
        aims, kept = tone(targets), None
        if self.decided is not None:
            aims, kept = self.decided.aims_over(aims), self.decided.on(paints)
        goal = _goal(reference, cells, edges, targets, tone, aims)
        job = _Job(bench, cells, edges, aims, areas, limits, graded, prices, goal, kept, own)

        def put_together(coats: Coats) -> Plan:
            return assemble(
                Solution(bench, cells, coats, limits.layers, graded),
                sheet=reference.sheet,
                paper=self.paper,
                paints=paints,
                limits=limits,
                tone=tone,
                background=reference.background,
                edges=edges,
                room=self.room,
                targets=targets,
                aims=job.aims,
                photo_px=reference.photo_px,
            )

        def show(coats: Coats) -> None:
            if self.look is not None:
                self.look(put_together(coats))
                self.look = None

        plan = put_together(_solve(job, progress, show))
        progress("Finding the fine strokes", 0.9)
        return self._with_touches(plan, bench, limits)

    def _painted(self, cells: int) -> NDArray[np.int64]:
        """Cells whose colours the paints are chosen for: all but those to be kept bare."""
        every = np.arange(cells)
        wishes = {} if self.decided is None else self.decided.wishes
        named = sorted(wishes)
        aims = np.array([wishes[c] for c in named]).reshape(-1, 3)
        return np.setdiff1d(every, np.array(named, dtype=np.int64)[keeps_bare(aims, self.paper)])

    def local_first(self, plan: Plan) -> LocalFirst | None:
        """What the split of light and local colour changes in a plan; None where not asked."""
        if not plan.limits.local_first:
            return None
        graded = {s for w in plan.washes if w.kind == "graded wash" for s in w.shapes}
        free = sorted(set(range(plan.cells.shapes)) - graded)
        own = own_colours(self._split, plan.cells.shape_of[plan.cells.index])
        bench = Bench.of(plan.paints, plan.paper)
        return compared(bench, plan.cells, plan.aims, own, plan.limits.layers, free)

    def judged_by(self, plan: Plan) -> Reference:
        """The reference, with paper where the painter keeps it bare."""
        return self.reference if self.decided is None else as_wished(plan, self.reference)

    def _with_touches(self, plan: Plan, bench: Bench, limits: Limits) -> Plan:
        seen = self.judged_by(plan)
        touches = choose_touches(
            bench,
            plan.recipes,
            plan.washes_xyz,
            plan.tone(seen.lab),
            plan.cells.ppmm,
            limits.touches,
            self.reference.weight,
        )
        if seen is not self.reference:
            bare = keeps_bare(plan.aims, plan.paper)[plan.cells.index]
            touches = clear_of(touches, bare, plan.cells.ppmm)
        schedule = with_touches(plan.schedule, touches, plan.washes, plan.sheet.weight_gsm)
        return plan.told_more(touches=touches, schedule=schedule)


@dataclass(frozen=True, eq=False)
class _Job:
    """What the solving steps share.

    areas (n_cells,): mm², importance included.
    kept: what an earlier plan decided, None for nothing. own: local colours where first washes
    go by them.
    """

    bench: Bench
    cells: Cells
    edges: Edges
    aims: NDArray[np.float64]
    areas: NDArray[np.float64]
    limits: Limits
    graded: NDArray[np.int64]
    prices: PaintPrices
    goal: Spots
    kept: KeptCoats | None = None
    own: OwnColours | None = None


def cells_of(
    reference: Reference, shapes: IntArray, limits: Limits, reserves: frozenset[int] = frozenset()
) -> tuple[Cells, NDArray[np.int64]]:
    """Cells, and those among them that are strips of a graded background, in order.

    shapes: (rows, cols) 0 … n − 1, none across the reference's zones; reserves: those left bare.
    """
    strip_shapes = graded_strips(reference, shapes, reserves)
    most = most_levels(reference.lab, shapes, limits.layers)
    most[[*strip_shapes, *sorted(reserves)]] = 1
    cells = find_cells(
        reference.lab, shapes, reference.ppmm, limits.for_shapes(), most, reference.weight
    )
    return cells, np.flatnonzero(np.isin(cells.shape_of, strip_shapes))


def most_levels(lab: FloatArray, shapes: IntArray, layers: int) -> NDArray[np.int64]:
    """Value levels (n_shapes,) each shape may have: one fewer where a lead-in comes first."""
    pale = lightest(lab, shapes) >= FIRST_WASH_LIGHTNESS
    return np.where(pale, layers, max(layers - 1, 1))


def _choose(
    box: Bench, targets: FloatArray, areas: FloatArray, most: int, must: Sequence[int]
) -> tuple[list[int], PaletteWorth | None]:
    """At most `most` paints for the palette, those of `must` among them, in the set's order.

    One at least may fill a puddle alone: where all are limited, the last gives way to one.
    Also how good the choice is, where there is one to be made.
    """
    if box.colours <= most:
        return list(range(box.colours)), None
    # The photo's own colours, darks and all: its tones are mapped for the paints once chosen.
    groups, weights = colour_groups(targets, areas)
    choice = choose_palette(box, groups, weights, most, must)
    free = np.flatnonzero(box.shares >= 1.0)
    if not set(choice.chosen) & set(free.tolist()):
        chosen = [*must, *(p for p in choice.chosen if p not in must)]
        only = choose_paints(box.only(free.tolist()), groups, weights, 1)
        chosen[min(len(chosen), most - 1) :] = [int(free[only[0]])]
        return sorted(chosen), None
    worth = PaletteWorth(
        choice.compared, choice.score, choice.bound, choice.gap, choice.whole, choice.covers
    )
    return list(choice.chosen), worth


def _tone(bench: Bench, targets: FloatArray, areas: FloatArray) -> ToneMap:
    white = float(bench.labs(np.zeros((0, bench.colours)))[0][0])
    return ToneMap(floor=min(floor_for(bench, targets, areas), white), ceiling=white)


def _goal(
    reference: Reference,
    cells: Cells,
    edges: Edges,
    targets: FloatArray,
    tone: ToneMap,
    aims: FloatArray,
) -> Spots:
    """What the cells should show, colour by colour: the photo and its tone-mapped self.

    What soft edges lend a cell from its neighbours is taken out of the photo first. Where the
    painter wished for another colour, aims differ from the tone-mapped targets: by as much are
    the cell's colours moved.
    """
    own = targets[cells.index]
    lab = own + reference.lab - edges.spread(own)
    weight = reference.weight.ravel().astype(np.float64)
    spots = gather(cells.index.ravel(), lab.reshape(-1, 3), weight, cells.count, SPOTS)
    wished = (aims - tone(targets))[spots.cells]
    photo, mapped = spots.mapped(spots.labs + wished), spots.mapped(tone(spots.labs) + wished)
    return halfway(photo, mapped)


def _solve(job: _Job, progress: Progress, show: Callable[[Coats], None]) -> Coats:
    """All coats. show: called with them before they are refined for hands that err."""
    limits = job.limits
    plain = np.setdiff1d(np.unique(job.cells.shape_of), job.cells.shape_of[job.graded])
    stacks = in_parallel(lambda shape: _stack(job, int(shape)), plain)
    progress("Sharing the puddles", 0.75)
    graded = _graded(job)
    room = None if limits.puddles is None else limits.puddles - (graded is not None)
    recipes = None if job.kept is None else job.kept.rules(job.bench)
    stacks, mixing = _mix(job.bench, stacks, room, limits.paints_per_puddle, recipes)
    if limits.washes is not None:
        most = max(limits.washes - (graded is not None), 1)
        lay_in = LayIn(limits.first_washes, open_borders(job.cells, job.edges))
        stacks, mixing = share_washes(
            job.bench, stacks, mixing, most, limits.paints_per_puddle, lay_in
        )
        show(Coats(stacks, mixing, graded))
        progress("Allowing for the hand", 0.8)
        painters = Painters(limits.hand, HANDS if limits.hand else 1, PLANNED_FOR)
        stacks, mixing = refine(
            job.bench, stacks, mixing, job.goal, job.cells.count, painters, keep_first=True
        )
    else:
        show(Coats(stacks, mixing, graded))
    return Coats(stacks, mixing, graded)


def _stack(job: _Job, shape: int) -> Stack:
    cells = np.flatnonzero(job.cells.shape_of == shape)
    aims, areas = job.aims[cells], job.areas[cells]
    handling = StackPrices(
        job.prices, areas / areas.sum(), 1.0 - float(job.cells.rough[shape]), glows(aims)
    )
    first = None if job.own is None else job.own.lead_in(shape, aims[0])
    if job.kept is not None and job.kept.holds(cells):
        return solve_around(
            job.bench, shape, cells, aims, areas, job.kept.of(cells, job.limits.layers),
            handling, job.limits.paints_per_puddle, first,
        )  # fmt: skip
    return solve_stack(
        job.bench, shape, cells, aims, areas, job.limits.layers, handling=handling, first=first
    )


def _mix(
    bench: Bench,
    stacks: list[Stack],
    most: int | None,
    paints_per_puddle: int,
    kept: tuple[FloatArray, RecipeRules] | None = None,
) -> tuple[list[Stack], Mixing]:
    thinned = in_parallel(
        lambda s: prune(bench, s, paints_per_puddle) if s.held is None else s, stacks
    )
    washes = sum(len(s.amounts) for s in thinned)
    if kept is not None and len(kept[0]):
        many = max(washes if most is None else most, kept[1].kept, 1)
        mixing = share_puddles(bench, thinned, many, paints_per_puddle, kept=kept)
    elif most is None or washes <= most:
        mixing = own_puddles(bench, thinned)
    else:
        mixing = share_puddles(bench, thinned, max(most, 1), paints_per_puddle)
    return drop_idle_coats(bench, thinned, mixing)


def _graded(job: _Job) -> GradedWash | None:
    if not len(job.graded):
        return None
    if job.kept is not None and job.kept.holds(job.graded):
        return job.kept.graded_wash(job.graded)
    place = (np.arange(len(job.graded)) + 0.5) / max(len(job.graded), 1)
    aims = job.aims[job.graded]
    return fit_graded_wash(job.bench, aims, place, job.limits.paints_per_puddle)


def _too_long(plan: Plan) -> str:
    """That a plan does not fit its hours, and what would help."""
    time, room = plan.schedule.time, plan.schedule.room
    if not np.isfinite(time.waiting.mid):
        return "In air as damp as this nothing dries; warm the room or wait for another day."
    hurry = ", even in a hurry" if plan.schedule.hurried else ""
    told = f"This takes {range_words(plan.schedule.minutes)}{hurry}, longer than was asked for"
    if time.waiting.mid < time.mixing.mid + time.painting.mid:
        return f"{told}; fewer shapes, washes or puddles would help."
    help_ = ["a dry, warm room"]
    blown = [] if room.hair_dryer else ["a hair dryer"]
    help_ += blown
    help_ += ["fewer layers"] if plan.layers > LAYERS[0] else []
    how = f" {HAIR_DRYER}" if blown else ""
    return f"{told}: most of it is drying. What helps: {', '.join(help_)}.{how}"


def _made_to_fit(plan: Plan, asked: Limits, hours: float) -> list[str]:
    """What was done so that a plan fits its hours."""
    told = []
    if plan.limits != asked:
        count = f"{len(plan.puddles)} puddle{'s' * (len(plan.puddles) != 1)}"
        told.append(
            f"the plan has {plan.limits.layers} layers, {plan.cells.shapes} shapes, "
            f"{len(plan.washes)} washes and {count}"
        )
    if plan.schedule.hurried:
        told.append(
            "there is no waiting inside a layer and no wetting again: leave a hair of dry paper "
            "between neighbours, and soften edges with a damp brush"
        )
    return [f"To fit {minutes_words(60.0 * hours)}, {'; '.join(told)}."] if told else []


def _notes(plan: Plan, asked: Limits, say: Say) -> tuple[str, ...]:
    notes = list(say.notes)
    if is_too_long(plan, asked.hours):
        notes.append(_too_long(plan))
    elif asked.hours is not None:
        notes += _made_to_fit(plan, asked, asked.hours)
    used = {p for puddle in plan.puddles for p, _ in puddle.parts}
    wanted = {say.paints[i].key for i in say.must}
    idle = [p.name for i, p in enumerate(plan.paints) if p.key in wanted and i not in used]
    if idle:
        notes.append(f"On the palette as you asked, though no puddle needs it: {', '.join(idle)}.")
    if any(p.provenance == "estimated" for p in plan.paints):
        names = ", ".join(p.name for p in plan.paints if p.provenance == "estimated")
        notes.append(f"Estimated paints, not measured: {names}.")
    notes.append(
        "Pale washes and glazes over dry paint are predicted by the model; no open "
        "measurement covers them. Paint a test strip first."
    )
    return tuple(notes)
