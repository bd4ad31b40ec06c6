"""Answers to the exercise: every puddle that it asks for, with its paints, inside the margins."""

import pytest
from tests.pdf_tables import faults
from tests.sheets.plans import assert_inside, made_named, read_back, squeezed

from firstwash.pack.answers_page import answers_page
from firstwash.pack.words import painted_layers
from firstwash.sheets.told import layer_title
from firstwash.sheets.typeset import Page, PageName, typeset


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["cup", "tall"])
def test_every_puddle_of_every_layer_is_answered(name: str, paper: PageName) -> None:
    made = made_named(name)
    pages = answers_page(made.plan, made.reference)
    pdf = typeset(pages.source, pages.files, title="T", page=Page(paper))
    assert faults(pdf) == []
    read = read_back(pdf)
    assert_inside(read, paper)
    told = "".join(page.letters for page in read)
    for layer in painted_layers(made.plan):
        assert squeezed(layer_title(made.plan, layer)) in told
        for wash in made.plan.washes_of(layer):
            for p, _ in made.plan.puddles[wash.puddle].parts:
                assert squeezed(made.plan.paints[p].name) in told
    for words in ("Whites:", "First wash:", "Light and shadows:"):
        assert squeezed(words) in told
