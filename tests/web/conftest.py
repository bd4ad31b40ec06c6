"""Fixtures over the browser (browser.py) and over servers inside the tests (serving.py)."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from tests.web.browser import Chromium, Served, Watch, launch, worksheet_command
from tests.web.browser import serve as serve_process
from tests.web.painter import Clerk, Painter
from tests.web.serving import jobs, samples, serve

__all__ = ["jobs", "samples", "serve"]


@pytest.fixture(scope="session")
def launched() -> Iterator[Browser]:
    """One Chromium for all tests."""
    with sync_playwright() as playwright:
        browser = launch(playwright)
        yield browser
        browser.close()


@pytest.fixture
def watch() -> Iterator[Watch]:
    """What goes wrong on the pages of a test; anything unexpected fails it at its end."""
    watching = Watch()
    yield watching
    watching.settle()


@pytest.fixture
def chromium(launched: Browser, watch: Watch) -> Iterator[Chromium]:
    """Opens watched pages in any size."""
    opener = Chromium(launched, watch)
    yield opener
    opener.close()


@pytest.fixture
def page(chromium: Chromium) -> Page:
    """A watched page on a desktop."""
    return chromium.page()


@pytest.fixture
def tablet(chromium: Chromium) -> Page:
    """A watched page on a tablet."""
    return chromium.page("tablet")


@pytest.fixture
def phone(chromium: Chromium) -> Page:
    """A watched page on a phone."""
    return chromium.page("phone")


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """The worksheet, served by a process of its own on an empty data folder."""
    data = tmp_path / "data"
    with serve_process(worksheet_command(data), tmp_path) as running:
        yield running


# --- one planned painting, planned once and brought in afresh for every test ------------------


@pytest.fixture(scope="session")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A worksheet that many tests share, each with a painting of its own."""
    folder = tmp_path_factory.mktemp("studio")
    with serve_process(worksheet_command(folder / "data"), folder) as running:
        yield running


@pytest.fixture(scope="session")
def bundle(studio: Served) -> bytes:
    """A small planned painting, exported."""
    clerk = Clerk(studio.address)
    planned = clerk.plan(clerk.new())
    return clerk.export(planned["id"])


@pytest.fixture
def clerk(studio: Served) -> Clerk:
    """The shared worksheet's addresses."""
    return Clerk(studio.address)


@pytest.fixture
def painting(clerk: Clerk, bundle: bytes) -> str:
    """A planned painting that no other test touches."""
    return clerk.bring_in(bundle)


@pytest.fixture
def painter(page: Page, clerk: Clerk, painting: str) -> Painter:
    """A painter before that painting, on a desktop."""
    return Painter(page, clerk, painting).open()
