"""Every view for everybody: without accessibility faults, by keyboard, magnified, unmoving."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from tests.web.browser import SIZES, Chromium, Watch, axe, shot
from tests.web.painter import Clerk, Painter

NARROW = 320  # CSS pixels: 1280 at 400 %, WCAG 2.2 success criterion 1.4.10
# Whether what has the focus is drawn so that it is seen to have it.
OUTLINED = """() => {
  const style = getComputedStyle(document.activeElement);
  return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
}"""
FOCUSED = """() => {
  const { activeElement: e } = document;
  if (e === document.body) return "";
  const words = e.getAttribute("aria-label") || e.textContent || e.tagName;
  return `${e.tagName.toLowerCase()} ${words.trim().slice(0, 40)}`;
}"""
IN_VIEW = """() => {
  const box = document.activeElement.getBoundingClientRect();
  return box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth;
}"""
# Everything that can be pressed or filled in and is not folded away or switched off.
REACHABLE = """() => [...document.querySelectorAll(
    "a[href], button, input, select, textarea, summary, [tabindex='0']")]
  .filter((e) => !e.disabled && e.tabIndex >= 0 && e.checkVisibility()).length"""
WIDE = """() => [...document.querySelectorAll("body *")]
  .filter((e) => e.getBoundingClientRect().right > innerWidth + 1
    && !e.closest(".chart, .stages, .map, .unseen, .skip, svg"))
  .slice(0, 5).map((e) => `${e.tagName} ${e.className}`)"""


def start(painter: Painter) -> None:
    painter.page.goto(str(painter.clerk.http.base_url))
    expect(painter.page.locator(".paintings li").first).to_be_visible()


def unplanned(painter: Painter) -> None:
    Painter(painter.page, painter.clerk, painter.clerk.new()["id"]).open()


def planned(painter: Painter) -> None:
    painter.open()
    expect(painter.page.locator("#supplies .paints").first).to_be_visible()


def answer(painter: Painter) -> None:
    painter.open()
    painter.look_into(0.5, 0.5)
    painter.press("Other mixtures")
    expect(painter.page.get_by_role("button", name="Other mixtures")).to_have_attribute(
        "aria-expanded", "true"
    )


def folds(painter: Painter) -> None:
    """Every fold open: the chart, greys, stacks, limits, numbers, the list as text, cards."""
    planned(painter)
    painter.page.evaluate("document.querySelectorAll('details').forEach((d) => (d.open = true))")
    expect(painter.page.get_by_role("region", name="Glaze chart")).to_be_visible()
    painter.press("Find it")
    expect(painter.page.locator("#glazes .others > li").first).to_be_visible()
    painter.press("Crop, straighten, white")
    expect(painter.page.locator(".cropping")).to_be_visible()


def past(painter: Painter) -> None:
    painter.open()
    painter.press("All steps")
    expect(painter.page.get_by_role("region", name="All steps").locator("li").first).to_be_visible()


def tool(painter: Painter) -> None:
    painter.open()
    painter.press("Cut a shape", within="#shapes")
    expect(painter.page.locator("canvas.hand")).to_have_attribute("aria-label", re.compile("cut"))


def problem(painter: Painter) -> None:
    painter.open()
    size = painter.page.locator("#reference").get_by_label("Size of the sheet")
    size.fill("a bit larger")
    size.press("Enter")
    expect(painter.page.locator(".problem")).to_be_visible()


def board(kind: str) -> Callable[[Painter], None]:
    def go(painter: Painter) -> None:
        path = f"/api/paintings/{painter.painting}/board"
        told = painter.clerk.ask("GET", path)
        step = next(s for s in told["steps"] if s["kind"] == kind or (kind == "dry" and s["timed"]))
        marks = {"version": told["marks"]["version"], "plan": told["plan"], "step": step["id"]}
        painter.clerk.ask("PUT", f"{path}/marks", marks)
        painter.open("#board")
        expect(painter.page.locator(".at-board h1")).to_have_text(step["title"])
        if kind == "dry":
            painter.press("Start the drying clock")
            expect(painter.page.get_by_role("timer")).to_be_visible()

    return go


VIEWS: dict[str, Callable[[Painter], None]] = {
    "start": start,
    "unplanned": unplanned,
    "planned": planned,
    "answer": answer,
    "folds": folds,
    "history": past,
    "tool": tool,
    "problem": problem,
    "board-mix": board("mix"),
    "board-wash": board("wash"),
    "board-dry": board("dry"),
}


@pytest.mark.parametrize("view", VIEWS)
def test_no_view_has_a_serious_fault_in_any_size(
    view: str, page: Page, clerk: Clerk, painting: str, watch: Watch
) -> None:
    if view == "problem":
        watch.expect(r"answer 4\d\d|status of 4\d\d")
    VIEWS[view](Painter(page, clerk, painting))
    for size, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        if view == "board-dry":  # out from behind the buttons at the foot
            page.evaluate("scrollTo(0, document.body.scrollHeight)")
        page.wait_for_load_state("networkidle")
        shot(page, f"{view}-{size}", whole=view != "folds")
        assert axe(page) == [], size
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), size


@pytest.mark.parametrize("view", ["start", "planned", "answer", "tool", "board-mix", "board-wash"])
def test_nothing_is_wider_than_a_magnified_screen(
    view: str, chromium: Chromium, clerk: Clerk, painting: str
) -> None:
    page = chromium.page("phone")
    page.set_viewport_size({"width": NARROW, "height": 640})
    VIEWS[view](Painter(page, clerk, painting))
    page.wait_for_load_state("networkidle")
    shot(page, f"{view}-magnified")
    assert page.evaluate("document.documentElement.scrollWidth") <= NARROW
    assert page.evaluate(WIDE) == []


@pytest.mark.parametrize("view", ["start", "planned", "board-mix"])
def test_everything_is_reached_with_the_tab_key(
    view: str, chromium: Chromium, clerk: Clerk, painting: str
) -> None:
    page = chromium.page(still=True)  # so that what gets the focus is in sight at once
    VIEWS[view](Painter(page, clerk, painting))
    page.wait_for_load_state("networkidle")
    wanted = page.evaluate(REACHABLE)
    reached = 0
    page.evaluate("document.activeElement.blur()")
    for _ in range(wanted + 2):
        page.keyboard.press("Tab")
        now = page.evaluate(FOCUSED)
        if not now:
            break
        reached += 1
        assert page.evaluate(OUTLINED), f"not seen to have the focus: {now}"
        assert page.evaluate(IN_VIEW), f"has the focus out of sight: {now}"
    assert reached == wanted


def test_a_painting_is_worked_on_with_the_keyboard_alone(painter: Painter) -> None:
    page = painter.page
    sheet = page.locator("canvas.hand")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the worksheet")).to_be_focused()
    sheet.focus()
    for key in ("ArrowLeft", "ArrowUp", "Shift+ArrowRight"):
        page.keyboard.press(key)
    with page.expect_response(lambda r: "/spot?" in r.url):
        page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Here, through the sheet")).to_be_visible()
    expect(sheet).to_be_focused()
    strength = page.locator(".answer").get_by_role("slider", name=re.compile("^Strength"))
    strength.focus()
    for _ in range(20):
        page.keyboard.press("ArrowRight")
    lay = page.get_by_role("button", name="Lay it so")
    expect(lay).to_be_visible()
    expect(strength).to_be_focused()
    before = len(painter.clerk.history(painter.painting))
    page.keyboard.press("Tab")
    expect(lay).to_be_focused()
    page.keyboard.press("Enter")
    expect(painter.said).to_have_text(re.compile("stronger or weaker"))
    assert len(painter.clerk.history(painter.painting)) == before + 1
    sheet.focus()
    page.keyboard.press("Escape")
    expect(page.get_by_role("heading", name="Here, through the sheet")).to_have_count(0)


def test_shapes_are_changed_with_the_keyboard_alone(painter: Painter) -> None:
    page = painter.page
    tool = page.locator("#shapes").get_by_role("button", name="Leave bare")
    tool.focus()
    page.keyboard.press("Enter")
    expect(tool).to_have_attribute("aria-pressed", "true")
    page.locator("canvas.hand").focus()
    with painter.accepts("Left a place bare"):
        page.keyboard.press("Enter")
    page.keyboard.press("Escape")
    expect(tool).to_have_attribute("aria-pressed", "false")
    page.keyboard.press("Enter")
    expect(page.locator(".answer .section")).to_contain_text("Bare paper, to the end")


def test_a_held_tool_is_laid_down_with_escape(painter: Painter) -> None:
    tool = painter.page.locator("#shapes").get_by_role("button", name="Join shapes")
    tool.click()
    expect(tool).to_have_attribute("aria-pressed", "true")
    painter.page.keyboard.press("Escape")  # wherever the focus is
    expect(tool).to_have_attribute("aria-pressed", "false")


def test_nothing_moves_for_those_who_asked_for_less_motion(
    chromium: Chromium, clerk: Clerk, painting: str
) -> None:
    page = chromium.page(still=True)
    painter = Painter(page, clerk, painting).open()
    assert page.evaluate("document.getAnimations().length") == 0
    assert page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    painter.press("Finished")
    painter.press("Turn over")
    over = page.locator("img.over")
    expect(over).to_be_visible()
    page.wait_for_timeout(1500)  # longer than a turn takes where motion is wanted
    expect(over).to_be_visible()


def test_a_plan_under_way_is_told_to_those_who_listen(page: Page, clerk: Clerk) -> None:
    made = clerk.new(sheet="A4", shapes=300, washes=120, hours=12, layers=6)
    painter = Painter(page, clerk, made["id"]).open()
    painter.press("Plan the painting", within="#wanted")
    bar = page.get_by_role("progressbar", name="How far it is")
    expect(bar).to_be_visible()
    assert 0 <= int(bar.get_attribute("aria-valuenow") or "-1") <= 100
    assert axe(page) == []
    field = page.locator("#reference").get_by_label("Size of the sheet")
    field.click()
    page.keyboard.press("Control+A")
    page.keyboard.type("30x40cm", delay=150)  # while the page is drawn anew all the time
    expect(field).to_have_value("30x40cm")
    page.keyboard.press("Escape")
    page.locator(".doing").get_by_role("button", name="Stop").click()
    expect(page.get_by_text("Stopped. Nothing was changed.")).to_be_visible()
