"""Long work, done by up to two worker processes while the page goes on.

    job = jobs.start("plan", "firstwash.worksheet.planning:plan", {"state": text},
                     key=f"plan {painting}", on_done=store_it)

The work is a function `work(folder, progress, **args)` of some module, named rather than
imported, so that the server stays small. It writes its files into `folder` and returns what
json can write. A newer job of the same key replaces the older one. `on_done(result, folder)` runs
in the server, once at most, after the work and before the page hears of it; what it returns is
what the page is told. It may move files away from the folder, which is removed afterwards; without
it the folder stays until the job is forgotten.
"""

import json
import logging
import secrets
import shutil
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Literal

from firstwash.errors import FirstwashError
from firstwash.web.errors import UNEXPECTED, Busy, NotFound
from firstwash.web.slots import Slot
from firstwash.web.times import Times
from firstwash.web.words import kind_of, trace_words
from firstwash.web.worker import Work, kill_worker, named, worker_of

__all__ = ["STOPPED", "Event", "Job", "Jobs", "State"]

log = logging.getLogger("firstwash.jobs")
State = Literal["waiting", "running", "keeping", "finished", "failed", "cancelled"]
OnDone = Callable[[dict[str, Any], Path], Mapping[str, Any] | None]
LIVE: Final = ("waiting", "running", "keeping")
REMEMBERED: Final = 40  # ended jobs
STOPPED: Final = "The work stopped unexpectedly; nothing was lost. Try again."


@dataclass(frozen=True)
class Event:
    """Something the page hears of: its name and what json can write of it."""

    name: str
    data: Mapping[str, Any]


@dataclass(eq=False)
class Job:
    """One piece of work. Everything here belongs to `Jobs`, and changes under its lock.

    kind: for estimates ("plan"). key: of which there is one at a time ("plan 7"). room: its
    folder. events: all told so far, in order; the last one of an ended job says how it ended.
    """

    kind: str
    key: str
    work: str
    args: Mapping[str, Any] = field(repr=False)
    room: Path = field(repr=False)
    on_done: OnDone | None = field(repr=False)
    after: tuple["Job", ...] = field(repr=False)
    usual: float | None
    id: str = field(default_factory=lambda: secrets.token_urlsafe(9))
    state: State = "waiting"
    events: list[Event] = field(default_factory=list, repr=False)
    result: Mapping[str, Any] | None = field(default=None, repr=False)
    read: int = 0  # bytes of its progress
    began: float | None = None
    again: bool = False

    @property
    def live(self) -> bool:
        """Whether it may still finish."""
        return self.state in LIVE

    @property
    def folder(self) -> Path:
        """Where the work's own files are."""
        return self.room / "out"

    @property
    def seconds(self) -> float:
        """Since the work began."""
        return 0.0 if self.began is None else round(time.monotonic() - self.began, 2)

    def told(self) -> dict[str, Any]:
        """Its state for the page."""
        last = self.events[-1] if self.events else None
        step = next((e.data for e in reversed(self.events) if e.name == "progress"), {})
        return {
            "id": self.id,
            "kind": self.kind,
            "key": self.key,
            "state": "running" if self.state == "keeping" else self.state,
            "step": step.get("step", ""),
            "done": 1.0 if self.state == "finished" else step.get("done", 0.0),
            "seconds": self.seconds if last is None or self.live else last.data["seconds"],
            "usual": self.usual,
            **({"ended": dict(last.data)} if last and not self.live else {}),
        }


class Jobs:
    """All long work of one server. Its methods may be called from any thread."""

    def __init__(
        self,
        folder: Path,
        workers: int = 2,
        idle_seconds: float = 60.0,
        times: Times | None = None,
        environment: Mapping[str, str] | None = None,
    ) -> None:
        """Make room in `folder`, on the disk where results go; what an earlier run left is removed.

        idle_seconds: a worker with nothing to do ends after so long, and its memory is free.
        environment: variables set in the workers.
        """
        self._folder = folder
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True, mode=0o700)
        self._lock = threading.RLock()
        self._slots = [Slot(idle_seconds, environment or {}) for _ in range(workers)]
        self._jobs: dict[str, Job] = {}
        self._times = times or Times()
        self._closed = False

    def start(
        self,
        kind: str,
        work: Work | str,
        args: Mapping[str, Any] | None = None,
        *,
        key: str | None = None,
        after: str | None = None,
        on_done: OnDone | None = None,
    ) -> Job:
        """Begin some work as soon as a worker is free; a job of the same key is cancelled.

        args: what pickle can carry. after: key of jobs that must have ended first. Raises Busy
        when the server is closing.
        """
        key = kind if key is None else key
        with self._lock:
            if self._closed:
                raise Busy("firstwash is closing; start it again and open the worksheet.")
            first = tuple(j for j in self._jobs.values() if j.live and after == j.key != key)
            for older in [j for j in self._jobs.values() if j.key == key]:
                self.cancel(older.id)
            room = self._folder / secrets.token_hex(8)
            (room / "out").mkdir(parents=True)
            usual = self._times.usual(kind)
            job = Job(kind, key, named(work), dict(args or {}), room, on_done, first, usual)
            self._jobs[job.id] = job
            self._forget()
            self._next()
            return job

    def get(self, job_id: str) -> Job:
        """The job of that id. Raises NotFound."""
        with self._lock:
            try:
                return self._jobs[job_id]
            except KeyError:
                raise NotFound("This work is not known any more; start it again.") from None

    def of_key(self, key: str) -> Job | None:
        """The latest job of a key, live or ended."""
        with self._lock:
            return next((j for j in reversed(self._jobs.values()) if j.key == key), None)

    def all(self) -> list[Job]:
        """Every job still known, oldest first."""
        with self._lock:
            return list(self._jobs.values())

    def told(self, job: Job, since: int = 0) -> tuple[list[Event], bool]:
        """Events of a job from number `since` on, and whether there will be no more."""
        with self._lock:
            self._read_progress(job)
            return job.events[since:], not job.live

    def state(self, job: Job) -> dict[str, Any]:
        """A job's state for the page, up to date."""
        with self._lock:
            self._read_progress(job)
            return job.told()

    def cancel(self, job_id: str) -> bool:
        """Stop a job; its worker is killed. False if it had ended, or its result is being kept."""
        with self._lock:
            job = self.get(job_id)
            if job.state not in ("waiting", "running"):
                return False
            self._end(job, "cancelled", {})
            for slot in self._slots:
                if slot.holds(job):
                    slot.kill(worker_of(job.room))
            self._tidy(job)
            self._next()
            return True

    def close(self) -> None:
        """Stop everything, and wait until every worker has ended."""
        with self._lock:
            self._closed = True
            for job in self.all():
                self.cancel(job.id)
            for slot in self._slots:
                slot.retire()
        for slot in self._slots:
            slot.wait()
        shutil.rmtree(self._folder, ignore_errors=True)

    def _next(self) -> None:
        """Give free workers what waits, oldest first."""
        if self._closed:
            return
        waiting = [j for j in self._jobs.values() if j.state == "waiting"]
        ready = [j for j in waiting if not any(first.live for first in j.after)]
        for job, slot in zip(ready, [s for s in self._slots if s.free], strict=False):
            job.state, job.began = "running", time.monotonic()
            slot.run(job, job.work, job.room, job.args, self._returned)

    def _returned(self, holder: object, crashed: bool) -> None:
        """A worker is done with a job, one way or the other (called from a slot's thread)."""
        assert isinstance(holder, Job)
        job = holder
        worker = worker_of(job.room)
        if crashed and worker is not None:
            kill_worker(worker)  # what it had started
        with self._lock:
            if job.state != "running":  # cancelled meanwhile
                self._tidy(job)
                self._next()
                return
            outcome = _outcome(job.room)
            if crashed and worker is None and not job.again:
                job.state, job.again = "waiting", True  # the worker died before it began
                self._next()
                return
            job.state = "keeping"
            self._next()
        self._keep(job, outcome)
        with self._lock:
            self._next()

    def _keep(self, job: Job, outcome: Mapping[str, Any]) -> None:
        """Hand a result on, then let the page know."""
        state: State = "failed"
        if "finished" in outcome:
            state, told = self._hand_on(job, outcome["finished"])
        elif "failed" in outcome:
            told = {"sentence": outcome["failed"], "kind": outcome["kind"]}
        else:
            log.error("job %s: %s", job.kind, outcome.get("crashed", "the worker ended"))
            told = {"sentence": STOPPED, "kind": "stopped"}
        with self._lock:
            self._read_progress(job)
            if state == "finished":
                job.result = told["result"]
                self._times.took(job.kind, job.seconds)
            self._end(job, state, told)
            if job.on_done is not None or state != "finished":
                self._tidy(job)

    def _hand_on(self, job: Job, result: dict[str, Any]) -> tuple[State, dict[str, Any]]:
        try:
            changed = job.on_done(result, job.folder) if job.on_done is not None else None
        except FirstwashError as error:
            return "failed", {"sentence": str(error), "kind": kind_of(error)}
        except Exception as error:
            log.error("keeping of %s: %s", job.kind, trace_words(error))
            return "failed", {"sentence": UNEXPECTED, "kind": "unexpected"}
        return "finished", {"result": result if changed is None else dict(changed)}

    def _end(self, job: Job, state: State, told: Mapping[str, Any]) -> None:
        self._read_progress(job)
        job.events.append(Event(state, {**told, "seconds": job.seconds}))
        job.state = state

    def _read_progress(self, job: Job) -> None:
        """Take over the whole lines a worker has added."""
        if job.state not in ("running", "keeping"):
            return
        try:
            with (job.room / "progress").open("rb") as file:
                file.seek(job.read)
                new = file.read()
        except OSError:
            return
        whole = new[: new.rfind(b"\n") + 1]
        job.read += len(whole)
        for line in whole.splitlines():
            step, done = json.loads(line)
            told = {"step": step, "done": done, "seconds": job.seconds, "usual": job.usual}
            job.events.append(Event("progress", told))

    def _tidy(self, job: Job) -> None:
        shutil.rmtree(job.room, ignore_errors=True)

    def _forget(self) -> None:
        ended = [j for j in self._jobs.values() if not j.live]
        for job in ended[: max(0, len(ended) - REMEMBERED)]:
            del self._jobs[job.id]
            self._tidy(job)


def _outcome(room: Path) -> dict[str, Any]:
    """What the worker left; nothing if it was killed."""
    try:
        told = json.loads((room / "outcome").read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return told if isinstance(told, dict) else {}
