"""The usual mistakes of a layer: only those its own paints and washes give reason for."""

from dataclasses import replace

import pytest
from tests.sheets.plans import NAMES, plan_named

from firstwash.paints.catalogue import Handling
from firstwash.plan.result import Plan
from firstwash.sheets.mistakes import mistakes_of
from firstwash.sheets.told import chief_paints
from firstwash.worksheet.board_words import COVERS, GRAINS, LIFTS, STAINS


def with_handling(plan: Plan, handling: Handling) -> Plan:
    return replace(plan, paints=tuple(replace(p, handling=handling) for p in plan.paints))


def names_of(plan: Plan, layer: int) -> set[str]:
    return {m.name for m in mistakes_of(plan, layer)}


OF_PAINTS = {
    "Granulation",
    "Staining",
    "Lifting below",
    "Lifting",
    "Chalkiness",
    "Too strong",
    "Drying paler",
}


@pytest.mark.parametrize("name", NAMES)
def test_paints_of_which_nothing_is_known_are_not_spoken_of(name: str) -> None:
    plan = with_handling(plan_named(name), Handling())
    for layer in range(1, plan.layers + 1):
        assert not names_of(plan, layer) & OF_PAINTS


@pytest.mark.parametrize(
    ("handling", "expected"),
    [
        (Handling(granulation=3), {"Granulation"}),
        (Handling(granulation=1), set()),
        (Handling(staining=4), {"Staining"}),
        (Handling(staining=2), set()),
        (Handling(staining=0), {"Lifting", "Lifting below"}),
        (Handling(transparency=0), {"Chalkiness"}),
        (Handling(tinting=4), {"Too strong"}),
        (Handling(drying_shift="large: 40 %"), {"Drying paler"}),
    ],
)
def test_each_grade_tells_its_mistake(handling: Handling, expected: set[str]) -> None:
    plan = with_handling(plan_named("cup"), handling)
    assert names_of(plan, 2) & OF_PAINTS == expected


def test_several_paints_are_spoken_of_as_several() -> None:
    plan = with_handling(plan_named("cup"), Handling(drying_shift="large"))
    told = [m.advice for m in mistakes_of(plan, 2) if m.name == "Drying paler"]
    assert "dry much paler than they look wet: go by" in told[0]


def test_what_lifts_below_is_no_worry_on_bare_paper_nor_lifting_where_nothing_follows() -> None:
    plan = with_handling(plan_named("cup"), Handling(staining=0))
    assert "Lifting below" not in names_of(plan, 1)
    assert "Lifting" not in names_of(plan, plan.layers)


@pytest.mark.parametrize("name", NAMES)
def test_every_mistake_names_paints_or_puddles_of_the_layer(name: str) -> None:
    plan = plan_named(name)
    for layer in range(1, plan.layers + 1):
        letters = {plan.puddles[w.puddle].name for w in plan.washes_of(layer)}
        for mistake in mistakes_of(plan, layer):
            assert "uddle" in mistake.advice
            assert mistake.advice.endswith(".")
            paints = {p.name for w in plan.washes_of(layer) for p in chief_paints(plan, w.puddle)}
            words = set(mistake.advice.replace(",", " ").replace(")", " ").split())
            assert letters & {w.strip(":(.") for w in words} or any(
                p.lower() in mistake.advice.lower() for p in paints
            )


GRADES = {
    "Granulation": (Handling(granulation=3), GRAINS),
    "Staining": (Handling(staining=4), STAINS),
    "Lifting below": (Handling(staining=0), LIFTS),
    "Chalkiness": (Handling(transparency=0), COVERS),
}


@pytest.mark.parametrize("name", GRADES)
def test_one_paint_is_spoken_of_as_on_the_worksheet(name: str) -> None:
    plan = plan_named("cup")
    handling, words = GRADES[name]
    for paint in plan.paints:
        alone = replace(
            plan,
            paints=tuple(
                replace(p, handling=handling if p is paint else Handling()) for p in plan.paints
            ),
        )
        for told in (m.advice for m in mistakes_of(alone, 2) if m.name == name):
            assert told.endswith(f") {words}.")


@pytest.mark.parametrize("name", GRADES)
def test_advice_on_several_paints_has_no_it_left(name: str) -> None:
    plan = with_handling(plan_named("cup"), GRADES[name][0])
    told = [m.advice for m in mistakes_of(plan, 2) if m.name == name]
    assert told
    assert " and " in told[0].partition(":")[0]
    assert " it " not in told[0].replace(",", " ")
