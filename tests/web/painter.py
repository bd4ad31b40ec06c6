"""What a painter does at the page, and what the server then holds: shared by test_worksheet_*.

    Clerk(address)        the worksheet's own addresses without a page, to prepare and to check
    Painter(page, ...)    hands at one page: open, press, touch, draw on the sheet, step back

A painting small enough to be planned in seconds: a real photo on a sheet of 12 x 9 cm.
"""

import io
import re
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
from PIL import Image
from playwright.sync_api import Locator, Page, expect
from skimage.data import coffee

__all__ = ["PATIENCE", "PLACE_TAKEN", "SMALL", "Clerk", "Painter", "photo_bytes", "save"]

PATIENCE = 60.0  # s; only so that a broken test ends
# Fewest of everything: the shapes and washes of a plan that takes seconds.
SMALL = {
    "layers": 3,
    "paints": 4,
    "puddles": 6,
    "washes": 15,
    "hours": 1.5,
    "shapes": 40,
    "touches": 0,
}
PLACE_TAKEN = "the kitchen at home"  # in the photo's EXIF, beside its GPS position
GPS, DESCRIPTION, ORIENTATION = 0x8825, 0x010E, 0x0112  # tags of EXIF
BYTES = {"Content-Type": "application/octet-stream"}
expect.set_options(timeout=1000 * PATIENCE)


def photo_bytes() -> bytes:
    """A cup of coffee as a JPEG that tells where it was taken."""
    exif = Image.Exif()
    exif[DESCRIPTION] = PLACE_TAKEN
    exif[ORIENTATION] = 1
    exif[GPS] = {1: "N", 2: (48.0, 51.0, 30.0), 3: "E", 4: (2.0, 17.0, 40.0)}
    written = io.BytesIO()
    Image.fromarray(coffee()).save(written, "JPEG", quality=90, exif=exif)
    return written.getvalue()


class Clerk:
    """The worksheet's addresses, asked as its own page would ask them."""

    def __init__(self, address: str) -> None:
        alone = httpx.Limits(max_keepalive_connections=0)  # nothing stays open behind a test
        self.http = httpx.Client(base_url=address, trust_env=False, timeout=PATIENCE, limits=alone)
        found = re.search(r'name="token" content="([^"]+)"', self.http.get("/").text)
        assert found is not None, "the page carries no token"
        self.http.headers.update({"X-Firstwash-Token": found[1], "Origin": address})

    def ask(self, method: str, path: str, body: Any = None) -> Any:
        """One request that has to be granted."""
        answer = self.http.request(method, path, json=body)
        assert answer.is_success, f"{method} {path}: {answer.status_code} {answer.text}"
        return answer.json()

    def send(self, path: str, data: bytes, **headers: str) -> Any:
        """A file as it is."""
        answer = self.http.post(path, content=data, headers={**BYTES, **headers})
        assert answer.is_success, answer.text
        return answer.json()

    def view(self, painting: str) -> Any:
        """A painting as the page would show it."""
        return self.ask("GET", f"/api/paintings/{painting}")

    def history(self, painting: str) -> list[tuple[str, str]]:
        """Every accepted step: its id and its words, the first first."""
        steps = self.ask("GET", f"/api/paintings/{painting}/history")
        return [(step["id"], step["words"]) for step in steps]

    def new(self, name: str = "cup.jpg", sheet: str = "12x9cm", **work: Any) -> Any:
        """A new painting of the cup, asked to be small."""
        headers = {"X-File-Name": quote(name), "X-Sheet": quote(sheet)}
        made = self.send("/api/paintings", photo_bytes(), **headers)
        asked = {**made["brief"]["work"], **SMALL, **work}
        return self.change(made, "Asked for little", work=asked)

    def change(self, view: Any, words: str, **what: Any) -> Any:
        """One accepted change."""
        body = {"base": view["revision"], "words": words, **what}
        return self.ask("POST", f"/api/paintings/{view['id']}/change", body)

    def plan(self, view: Any) -> Any:
        """Have it planned, and wait."""
        path = f"/api/paintings/{view['id']}"
        job = self.ask("POST", f"{path}/plan", {"base": view["revision"]})["job"]
        self.finished(job)
        return self.view(view["id"])

    def finished(self, job: str) -> None:
        """Wait until some long work is done."""
        end = time.monotonic() + PATIENCE
        while (state := self.state(job)) in ("waiting", "running", "keeping"):
            assert time.monotonic() < end, f"the work took longer than {PATIENCE:.0f} s"
            time.sleep(0.05)
        assert state == "finished"

    def state(self, job: str) -> str:
        """How some long work stands."""
        jobs = self.ask("GET", "/api/jobs")["jobs"]
        return next(str(one["state"]) for one in jobs if one["id"] == job)

    def export(self, painting: str) -> bytes:
        """A painting with its history, as a zip."""
        answer = self.http.get(f"/api/shelf/{painting}/export")
        assert answer.is_success
        return answer.content

    def bring_in(self, bundle: bytes) -> str:
        """A copy of an exported painting; its id."""
        return str(self.send("/api/shelf/bring-in", bundle)["id"])

    def shapes(self, view: Any, across: int, down: int) -> list[list[int]]:
        """Which shape lies at the middle of each field of a grid over the sheet, row by row."""
        wide, high = view["width_mm"] / across, view["height_mm"] / down
        path = f"/api/paintings/{view['id']}/spot"
        return [
            [
                int(self.ask("GET", f"{path}?x={(i + 0.5) * wide}&y={(j + 0.5) * high}")["shape"])
                for i in range(across)
            ]
            for j in range(down)
        ]


@dataclass
class Painter:
    """A painter at one page that shows one painting."""

    page: Page
    clerk: Clerk
    painting: str

    def open(self, fragment: str = "") -> "Painter":
        """Open the painting by its address and wait until its sheet is painted."""
        self.page.goto(f"{self.clerk.http.base_url}/painting/{self.painting}{fragment}")
        if fragment != "#board":
            expect(self.page.locator(".onsheet > img").first).to_be_visible()
        return self

    @property
    def view(self) -> Any:
        """What the server holds of the painting."""
        return self.clerk.view(self.painting)

    @property
    def said(self) -> Locator:
        """The words at the top on what was last accepted."""
        return self.page.locator(".topline .said")

    def press(self, name: str, *, within: str = "body") -> None:
        """Press the button of that name."""
        self.page.locator(within).get_by_role("button", name=name, exact=True).click()

    def choose(self, label: str, words: str) -> None:
        """Choose in a sentence."""
        self.page.get_by_role("combobox", name=label, exact=True).select_option(label=words)

    def unfold(self, words: str) -> None:
        """Open a fold by the words on it."""
        self.page.locator("summary", has_text=words).first.click()

    @contextmanager
    def accepts(self, words: str, whole: bool = True) -> Iterator[None]:
        """What is done inside is accepted as one step, and the page says so in these words.

        whole: in these alone; otherwise in words that begin so.
        """
        before = self.clerk.history(self.painting)
        yield
        end_of_words = "$" if whole else ""
        told = re.compile(f"^Kept: {re.escape(words.lower())}{end_of_words}")
        expect(self.said).to_have_text(told)
        end = time.monotonic() + PATIENCE
        while len(after := self.clerk.history(self.painting)) == len(before):
            assert time.monotonic() < end, "nothing was accepted"
            time.sleep(0.02)
        assert after[: len(before)] == before
        (said,) = [w for _, w in after[len(before) :]]
        assert said == words if whole else said.startswith(words)

    def steps_back(self) -> None:
        """Press Step back, and wait until it is done."""
        self._steps("Step back", "/back")

    def steps_forward(self) -> None:
        """Press Step forward, and wait until it is done."""
        self._steps("Step forward", "/forward")

    def _steps(self, name: str, path: str) -> None:
        with self.page.expect_response(lambda r: r.url.endswith(path)) as answered:
            self.press(name)
        assert answered.value.ok
        expect(self.said).to_have_text(f"Kept: {self.view['words'].lower()}")

    # --- on the sheet ------------------------------------------------------------

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Where a place of the sheet, in fractions of it, is on the screen."""
        box = self.page.locator("canvas.hand").bounding_box()
        assert box is not None
        return box["x"] + x * box["width"], box["y"] + y * box["height"]

    def touch(self, x: float, y: float) -> None:
        """Touch a place of the sheet."""
        self.page.mouse.click(*self.at(x, y))

    def look_into(self, x: float, y: float) -> None:
        """Touch a place of a planned sheet and wait for the section through it."""
        with self.page.expect_response(lambda r: "/spot?" in r.url):
            self.touch(x, y)
        expect(self.page.get_by_role("heading", name="Here, through the sheet")).to_be_visible()

    def draw(self, points: Sequence[tuple[float, float]]) -> None:
        """One stroke over the sheet."""
        mouse = self.page.mouse
        mouse.move(*self.at(*points[0]))
        mouse.down()
        for point in points[1:]:
            mouse.move(*self.at(*point), steps=6)
        mouse.up()

    def shows(self, name: str) -> None:
        """The sheet shows the picture of that name, whole."""
        picture = self.page.locator(".onsheet > img").first
        expect(picture).to_have_attribute("src", re.compile(rf"/{re.escape(name)}\?w="))
        self.page.wait_for_function(
            "(i) => i.complete && i.naturalWidth > 0", arg=picture.element_handle()
        )


def save(folder: Path, name: str, data: bytes) -> Path:
    """A file to be chosen in a test."""
    path = folder / name
    path.write_bytes(data)
    return path
