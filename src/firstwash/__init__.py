"""firstwash plans a transparent watercolour, from the first pale wash to the last dark.

    from pathlib import Path
    from firstwash import Limits, Wishes, plan_photo, write_plan

    wishes = Wishes(sheet="28x38cm", paints="starter", limits=Limits(layers=4, paints=6))
    result = plan_photo(Path("still-life.jpg"), wishes)
    for wash in result.plan.washes_of(1):
        print(wash.number, result.plan.puddles[wash.puddle].name, wash.value_step)
    write_plan(result, Path("plan"))

Names are loaded when first used, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from firstwash.errors import FirstwashError as FirstwashError
    from firstwash.paints.catalogue import all_paints as all_paints
    from firstwash.paints.catalogue import load_set as load_set
    from firstwash.paints.catalogue import paint as paint
    from firstwash.paints.shelf import load_shelf as load_shelf
    from firstwash.plan.glaze import parse_coat as parse_coat
    from firstwash.plan.glaze import predict_glazes as predict_glazes
    from firstwash.plan.locks import Locks as Locks
    from firstwash.plan.locks import parse_locks as parse_locks
    from firstwash.plan.problem import Limits as Limits
    from firstwash.plan.result import Plan as Plan
    from firstwash.swatching import learn_from_measurements as learn_from_measurements
    from firstwash.swatching import learn_from_photo as learn_from_photo
    from firstwash.swatching import print_card as print_card
    from firstwash.usecases import PhotoPlan as PhotoPlan
    from firstwash.usecases import Wishes as Wishes
    from firstwash.usecases import plan_again as plan_again
    from firstwash.usecases import plan_photo as plan_photo
    from firstwash.usecases import write_plan as write_plan

_HOME = {
    "FirstwashError": "errors",
    "Limits": "plan.problem",
    "Locks": "plan.locks",
    "PhotoPlan": "usecases",
    "Plan": "plan.result",
    "Wishes": "usecases",
    "all_paints": "paints.catalogue",
    "learn_from_measurements": "swatching",
    "learn_from_photo": "swatching",
    "load_set": "paints.catalogue",
    "load_shelf": "paints.shelf",
    "paint": "paints.catalogue",
    "parse_coat": "plan.glaze",
    "parse_locks": "plan.locks",
    "plan_again": "usecases",
    "plan_photo": "usecases",
    "predict_glazes": "plan.glaze",
    "print_card": "swatching",
    "write_plan": "usecases",
}

__all__ = list(_HOME)


def __getattr__(name: str) -> Any:
    """The public name, imported from its home on first use."""
    if name not in _HOME:
        raise AttributeError(f"module 'firstwash' has no attribute {name!r}")
    return getattr(import_module(f"firstwash.{_HOME[name]}"), name)
