"""The history outlives the server, however it ends: stopped, or killed at any moment."""

import contextlib
import random
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
from playwright.sync_api import Page, expect
from tests.web.browser import Served, Watch, serve, shot, worksheet_command
from tests.web.painter import Clerk, Painter

KILLS = 10
LONGEST = 0.25  # s from the first request to the kill; a change takes some hundredths
GONE = r"ERR_(CONNECTION|INCOMPLETE|EMPTY|NETWORK|SOCKET)|answer 503|status of 503"


@contextlib.contextmanager
def opened(folder: Path) -> Iterator[tuple[Served, Clerk]]:
    """A server on the one data folder of the test."""
    with serve(worksheet_command(folder / "data"), folder) as served:
        yield served, Clerk(served.address)


def test_the_history_goes_on_after_a_restart(
    page: Page, bundle: bytes, tmp_path: Path, watch: Watch
) -> None:
    watch.expect(GONE)  # what a page still asks for when the server is stopped
    with opened(tmp_path) as (_, clerk):
        painter = Painter(page, clerk, clerk.bring_in(bundle)).open()
        with painter.accepts("Laid a drawing grid"):
            painter.choose("Drawing grid", "a grid of 4 squares across")
        with painter.accepts("Looked at 7 values"):
            painter.choose("Value steps", "7 values")
        painter.steps_back()
        before, view = clerk.history(painter.painting), painter.view
    with opened(tmp_path) as (_, clerk):
        painter = Painter(page, clerk, painter.painting).open()
        assert clerk.history(painter.painting) == before
        assert painter.view == view
        painter.steps_forward()
        assert painter.view["brief"]["values"]["steps"] == 7
        painter.press("All steps")
        steps = page.get_by_role("region", name="All steps").locator("li")
        expect(steps).to_have_count(len(before))
        expect(steps.first).to_contain_text("you are here")
        shot(page, "all-steps", whole=False)
        steps.last.get_by_role("button").click()
        expect(painter.said).to_have_text(f"Kept: {before[0][1].lower()}")
        assert painter.view["plan"] is None  # the photo as it first lay there
        assert clerk.history(painter.painting) == before  # and nothing is lost by going there
        steps.first.get_by_role("button").click()
        expect(painter.said).to_have_text("Kept: looked at 7 values")
        assert painter.view["plan"] is not None


def test_killed_while_planning_the_page_says_so_and_goes_on(
    page: Page, tmp_path: Path, watch: Watch
) -> None:
    watch.expect(GONE)
    with opened(tmp_path) as (served, clerk):
        made = clerk.new(sheet="A4", shapes=300, washes=120, hours=12, layers=6)
        painter = Painter(page, clerk, made["id"]).open()
        painter.press("Plan the painting", within="#wanted")
        expect(page.locator(".doing")).to_be_visible()
        served.kill()
        painter.choose("Drawing grid", "a grid of 4 squares across")
        expect(page.locator(".problem")).to_contain_text("see whether it is still running")
        shot(page, "server-gone", whole=False)
    with opened(tmp_path) as (_, clerk):
        painter = Painter(page, clerk, made["id"]).open()
        assert painter.view == made
        assert "plan" not in {job["kind"] for job in clerk.ask("GET", "/api/jobs")["jobs"]}
        expect(page.locator(".doing")).to_have_count(0)
        painter.press("Plan the painting", within="#wanted")  # and it can be planned anew
        page.locator(".doing").get_by_role("button", name="Stop").click()
        expect(page.get_by_text("Stopped. Nothing was changed.")).to_be_visible()


class Busy(threading.Thread):
    """Changes a painting without rest, and remembers what was told to be accepted."""

    def __init__(self, clerk: Clerk, painting: str) -> None:
        super().__init__()
        self.clerk, self.painting = clerk, painting
        self.accepted: list[tuple[str, str]] = []
        self.begun = threading.Event()

    def run(self) -> None:
        with contextlib.suppress(httpx.TransportError):
            view = self.clerk.view(self.painting)
            self.begun.set()
            for number in range(1000):
                across = 2 + number % 29  # 2 to 30, all that a grid may have
                words = f"Laid a grid of {across}"
                view = self.clerk.change(view, words, grid={"across": across})
                self.accepted.append((view["revision"], words))


def test_killed_at_any_moment_nothing_accepted_is_lost(tmp_path: Path) -> None:
    chance = random.Random(20_240_229)
    painting, known, accepted = "", [], 0
    for number in range(KILLS):
        with opened(tmp_path) as (served, clerk):
            painting = painting or str(clerk.new()["id"])
            known = whole(clerk, painting, known)
            if number % 2:  # every other time while it is being planned, too
                view = clerk.view(painting)
                clerk.ask("POST", f"/api/paintings/{painting}/plan", {"base": view["revision"]})
            busy = Busy(clerk, painting)
            busy.start()
            busy.begun.wait()
            time.sleep(chance.uniform(0.0, LONGEST))
            served.kill()
            busy.join()
            known += busy.accepted
            accepted += len(busy.accepted)
    with opened(tmp_path) as (_, clerk):
        whole(clerk, painting, known)
    assert accepted >= KILLS / 2  # the kills did come between changes


def whole(clerk: Clerk, painting: str, known: list[Any]) -> list[Any]:
    """Everything accepted is there in its order, and the newest can be shown; the steps now."""
    steps = clerk.history(painting)
    assert [step for step in steps if step in known] == known
    view = clerk.view(painting)
    assert view["revision"] == steps[-1][0]
    assert view["words"] == steps[-1][1]
    return steps
