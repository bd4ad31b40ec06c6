"""The sheet is touched: the section through it, and washes laid otherwise."""

import re

import pytest
from playwright.sync_api import Locator, expect
from tests.web.browser import shot
from tests.web.painter import Painter

SPOTS = [(0.5, 0.5), (0.2, 0.3), (0.7, 0.7), (0.35, 0.8), (0.85, 0.2)]
# Pixels of the canvas that is laid over the sheet while a strength is tried.
PAINTED = """(c) => {
  if (!c.width) return 0;
  const all = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
  let n = 0;
  for (let i = 3; i < all.length; i += 4) n += all[i] > 0;
  return n;
}"""
ASKED = "performance.getEntriesByType('resource').map((e) => e.name).join(' ')"
SLIDE = """(range, value) => {
  range.value = value;
  range.dispatchEvent(new Event("input", { bubbles: true }));
}"""


def look(painter: Painter) -> Locator:
    """Touch spots until one has paint, and give the answer."""
    for spot in SPOTS:
        painter.look_into(*spot)
        if painter.page.locator(".answer .coat").count():
            break
    return painter.page.locator(".answer")


def strength(painter: Painter) -> Locator:
    return painter.page.locator(".answer").get_by_role("slider", name=re.compile("^Strength"))


def slid(painter: Painter, value: float) -> None:
    """Move the strength and wait until the sheet shows it."""
    strength(painter).evaluate(SLIDE, value)
    expect(painter.page.get_by_role("button", name="Lay it so")).to_be_visible()
    tried = painter.page.locator(".onsheet canvas.over:not(.hand)")
    painter.page.wait_for_function(f"(c) => ({PAINTED})(c) > 0", arg=tried.element_handle())


def washes(painter: Painter) -> list[tuple[int, int, str, float]]:
    layers = painter.view["plan"]["layers"]
    return [
        (w["layer"], w["number"], w["letter"], w["strength"])
        for layer in layers
        for w in layer["washes"]
    ]


def test_a_touched_spot_shows_the_section_through_the_sheet(painter: Painter) -> None:
    answer = look(painter)
    coats = answer.locator(".section li")
    expect(coats.last).to_contain_text("Paper")
    assert coats.count() >= 2
    for coat in coats.all()[:-1]:
        expect(coat.locator(".sliver")).to_have_count(2)  # a little less and a little more
        expect(coat.locator(".lighter, .darker")).to_have_count(2)
    expect(answer).to_contain_text("In the photo:")
    expect(answer).to_contain_text("A little more:")
    expect(painter.page.locator(".here")).to_be_visible()
    assert not re.search(r"±|CIEDE|L\*|nm\b", answer.inner_text())  # figures only if asked for
    shot(painter.page, "answer", whole=False)
    painter.press("Put away")
    expect(answer).to_have_count(0)


def test_the_coats_are_taken_up_one_at_a_time(painter: Painter) -> None:
    answer = look(painter)
    for button in answer.locator(".section button.words").all():
        button.click()
        expect(button).to_have_attribute("aria-pressed", "true")
        expect(answer.locator(".section li.taken")).to_have_count(1)
        letter = button.locator(".letter").inner_text()
        expect(answer.locator(".coat h3 .letter")).to_have_text(letter)


def test_a_strength_is_seen_at_once_and_accepted(painter: Painter) -> None:
    page, before = painter.page, washes(painter)
    look(painter)
    slid(painter, -1.0)
    expect(page.locator(".answer .strength")).to_contain_text("weaker: 50 % of the paint")
    shot(page, "strength-tried", whole=False)
    assert washes(painter) == before  # seen, and nothing accepted
    painter.press("As it was")
    expect(page.locator(".onsheet canvas.over:not(.hand)")).to_have_count(0)
    slid(painter, 0.5)
    words = "Laid wash {}.{} stronger or weaker"
    number = taken(painter)
    with painter.accepts(words.format(*number)):
        painter.press("Lay it so")
    after = washes(painter)
    assert after != before
    assert strength_of(after, number) > strength_of(before, number)
    expect(page.get_by_role("button", name="Lay it so")).to_have_count(0)
    page.reload()
    expect(painter.said).to_have_text(f"Kept: {words.format(*number).lower()}")
    assert washes(painter) == after
    painter.steps_back()
    assert washes(painter) == before
    painter.steps_forward()
    assert washes(painter) == after


def taken(painter: Painter) -> tuple[int, int]:
    """Layer and number of the wash taken up: the strongest one tried last."""
    asked = painter.page.evaluate(ASKED)
    found = re.search(r".*/try\?layer=(\d+)&number=(\d+)", asked)
    assert found is not None
    return int(found[1]), int(found[2])


def strength_of(all_washes: list[tuple[int, int, str, float]], key: tuple[int, int]) -> float:
    return next(w[3] for w in all_washes if w[:2] == key)


def test_the_glazes_over_it_can_make_up_for_it(painter: Painter) -> None:
    look(painter)
    painter.page.locator(".section button.words").last.click()  # the coat nearest the paper
    slid(painter, -0.5)
    layer, number = taken(painter)
    with painter.accepts(f"Laid wash {layer}.{number} stronger or weaker"):
        painter.press("and let the glazes over it make up for it")
    expect(painter.page.get_by_text("changed by hand since the plan was judged")).to_be_visible()


def test_a_changed_plan_is_judged_again(painter: Painter) -> None:
    look(painter)
    slid(painter, 0.4)
    layer, number = taken(painter)
    with painter.accepts(f"Laid wash {layer}.{number} stronger or weaker"):
        painter.press("Lay it so")
    assert painter.view["plan"]["judged"] is False
    with painter.accepts("Judged again"):
        painter.press("Judge it again")
    assert painter.view["plan"]["judged"] is True
    assert painter.view["plan"]["quality"]


def test_another_mixture_is_laid_instead(painter: Painter) -> None:
    page = painter.page
    look(painter)
    before = painter.view["plan"]["puddles"], washes(painter)
    for coat in page.locator(".section button.words").all():
        coat.click()
        painter.press("Other mixtures")
        expect(page.get_by_role("button", name="Other mixtures")).to_have_attribute(
            "aria-expanded", "true"
        )
        if page.get_by_role("button", name="Lay this instead").count():
            break
    others = page.locator(".answer .others > li")
    expect(others.first).to_be_visible()
    shot(page, "other-mixtures", whole=False)
    others.first.get_by_role("button", name="Lay this instead").click()
    expect(painter.said).to_have_text(re.compile("out of another puddle"))
    assert (painter.view["plan"]["puddles"], washes(painter)) != before
    painter.steps_back()
    assert (painter.view["plan"]["puddles"], washes(painter)) == before


def test_a_wash_is_kept_as_it_is(painter: Painter) -> None:
    page = painter.page
    look(painter)
    with painter.accepts("Held ", whole=False):
        painter.press("Keep as it is", within=".answer")
    assert len(painter.view["brief"]["kept"]["washes"]) == 1
    expect(page.locator(".answer .section li.taken")).to_contain_text(", kept")
    expect(strength(painter)).to_have_count(0)  # what is kept has no strength to move
    with painter.accepts("Let go of ", whole=False):
        painter.press("Kept; let it change", within=".answer")
    assert painter.view["brief"]["kept"]["washes"] == []
    expect(strength(painter)).to_be_visible()


def test_what_is_kept_survives_a_new_plan(painter: Painter) -> None:
    plan = painter.view["plan"]
    recipe = next(p for p in plan["puddles"] if p["letter"] == "A")["words"]
    with painter.accepts("Held ", whole=False):
        painter.page.locator("#layer-1").get_by_role(
            "button", name="Keep this layer as it is"
        ).click()
    with painter.accepts("Planned"):
        painter.press("Plan it again", within="#wanted")
    again = painter.view["plan"]
    assert [w["stroke"] for w in again["layers"][0]["washes"]] == [
        w["stroke"] for w in plan["layers"][0]["washes"]
    ]
    with painter.accepts("Held ", whole=False):
        painter.page.locator("#glazes").get_by_role("button", name="Keep this recipe").first.click()
    assert again["puddles"][0]["letter"] in painter.view["brief"]["kept"]["puddles"]
    assert recipe


def test_a_shape_gets_another_colour(painter: Painter) -> None:
    page = painter.page
    answer = look(painter)
    before = washes(painter)
    shown = answer.locator("p").first.inner_text()
    painter.unfold("Give this shape another colour")
    page.get_by_label("The colour it should dry to").fill("#c9b27a")
    with painter.accepts("Gave a shape another colour"):
        painter.press("Give it this colour")
    assert washes(painter) != before
    expect(answer.locator("p").first).not_to_have_text(shown)
    painter.steps_back()
    assert washes(painter) == before


@pytest.mark.parametrize("how", ["Beside the photo", "Turn over"])
def test_the_plan_is_laid_beside_the_photo(how: str, painter: Painter) -> None:
    page = painter.page
    painter.press("Finished")
    painter.shows("finished")
    painter.press(how)
    over = page.locator("img.over")
    expect(over).to_have_attribute("src", re.compile("/reference"))
    if how == "Turn over":
        expect(over).to_be_visible()
        expect(over).to_be_hidden()  # by itself, a second later
    else:
        clip = over.evaluate("(i) => getComputedStyle(i).clipPath")
        page.get_by_role("slider", name="Where the photo begins").evaluate(SLIDE, 0.2)
        expect(over).not_to_have_css("clip-path", clip)
        shot(page, "beside-the-photo", whole=False)
    painter.press("Differences")
    painter.shows("difference")
    expect(over).to_have_count(0)
    shot(page, "differences", whole=False)
