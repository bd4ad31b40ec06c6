"""Seeing, and the reasons in a spot's answer: what a painter reads before and after touching."""

import re

from playwright.sync_api import Locator, expect
from tests.web.browser import axe, shot
from tests.web.painter import Clerk, Painter
from tests.web.test_worksheet_spot import look

PLAIN_TALK = re.compile(r"±|CIEDE|L\*|nm\b|undefined|NaN|null")


def fold(painter: Painter, words: str) -> Locator:
    """Open a fold of the answer and give it."""
    painter.page.locator(".answer summary", has_text=words).click()
    return painter.page.locator(
        ".answer details", has=painter.page.locator(f'summary:text-is("{words}")')
    )


def test_the_picture_is_looked_at_before_any_colour(painter: Painter) -> None:
    seeing = painter.page.locator("#seeing")
    expect(seeing).to_contain_text("The lightest lights")
    expect(seeing.get_by_role("heading", name="Light and own colours")).to_be_visible()
    expect(seeing).to_contain_text("in shadow")
    assert not PLAIN_TALK.search(seeing.inner_text())
    seeing.scroll_into_view_if_needed()
    shot(painter.page, "seeing", whole=False)


def test_paints_ticked_away_change_what_they_reach(painter: Painter, clerk: Clerk) -> None:
    seeing, path = painter.page.locator("#seeing"), f"/api/paintings/{painter.painting}/looked"
    all_of_them = clerk.ask("GET", path)["reach"]
    expect(seeing).to_contain_text(all_of_them)
    paints = clerk.ask("GET", "/api/paints")["paints"]
    yellow = next(p["key"] for p in paints if any(c.startswith("PY") for c in p["pigments"]))
    clerk.change(painter.view, "One paint", paints=[yellow])
    painter.page.reload()
    alone = clerk.ask("GET", path)["reach"]
    assert alone != all_of_them
    expect(seeing).to_contain_text(alone)


def test_the_studies_of_masses_and_light_are_laid_on_the_sheet(painter: Painter) -> None:
    studies = painter.page.get_by_role("list", name="Value studies").first
    for words, name in (
        ("Big masses", "pattern"),
        ("Own colours", "local"),
        ("Light alone", "light"),
    ):
        button = studies.get_by_role("button", name=words)
        button.click()
        expect(button).to_have_attribute("aria-pressed", "true")
        painter.shows(name)
        button.click()
        painter.shows("reference")


def test_a_spot_tells_the_light_on_its_shape(painter: Painter) -> None:
    look(painter)
    told = fold(painter, "Its own colour, and the light on it")
    expect(told).to_contain_text("Its own colour in white light:")
    expect(told.locator(".lit li")).not_to_have_count(0)
    assert told.locator(".lit li").count() >= 2
    assert not PLAIN_TALK.search(told.inner_text())
    shot(painter.page, "light-here", whole=False)


def test_a_spot_tells_why_it_reads_so(painter: Painter) -> None:
    answer = look(painter)
    told = fold(painter, "Why it reads so")
    chart = told.locator("img.chart")
    expect(chart).to_be_visible()
    painter.page.wait_for_function(
        "(i) => i.complete && i.naturalWidth > 0", arg=chart.element_handle()
    )
    gist = told.locator("p").first.inner_text()
    assert gist.endswith(".")
    assert gist in (chart.get_attribute("alt") or "")
    assert not PLAIN_TALK.search(told.inner_text())
    shot(painter.page, "why", whole=False)
    if answer.locator(".section button.words").count() > 1:  # another coat has other reasons
        answer.locator(".section button.words").last.click()
        expect(told.locator("p").first).not_to_have_text(gist)


def test_another_first_wash_is_laid_from_the_spot(painter: Painter) -> None:
    """Looked for where the plan's wash may be laid otherwise; then the plan lays that one."""
    for spot in ((0.5, 0.5), (0.2, 0.3), (0.7, 0.7), (0.35, 0.8), (0.85, 0.2)):
        painter.look_into(*spot)
        told = fold(painter, "Which first wash could lie here")
        expect(told.locator(".first-choices > li").first).to_be_visible()
        strips = told.locator(".first-choices > li").first.locator(".stage-strips [role=img]")
        expect(strips).to_have_count(3)
        assert not PLAIN_TALK.search(told.inner_text())
        lay = told.get_by_role("button", name="Lay this wash instead")
        if lay.count():
            shot(painter.page, "first-washes", whole=False)
            before = painter.view["plan"]["stamp"]
            with painter.accepts("Laid wash 1.", whole=False):
                lay.first.click()
            assert painter.view["plan"]["stamp"] != before
            painter.steps_back()
            assert painter.view["plan"]["stamp"] == before
            return
    raise AssertionError("no first wash could be laid otherwise anywhere")


def test_the_folds_have_no_serious_fault(painter: Painter) -> None:
    look(painter)
    for words in (
        "Why it reads so",
        "Its own colour, and the light on it",
        "Which first wash could lie here",
    ):
        fold(painter, words)
    expect(painter.page.locator(".answer .first-choices > li").first).to_be_visible()
    expect(painter.page.locator(".answer .lit li").first).to_be_visible()
    for width, height in ((1440, 900), (820, 1180), (390, 844)):
        painter.page.set_viewport_size({"width": width, "height": height})
        assert axe(painter.page) == []
        assert painter.page.evaluate("document.documentElement.scrollWidth <= innerWidth + 1")
