"""What a class's timetable is made of: tasks, blocks of them, and what stands between two runs."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from firstwash.handout.words import puddles_words
from firstwash.language import listed, tr, tr_count

__all__ = ["Block", "Kind", "Task", "after_pause", "stirring", "until_words"]

Kind = Literal["set up", "outline", "mask", "mix", "paint", "dry", "look", "finish", "clear up"]

SHORT_PAUSE: Final = 2.0  # minutes that are not worth a line of their own
STIR: Final = 1.0  # minutes to stir up a puddle that has stood
# Both: common practice, no source.


@dataclass(frozen=True)
class Task:
    """Something to do, in whole minutes.

    letters: of its puddles. pause: what must pass first, if that is laid in the same meeting.
    until: numbers of the washes that a pause waits for.
    """

    kind: Kind
    title: str
    text: str
    minutes: float
    layer: int | None = None
    washes: tuple[int, ...] = ()
    letters: tuple[str, ...] = ()
    pause: "Task | None" = None
    until: tuple[int, ...] = ()


@dataclass(frozen=True)
class Block:
    """What belongs together.

    first: what comes before its runs at the start of a meeting. follow: what comes before them
    when it follows another block in the same meeting. runs: in order; a meeting may end between
    two of them.
    """

    first: tuple[Task, ...]
    follow: tuple[Task, ...]
    runs: tuple[Task, ...]

    @property
    def prepare(self) -> float:
        """Minutes before its first run at the start of a meeting."""
        return sum(task.minutes for task in self.first)

    @property
    def minutes(self) -> float:
        """Minutes of all its runs, with the pauses between them."""
        return sum(r.minutes + (0.0 if r.pause is None else r.pause.minutes) for r in self.runs)

    @property
    def longest(self) -> float:
        """Minutes of the longest stretch that no meeting may cut, with what it needs before."""
        whole = [self.prepare + run.minutes for run in self.runs[:1]]
        later = (run.minutes + sum(t.minutes for t in stirring([run])) for run in self.runs[1:])
        return max([*whole, *later], default=0.0)


def stirring(runs: Sequence[Task]) -> tuple[Task, ...]:
    """Puddles stirred up again before runs that open a meeting; nothing where they take none."""
    letters = tuple(dict.fromkeys(letter for run in runs for letter in run.letters))
    if not letters:
        return ()
    text = tr(
        "Stir up {puddles} with a little water; try each on a strip.",
        puddles=puddles_words(letters),
    )
    return (Task("mix", tr("Stir up the puddles"), text, STIR * len(letters), runs[0].layer),)


def after_pause(run: Task) -> tuple[Task, ...]:
    """What is done from a run's pause on; a pause of a minute or two is told with the run."""
    pause = run.pause
    if pause is None:
        return (run,)
    if pause.minutes > SHORT_PAUSE:
        return (pause, run)
    text = f"{until_words(pause.until)} {run.text}"
    return (replace(run, minutes=run.minutes + pause.minutes, text=text),)


def until_words(washes: Sequence[int]) -> str:
    """What is waited for; how long stands beside it."""
    return tr_count(
        "Wait until wash {washes} is dry.",
        "Wait until washes {washes} are dry.",
        len(washes),
        washes=listed([str(n) for n in washes]),
    )
