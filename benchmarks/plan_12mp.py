"""From a 12-megapixel photo's bytes to a plan on disk: time by step, and peak memory.

Target: plan.json and the masks within 8 s on two cores after warm-up, under 2 GiB. The
stage pictures at the photo's full size and the other pictures are timed apart.

Run: python benchmarks/plan_12mp.py [--runs 5] [--json]
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from machine import HEAD, Steps, Timing, busy, peak_mib, table

if TYPE_CHECKING:
    from firstwash.usecases import Wishes

TARGET_S, TARGET_MIB = 8.0, 2048.0
PARTS = ("plan.json and masks", "stage pictures", "other pictures")
TOTAL = "bytes to plan.json and masks"


def _part(name: str) -> str:
    if name.startswith("stages/"):
        return PARTS[1]
    return PARTS[0] if name == "plan.json" or name.startswith("masks/") else PARTS[2]


def _write(result: object, folder: Path) -> dict[str, tuple[float, float]]:
    """Write every file of a plan; clock and processor seconds by part."""
    from firstwash import usecases

    spent = dict.fromkeys(PARTS, (0.0, 0.0))
    clock, processor = time.perf_counter(), time.process_time()
    for name, content in usecases._files(result, lambda _step, _done: None):
        file = folder / name
        file.parent.mkdir(exist_ok=True)
        file.write_bytes(content)
        now = (time.perf_counter(), time.process_time())
        before = spent[_part(name)]
        spent[_part(name)] = (before[0] + now[0] - clock, before[1] + now[1] - processor)
        clock, processor = now
    return spent


def _wishes() -> "Wishes":
    """What the command asks for by itself."""
    from firstwash.plan.problem import Limits
    from firstwash.usecases import Wishes

    return Wishes(limits=Limits(washes=60, hours=5.0))


def _one_run(data: bytes, steps: Steps, timings: dict[str, Timing]) -> None:
    from firstwash.usecases import plan_photo

    clock, processor = time.perf_counter(), time.process_time()
    result = plan_photo(data, _wishes(), progress=steps)
    planned = (time.perf_counter() - clock, time.process_time() - processor)
    with tempfile.TemporaryDirectory() as folder:
        parts = _write(result, Path(folder))
    for name, (c, p) in parts.items():
        timings.setdefault(name, Timing()).add(c, p)
    written = parts[PARTS[0]]
    timings.setdefault(TOTAL, Timing()).add(planned[0] + written[0], planned[1] + written[1])


def _child(photo: Path, runs: int) -> dict[str, object]:
    """All runs in this process; a warm-up run first."""
    data = photo.read_bytes()
    _one_run(data, Steps(), {})
    steps, timings = Steps(), dict[str, Timing]()
    for _ in range(runs):
        _one_run(data, steps, timings)
    rows = {**steps.timings, **timings}
    return {n: {"clock": t.clock, "processor": t.processor} for n, t in rows.items()}


def _memory(photo: Path, pictures: bool) -> float:
    """Peak MiB of one run in this process; pictures: stages and the rest too."""
    from firstwash import usecases

    result = usecases.plan_photo(photo.read_bytes(), _wishes())
    for name, _ in usecases._files(result, lambda _step, _done: None):
        if not pictures and _part(name) != PARTS[0]:
            if name == "summary.html":
                continue
            break
    return peak_mib()


def _fresh(*arguments: str) -> dict[str, object]:
    done = subprocess.run(
        [sys.executable, __file__, *arguments], capture_output=True, text=True, check=True
    )
    return dict(json.loads(done.stdout.splitlines()[-1]))


def _report(timings: dict[str, Timing], memory: dict[str, float]) -> str:
    rows = [t.row(n) for n, t in timings.items() if n not in (*PARTS, TOTAL)]
    rows += [timings[n].row(n) for n in PARTS[:1]]
    rows += [timings[TOTAL].row(f"**{TOTAL}**")]
    rows += [timings[n].row(n) for n in PARTS[1:]]
    lines = [table(rows, HEAD), ""]
    lines += [f"Peak memory, {name}: {mib:.0f} MiB" for name, mib in memory.items()]
    ok = timings[TOTAL].seconds <= TARGET_S and max(memory.values()) < TARGET_MIB
    lines.append(f"Target {TARGET_S:.0f} s and {TARGET_MIB:.0f} MiB: {'met' if ok else 'NOT MET'}")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--part", choices=("time", "plan", "all"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    from scene import photo

    file = photo()
    if asked.part == "time":
        print(json.dumps(_child(file, asked.runs)))
        return
    if asked.part:
        print(json.dumps({"mib": _memory(file, asked.part == "all")}))
        return
    before = busy()
    seen = _fresh("--part", "time", "--runs", str(asked.runs))
    memory = {
        "plan and masks": float(str(_fresh("--part", "plan")["mib"])),
        "with all pictures": float(str(_fresh("--part", "all")["mib"])),
    }
    if asked.json:
        print(json.dumps({"busy": before, "timings": seen, "memory_mib": memory}, indent=1))
        return
    timings = {n: Timing(**t) for n, t in seen.items()}  # type: ignore[arg-type]
    print(f"{before}; {asked.runs} runs\n")
    print(_report(timings, memory))


if __name__ == "__main__":
    main()
