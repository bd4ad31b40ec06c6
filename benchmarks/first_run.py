"""The first plan after installation, with every compiled kernel still to be made.

The command line runs in a fresh process on the coffee photo that ships with scikit-image
(CC0). NUMBA_CACHE_DIR points to an empty folder, which numba prefers to any index beside
the sources; a second run with the folder filled tells how much of the first was compiling.
Then, into another empty folder, getting ready alone: it should compile every kernel.
Target: at most 60 s on two cores.

Run: python benchmarks/first_run.py [--runs 3]
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from PIL import Image
from skimage import data

from machine import HEAD, Timing, busy, table

TARGET_S = 60.0


def _plan(photo: Path, cache: Path, out: Path) -> tuple[float, float]:
    """Clock and processor seconds of one command-line run."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("NUMBA_")}
    environment["NUMBA_CACHE_DIR"] = str(cache)
    command = [sys.executable, "-m", "firstwash", "plan", str(photo), "--quiet"]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    clock = time.perf_counter()
    command += ["--out", str(out)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=environment)
    clock = time.perf_counter() - clock
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return clock, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _compiled(cache: Path) -> int:
    return sum(1 for _ in cache.rglob("*.nbi"))


def _left_over(photo: Path) -> int:
    """Kernels that a plan compiles though getting ready was to have done it."""
    with tempfile.TemporaryDirectory() as folder:
        cache = Path(folder) / "cache"
        cache.mkdir()
        environment = {**os.environ, "NUMBA_CACHE_DIR": str(cache)}
        warm = "from firstwash.warming import warm_up; warm_up()"
        subprocess.run([sys.executable, "-c", warm], check=True, env=environment)
        ready = _compiled(cache)
        _plan(photo, cache, Path(folder) / "plan")
        return _compiled(cache) - ready


def _run(photo: Path, first: Timing, second: Timing) -> int:
    with tempfile.TemporaryDirectory() as folder:
        cache = Path(folder) / "cache"
        cache.mkdir()
        first.add(*_plan(photo, cache, Path(folder) / "plan"))
        made = _compiled(cache)
        second.add(*_plan(photo, cache, Path(folder) / "plan"))
        if not made or made != _compiled(cache):
            sys.exit("numba did not use the empty cache folder: the figures mean nothing")
        return made


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=3)
    asked = parser.parse_args()
    print(busy(), flush=True)
    first, second = Timing(), Timing()
    with tempfile.TemporaryDirectory() as folder:
        photo = Path(folder) / "coffee.png"
        Image.fromarray(data.coffee()).save(photo)
        for _ in range(asked.runs):
            made = _run(photo, first, second)
        left = _left_over(photo)
    print(f"{made} kernels compiled, {left} of them not while getting ready; {asked.runs} runs\n")
    print(table([first.row("**first run**"), second.row("second run, kernels kept")], HEAD))
    print(f"\nTarget {TARGET_S:.0f} s: {'met' if first.seconds <= TARGET_S else 'NOT MET'}")


if __name__ == "__main__":
    main()
