"""One worker process at a time, started when needed, ended when idle or told to.

Each slot is a pool of one. A pool whose worker was killed is thrown away rather than mended, so
that nothing the dead worker may have held is waited for.
"""

import multiprocessing
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from pathlib import Path
from typing import TYPE_CHECKING, Any

from firstwash.web.worker import kill_worker, ready_worker, run

if TYPE_CHECKING:
    from pebble import ProcessFuture, ProcessPool

__all__ = ["Slot"]

LEAVING = 8.0  # s to wait for a pool that ends; it kills its worker after three


class Slot:
    """A place for one job. The caller holds its own lock around every call but `wait`."""

    def __init__(self, idle_seconds: float, environment: Mapping[str, str]) -> None:
        """Nothing is started yet."""
        self._idle_seconds, self._environment = idle_seconds, environment
        self._pool: ProcessPool | None = None
        self._holder: object | None = None
        self._idle: threading.Timer | None = None
        self._leaving: list[threading.Thread] = []
        self._guard = threading.RLock()

    @property
    def free(self) -> bool:
        """Whether it holds no job."""
        return self._holder is None

    def holds(self, holder: object) -> bool:
        """Whether it is busy with that job."""
        return self._holder is holder

    def run(
        self,
        holder: object,
        work: str,
        room: Path,
        args: Mapping[str, Any],
        returned: Callable[[object, bool], None],
    ) -> None:
        """Start some work; `returned(holder, crashed)` is called when the worker is done with it.

        It is called from another thread, also after `kill`.
        """
        with self._guard:
            self._stay()
            self._holder = holder
            future = self._schedule(work, room, args)

        def done(future: "Future[None]") -> None:
            crashed = future.cancelled() or future.exception() is not None
            with self._guard:
                if self._holder is holder:
                    self._holder = None
                    if crashed:
                        self._drop()
                    else:
                        self._rest()
            returned(holder, crashed)

        future.add_done_callback(done)

    def _schedule(self, work: str, room: Path, args: Mapping[str, Any]) -> "ProcessFuture[None]":
        if self._pool is not None and not self._pool.active:  # its idle worker was killed
            self._drop()
        if self._pool is None:
            self._pool = self._new_pool()
        try:
            return self._pool.schedule(run, args=(work, room, args))
        except RuntimeError:  # found out just now
            self._drop()
            self._pool = self._new_pool()
            return self._pool.schedule(run, args=(work, room, args))

    def _new_pool(self) -> "ProcessPool":
        from pebble import ProcessPool  # not needed at start

        return ProcessPool(
            max_workers=1,
            initializer=ready_worker,
            initargs=(dict(self._environment),),
            context=multiprocessing.get_context("spawn"),
        )

    def kill(self, pid: int | None) -> None:
        """End the worker with whatever it started; pid: if it has begun."""
        with self._guard:
            self._holder = None
            if pid is not None:
                kill_worker(pid)
            self._drop()

    def retire(self) -> None:
        """End the worker if it has nothing to do."""
        with self._guard:
            self._stay()
            if self._holder is None:
                self._drop()

    def wait(self) -> None:
        """Wait until every worker told to end has ended."""
        for thread in list(self._leaving):
            thread.join(LEAVING)

    def _stay(self) -> None:
        if self._idle is not None:
            self._idle.cancel()
            self._idle = None

    def _rest(self) -> None:
        self._stay()
        self._idle = threading.Timer(self._idle_seconds, self.retire)
        self._idle.daemon = True
        self._idle.start()

    def _drop(self) -> None:
        """Leave the pool to a thread that sees it out."""
        pool, self._pool = self._pool, None
        if pool is None:
            return
        pool.stop()  # type: ignore[no-untyped-call]
        self._leaving = [t for t in self._leaving if t.is_alive()]
        thread = threading.Thread(target=pool.join, daemon=True)
        thread.start()
        self._leaving.append(thread)
