"""The work of a class in blocks: the outline, every layer, the finish, and what each part takes."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

from firstwash.handout.cautions import UNMASKING, caution_lines
from firstwash.handout.steps import (
    MOST_WET,
    dry_words,
    reserve_words,
    run_words,
    touch_words,
)
from firstwash.language import listed, mark, tr, tr_count
from firstwash.pack.timetable_tasks import Block, Task, until_words
from firstwash.pack.words import letters_of, painted_layers, puddles_words
from firstwash.plan.board.hours import (
    HARD_MM_S,
    MOVE_S,
    PACE,
    TEST_S,
    LayerTime,
    WashWork,
    wash_minutes,
)
from firstwash.plan.board.order import Paint, Reason, Step, Wait
from firstwash.plan.result import Plan
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Wash
from firstwash.sheets.told import layer_inside, layer_title

__all__ = ["MASK_DRYING", "blocks_of", "clearing_words"]

MASK_DRYING: Final = mark("Masking fluid dries")
PENCIL_MM_S: Final = 8.0  # an outline traced with care
OUTLINE: Final = (10.0, 45.0)  # minutes, at least and at most
MASK_DRIES: Final = 15.0  # minutes, thin lines of masking fluid in a room
UNMASK: Final = 5.0
PIECE: Final = 10.0  # minutes of tracing
LONG_RUN: Final = 20.0  # minutes of washes that are not all kept wet together
MOST_SINGLE: Final = 4  # washes laid one by one that are told as one
STROKE: Final = 0.5  # minutes for a fine stroke that is looked for on the map first
# All: common practice, no source.
TAPE_OFF: Final = mark(
    "When all is dry, take the tape off slowly, away from the picture, and sign."
)


def blocks_of(plan: Plan) -> Iterator[Block]:
    """The outline, every layer that is painted, and the finish where fine strokes are laid."""
    yield Block((), (), tuple(_outline(plan)))
    layers = painted_layers(plan)
    for place, number in enumerate(layers):
        yield _layer_block(plan, place, number)
    if layers and any(not t.reserved for t in plan.touches):
        yield _finish(plan, len(layers))


def _whole(minutes: float) -> float:
    """Minutes that a timetable tells: to 1 below 10, then to 5, always up."""
    step = 1.0 if minutes <= 10.0 else 5.0
    return step * math.ceil(minutes / step - 1e-6)


def _outline(plan: Plan) -> Iterator[Task]:
    """The tracing, in pieces: it may be put down at any time."""
    low, high = OUTLINE
    minutes = _whole(min(max(float(plan.edges.length_mm.sum()) / PENCIL_MM_S / 60.0, low), high))
    text = tr(
        "Trace the outline onto the paper with a light hand. Whoever is ready shades the value "
        "sketch and fills in the exercise sheets."
    )
    while minutes > 0.0:
        yield Task("outline", tr("Draw the outline"), text, min(minutes, PIECE))
        minutes -= PIECE


# --- a layer -----------------------------------------------------------------


def _layer_block(plan: Plan, place: int, number: int) -> Block:
    time = plan.schedule.time.layers
    washes = plan.washes_of(number)
    tests = PACE[-1] * TEST_S * len(washes) / 60.0  # a stroke on a strip before every wash
    mixing = max(time[place].mixing.high - tests, 1.0)
    mix = _mixing(plan, number, letters_of(plan, washes), mixing)
    before = _masking(plan, place, number, mix)
    runs = tuple(_runs(plan, number, time[place].painting.high + tests))
    if place == 0:
        return Block(before, before, runs)
    meanwhile = tr(
        "Meanwhile mix or stir up the puddles of {layer}, paint test strips, and look at the work "
        "from afar.",
        layer=layer_inside(plan, number),
    )
    dry = _break(time[place - 1], meanwhile, mix)
    return Block(before, (dry, *_masking(plan, place, number, None)), runs)


def _mixing(plan: Plan, number: int, letters: Sequence[str], minutes: float) -> Task:
    """The puddles of a layer: new ones mixed, those of earlier layers stirred up again."""
    first: dict[str, int] = {}
    for wash in plan.washes:
        name = plan.puddles[wash.puddle].name
        first[name] = min(first.get(name, wash.layer), wash.layer)
    new = [letter for letter in letters if first[letter] == number]
    old = [letter for letter in letters if first[letter] < number]
    told = []
    if new:
        told.append(tr("Mix {puddles} as the step sheet says.", puddles=puddles_words(new)))
    if old:
        told.append(
            tr("Stir up {puddles} again, with a drop of water.", puddles=puddles_words(old))
        )
    told.append(tr("Try each on a strip before the brush goes near the painting."))
    text = " ".join(told)
    title = tr("Mix for {layer}", layer=layer_inside(plan, number))
    return Task("mix", title, text, _whole(minutes), number)


def _masking(plan: Plan, place: int, number: int, mix: Task | None) -> tuple[Task, ...]:
    """What is kept free from this layer on, and the mixing, done while masking fluid dries.

    mix: None where the puddles are mixed already.
    """
    since = painted_layers(plan)[place - 1] if place else 0
    kept = [t for t in plan.touches if t.after is not None and since <= t.after < number]
    mixing = () if mix is None else (mix,)
    if not kept:
        return mixing
    told = " ".join(words for words in reserve_words(kept) if words != tr(UNMASKING))
    keep = Task("mask", tr("Keep the lights"), told, _whole(_kept_minutes(kept)), number)
    if not any(t.way == "masked" for t in kept):
        return (keep, *mixing)
    text = tr("Masking fluid must be dry before any wash goes near it.")
    if mix is None:
        wait = MASK_DRIES
        meanwhile = tr("Meanwhile look at the work, and paint test strips.")
    else:
        wait = max(MASK_DRIES, mix.minutes)
        meanwhile = tr("Meanwhile: {work}", work=mix.text)
    text = f"{text} {meanwhile}"
    return (keep, Task("dry", tr(MASK_DRYING), text, wait, number))


def _kept_minutes(touches: Sequence[Touch]) -> float:
    """Drawn on stroke by stroke, as the plan's own schedule counts it, by a slow hand."""
    return PACE[-1] * sum(MOVE_S + t.stroke.length_mm / HARD_MM_S for t in touches) / 60.0


def _break(before: LayerTime, meanwhile: str, mix: Task) -> Task:
    """The break while a layer dries, long enough for what is mixed in it."""
    drying = before.drying.mid
    minutes = max(_whole(drying) if math.isfinite(drying) else math.inf, mix.minutes)
    text = f"{dry_words(before.drying, alone=True)} {meanwhile}".lstrip()
    return Task("dry", tr("Break while the paper dries"), text, minutes)


def _runs(plan: Plan, number: int, minutes: float) -> Iterator[Task]:
    """What is laid without a break, with the waits between. minutes: of all of it."""
    known = {w.number: w for w in plan.washes_of(number)}
    whole = sum(_hand(w) for w in known.values())
    pace = minutes / whole
    pause: Task | None = None
    for step in _gathered(plan.schedule.steps[number - 1]):
        if isinstance(step, Wait):
            pause = _pause(step, pause)
            continue
        for piece in _pieces(step, known, pace):
            run = _run(plan, number, piece, [known[i] for i in piece.ids], pace)
            yield replace(run, pause=pause)
            pause = None


def _pieces(step: Paint, known: Mapping[int, Wash], pace: float) -> Iterator[Paint]:
    """A step; one of more washes than anyone keeps wet together, in pieces.

    Between two pieces the borders are softened with a damp brush anyhow, so that a class may stop.
    """
    if len(step.ids) <= MOST_WET:
        yield step
        return
    own: list[int] = []
    for id_ in step.ids:
        dropped = known[id_].into is not None  # stays with the wash it is dropped into
        if own and not dropped and pace * sum(_hand(known[i]) for i in (*own, id_)) > LONG_RUN:
            yield replace(step, ids=tuple(own))
            own = []
        own.append(id_)
    yield replace(step, ids=tuple(own))


def _gathered(steps: Sequence[Step]) -> Iterator[Step]:
    """The steps, with washes that follow each other one by one in one step of a few."""
    single: list[Paint] = []
    for step in steps:
        alone = isinstance(step, Paint) and len(step.ids) == 1
        if single and (not alone or len(single) == MOST_SINGLE):
            yield replace(single[0], ids=tuple(s.ids[0] for s in single), reason=Reason.BY_NUMBER)
            single = []
        if isinstance(step, Paint) and alone:
            single.append(step)
        else:
            yield step
    if single:
        yield replace(single[0], ids=tuple(s.ids[0] for s in single), reason=Reason.BY_NUMBER)


def _hand(wash: Wash) -> float:
    """Minutes a slow hand takes for a wash, before they are matched to the plan's own sum."""
    hard, soft, _ = wash.edges_mm
    soft = 0.0 if wash.technique == "wet-in-wet" else soft
    work = WashWork(wash.area_mm2, wash.areas, hard, soft, wash.technique, str(wash.puddle))
    return wash_minutes(work).high


def _run(plan: Plan, number: int, step: Paint, washes: Sequence[Wash], pace: float) -> Task:
    letters = letters_of(plan, washes)
    told = run_words(step)
    puddles = puddles_words(letters)
    text = (
        f"{told} {tr('They take {puddles}.', puddles=puddles)}" if told else _lay(washes, puddles)
    )
    minutes = _whole(max(pace * sum(_hand(w) for w in washes), 1.0))
    title = f"{layer_title(plan, number)}: {_washes_words(washes)}"
    return Task("paint", title, text, minutes, number, step.ids, letters)


def _washes_words(washes: Sequence[Wash]) -> str:
    numbers = [str(w.number) for w in washes]
    if len(numbers) > 4:
        return tr_count("{count} wash", "{count} washes", len(numbers))
    told = listed(numbers)
    return tr_count("wash {washes}", "washes {washes}", len(numbers), washes=told)


def _lay(washes: Sequence[Wash], puddles: str) -> str:
    """What to lay from which puddles, where nothing else is to be told of it."""
    told = _washes_words(washes)
    if len(washes) == 1:
        return tr("Lay {washes} from {puddles}.", washes=told, puddles=puddles)
    return tr("Lay {washes} from {puddles}, one after the other.", washes=told, puddles=puddles)


def _pause(step: Wait, before: Task | None) -> Task:
    """A wait inside a layer; two in a row are one."""
    minutes = math.ceil(step.minutes) + (0.0 if before is None else before.minutes)
    until = tuple(sorted({*step.until, *(() if before is None else before.until)}))
    text = f"{until_words(until)} {tr('Meanwhile paint the next strokes on a test strip.')}"
    return Task("dry", tr("Wait for an edge to dry"), text, minutes, until=until)


# --- the end -----------------------------------------------------------------


def _finish(plan: Plan, painted: int) -> Block:
    """Masking off, the fine strokes, the tape off. painted: how many layers are painted."""
    time = plan.schedule.time.layers
    laid = [t for t in plan.touches if not t.reserved]
    letters = _touch_letters(plan, laid)
    mix = _touch_mixing(letters, time[-1])
    meanwhile = tr(
        "Meanwhile mix for the fine strokes, paint test strips, and look at the work from afar."
    )
    dry = _break(time[painted - 1], meanwhile, mix)
    strokes = _strokes(plan, laid, letters, time[-1].painting.high)
    off = [_unmask()] if any(t.way == "masked" for t in plan.touches) else []
    return Block((mix,), (dry,), (*off, strokes, _sign()))


def _touch_letters(plan: Plan, laid: Sequence[Touch]) -> tuple[str, ...]:
    used = sorted({t.puddle for t in laid if t.puddle is not None})
    return tuple(plan.puddles[q].name for q in used)


def _touch_mixing(letters: Sequence[str], time: LayerTime) -> Task:
    text = tr(
        "Stir up {puddles}; test each with the tip of the brush on a strip.",
        puddles=puddles_words(letters),
    )
    return Task("mix", tr("Mix for the fine strokes"), text, _whole(time.mixing.high))


def _unmask() -> Task:
    return Task("finish", tr("Take the masking fluid off"), tr(UNMASKING), UNMASK)


def _strokes(plan: Plan, laid: Sequence[Touch], letters: tuple[str, ...], minutes: float) -> Task:
    text = " ".join(touch_words(plan))
    title = tr_count("The last {count} fine stroke", "The last {count} fine strokes", len(laid))
    slow = max(minutes, STROKE * len(laid))
    return Task("paint", title, text, _whole(max(slow, 1.0)), letters=letters)


def _sign() -> Task:
    return Task("finish", tr("Tape off and sign"), tr(TAPE_OFF), UNMASK)


def clearing_words(plan: Plan, last: bool, painted: bool = True) -> str:
    """How to clear up, with care for the rinse water of paints that ask for it.

    last: at the end of the last meeting; what is left for when the paper is dry is told too.
    painted: whether paint was out in this meeting.
    """
    if not painted:
        return tr("Put the boards where nobody leans on them, and the pencils away.")
    told = [tr("Rinse brushes in the first jar, then the second, and lay them flat to dry.")]
    named = caution_lines(plan.paints)
    if named:
        told.append(
            tr(
                "Mind the rinse water ({paints}): pour all of it into one bucket, which goes where "
                "your local rules send it, not down the sink.",
                paints="; ".join(named),
            )
        )
    else:
        told.append(tr("Let the rinse water settle, and keep the mud out of the sink."))
    if not last:
        told.append(tr("Cover the puddles that are needed again."))
    elif all(t.reserved for t in plan.touches):
        told += [tr(UNMASKING)] if any(t.way == "masked" for t in plan.touches) else []
        told.append(tr(TAPE_OFF))
    return " ".join(told)
