"""Limits: what a painter may ask, in the forms it may be asked in, and what is refused."""

import json
from dataclasses import asdict

import pytest

from firstwash.errors import RequestError
from firstwash.plan.problem import Limits


def test_caps_may_be_a_mapping_or_pairs() -> None:
    pairs = Limits(caps=(("PB29", 0.4), ("PY150", 1)))
    assert Limits(caps={"PB29": 0.4, "PY150": 1}) == pairs  # type: ignore[arg-type]
    assert pairs.caps == (("PB29", 0.4), ("PY150", 1.0))
    assert hash(pairs) == hash(Limits(caps=[["PB29", 0.4], ["PY150", 1]]))  # type: ignore[arg-type]


def test_lists_of_paints_become_tuples_and_survive_json() -> None:
    asked = Limits(ban=["PB29"], prefer=["PY150"], caps={"PR255": 0.5}, darkest_step=3)  # type: ignore[arg-type]
    assert asked.ban == ("PB29",)
    told = json.loads(json.dumps(asdict(asked)))
    assert Limits(**told) == asked


@pytest.mark.parametrize("share", [0.0, -0.1, 1.01, float("nan"), float("inf")])
def test_a_share_that_is_none_is_refused(share: float) -> None:
    with pytest.raises(RequestError, match="largest share of PB29"):
        Limits(caps=(("PB29", share),))


@pytest.mark.parametrize("step", [0, -1, 11, 100])
def test_a_value_step_that_is_none_is_refused(step: int) -> None:
    with pytest.raises(RequestError, match="1 \\(darkest\\) to 10"):
        Limits(darkest_step=step)


@pytest.mark.parametrize("handling", [-0.1, 101.0, float("nan"), float("inf")])
def test_a_strength_of_handling_out_of_range_is_refused(handling: float) -> None:
    with pytest.raises(RequestError, match="Handling counts from 0"):
        Limits(handling=handling)
