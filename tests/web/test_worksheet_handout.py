"""The hand-out made from the page and taken along."""

import zipfile
from pathlib import Path

from playwright.sync_api import expect
from tests.web.browser import SIZES, axe, shot
from tests.web.painter import Painter


def test_a_hand_out_is_made_and_taken_along(painter: Painter, tmp_path: Path) -> None:
    page = painter.page
    section = page.locator("#handout")
    section.scroll_into_view_if_needed()
    painter.unfold("Title, your name")
    name = section.get_by_label("Your name")
    name.fill("A. Teacher")
    name.blur()
    section.get_by_role("combobox", name="Students").select_option(label="8 students")
    painter.press("Make the hand-out")
    expect(page.get_by_text("The hand-out is made")).to_be_visible()
    expect(section.get_by_text("No permission", exact=False)).to_have_count(0)  # not for sale
    with page.expect_download() as taken:
        section.get_by_role("link", name="Take it along").click()
    path = tmp_path / "handout.zip"
    taken.value.save_as(path)
    with zipfile.ZipFile(path) as packed:
        assert packed.testzip() is None
        names = packed.namelist()
    assert any(n.endswith(".pdf") and "/" not in n for n in names)
    assert {"outline/outline.svg", "print/steps.pdf", "colours.xlsx", "layers.ora"} <= set(names)
    shot(page, "handout", whole=False)
    page.reload()  # settings and hand-out are there again
    expect(section.get_by_role("link", name="Take it along")).to_be_visible()
    painter.unfold("Title, your name")
    expect(section.get_by_label("Your name")).to_have_value("A. Teacher")


def test_a_changed_plan_makes_it_old(painter: Painter) -> None:
    page = painter.page
    painter.press("Make the hand-out")
    expect(page.get_by_text("The hand-out is made")).to_be_visible()
    expect(
        page.get_by_text("The plan or its settings were changed since it was made.")
    ).to_have_count(0)
    first = painter.view["plan"]["layers"][0]["washes"][0]
    body = {"base": painter.view["revision"], "layer": 1, "number": first["number"]}
    strength = {"strength": max(0.05, 0.5 * first["strength"])}
    path = f"/api/paintings/{painter.painting}/strength"
    painter.clerk.ask("POST", path, {**body, **strength})
    page.reload()
    expect(
        page.get_by_text("The plan or its settings were changed since it was made.")
    ).to_be_visible()


def test_its_section_has_no_serious_fault(painter: Painter) -> None:
    painter.unfold("Title, your name")
    for width, height in SIZES.values():
        painter.page.set_viewport_size({"width": width, "height": height})
        assert axe(painter.page) == []
        assert painter.page.evaluate("document.documentElement.scrollWidth <= innerWidth + 1")
