"""At the board: one thing per screen, puddles ticked off, a drying clock that survives a reload."""

import re
import time
from typing import Any

import pytest
from playwright.sync_api import Page, expect
from tests.web.browser import Chromium, shot
from tests.web.painter import PATIENCE, Clerk, Painter

# Counts the strokes of the bell without a sound: every oscillator that is started.
SPY = """() => {
  window.strokes = 0;
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (...when) {
    window.strokes += 1;
    return start.apply(this, when);
  };
}"""
NOON = 1_800_000_000  # s since 1970, any time will do
# CSS pixels: wet fingers need more than the 24 of WCAG 2.5.8; 44 is its 2.5.5.
FINGER = 44


@pytest.fixture
def board(page: Page, clerk: Clerk, painting: str) -> Painter:
    """A painter at the board."""
    painter = Painter(page, clerk, painting).open("#board")
    expect(page.locator(".at-board .foot")).to_be_visible()
    return painter


def session(painter: Painter) -> Any:
    return painter.clerk.ask("GET", f"/api/paintings/{painter.painting}/board")


def step(painter: Painter) -> None:
    """Done, next; the screen that comes is the next one."""
    head = painter.page.locator(".at-board .head")
    found = re.search(r"Screen (\d+) of", head.inner_text())
    assert found is not None
    painter.press("Done, next")
    expect(head).to_contain_text(f"Screen {int(found[1]) + 1} of")


def steps_to(painter: Painter, what: Any) -> Any:
    """Go on to the first screen for which something is true, and give its step."""
    steps = session(painter)["steps"]
    for one in steps:
        expect(painter.page.locator(".at-board h1")).to_have_text(one["title"])
        if what(one):
            return one
        step(painter)
    raise AssertionError("there is no such screen")


def test_every_screen_from_the_first_to_the_last(board: Painter) -> None:
    page, steps = board.page, session(board)["steps"]
    assert {"mix", "wash"} <= {one["kind"] for one in steps}
    for number, one in enumerate(steps):
        expect(page.locator(".at-board h1")).to_have_text(one["title"])
        expect(page.locator(".at-board .head")).to_contain_text(f"Screen {number + 1} of")
        picture = page.locator(".at-board .picture img")
        page.wait_for_function(
            "(i) => i.complete && i.naturalWidth > 0", arg=picture.element_handle()
        )
        if number < len(steps) - 1:
            board.press("Done, next")
    expect(page.get_by_role("button", name="That was the last")).to_be_disabled()
    # All but the last are ticked off, and kept.
    assert set(session(board)["marks"]["ticked"]) == {one["id"] for one in steps[:-1]}
    board.press("Back")
    expect(page.locator(".at-board h1")).to_have_text(steps[-2]["title"])
    page.get_by_role("link", name="Back to the worksheet").click()
    expect(page.get_by_role("heading", name="At the easel")).to_be_visible()


def test_puddles_are_ticked_off_and_stay_so(board: Painter) -> None:
    page = board.page
    steps_to(board, lambda one: one["puddles"])
    boxes = page.locator(".at-board .puddles input")
    boxes.first.check()
    page.reload()
    expect(boxes.first).to_be_checked()
    assert boxes.count() == 1 or not boxes.last.is_checked()
    shot(page, "board-mix")
    boxes.first.uncheck()
    page.reload()
    expect(boxes.first).not_to_be_checked()


def test_a_wash_says_what_where_and_what_stays_bare(board: Painter) -> None:
    page = board.page
    one = steps_to(board, lambda s: s["wash"])
    expect(page.locator(".at-board .do .letter").first).to_have_text(one["wash"]["letter"])
    expect(page.get_by_role("img", name="Where this wash goes")).to_be_visible()
    words = page.locator(".at-board .do").inner_text()
    assert all(sentence in words for sentence in one["say"])
    assert one["wash"]["where"].lower() in words.lower()
    shot(page, "board-wash")


def test_the_drying_clock_survives_a_reload_and_rings(
    chromium: Chromium, clerk: Clerk, painting: str
) -> None:
    page = chromium.page()
    page.context.clock.install(time=NOON)
    page.add_init_script(f"({SPY})()")
    painter = Painter(page, clerk, painting).open("#board")
    one = steps_to(painter, lambda s: s["timed"] and s["minutes"])
    painter.press("Start the drying clock")
    clock = page.get_by_role("timer", name="Drying clock")
    expect(clock).to_be_visible()
    minutes = one["minutes"][1]
    kept = session(painter)["marks"]["clock"]
    assert kept["ends"] == pytest.approx(NOON + 60 * minutes, abs=60)  # the test's own seconds
    shot(page, "board-clock")
    page.clock.run_for(30_000)
    before = clock.inner_text()
    page.reload()
    expect(clock).to_be_visible()
    assert session(painter)["marks"]["clock"] == kept
    page.clock.run_for(10_000)
    expect(clock).not_to_have_text(before)
    assert page.evaluate("strokes") == 0
    page.clock.run_for(round(60_000 * minutes))
    expect(clock).to_have_text("Dry")
    expect(page.locator(".at-board")).to_contain_text("It should be dry now.")
    assert page.evaluate("strokes") == 3  # three strokes of the bell
    page.clock.run_for(60_000)
    assert page.evaluate("strokes") == 3  # rung once
    page.reload()
    expect(clock).to_have_text("Dry")
    assert page.evaluate("strokes") == 0  # and not again after a reload
    shot(page, "board-dry")
    painter.press("Stop the clock")
    expect(page.get_by_role("button", name="Start the drying clock")).to_be_visible()
    assert session(painter)["marks"]["clock"] is None


def test_the_clock_goes_on_on_other_screens_and_in_the_margin(
    chromium: Chromium, clerk: Clerk, painting: str
) -> None:
    page = chromium.page()
    page.context.clock.install(time=NOON)
    page.add_init_script(f"({SPY})()")
    painter = Painter(page, clerk, painting).open("#board")
    one = steps_to(painter, lambda s: s["timed"] and s["minutes"])
    painter.press("Start the drying clock")
    step(painter)
    expect(page.locator(".at-board .head")).to_contain_text("Drying, ")
    page.get_by_role("link", name="Back to the worksheet").click()
    pencilled = page.locator(".margin").get_by_text(re.compile("Drying, "))
    expect(pencilled).to_be_visible()
    page.clock.run_for(round(60_000 * one["minutes"][1]))
    expect(page.locator(".margin")).to_contain_text("It should be dry now.")
    assert page.evaluate("strokes") == 3
    page.locator(".margin").get_by_role("link", name="To the board").click()
    expect(page.locator(".at-board .foot")).to_be_visible()


def ticked_off(painter: Painter, count: int) -> None:
    """Wait until so many screens are ticked off and kept."""
    end = time.monotonic() + PATIENCE
    while len(session(painter)["marks"]["ticked"]) < count:
        assert time.monotonic() < end, "the last screen was never ticked off"
        time.sleep(0.02)


def test_a_finger_quicker_than_the_network_is_no_other_device(board: Painter) -> None:
    """Screens are ticked off before the answer on the one before has come."""
    page, steps = board.page, session(board)["steps"]
    network = page.context.new_cdp_session(page)
    slow = {"offline": False, "latency": 400, "downloadThroughput": -1, "uploadThroughput": -1}
    network.send("Network.emulateNetworkConditions", slow)
    for one in steps[:4]:
        expect(page.locator(".at-board h1")).to_have_text(one["title"])
        board.press("Done, next")
    expect(page.locator(".at-board h1")).to_have_text(steps[4]["title"])
    ticked_off(board, 4)
    assert set(session(board)["marks"]["ticked"]) == {one["id"] for one in steps[:4]}
    expect(page.get_by_text("on another device")).to_have_count(0)
    expect(page.locator(".at-board h1")).to_have_text(steps[4]["title"])


def test_at_the_board_everything_is_large_enough_for_wet_fingers(
    chromium: Chromium, clerk: Clerk, painting: str
) -> None:
    for size in ("tablet", "phone"):
        painter = Painter(chromium.page(size), clerk, painting).open("#board")
        page = painter.page
        for one in session(painter)["steps"][:6]:
            expect(page.locator(".at-board h1")).to_have_text(one["title"])
            small = page.locator(".at-board").evaluate(SMALL_TARGETS, FINGER)
            assert small == [], (size, one["title"])
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
            painter.press("Done, next")
        ticked_off(painter, 6)
        clerk.ask(
            "PUT",
            f"/api/paintings/{painting}/board/marks",
            {"version": session(painter)["marks"]["version"]},
        )
        page.close()


# What is pressed and is smaller than that; a box is pressed by its label.
SMALL_TARGETS = """(board, least) => [...board.querySelectorAll("a, button, summary, label")]
  .filter((e) => e.offsetParent)
  .map((e) => ({ box: e.getBoundingClientRect(), words: e.textContent.trim() }))
  .filter(({ box }) => box.width < least - 0.5 || box.height < least - 0.5)
  .map(({ box, words }) => `${words}: ${box.width} x ${box.height}`)"""
