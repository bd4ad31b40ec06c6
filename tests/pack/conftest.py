"""Small plans of one cup: four layers, two layers, and one whose paints have long, odd names."""

import io
from dataclasses import replace

import pytest
from PIL import Image
from skimage import data

from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.usecases import PhotoPlan, Wishes, plan_photo

# What a painter's own list may hold: a formula, markup, a line break, letters beyond Latin.
ODD = (
    '=HYPERLINK("x","y") & <b>ultramarine</b>',
    "Perylenediimidoanthraquinonebenzimidazolone" * 3,
    "@SUM(A1)\nsecond line\t\x07",
    "-2+3 Žluť šafránová à l’ancienne, très très claire, pour les lointains",
    "+ 群青",
    'quote " and \u202e turned',
)


def planned(layers: int) -> PhotoPlan:
    out = io.BytesIO()
    Image.fromarray(data.coffee()).save(out, "png")
    limits = Limits(layers=layers, shapes=30, puddles=8, washes=20)
    wishes = Wishes(sheet="12x9cm", limits=limits, crop=(0.2, 0.1, 0.6, 0.7))
    return plan_photo(out.getvalue(), wishes)


@pytest.fixture(scope="session")
def cup() -> PhotoPlan:
    return planned(4)


@pytest.fixture(scope="session")
def four(cup: PhotoPlan) -> Plan:
    return cup.plan


@pytest.fixture(scope="session")
def two() -> Plan:
    return planned(2).plan


@pytest.fixture(scope="session")
def odd(four: Plan) -> Plan:
    paints = [replace(p, name=ODD[i % len(ODD)]) for i, p in enumerate(four.paints)]
    return four.told_more(paints=tuple(paints))


@pytest.fixture(params=["four", "two", "odd"])
def plan(request: pytest.FixtureRequest) -> Plan:
    """Each of the plans in turn."""
    found: Plan = request.getfixturevalue(request.param)
    return found
