"""What every benchmark needs: medians, processor time beside the clock, and how busy it was.

On a shared machine the clock measures the neighbours too. So each figure comes with the
processor time it took (all threads) and the load before it started; with little load,
clock ≤ processor time ≤ 2 × clock on two cores.
"""

import os
import resource
import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

__all__ = ["Steps", "Timing", "busy", "measured", "peak_mib", "table"]


@dataclass
class Timing:
    """Seconds by the clock and of processor time, one entry per run."""

    clock: list[float] = field(default_factory=list)
    processor: list[float] = field(default_factory=list)

    @contextmanager
    def run(self) -> Iterator[None]:
        """Time one run."""
        clock, processor = time.perf_counter(), time.process_time()
        yield
        self.add(time.perf_counter() - clock, time.process_time() - processor)

    def add(self, clock: float, processor: float) -> None:
        """Note one run timed elsewhere."""
        self.clock.append(clock)
        self.processor.append(processor)

    @property
    def seconds(self) -> float:
        """Median by the clock."""
        return statistics.median(self.clock)

    @property
    def cpu(self) -> float:
        """Median of processor time."""
        return statistics.median(self.processor)

    def row(self, name: str) -> tuple[str, ...]:
        """Name, median and best by the clock, median of processor time."""
        return name, f"{self.seconds:.3f}", f"{min(self.clock):.3f}", f"{self.cpu:.3f}"


class Steps:
    """A progress callback that times each step that it hears of, until the next or "Done"."""

    def __init__(self) -> None:
        self.timings: dict[str, Timing] = {}
        self._running: str | None = None
        self._since = (0.0, 0.0)

    def __call__(self, step: str, _done: float) -> None:
        now = (time.perf_counter(), time.process_time())
        if self._running is not None:
            spent = self.timings.setdefault(self._running, Timing())
            spent.add(now[0] - self._since[0], now[1] - self._since[1])
        self._running, self._since = (None if step == "Done" else step), now


HEAD = ("", "median s", "best s", "processor s")


def measured(work: Callable[[], object], runs: int) -> Timing:
    """`work` timed `runs` times."""
    timing = Timing()
    for _ in range(runs):
        with timing.run():
            work()
    return timing


def peak_mib() -> float:
    """Most memory this process has held so far, MiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def busy() -> str:
    """How busy the machine is before a benchmark, in words."""
    load, cores = os.getloadavg()[0], os.cpu_count() or 1
    verdict = "quiet" if load < 0.6 * cores else "DISTURBED by other work"
    return f"Load before, on {cores} cores: {load:.1f}, {verdict}"


def table(rows: list[tuple[str, ...]], head: tuple[str, ...] = HEAD) -> str:
    """Rows as a Markdown table."""
    lines = [head, tuple("---" if i == 0 else "---:" for i in range(len(head))), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)
