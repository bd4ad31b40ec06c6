"""Other mixtures and greys on the page: told for every wash, and empty where there is nothing."""

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from PIL import Image
from skimage import data

from firstwash.handout.choices import MOST, greys, handling_notes, other_mixtures
from firstwash.handout.reasons import alternative_words, neutral_words
from firstwash.plan.alternatives import alternatives
from firstwash.plan.handling import RULES
from firstwash.plan.neutral import neutralisers
from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.usecases import Wishes, plan_photo


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    path = tmp_path_factory.mktemp("photo") / "coffee.png"
    Image.fromarray(data.coffee()).save(path)
    limits = Limits(layers=3, puddles=6, washes=15, shapes=30)
    return plan_photo(path, Wishes(sheet="15x10cm", limits=limits)).plan


def text_of(html: str) -> str:
    return unescape(re.sub(r"<[^>]+>", " ", html))


def test_every_wash_has_its_other_mixtures(plan: Plan) -> None:
    for layer in range(1, plan.layers + 1):
        html = other_mixtures(plan, layer)
        washes = plan.washes_of(layer)
        assert html.count("<h4>") == len(washes)
        text = text_of(html)
        for wash in washes[:2]:
            found = alternatives(plan, wash, MOST)
            assert len(found) == MOST
            assert all(alternative_words(other, plan) in text for other in found)


def test_what_speaks_against_paints_is_told_with_its_washes(plan: Plan) -> None:
    html = "".join(handling_notes(plan, n) for n in range(1, plan.layers + 1))
    assert "What speaks against paints here" in html  # the starter set stains
    reasons = {r.reason for r in RULES}
    for line in re.findall(r"<li>(.*?)</li>", html):
        found = re.fullmatch(r"(.+), in wash(?:es)? ([0-9, ]+): (.+)\.", unescape(line))
        assert found is not None, line
        assert found[1] in {p.name for p in plan.paints}
        assert found[3] in reasons


def test_greys_are_those_of_the_palette(plan: Plan) -> None:
    html = greys(plan)
    assert "<h3>On bare paper</h3>" in html
    assert neutral_words(neutralisers(plan, most=1)[0]) in text_of(html)
    assert html.count("<h3>") >= 2  # some first wash of a brown photo has a colour to take out


def test_a_plan_of_bare_paper_has_no_other_mixtures(tmp_path: Path) -> None:
    Image.new("RGB", (180, 120), "white").save(tmp_path / "white.png")
    plan = plan_photo(tmp_path / "white.png", Wishes(sheet="9x6cm", limits=Limits(shapes=4))).plan
    assert other_mixtures(plan, 1) == ""
    alone = replace(plan, paints=plan.paints[:1])
    assert greys(alone) == ""  # one paint greys nothing
