"""A glaze of a finished plan explained: the stack that the plan has there, and nothing else."""

import io

import numpy as np
import pytest
from PIL import Image
from skimage import data

from firstwash.advice.glaze_reasons import explain_cell
from firstwash.advice.glaze_words import why_words
from firstwash.errors import RequestError
from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.usecases import Wishes, plan_photo


@pytest.fixture(scope="module")
def plan() -> Plan:
    """A cup on a small sheet: 14 shapes, three layers."""
    out = io.BytesIO()
    Image.fromarray(data.coffee()).save(out, "png")
    limits = Limits(layers=3, shapes=14, puddles=6, washes=14, touches=0)
    wishes = Wishes(sheet="15x11cm", limits=limits, crop=(0.2, 0.1, 0.6, 0.7))
    return plan_photo(out.getvalue(), wishes).plan


def test_every_coat_of_every_cell_is_explained_as_the_plan_predicts_it(plan: Plan) -> None:
    seen = set()
    for cell, coats in enumerate(plan.coats):
        for i, (layer, _, _) in enumerate(coats):
            stack = coats[: i + 1]
            if stack in seen:
                continue
            seen.add(stack)
            why = explain_cell(plan, cell, layer)
            # The plan keeps nine digits of every number.
            np.testing.assert_allclose(why.labs[2], plan.stage_labs[layer, cell], atol=1e-6)
            np.testing.assert_allclose(why.labs[1], plan.stage_labs[layer - 1, cell], atol=1e-6)
            assert why.on_paper == (i == 0)
            assert len(why_words(why).sentences) == (3 if i == 0 else 6)
    assert any(len(stack) > 1 for stack in seen)


def test_only_paints_that_lie_there_are_spoken_of(plan: Plan) -> None:
    cell = max(range(plan.cells.count), key=lambda c: len(plan.coats[c]))
    why = explain_cell(plan, cell, plan.coats[cell][-1][0])
    assert (why.amounts.sum(axis=0) > 0.0).all()
    assert {p.key for p in why.paints} <= {p.key for p in plan.paints}


def test_places_and_layers_that_are_not_there_are_refused(plan: Plan) -> None:
    with pytest.raises(RequestError, match="no such place"):
        explain_cell(plan, plan.cells.count, 1)
    with pytest.raises(RequestError, match="no such place"):
        explain_cell(plan, -1, 1)
    with pytest.raises(RequestError, match="Layer 9 lays nothing here"):
        explain_cell(plan, 0, 9)
    with pytest.raises(RequestError, match="Layer 0 lays nothing here"):
        explain_cell(plan, 0, 0)
