"""What is said with each picture of the painting as it grows: short, longer, and how long to say.

One caption for the bare sheet, one for every layer, one for the fine strokes at the end.
"""

import math
import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from firstwash.handout.steps import dry_words, reserve_words, touch_words
from firstwash.handout.words import area_words, change_of, change_words
from firstwash.language import tr, tr_count
from firstwash.pack.words import letters_of, painted_layers, puddles_words
from firstwash.plan.board.ranges import minutes_words
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash
from firstwash.sheets.told import layer_title

__all__ = [
    "FINISHED",
    "MOST_SHORT",
    "Caption",
    "aloud",
    "captions",
    "captions_srt",
    "captions_text",
    "stage_images",
]

FINISHED: Final = "finished"
MOST_SHORT: Final = 90  # characters of a short caption
WORDS_A_MINUTE: Final = 140.0  # of calm speech; common practice, no source
LEAST_SECONDS: Final = 2.0  # that a caption stays up; common practice, no source
LINE: Final = 42  # characters of a subtitle's line, two of which are shown; common practice


@dataclass(frozen=True)
class Caption:
    """Words for one picture.

    image: its name without an ending, as `stage_images` gives it. short: at most 90 characters.
    text: one to three sentences. seconds: that it takes to say the text at 140 words a minute.
    """

    image: str
    short: str
    text: str

    @property
    def seconds(self) -> float:
        """How long the text takes to say, to a tenth, at least 2."""
        spoken = len(self.text.split()) * 60.0 / WORDS_A_MINUTE
        return max(round(spoken, 1), LEAST_SECONDS)


def stage_images(plan: Plan) -> tuple[tuple[str, int | None], ...]:
    """Names of the pictures of a plan and the layers they show; None: fine strokes as well.

    Layers without a wash have no picture; nor have fine strokes where none is laid.
    """
    layers = (0, *painted_layers(plan))
    last: tuple[tuple[str, None], ...] = ((FINISHED, None),) if _laid(plan) else ()
    return (*((f"stage-{n}", n) for n in layers), *last)


def _laid(plan: Plan) -> int:
    return sum(not t.reserved for t in plan.touches)


def captions(plan: Plan) -> tuple[Caption, ...]:
    """One caption for each picture, in the order of the work."""
    return tuple(_caption(plan, name, stage) for name, stage in stage_images(plan))


def _caption(plan: Plan, name: str, stage: int | None) -> Caption:
    if stage is None:
        return _fine(plan)
    return _bare(plan) if stage == 0 else _layer(plan, name, stage)


def _bare(plan: Plan) -> Caption:
    kept = reserve_words([t for t in plan.touches if t.after == 0])
    size = plan.sheet.in_cm
    share = plan.reserve_share()
    whites = tr("About {share} of the paper stays bare to the end.", share=f"{share:.0%}")
    told = [tr("Trace the outline onto the paper, {size}, with light lines.", size=size), *kept[:1]]
    if share >= 0.01:
        told.append(whites)
    short = tr("The bare sheet, {size}: trace the outline", size=size)
    return Caption("stage-0", short, _joined(told))


def _layer(plan: Plan, name: str, number: int) -> Caption:
    washes = plan.washes_of(number)
    letters = puddles_words(letters_of(plan, washes))
    title = layer_title(plan, number)
    largest = max(washes, key=lambda w: w.area_mm2)
    first = tr_count(
        "{layer}: lay {count} wash from {puddles}, {area} in all.",
        "{layer}: lay {count} washes from {puddles}, {area} in all.",
        len(washes),
        layer=title,
        puddles=letters,
        area=area_words(sum(w.area_mm2 for w in washes)),
    )
    told = [first, _largest_words(plan, largest, len(washes)), _drying(plan, number)]
    return Caption(name, _short(title, letters, _dry_short(plan, number)), _joined(told))


def _largest_words(plan: Plan, wash: Wash, washes: int) -> str:
    before, after = change_of(wash, plan)
    change, name = change_words(wash, plan), plan.puddles[wash.puddle].name
    if washes == 1:
        if before != after:
            return tr("It takes {change}.", change=change)
        return _hardly_changed(wash, after)
    if before != after:
        return tr("The largest, from puddle {puddle}, takes {change}.", puddle=name, change=change)
    if wash.after[0] < wash.before[0]:
        return tr(
            "The largest, from puddle {puddle}, makes the {colour} there a little darker.",
            puddle=name,
            colour=after,
        )
    return tr(
        "The largest, from puddle {puddle}, changes the {colour} there a little.",
        puddle=name,
        colour=after,
    )


def _hardly_changed(wash: Wash, colour: str) -> str:
    """What a wash does that leaves a colour of the same name."""
    if wash.after[0] < wash.before[0]:
        return tr("It makes the {colour} there a little darker.", colour=colour)
    return tr("It changes the {colour} there a little.", colour=colour)


def _short(title: str, letters: str, dry: str) -> str:
    """Title, puddles and drying time, as many of them as fit."""
    for words in (f"{title}: {letters}{dry}", f"{title}: {letters}", f"{title}{dry}"):
        if len(words) <= MOST_SHORT:
            return words
    return title


def _dry_short(plan: Plan, number: int) -> str:
    minutes = plan.schedule.time.layers[painted_layers(plan).index(number)].drying.mid
    if minutes <= 0.0:
        return ""
    if math.isinf(minutes):
        told = tr("then let it dry for another day")
    else:
        told = tr("then let it dry {time}", time=minutes_words(minutes))
    return f"; {told}"


def _drying(plan: Plan, number: int) -> str:
    return dry_words(plan.schedule.time.layers[painted_layers(plan).index(number)].drying)


def _fine(plan: Plan) -> Caption:
    told = touch_words(plan)
    count = _laid(plan)
    if len(told) == 1:
        more = told[0]
    else:
        laid = dict.fromkeys(t.puddle for t in plan.touches if t.puddle is not None)
        letters = puddles_words([plan.puddles[q].name for q in sorted(laid)])
        more = tr_count(
            "They are {count} fine stroke from {puddles}.",
            "They are {count} fine strokes from {puddles}.",
            count,
            puddles=letters,
        )
    first = tr("When all is dry, lay the last darks with the tip of a pointed brush.")
    short = tr_count(
        "Finished: {count} fine stroke with the tip, on dry paint",
        "Finished: {count} fine strokes with the tip, on dry paint",
        count,
    )
    return Caption(FINISHED, short, _joined([first, more]))


def _joined(told: Sequence[str]) -> str:
    return aloud(" ".join(words for words in told if words))


def aloud(text: str) -> str:
    """A text as it is read out: units in words, asides without brackets."""
    for sign, one, more in _units():
        text = re.sub(rf"(?<![\d.,])1[ \u00a0]{re.escape(sign)}(?![\w²])", f"1 {one}", text)
        text = re.sub(rf"(\d)[ \u00a0]{re.escape(sign)}(?![\w²])", rf"\1 {more}", text)
    text = re.sub(r"(\d) × (\d)", rf"\1 {tr('by')} \2", text)
    return re.sub(r" \(([^()]*)\)(?=([.,;]?))", _aside, text)


def _aside(found: re.Match[str]) -> str:
    """An aside in brackets between commas; the second one only where nothing else follows."""
    return f", {found[1]}" if found[2] else f", {found[1]},"


def _units() -> tuple[tuple[str, str, str], ...]:
    return (
        ("mm²", tr("square millimetre"), tr("square millimetres")),
        ("cm²", tr("square centimetre"), tr("square centimetres")),
        ("mm", tr("millimetre"), tr("millimetres")),
        ("cm", tr("centimetre"), tr("centimetres")),
        ("m", tr("metre"), tr("metres")),
    )


def captions_text(told: Sequence[Caption], title: str = "") -> str:
    """A plain list for a video or a post: picture, seconds, short caption, longer text."""
    head = [title.strip(), ""] if title.strip() else []
    blocks = [
        f"{n}. {c.short}\n   {_picture_words(c)}\n"
        + textwrap.fill(c.text, 78, initial_indent="   ", subsequent_indent="   ")
        for n, c in enumerate(told, 1)
    ]
    whole = sum(c.seconds for c in told)
    total = tr("In all {time}.", time=_clock_words(whole))
    return "\n".join([*head, "\n\n".join(blocks), "", total, ""])


def _picture_words(caption: Caption) -> str:
    return tr_count(
        "Picture: {image}, {count} second",
        "Picture: {image}, {count} seconds",
        round(caption.seconds),
        image=caption.image,
    )


def _clock_words(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    spoken = tr_count("{count} second", "{count} seconds", rest)
    if not minutes:
        return spoken
    return f"{tr_count('{count} minute', '{count} minutes', minutes)} {spoken}"


def captions_srt(told: Sequence[Caption]) -> str:
    """The longer texts as SubRip subtitles, one picture after the other, two lines at a time."""
    cues: list[str] = []
    now = 0.0
    for caption in told:
        words = max(len(caption.text.split()), 1)
        for text in _cues(caption.text.replace("-->", "→")):
            end = now + caption.seconds * len(text.split()) / words
            cues.append(f"{len(cues) + 1}\n{_stamp(now)} --> {_stamp(end)}\n{text}\n")
            now = end
    return "\n".join(cues)


def _cues(text: str) -> list[str]:
    """A text in pieces of at most two lines, all lines about as long: no word is left alone."""
    lines = textwrap.wrap(text, LINE)
    for width in range(len(text) // max(len(lines), 1), LINE):
        even = textwrap.wrap(text, max(width, 1))
        if len(even) <= len(lines):
            lines = even
            break
    return ["\n".join(lines[i : i + 2]) for i in range(0, len(lines), 2)]


def _stamp(seconds: float) -> str:
    whole = round(seconds * 1000.0)
    hours, rest = divmod(whole, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d},{rest % 1000:03d}"
