"""Write docs/reference/results.md: how close plans of open photos come, and what limits cost.

Photos: scikit-image's coffee() and chelsea() (CC0) and scikit-learn's flower.jpg and china.jpg
(Creative Commons), all shipped inside those packages. Run: python tools/results.py
"""

import io
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image
from skimage import data
from sklearn.datasets import load_sample_image

from firstwash import Limits, Plan, Wishes, plan_photo

OUT = Path(__file__).parents[1] / "docs/reference/results.md"
JUDGED = ("coffee", "chelsea", "flower")
ALSO = ("china",)
SETS = ("measured", "starter", "all")


def photo(name: str) -> bytes:
    """The photo as PNG bytes."""
    packaged = name in ("flower", "china")
    pixels = load_sample_image(f"{name}.jpg") if packaged else getattr(data, name)()
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "PNG")
    return file.getvalue()


def plan_of(name: str, box: str, **limits: int | None) -> Plan:
    """A plan at 28 × 38 cm with default limits but for those named; box: a set of paints."""
    return plan_photo(photo(name), Wishes(paints=box, limits=Limits(**limits))).plan  # type: ignore[arg-type]


def _row(name: str, paints: str, plan: Plan) -> str:
    r = plan.report
    e = r.against_photo
    return (
        f"| {name} | {paints} | {len(plan.puddles)} | {len(plan.washes)} "
        f"| {e.mean:.2f} / {e.median:.2f} / {e.p95:.2f} | {r.against_target.mean:.2f} "
        f"| {r.rungs[0].against_photo.mean:.2f} | {r.rungs[1].against_photo.mean:.2f} "
        f"| {r.agreement.value_pattern:.2f} | {r.agreement.edges_found:.2f} |"
    )


def _tables() -> Iterator[str]:
    head = (
        "| photo | paints | puddles | washes | against photo, mean / median / p95 "
        "| against target, mean | free mixing per pixel | free mixing in flat cells "
        "| value pattern | edges found |"
    )
    for title, puddles, washes in (
        ("At most 16 puddles and 60 washes (what the command asks for by itself)", 16, 60),
        ("At most 16 puddles, as many washes as it likes", 16, None),
        ("As many puddles and washes as it likes", None, None),
    ):
        yield f"\n## {title}\n\n{head}\n|{'---|' * 10}"
        for paints in SETS:
            plans = {
                n: plan_of(n, paints, puddles=puddles, washes=washes) for n in (*JUDGED, *ALSO)
            }
            for name, plan in plans.items():
                yield _row(name, paints, plan)
            mean = np.mean([plans[n].report.against_photo.mean for n in JUDGED])
            yield f"| **mean of {', '.join(JUDGED)}** | {paints} | | | **{mean:.2f}** | | | | | |"


def _limits() -> Iterator[str]:
    yield "\n## What limits cost\n\nStarter set, mean CIEDE2000 against the photo; all other limits"
    yield "as in the second table.\n"
    yield f"| limit | {' | '.join(JUDGED)} | washes |\n|{'---|' * (len(JUDGED) + 2)}"
    for limits in (
        {"layers": 3},
        {"layers": 5},
        {"puddles": 8},
        {"puddles": 24},
        {"washes": 120},
        {"washes": 30},
        {"washes": 15},
        {"paints": 4},
        {"shapes": 60},
        {"shapes": 300},
    ):
        plans = [plan_of(n, "starter", **limits) for n in JUDGED]
        errors = " | ".join(f"{p.report.against_photo.mean:.2f}" for p in plans)
        words = ", ".join(f"{v} {k}" for k, v in limits.items())
        yield f"| {words} | {errors} | {', '.join(str(len(p.washes)) for p in plans)} |"


def main() -> None:
    """Plan everything and write the page."""
    head = (
        "# Results\n\n28 × 38 cm, four layers, six paints, 150 shapes, judged at 1 px per mm; "
        "CIEDE2000. Estimated paints ('starter' and 'all' hold some) are estimates: their rows say "
        "what the planner does with them, not what real paint will do. Built by "
        "`python tools/results.py`."
    )
    OUT.write_text("\n".join([head, *_tables(), *_limits()]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
