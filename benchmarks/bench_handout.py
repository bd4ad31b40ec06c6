"""From a plan's folder to its hand-out: the whole command, its steps, and the plain way beside.

A 12-megapixel photo is planned once, for four layers; that is not counted. Then the command runs
as a process of its own, as a teacher runs it, with Python starting and kernels compiled by a run
before. In one process: the steps, and peak memory.

The plain way, in the same run: every stage is painted in plain numpy one after another (its
pictures must agree with ours within one sRGB code), and every document is put together by itself
and set one after another, so that what the book and the single prints share is made twice.
Target: at most 10 s on two cores, the book at most 15 MB.

Run: python benchmarks/bench_handout.py [--runs 3] [--plan FOLDER]
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from machine import HEAD, Steps, Timing, busy, measured, peak_mib, table

TARGET_S, BOOK_MB = 10.0, 15.0
NEAR = 1  # sRGB codes that the plain pictures may differ by: rounding


def _command(words: list[str]) -> tuple[float, float]:
    """Clock and processor seconds of one command-line run."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    clock = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "firstwash", *words], check=True, stdout=subprocess.DEVNULL
    )
    clock = time.perf_counter() - clock
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return clock, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


# --- the plain way -------------------------------------------------------------------


def plain_stage(plan: Any, stage: int | None, fine: NDArray[np.int32]) -> NDArray[np.uint8]:
    """A stage in plain numpy: each pixel from the four around it that no hard edge parts it from.

    fine: cells (rows, cols) on a grid twice as fine as the picture.
    """
    from firstwash.optics.observer import lab_to_xyz, xyz_to_linear_srgb
    from firstwash.picture.profile import linear_to_srgb8
    from firstwash.plan.touches import draw_touches

    layer = plan.layers if stage is None else stage
    coarse = xyz_to_linear_srgb(plan.washes_xyz[layer])
    plain = xyz_to_linear_srgb(lab_to_xyz(plan.stage_labs[layer]))
    meet = plan.edges.soft_pairs(plan.cells.count) | np.eye(plan.cells.count, dtype=bool)
    rows, cols = fine.shape
    high, wide = plan.cells.index.shape
    y = np.clip((np.arange(rows) + 0.5) * high / rows - 0.5, 0.0, high - 1.0)[:, None]
    x = np.clip((np.arange(cols) + 0.5) * wide / cols - 0.5, 0.0, wide - 1.0)[None, :]
    y0, x0 = np.minimum(y.astype(int), high - 2), np.minimum(x.astype(int), wide - 2)
    light, total = np.zeros((rows, cols, 3)), np.zeros((rows, cols))
    for dy in (0, 1):
        for dx in (0, 1):
            weight = (1.0 - np.abs(y - y0 - dy)) * (1.0 - np.abs(x - x0 - dx))
            weight = weight * meet[fine, plan.cells.index[y0 + dy, x0 + dx]]
            light += weight[..., None] * coarse[y0 + dy, x0 + dx]
            total += weight
    alone = total <= 1e-6
    light /= np.where(alone, 1.0, total)[..., None]
    light[alone] = plain[fine[alone]]
    painted = draw_touches(
        light.astype(np.float32), plan.touches, cols / plan.sheet.width_mm, stage,
        lambda lab: xyz_to_linear_srgb(lab_to_xyz(lab)),
    )  # fmt: skip
    small = cv2.resize(painted.clip(0.0, 1.0), (cols // 2, rows // 2), interpolation=cv2.INTER_AREA)
    return linear_to_srgb8(small)


def plain_documents(planned: Any, asked: Any) -> list[bytes]:
    """Every document by itself, put together and set one after another."""
    from firstwash.sheets.front import cover_page, reference_page, values_page
    from firstwash.sheets.glossary import glossary_page
    from firstwash.sheets.pages import Pages, joined
    from firstwash.sheets.step import steps_pages
    from firstwash.sheets.strips import strip_pages
    from firstwash.sheets.supplies import supplies_pages
    from firstwash.sheets.tracing_pages import tile_pages
    from firstwash.sheets.typeset import typeset
    from firstwash.tracing.tiles import tiles_of
    from firstwash.usecases_handout import _Maker

    maker = _Maker(planned, asked)
    plan, reference, students = maker.plan, maker.reference, asked.lesson.students
    tiles = tiles_of(plan.sheet, asked.lesson.page)
    made: list[Callable[[], Pages]] = [
        lambda: joined([
            cover_page(plan, maker.cover), reference_page(plan, reference, maker.cover),
            values_page(plan, reference), steps_pages(plan), supplies_pages(plan, students),
            strip_pages(plan), glossary_page(),
        ]),
        lambda: tile_pages(maker.tracing, tiles, "outline"),
        lambda: tile_pages(maker.tracing, tiles, "mirrored", mirrored=True),
        lambda: tile_pages(maker.tracing, tiles, "pale", pale=True),
        lambda: steps_pages(plan),
        lambda: supplies_pages(plan, students),
        lambda: strip_pages(plan),
    ]  # fmt: skip
    out = []
    for work in made:
        pages = work()
        out.append(typeset(pages.source, pages.files, title="Plain", page=maker.page))
    return out


# --- in one process ------------------------------------------------------------------


def _inside(folder: Path, runs: int) -> dict[str, Any]:
    """Steps, memory and the plain way beside, after one run to warm up."""
    from firstwash.handout.pictures import cells_at
    from firstwash.pack.stages import paint_stages, size_of
    from firstwash.usecases import open_plan
    from firstwash.usecases_handout import HandoutWishes, _Maker, make_handout

    steps = Steps()
    for run in range(runs + 1):
        if run == 1:
            steps.timings = {}
        steps("Reading the plan", 0.0)
        planned = open_plan(folder)
        files = make_handout(planned, HandoutWishes(), steps)
    mib = peak_mib()
    plan, asked = planned.plan, HandoutWishes()
    width, height = size_of(plan)
    ours = paint_stages(plan)

    def plainly() -> list[NDArray[np.uint8]]:
        fine = cells_at(plan.cells, 2 * width, 2 * height)
        return [plain_stage(plan, stage, fine) for stage in ours.layers]

    apart = max(
        int(np.abs(a.astype(int) - b.astype(int)).max())
        for a, b, stage in zip(plainly(), ours.pictures, ours.layers, strict=True)
        if stage != 0
    )
    timings = {
        "stages": measured(lambda: paint_stages(plan), runs),
        "stages, plain": measured(plainly, 1),
        "documents": measured(lambda: _Maker(planned, asked).prints(), runs),
        "documents, plain": measured(lambda: plain_documents(planned, asked), 1),
    }
    return {
        "steps": {name: vars(timing) for name, timing in steps.timings.items()},
        "beside": {name: vars(timing) for name, timing in timings.items()},
        "mib": mib,
        "apart": apart,
        "mb": {
            name: len(data) / 1e6
            for name, data in files.items()
            if name.endswith((".zip", ".ora")) or (name.endswith(".pdf") and "/" not in name)
        },
    }


def main() -> None:
    """Print the figures; exit code 1 where the plain pictures do not agree with ours."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--plan", type=Path, help="a plan's folder, instead of one made now")
    parser.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.inside:
        print(json.dumps(_inside(asked.plan, asked.runs)))
        return
    with tempfile.TemporaryDirectory() as folder:
        plan = asked.plan or _planned(Path(folder) / "plan")
        words = ["handout", str(plan), "--quiet", "--out", str(Path(folder) / "class")]
        _command(words)
        before, whole = busy(), Timing()
        for _ in range(asked.runs):
            whole.add(*_command(words))
        inside = [sys.executable, __file__, "--inside", "--runs", str(asked.runs)]
        done = subprocess.run(
            [*inside, "--plan", str(plan)], capture_output=True, text=True, check=True
        )
    _tell(json.loads(done.stdout.splitlines()[-1]), whole, f"{before}; {asked.runs} runs")


def _planned(folder: Path) -> Path:
    from scene import photo

    _command(["plan", str(photo()), "--quiet", "--out", str(folder)])
    return folder


def _tell(seen: dict[str, Any], whole: Timing, before: str) -> None:
    rows = [Timing(**timing).row(name) for name, timing in seen["steps"].items()]
    print(f"{before}\n")
    print(table([*rows, whole.row("**the whole command**")], HEAD))
    beside = {name: Timing(**timing) for name, timing in seen["beside"].items()}
    pairs = [
        (name, f"{beside[name].seconds:.2f}", f"{plain.seconds:.2f}",
         f"{plain.seconds / beside[name].seconds:.1f} ×")
        for name in ("stages", "documents") if (plain := beside[f"{name}, plain"])
    ]  # fmt: skip
    print("\n" + table(pairs, ("", "ours s", "plain s", "ratio")))
    sizes = ", ".join(f"{name} {mb:.1f} MB" for name, mb in sorted(seen["mb"].items()))
    print(f"\nPeak memory: {seen['mib']:.0f} MiB. Sizes: {sizes}.")
    print(f"Plain pictures differ by {seen['apart']} sRGB codes at most (allowed {NEAR}).")
    print(f"Target {TARGET_S:.0f} s: {'met' if whole.seconds <= TARGET_S else 'NOT MET'}")
    book = min(mb for name, mb in seen["mb"].items() if name.endswith(".pdf"))
    print(f"Target {BOOK_MB:.0f} MB for the book: {'met' if book <= BOOK_MB else 'NOT MET'}")
    if seen["apart"] > NEAR:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
