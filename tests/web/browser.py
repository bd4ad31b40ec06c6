"""A real browser on the real page: how the tests start, watch, check and photograph it.

    serve(command, folder)      a server as its own process; its log is read for errors
    Chromium(launched)          new watched pages in any size
    Watch                       whatever a page does wrong while a test looks on
    axe(page)                   accessibility faults a painter would meet
    shot(page, name)            a picture of the page in out/screens

The fixtures over these are in conftest.py. Nothing here waits for the outer network: every
host but this computer and a home network is made unreachable.
"""

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Playwright, Request, Response

__all__ = [
    "SIZES",
    "Chromium",
    "Served",
    "Watch",
    "axe",
    "launch",
    "program",
    "serve",
    "shot",
    "worksheet_command",
]

ROOT = Path(__file__).parents[2]
AXE = ROOT / "node_modules/axe-core/axe.min.js"
SCREENS = ROOT / "out/screens"
SIZES = {"desktop": (1440, 900), "tablet": (820, 1180), "phone": (390, 844)}  # CSS pixels
TOUCHED = ("tablet", "phone")
THIS_COMPUTER = frozenset({"127.0.0.1", "localhost", "::1"})
INSIDE = ("data", "blob", "about", "chrome-error")  # schemes that never leave the page
ADDRESS = re.compile(r"http://(?:127\.0\.0\.1|localhost|\[::1\]):\d+\b")
CRASH = re.compile(r"^(?:Traceback \(most recent call last\)|ERROR\b|CRITICAL\b)", re.MULTILINE)
START_SECONDS = 60.0  # only so that a server that never answers does not hang the run
STOP_SECONDS = 15.0
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
# No name or number outside a home network can be reached, whatever the page tries.
INDOORS = "MAP * ~NOTFOUND, " + ", ".join(
    f"EXCLUDE {host}"
    for host in ("localhost", "127.0.0.1", "[::1]", "192.168.*", "10.*", "172.*", "[fd*]", "fd*:*")
)
TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa")
# Chromium says nothing of some breaches (an eval that is caught), so the page is made to say it.
TELL = """document.addEventListener("securitypolicyviolation", (e) => console.error(
  `Content Security Policy: ${e.effectiveDirective} blocked ${e.blockedURI} at ${e.sourceFile}`))"""
LOOK = """async (tags) => (await axe.run(document, {
  runOnly: {type: "tag", values: tags},
  rules: {"target-size": {enabled: true}},
  resultTypes: ["violations"],
})).violations.filter((v) => v.impact === "serious" || v.impact === "critical").flatMap(
  (v) => v.nodes.map((n) => `${v.id} (${v.impact}) at ${n.target.join(" ")}: ${v.help}`))"""


# --- the server ------------------------------------------------------------------------------


@dataclass
class Served:
    """A running server: where it answers, and what it has written so far."""

    address: str
    log_file: Path
    process: subprocess.Popen[bytes]

    @property
    def log(self) -> str:
        """Everything the server has printed, both streams."""
        return self.log_file.read_text("utf-8", errors="replace")

    def crashes(self) -> list[str]:
        """The lines of the log, from the first that tells of a crash; none if all went well."""
        found = CRASH.search(self.log)
        return self.log[found.start() :].splitlines() if found else []

    def stop(self) -> None:
        """End it as a painter does, with Ctrl-C; after STOP_SECONDS by force, which is a fault."""
        if self.process.poll() is not None:
            return
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.wait(STOP_SECONDS)
        except subprocess.TimeoutExpired:
            self.kill()
            pytest.fail(f"the server did not stop within {STOP_SECONDS:.0f} s:\n{self.log}")

    def kill(self) -> None:
        """End it at once, as a power cut would."""
        self.process.kill()
        self.process.wait()


def worksheet_command(data: Path, *more: str) -> list[str]:
    """The command that opens the worksheet on a data folder, at any free port, with no browser."""
    opened = ["open", "--no-browser", "--port", "0", "--data", str(data)]
    return [sys.executable, "-m", "firstwash", *opened, *more]


@contextmanager
def serve(command: Sequence[str], folder: Path) -> Iterator[Served]:
    """Run a server until the block ends; it must print the address where it answers.

    The log stays in `folder`. A server that crashed, or that wrote of a crash, fails the test.
    """
    served = _started(command, folder)
    try:
        yield served
    finally:
        served.stop()
    found = served.crashes()
    assert not found, "\n".join(found)


def _started(command: Sequence[str], folder: Path) -> Served:
    log_file = folder / f"server-{time.time_ns()}.log"
    with log_file.open("wb") as log:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )
    served = Served("", log_file, process)
    try:
        served.address = _address(served)
    except BaseException:
        served.kill()
        raise
    return served


def _address(served: Served) -> str:
    """The first address in the log, up to its port."""
    until = time.monotonic() + START_SECONDS
    while time.monotonic() < until:
        if found := ADDRESS.search(served.log):
            return found.group()
        if served.process.poll() is not None:
            break
        time.sleep(0.02)
    pytest.fail(f"the server printed no address:\n{served.log}")


# --- the browser -----------------------------------------------------------------------------


def program() -> str:
    """Where Debian's Chromium is; without it the test fails and says how to get it."""
    found = shutil.which("chromium")
    if found is None:
        pytest.fail("The page is tested in Chromium: install it with `apt install chromium`.")
    return found


def launch(playwright: Playwright) -> Browser:
    """Chromium without a window, indoors."""
    return playwright.chromium.launch(
        executable_path=program(), args=[*QUIET, f"--host-resolver-rules={INDOORS}"]
    )


@dataclass
class Watch:
    """What went wrong on the watched pages, one line each.

    A test that provokes a fault on purpose names it with `expect` before it does so.
    """

    hosts: set[str] = field(default_factory=lambda: set(THIS_COMPUTER))
    expected: list[re.Pattern[str]] = field(default_factory=list)
    heard: list[str] = field(default_factory=list)

    def expect(self, pattern: str) -> None:
        """Forgive the lines in which this pattern is found."""
        self.expected.append(re.compile(pattern))

    def complaints(self) -> list[str]:
        """The lines nobody expected."""
        return [line for line in self.heard if not any(p.search(line) for p in self.expected)]

    def settle(self) -> None:
        """Fail if anything unexpected was heard; the fixtures do so at the end of each test."""
        found = self.complaints()
        assert not found, "\n".join(found)

    def over(self, page: Page) -> None:
        """Look on from now until the page is closed."""
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.heard.append(f"uncaught: {error}"))
        page.on("crash", lambda _: self.heard.append("the page crashed"))
        page.on("request", self._request)
        page.on("websocket", lambda socket: self._where(socket.url))
        page.on("requestfailed", self._failed)
        page.on("response", self._response)

    def _console(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            kind = "policy" if "Content Security Policy" in message.text else "console"
            self.heard.append(f"{kind}: {message.text}")

    def _request(self, request: Request) -> None:
        self._where(request.url)

    def _where(self, url: str) -> None:
        parts = urlsplit(url)
        if parts.scheme not in INSIDE and parts.hostname not in self.hosts:
            self.heard.append(f"outside request: {url}")

    def _failed(self, request: Request) -> None:
        # Leaving a page, or stopping a request on purpose, aborts what was under way.
        if request.failure != "net::ERR_ABORTED":
            self.heard.append(f"failed request: {request.url} {request.failure}")

    def _response(self, response: Response) -> None:
        if response.status >= 400:
            self.heard.append(f"answer {response.status}: {response.url}")


@dataclass
class Chromium:
    """Opens fresh pages that share nothing (no cookies, no storage), all under one watch."""

    browser: Browser
    watch: Watch

    def page(self, size: str = "desktop", *, still: bool = False, **context: Any) -> Page:
        """A new page, empty.

        size: a key of SIZES; tablet and phone have touch.
        still: the painter has asked the system for less motion.
        context: anything else Playwright's new_context takes, such as color_scheme.
        """
        width, height = SIZES[size]
        opened = self.browser.new_context(
            viewport={"width": width, "height": height},
            has_touch=size in TOUCHED,
            is_mobile=size in TOUCHED,  # so that a page without a viewport tag shows small
            reduced_motion="reduce" if still else "no-preference",
            **context,
        )
        opened.add_init_script(TELL)
        opened.on("page", self.watch.over)  # also whatever the page itself opens
        return opened.new_page()

    def close(self) -> None:
        """Close every page opened so far; the browser stays."""
        for opened in self.browser.contexts:
            opened.close()


# --- looking ---------------------------------------------------------------------------------


def axe(page: Page, *, tags: Sequence[str] = TAGS) -> list[str]:
    """Serious and critical accessibility faults of the page as it stands, one line each.

    tags: which rules of axe-core to hold it to; WCAG 2.0 to 2.2, levels A and AA, unless told.
    The script comes in by the debugger, so that the page's own policy stays in force.
    """
    if not AXE.exists():
        pytest.fail("axe-core is not there: run `make test` once with a connection to npm.")
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(AXE.read_text("utf-8") + "; undefined")
    found: list[str] = page.evaluate(LOOK, list(tags))
    return sorted(found)


def shot(page: Page, name: str, *, whole: bool = True) -> Path:
    """A picture of the page in out/screens, named so; the whole length of it unless told."""
    SCREENS.mkdir(parents=True, exist_ok=True)
    path = SCREENS / f"{name}.png"
    page.screenshot(path=path, full_page=whole, animations="disabled")
    return path
