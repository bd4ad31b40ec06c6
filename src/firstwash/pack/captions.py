"""What is said with each picture of the painting as it grows: short, longer, and how long to say.

One caption for the bare sheet, one for every layer, one for the fine strokes at the end.
"""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from firstwash.handout.steps import dry_words, reserve_words, touch_words
from firstwash.handout.words import area_words, change_words
from firstwash.pack.words import (
    counted,
    layer_name,
    letters_of,
    painted_layers,
    puddles_words,
)
from firstwash.plan.board.ranges import minutes_words
from firstwash.plan.result import Plan
from firstwash.plan.wash import Wash

__all__ = [
    "FINISHED",
    "MOST_SHORT",
    "Caption",
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
    kept = [words for words in reserve_words(plan.touches) if words.startswith("Before")]
    size = str(plan.sheet).partition(" (")[0]
    share = plan.reserve_share()
    whites = f"About {share:.0%} of the paper stays bare to the end." if share >= 0.01 else ""
    told = [f"Trace the outline onto the paper, {size}, with light lines.", *kept[:1], whites]
    return Caption("stage-0", f"The bare sheet, {size}: trace the outline", _joined(told))


def _layer(plan: Plan, name: str, number: int) -> Caption:
    washes = plan.washes_of(number)
    letters = puddles_words(letters_of(plan, washes))
    title = layer_name(plan, number)
    largest = max(washes, key=lambda w: w.area_mm2)
    first = (
        f"{title}: lay {counted(len(washes), 'wash', 'washes')} from {letters}, "
        f"{area_words(sum(w.area_mm2 for w in washes))} in all."
    )
    told = [first, _largest_words(plan, largest, len(washes)), _drying(plan, number)]
    return Caption(name, _short(title, letters, _dry_short(plan, number)), _joined(told))


def _largest_words(plan: Plan, wash: Wash, washes: int) -> str:
    change = change_words(wash, plan)
    who = "It" if washes == 1 else f"The largest, from puddle {plan.puddles[wash.puddle].name},"
    return f"{who} takes {change}." if " to " in change else f"{who} leaves {change}."


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
    told = minutes_words(minutes)
    return "; then let it dry for another day" if told == "never" else f"; then let it dry {told}"


def _drying(plan: Plan, number: int) -> str:
    return dry_words(plan.schedule.time.layers[painted_layers(plan).index(number)].drying)


def _fine(plan: Plan) -> Caption:
    told = touch_words(plan)
    strokes = counted(_laid(plan), "fine stroke")
    if len(told) == 1:
        more = told[0]
    else:
        laid = dict.fromkeys(t.puddle for t in plan.touches if t.puddle is not None)
        letters = puddles_words([plan.puddles[q].name for q in sorted(laid)])
        more = f"They are {strokes} from {letters}."
    text = _joined(["When all is dry, lay the last darks with the tip of a pointed brush.", more])
    return Caption(FINISHED, f"Finished: {strokes} with the tip, on dry paint", text)


def _joined(told: Sequence[str]) -> str:
    return " ".join(words for words in told if words)


def captions_text(told: Sequence[Caption], title: str = "") -> str:
    """A plain list for a video or a post: picture, seconds, short caption, longer text."""
    head = [title.strip(), ""] if title.strip() else []
    blocks = [
        f"{n}. {c.short}\n   Picture: {c.image}, {c.seconds:.0f} seconds\n"
        + textwrap.fill(c.text, 78, initial_indent="   ", subsequent_indent="   ")
        for n, c in enumerate(told, 1)
    ]
    whole = sum(c.seconds for c in told)
    return "\n".join([*head, "\n\n".join(blocks), "", f"In all {_clock_words(whole)}.", ""])


def _clock_words(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    spoken = counted(rest, "second")
    return f"{counted(minutes, 'minute')} {spoken}" if minutes else spoken


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
