"""From a 12-megapixel photo to a study in a folder: the whole command, and its steps.

The command runs as a process of its own, as a painter runs it, so its time holds starting Python
and importing; the kernels are compiled by a run before. Then, in one process, the steps of the
study by themselves, and how much memory it held.
Target: at most 4 s on two cores.

Run: python benchmarks/study.py [--runs 5] [--photo FILE]
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from machine import HEAD, Steps, Timing, busy, peak_mib, table

TARGET_S = 4.0


def _command(photo: Path, out: Path) -> tuple[float, float]:
    """Clock and processor seconds of one command-line run."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    clock = time.perf_counter()
    words = ["study", str(photo), "--quiet", "--out", str(out)]
    subprocess.run(
        [sys.executable, "-m", "firstwash", *words], check=True, stdout=subprocess.DEVNULL
    )
    clock = time.perf_counter() - clock
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return clock, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _inside(photo: Path, runs: int) -> dict[str, object]:
    """The steps in this process, after one run to warm up."""
    steps = Steps()
    steps("Importing", 0.0)
    from firstwash.usecases_study import study_photo, write_study

    steps("Done", 1.0)
    imported = steps.timings
    with tempfile.TemporaryDirectory() as folder:
        for run in range(runs + 1):
            if run == 1:
                steps.timings = imported
            found = study_photo(photo, progress=steps if run else lambda _step, _done: None)
            steps("Writing the folder", 1.0)
            write_study(found, Path(folder) / "study")
            steps("Done", 1.0)
    timings = {name: vars(timing) for name, timing in steps.timings.items()}
    return {"timings": timings, "mib": peak_mib()}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--photo", type=Path)
    parser.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    from scene import photo

    file = asked.photo or photo()
    if asked.inside:
        print(json.dumps(_inside(file, asked.runs)))
        return
    whole = Timing()
    with tempfile.TemporaryDirectory() as folder:
        _command(file, Path(folder) / "study")
        before = busy()
        for _ in range(asked.runs):
            whole.add(*_command(file, Path(folder) / "study"))
    words = [sys.executable, __file__, "--inside", "--runs", str(asked.runs), "--photo", str(file)]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    seen = json.loads(done.stdout.splitlines()[-1])
    rows = [Timing(**timing).row(name) for name, timing in seen["timings"].items()]
    print(f"{before}; {asked.runs} runs\n")
    print(table([*rows, whole.row("**the whole command**")], HEAD))
    print(f"\nPeak memory: {seen['mib']:.0f} MiB")
    print(f"Target {TARGET_S:.0f} s: {'met' if whole.seconds <= TARGET_S else 'NOT MET'}")


if __name__ == "__main__":
    main()
