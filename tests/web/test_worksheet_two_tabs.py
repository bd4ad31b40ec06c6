"""Two tabs on one painting: the slower one is told, and nothing is written over silently."""

import re
import time

from playwright.sync_api import Route, expect
from tests.web.browser import Chromium, Watch, shot
from tests.web.painter import PATIENCE, Clerk, Painter

NEWEST = "What is shown now is the newest; make your change again if you still want it."


def test_a_change_on_an_older_state_is_refused(
    chromium: Chromium, clerk: Clerk, painting: str, watch: Watch
) -> None:
    one, two = (Painter(chromium.page(), clerk, painting).open() for _ in range(2))
    with one.accepts("Laid a drawing grid"):
        one.choose("Drawing grid", "a grid of 4 squares across")
    before = clerk.history(painting)
    watch.expect(r"answer 409|status of 409")
    two.choose("Value steps", "7 values")
    problem = two.page.locator(".problem")
    expect(problem).to_contain_text(NEWEST)
    expect(problem).to_be_in_viewport()
    assert clerk.history(painting) == before
    # The second tab shows what the first did, and what it asked for itself is not taken as done.
    expect(two.page.locator(".onsheet svg.grid")).to_be_visible()
    expect(two.said).to_have_text("Kept: laid a drawing grid")
    shown = two.page.get_by_role("combobox", name="Value steps").locator("option:checked")
    expect(shown).not_to_have_text("7 values")
    shot(two.page, "overtaken", whole=False)
    with two.accepts("Looked at 7 values"):
        two.choose("Value steps", "7 values")
    assert [words for _, words in clerk.history(painting)][-2:] == [
        "Laid a drawing grid",
        "Looked at 7 values",
    ]


def test_a_wash_changed_on_an_older_plan_is_refused(
    chromium: Chromium, clerk: Clerk, painting: str, watch: Watch
) -> None:
    one, two = (Painter(chromium.page(), clerk, painting).open() for _ in range(2))
    two.look_into(0.5, 0.5)
    with one.accepts("Held ", whole=False):
        one.page.get_by_role("button", name=re.compile("Keep this layer")).first.click()
    watch.expect(r"answer 409|status of 409")
    before = clerk.history(painting)
    two.unfold("Give this shape another colour")
    two.press("Give it this colour")
    expect(two.page.locator(".problem")).to_contain_text(NEWEST)
    assert clerk.history(painting) == before
    assert clerk.view(painting)["brief"]["kept"]["layers"] == [1]


def test_a_plan_that_was_overtaken_loses_neither(
    chromium: Chromium, clerk: Clerk, painting: str, watch: Watch
) -> None:
    one, two = (Painter(chromium.page(), clerk, painting).open() for _ in range(2))
    watch.expect(r"answer 409|status of 409")
    one.press("Plan it again", within="#wanted")
    expect(one.page.locator(".doing")).to_be_visible()
    two.choose("Drawing grid", "a grid of 4 squares across")
    expect(two.said).to_have_text("Kept: laid a drawing grid")
    expect(one.page.locator(".doing")).to_have_count(0)
    words = [w for _, w in clerk.history(painting)]
    assert words.count("Laid a drawing grid") == 1
    if words[-1] == "Planned":  # the plan came in last: the grid must still be there
        assert clerk.view(painting)["brief"]["grid"]["across"] == 4
    else:
        expect(one.page.locator(".problem")).to_be_visible()


def test_the_screens_at_the_board_do_not_overwrite_each_other(
    chromium: Chromium, clerk: Clerk, painting: str, watch: Watch
) -> None:
    one, two = (Painter(chromium.page(), clerk, painting).open("#board") for _ in range(2))
    for painter in (one, two):
        expect(painter.page.locator(".at-board .foot")).to_be_visible()
    one.press("Done, next")
    expect(one.page.locator(".at-board .head")).to_contain_text("Screen 2 of")
    watch.expect(r"answer 409|status of 409")
    two.press("Done, next")
    expect(two.page.locator(".problem")).to_contain_text("Something was ticked on another device")
    expect(two.page.locator(".at-board .head")).to_contain_text("Screen 2 of")
    two.press("Done, next")
    expect(two.page.locator(".at-board .head")).to_contain_text("Screen 3 of")
    expect(two.page.locator(".problem")).to_have_count(0)  # told once, and then out of the way


def test_changes_asked_for_before_leaving_are_made(
    chromium: Chromium, clerk: Clerk, painting: str
) -> None:
    page = chromium.page()
    painter = Painter(page, clerk, painting)
    page.goto(str(clerk.http.base_url))
    page.locator(f'a[href$="/painting/{painting}"]').first.click()
    expect(page.locator(".onsheet > img").first).to_be_visible()
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/change", hold)
    painter.choose("Drawing grid", "a grid of 4 squares across")
    painter.choose("Value steps", "7 values")  # waits for the first, that it be made on it
    page.go_back()
    expect(page.get_by_text("Lay a photo here")).to_be_visible()
    for number in range(2):
        end = time.monotonic() + PATIENCE
        while len(held) == number:
            assert time.monotonic() < end, "the change was dropped"
            page.wait_for_timeout(20)
        with page.expect_response("**/change") as answered:
            held[number].continue_()
        assert answered.value.ok
    assert [words for _, words in clerk.history(painting)][-2:] == [
        "Laid a drawing grid",
        "Looked at 7 values",
    ]
    expect(page.get_by_text("Lay a photo here")).to_be_visible()  # nobody is called back
