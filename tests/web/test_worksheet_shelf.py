"""The paintings as a list: named, copied, taken out, binned, brought in again."""

import io
import re
import zipfile
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Locator, Page, Route, expect
from tests.web.browser import Served, Watch, shot
from tests.web.painter import PLACE_TAKEN, Clerk, save

GPS = 0x8825  # tag of EXIF


@pytest.fixture
def shelf(served: Served, bundle: bytes, page: Page) -> Clerk:
    """A shelf of its own with one painting, shown."""
    clerk = Clerk(served.address)
    clerk.bring_in(bundle)
    page.goto(served.address)
    expect(page.locator(".paintings li")).to_have_count(1)
    return clerk


def card(page: Page, name: str) -> Locator:
    found = page.locator(".paintings li")
    return found.filter(has=page.get_by_role("link", name=name, exact=True))


def taken_out(page: Page, name: str, folder: Path) -> Path:
    with page.expect_download() as download:
        card(page, name).get_by_role("link", name="Take a copy out").click()
    assert download.value.suggested_filename.endswith(".zip")
    kept = folder / "taken-out.zip"
    download.value.save_as(kept)
    return kept


def bring_in(page: Page, file: Path) -> None:
    with page.expect_file_chooser() as opened:
        page.get_by_role("button", name="Bring in a painting from a file").click()
    opened.value.set_files(file)


def test_out_to_the_bin_and_in_again(shelf: Clerk, page: Page, tmp_path: Path) -> None:
    (before,) = shelf.ask("GET", "/api/shelf")
    history = shelf.history(before["id"])
    brief = shelf.view(before["id"])["brief"]
    zipped = taken_out(page, before["name"], tmp_path)
    card(page, before["name"]).get_by_role("button", name="To the bin").click()
    expect(page.get_by_text("No paintings yet.")).to_be_visible()
    page.get_by_text("In the bin: 1").click()
    page.get_by_role("button", name="Take it out again").click()
    expect(card(page, before["name"])).to_be_visible()
    expect(page.get_by_text(re.compile("In the bin"))).to_have_count(0)
    card(page, before["name"]).get_by_role("button", name="To the bin").click()
    page.get_by_text("In the bin: 1").click()
    page.get_by_role("button", name="Empty the bin now").click()
    shot(page, "bin-emptied-for-good")
    page.get_by_role("button", name="Yes, delete them for good").click()
    expect(page.get_by_text(re.compile("In the bin"))).to_have_count(0)
    assert shelf.ask("GET", "/api/shelf?binned=true") == []
    bring_in(page, zipped)
    expect(card(page, before["name"])).to_be_visible()
    (after,) = shelf.ask("GET", "/api/shelf")
    assert [words for _, words in shelf.history(after["id"])] == [words for _, words in history]
    assert shelf.view(after["id"])["brief"] == brief
    card(page, before["name"]).get_by_role("link", name=before["name"], exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(before["name"])
    expect(page.locator(".washes li").first).to_be_visible()
    page.go_back()
    expect(page.locator(".paintings li")).to_have_count(1)
    shot(page, "start-with-paintings")


def test_nothing_taken_out_tells_where_the_photo_was_taken(
    shelf: Clerk, page: Page, tmp_path: Path
) -> None:
    (one,) = shelf.ask("GET", "/api/shelf")
    with zipfile.ZipFile(taken_out(page, one["name"], tmp_path)) as bundle:
        files = {name: bundle.read(name) for name in bundle.namelist()}
    photos = [data for data in files.values() if data.startswith(b"\xff\xd8\xff")]
    assert photos
    for data in files.values():
        assert PLACE_TAKEN.encode() not in data
    for data in photos:
        with Image.open(io.BytesIO(data)) as photo:
            assert not photo.getexif().get_ifd(GPS)


def test_a_painting_is_named_and_copied(shelf: Clerk, page: Page) -> None:
    (one,) = shelf.ask("GET", "/api/shelf")
    card(page, one["name"]).get_by_role("button", name="Rename").click()
    name = 'The jug & <b>pears</b> "by the window"'
    field = page.get_by_label("Name of the painting")
    expect(field).to_be_focused()
    field.fill(name)
    field.press("Enter")
    expect(card(page, name)).to_be_visible()  # as it was written, and nothing of it as markup
    assert page.locator(".paintings b").count() == 0
    card(page, name).get_by_role("button", name="Duplicate").click()
    expect(page.locator(".paintings li")).to_have_count(2)
    names = {p["name"] for p in shelf.ask("GET", "/api/shelf")}
    assert name in names
    assert len(names) == 2  # told apart
    ids = [p["id"] for p in shelf.ask("GET", "/api/shelf")]
    assert [w for _, w in shelf.history(ids[0])] == [w for _, w in shelf.history(ids[1])]
    card(page, name).get_by_role("link", name=name, exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(name)
    expect(page).to_have_title(f"{name}, firstwash")


def test_a_renaming_is_given_up_with_escape(shelf: Clerk, page: Page) -> None:
    (one,) = shelf.ask("GET", "/api/shelf")
    card(page, one["name"]).get_by_role("button", name="Rename").click()
    page.get_by_label("Name of the painting").fill("Something else")
    page.keyboard.press("Escape")
    expect(card(page, one["name"])).to_be_visible()
    assert shelf.ask("GET", "/api/shelf")[0]["name"] == one["name"]


def test_a_file_that_is_no_painting_says_one_sentence(
    shelf: Clerk, page: Page, watch: Watch, tmp_path: Path
) -> None:
    watch.expect(r"answer 4\d\d|status of 4\d\d")
    bring_in(page, save(tmp_path, "painting.zip", b"PK\x03\x04 not a zip at all"))
    problem = page.locator(".problem")
    expect(problem).to_be_visible()
    assert (problem.text_content() or "").removesuffix(" Close").count(".") == 1
    assert len(shelf.ask("GET", "/api/shelf")) == 1


def test_paintings_opened_one_after_another_in_a_hurry(shelf: Clerk, page: Page) -> None:
    (one,) = shelf.ask("GET", "/api/shelf")
    other = shelf.ask("POST", f"/api/shelf/{one['id']}/duplicate")
    shelf.ask("POST", f"/api/shelf/{other['id']}/rename", {"name": "Pears"})
    page.reload()
    late: list[Route] = []

    def hold(route: Route) -> None:
        late.append(route)

    page.route(f"**/api/paintings/{one['id']}", hold)  # its answer comes last of all
    card(page, one["name"]).get_by_role("link", name=one["name"], exact=True).click()
    expect(page.get_by_text("Opening the painting.")).to_be_visible()
    page.go_back()
    expect(page.get_by_text("Lay a photo here")).to_be_visible()
    card(page, "Pears").get_by_role("link", name="Pears", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Pears")
    with page.expect_response(f"**/api/paintings/{one['id']}"):
        late[0].continue_()
    page.wait_for_load_state("networkidle")
    expect(page.get_by_role("heading", level=1)).to_have_text("Pears")
    expect(page).to_have_title("Pears, firstwash")


def test_a_painting_that_is_not_there_says_so_and_leads_back(
    studio: Served, page: Page, watch: Watch
) -> None:
    watch.expect(r"answer 404|status of 404")
    page.goto(f"{studio.address}/painting/no-such-painting")
    expect(page.locator(".problem")).to_be_visible()
    page.get_by_role("link", name="Back to the paintings").click()
    expect(page.get_by_text("Lay a photo here")).to_be_visible()
