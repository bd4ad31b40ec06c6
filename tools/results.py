"""How close plans of open photos come, and what limits cost.

    python tools/results.py          writes docs/reference/results.md
    python tools/results.py --page   makes out/results/index.html too, with every stage to look at

Photos: scikit-image's coffee() and chelsea() (CC0) and scikit-learn's flower.jpg and china.jpg
(Creative Commons), all shipped inside those packages.
"""

import io
import sys
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from html import escape
from pathlib import Path

import numpy as np
from PIL import Image
from skimage import data
from sklearn.datasets import load_sample_image

from firstwash import Limits, PhotoPlan, Plan, Wishes, plan_photo, write_plan
from firstwash.handout.table import by_hand_name, expected_words
from firstwash.picture.edges import all_hard
from firstwash.plan.report import as_judged, errors

ROOT = Path(__file__).parents[1]
OUT, PAGE = ROOT / "docs/reference/results.md", ROOT / "out/results"
JUDGED = ("coffee", "chelsea", "flower")
PHOTOS = (*JUDGED, "china")
SETS = ("measured", "starter", "all")
UNIFORM_MM = (1.0, 3.0)


def photo(name: str) -> bytes:
    """The photo as PNG bytes."""
    packaged = name in ("flower", "china")
    pixels = load_sample_image(f"{name}.jpg") if packaged else getattr(data, name)()
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "PNG")
    return file.getvalue()


@cache
def _planned(name: str, box: str, limits: tuple[tuple[str, int | float | None], ...]) -> PhotoPlan:
    wishes = Wishes(paints=box, limits=Limits(**dict(limits)))  # type: ignore[arg-type]
    return plan_photo(photo(name), wishes)


def planned(name: str, box: str, **limits: int | float | None) -> PhotoPlan:
    """A plan at 28 × 38 cm with default limits but for those named; box: a set of paints."""
    return _planned(name, box, tuple(sorted(limits.items())))


def _hours(plan: Plan) -> str:
    return f"{plan.schedule.minutes.mid / 60:.1f}"


def _cost(plan: Plan) -> str:
    """Puddles, washes, areas and hours of a plan."""
    areas = sum(w.areas for w in plan.washes)
    return f"{len(plan.puddles)} | {len(plan.washes)} | {areas} | {_hours(plan)}"


def _row(name: str, paints: str, plan: Plan) -> str:
    r = plan.report
    e = r.against_photo
    return (
        f"| {name} | {paints} | {_cost(plan)} "
        f"| {e.mean:.2f} / {e.median:.2f} / {e.p95:.2f} | {r.against_target.mean:.2f} "
        f"| {r.rungs[0].against_photo.mean:.2f} | {r.rungs[1].against_photo.mean:.2f} "
        f"| {r.agreement.value_pattern:.2f} | {r.agreement.edges_found:.2f} | {_by_hand(plan)} |"
    )


def _by_hand(plan: Plan) -> str:
    found = plan.report.by_hand
    return "" if found is None else expected_words(found.whole)


def _tables() -> Iterator[str]:
    head = (
        "| photo | paints | puddles | washes | areas | hours | against photo, mean / median / p95 "
        "| against target, mean | free mixing per pixel | free mixing in soft areas "
        "| value pattern | edges found | by hands 20 % off (nine of ten) |"
    )
    for title, limits in (
        (
            "At most 16 puddles, 60 washes and 5 hours (what the command asks for by itself)",
            {"puddles": 16, "washes": 60, "hours": 5.0},
        ),
        ("At most 16 puddles, as many washes as it likes", {"puddles": 16}),
        ("At most 12 puddles, as many washes as it likes", {"puddles": 12}),
        ("As many puddles and washes as it likes", {"puddles": None}),
        ("60 shapes, 16 puddles, 60 washes", {"shapes": 60, "puddles": 16, "washes": 60}),
        ("60 shapes, 16 puddles, as many washes as it likes", {"shapes": 60, "puddles": 16}),
    ):
        yield f"\n## {title}\n\n{head}\n|{'---|' * 13}"
        for paints in SETS:
            plans = {n: planned(n, paints, **limits).plan for n in PHOTOS}
            for name, plan in plans.items():
                yield _row(name, paints, plan)
            mean = np.mean([plans[n].report.against_photo.mean for n in JUDGED])
            yield f"| **mean of the first three** | {paints} | | | | | **{mean:.2f}** | | | | | | |"


def _cell(plan: Plan) -> str:
    return (
        f"{plan.report.against_photo.mean:.2f} ({len(plan.puddles)} p, {len(plan.washes)} w, "
        f"{_hours(plan)} h)"
    )


def _limits() -> Iterator[str]:
    yield "\n## What limits cost\n\nStarter set. Mean CIEDE2000 against the photo, and in brackets"
    yield "the puddles, washes and hours of that plan; all other limits as in the second table.\n"
    yield f"| limit | {' | '.join(PHOTOS)} |\n|{'---|' * (len(PHOTOS) + 1)}"
    for limits in (
        {"washes": 15},
        {"washes": 30},
        {"washes": 60},
        {"washes": 120},
        {},
        {"puddles": 8},
        {"puddles": 12},
        {"puddles": 24},
        {"puddles": None},
        {"washes": 60, "hours": 5.0},
        {"washes": 60, "hours": 3.0},
        {"layers": 3},
        {"layers": 5},
        {"paints": 4},
        {"shapes": 60},
        {"shapes": 300},
        {"washes": 60, "handling": 0.0},
        {"washes": 60, "handling": 2.0},
    ):
        cells = " | ".join(_cell(planned(n, "starter", **limits).plan) for n in PHOTOS)
        words = ", ".join(f"{'any' if v is None else v} {k}" for k, v in limits.items())
        yield f"| {words or 'none of these'} | {cells} |"


def _edge_table() -> Iterator[str]:
    yield "\n## Soft edges\n\nThe same plans (starter set, 60 washes) drawn with other edges: mean"
    yield "CIEDE2000 of the washes alone, against the photo.\n"
    yield (
        "| photo | all hard | all 1 mm soft | all 3 mm soft | as the picture has them "
        "| hard / soft / lost, share of length |\n|---|---|---|---|---|---|"
    )
    for name in PHOTOS:
        result = planned(name, "starter", puddles=16, washes=60, hours=5.0)
        edges = result.plan.edges
        drawn = [all_hard(result.plan.cells)]
        for sigma in UNIFORM_MM:
            every = np.full(edges.softness.shape, sigma, dtype=np.float32)
            none = np.zeros_like(edges.hard_across), np.zeros_like(edges.hard_down)
            drawn.append(replace(edges, softness=every, hard_across=none[0], hard_down=none[1]))
        found = [_error(result, replace(result.plan, edges=e)) for e in (*drawn, edges)]
        shares = " / ".join(f"{v:.2f}" for v in edges.shares().values())
        yield f"| {name} | {' | '.join(f'{v:.2f}' for v in found)} | {shares} |"


def _error(result: PhotoPlan, plan: Plan) -> float:
    painted = as_judged(plan.washes_xyz[-1], result.reference)
    return errors(painted, result.reference.judge_lab).mean


def _detail_table() -> Iterator[str]:
    yield "\n## Fine strokes\n\nWhat they add to those plans.\n"
    yield "| photo | reserved | laid last | mean against photo | edges found | edges true |"
    yield "|---|---|---|---|---|---|"
    for name in PHOTOS:
        plan = planned(name, "starter", puddles=16, washes=60, hours=5.0).plan
        before, after = plan.report.rungs[-2:]
        alone, all_ = plan.report.washes_alone, plan.report.agreement
        kept = sum(t.reserved for t in plan.touches)
        yield (
            f"| {name} | {kept} | {len(plan.touches) - kept} "
            f"| {before.against_photo.mean:.2f} → {after.against_photo.mean:.2f} "
            f"| {alone.edges_found:.3f} → {all_.edges_found:.3f} "
            f"| {alone.edges_true:.3f} → {all_.edges_true:.3f} |"
        )


def _page() -> None:
    """A folder to look through: every photo's plan, its stages in a row on one page."""
    blocks = []
    for name in PHOTOS:
        result = planned(name, "starter", puddles=16, washes=60, hours=5.0)
        write_plan(result, PAGE / name)
        plan = result.plan
        files = ["reference.jpg", *(f"stages/stage-{n}.png" for n in range(1, plan.layers + 1))]
        words = ["Photo", *(f"Layer {n} dry" for n in range(1, plan.layers + 1))]
        files += ["stages/finished.png", "difference.png"]
        words += ["Finished", "Difference: white none, black 20 CIEDE2000"]
        pictures = "".join(
            f'<figure><img src="{name}/{f}" alt="{escape(f"{name}: {w}")}"><figcaption>{escape(w)}'
            "</figcaption></figure>"
            for f, w in zip(files, words, strict=True)
        )
        rungs = "; ".join(f"{escape(r.name)} {r.against_photo.mean:.2f}" for r in plan.report.rungs)
        rungs += f"; {by_hand_name(plan)} {_by_hand(plan)}"
        blocks.append(
            f"<h2>{name}</h2><p>{len(plan.puddles)} puddles, {len(plan.washes)} washes, "
            f"{len(plan.touches)} fine strokes, {_hours(plan)} hours. Mean CIEDE2000 against the "
            f'photo: {rungs}. <a href="{name}/summary.html">The whole plan</a></p>'
            f'<div class="row">{pictures}</div>'
        )
    style = (
        "body { margin: 2rem; background: #777; color: #fff; font: 1.1rem/1.5 Verdana; }"
        "a { color: #fff; } .row { display: flex; flex-wrap: wrap; gap: 1rem; }"
        "figure { margin: 0; width: 30rem; max-width: 100%; } img { width: 100%; height: auto; }"
    )
    page = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Results</title>'
        f"<style>{style}</style></head><body><h1>Plans of open photos</h1>{''.join(blocks)}"
        "</body></html>\n"
    )
    (PAGE / "index.html").write_text(page, encoding="utf-8")


def main() -> None:
    """Plan everything and write the tables, and the page of pictures if asked."""
    head = (
        "# Results\n\n28 × 38 cm, four layers, six paints, 150 shapes, judged at 1 px per mm; "
        "CIEDE2000. Estimated paints ('starter' and 'all' hold some) are estimates: their rows say "
        "what the planner does with them, not what real paint will do. Hours are an estimate from "
        "habits, mixing and drying included (docs/decisions/0007). Built by `python "
        "tools/results.py`; with `--page` it makes a page of all stages too."
    )
    parts = (_tables(), _limits(), _edge_table(), _detail_table())
    lines = [head, *(line for part in parts for line in part)]
    OUT.write_text("\n".join(lines) + "\n", encoding="utf-8")
    if "--page" in sys.argv[1:]:
        _page()


if __name__ == "__main__":
    main()
