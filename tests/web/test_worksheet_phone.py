"""A phone on the home network: let in by a code, one device, until closed."""

import re
from collections.abc import Iterator

import cv2
import numpy as np
import pytest
from playwright.sync_api import Page, expect
from tests.web.browser import Chromium, Served, Watch, shot
from tests.web.painter import Clerk, Painter

from firstwash.web.phone import home_addresses

pytestmark = pytest.mark.skipif(
    not home_addresses(), reason="this computer has no address on a home network"
)


@pytest.fixture(autouse=True)
def at_home(clerk: Clerk, watch: Watch) -> Iterator[None]:
    """The home network may be reached; whatever a test leaves open is closed."""
    watch.hosts.update(home_addresses())
    watch.expect(r"status of 404")  # a page of one sentence has no icon
    yield
    clerk.ask("DELETE", "/api/phone")


def opened(page: Page, studio: Served) -> str:
    """Open the worksheet to one device; the address its code stands for."""
    page.goto(studio.address)
    page.get_by_text("Use my phone or tablet").click()
    page.get_by_role("button", name="Open it to one device").click()
    code = page.locator("figure.code")
    expect(code.get_by_role("img")).to_be_visible()
    return code.locator("strong").inner_text()


def test_the_code_can_be_photographed(studio: Served, page: Page) -> None:
    url = opened(page, studio)
    assert re.fullmatch(r"http://[\w.:\[\]]+:\d+/phone/[\w-]{22,}", url)
    shot(page, "phone-code")
    picture = page.locator("figure.code img").screenshot()
    seen = cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_GRAYSCALE)
    # The reader is choosy about how many pixels a module has; a camera sees them all.
    read = {
        cv2.QRCodeDetector().detectAndDecode(cv2.resize(seen, None, fx=by, fy=by))[0]
        for by in (1.0, 1.5, 2.0, 3.0, 4.0)
    }
    assert read - {""} == {url}


def test_one_device_sees_and_changes_the_worksheet_until_closed(
    studio: Served,
    chromium: Chromium,
    painting: str,
    clerk: Clerk,
    watch: Watch,
) -> None:
    here, phone, third = chromium.page(), chromium.page("phone"), chromium.page("phone")
    url = opened(here, studio)
    phone.goto(url)
    expect(phone.get_by_text("Lay a photo here")).to_be_visible()
    expect(here.get_by_text("A device is using the worksheet.")).to_be_visible()
    watch.expect(r"answer 403|status of 403")
    third.goto(url)  # the code is used up
    expect(third.locator("body")).to_contain_text("This code was used")
    third.goto(url.rpartition("/phone/")[0])
    expect(third.locator("body")).to_contain_text("open on another device")
    expect(phone.get_by_text("Use my phone or tablet")).to_have_count(0)  # not its to give
    home = url.rpartition("/phone/")[0]
    phone.goto(f"{home}/painting/{painting}")
    expect(phone.locator(".onsheet > img").first).to_be_visible()
    held = Painter(phone, clerk, painting)
    held.choose("Drawing grid", "a grid of 4 squares across")
    expect(phone.locator(".onsheet svg.grid")).to_be_visible()
    assert held.view["words"] == "Laid a drawing grid"
    shot(phone, "phone-in-use", whole=False)
    watch.expect(r"failed request|ERR_CONNECTION|net::ERR")
    here.get_by_role("button", name="Close it").click()
    expect(here.get_by_role("button", name="Open it to one device")).to_be_visible()
    held.choose("Value steps", "7 values")
    expect(phone.locator(".problem")).to_be_visible()
    assert held.view["words"] == "Laid a drawing grid"
