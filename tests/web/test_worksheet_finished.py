"""The finished painting in the page: its photo squared, or its corners touched."""

import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect
from tests.web.browser import Watch, axe, serve, shot, worksheet_command
from tests.web.painter import Clerk, Painter, save
from tests.web.photographed import cup_photo, painting_photo, plan_in
from tests.worksheet.small import copied

LOOK = (390, 820, 1280)


@dataclass
class Studio:
    """A worksheet with one planned painting, and a photo of it finished."""

    address: str
    photo: Path
    other: Path


@pytest.fixture(scope="module")
def gallery(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    folder = tmp_path_factory.mktemp("gallery")
    data = copied(folder)
    photo = save(folder, "finished.jpg", painting_photo(plan_in(data)))
    other = save(folder, "cup.jpg", cup_photo())
    with serve(worksheet_command(data), folder) as served:
        yield Studio(served.address, photo, other)


@pytest.fixture
def painter(gallery: Studio, page: Page) -> Painter:
    clerk = Clerk(gallery.address)
    (listed,) = (p for p in clerk.ask("GET", "/api/shelf") if p["name"] == "Cup")
    copy = clerk.ask("POST", f"/api/shelf/{listed['id']}/duplicate")
    clerk.ask("POST", f"/api/shelf/{copy['id']}/rename", {"name": "Another cup"})
    return Painter(page, clerk, copy["id"]).open()


def section(page: Page) -> Locator:
    """The section, in view."""
    found = page.locator("#finished")
    found.scroll_into_view_if_needed()
    return found


def choose(painter: Painter, photo: Path) -> Locator:
    """Choose a photo."""
    found = section(painter.page)
    with painter.page.expect_file_chooser() as chooser:
        found.get_by_role("button", name=re.compile("Choose a")).click()
    chooser.value.set_files(photo)
    return found


def shows(picture: Locator) -> None:
    """A picture is there, whole."""
    expect(picture).to_be_visible()
    handle = picture.element_handle()
    picture.page.wait_for_function("(i) => i.complete && i.naturalWidth > 0", arg=handle)


def looked_at(page: Page, name: str) -> None:
    """No serious fault and nothing too wide at any width; a picture of each."""
    for width in LOOK:
        page.set_viewport_size({"width": width, "height": 900})
        assert axe(page) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth + 1")
        shot(page, f"finished-{name}-{width}")


def test_a_photo_is_squared_shown_and_taken_along(
    painter: Painter, gallery: Studio, tmp_path: Path
) -> None:
    page = painter.page
    found = section(page)
    expect(found.get_by_label("Title")).to_have_value("Another cup")
    found.get_by_label("Painter").fill("A. Painter")
    found.get_by_label("Year").fill("2025")
    found.get_by_label("Year").blur()
    choose(painter, gallery.photo)
    picture = found.get_by_role("img", name="The finished painting, squared")
    shows(picture)
    line = found.get_by_text("A. Painter, Another cup, 2025. Transparent watercolour", exact=False)
    expect(line).to_be_visible()
    expect(found.get_by_text("no measurement of it", exact=False)).to_be_visible()
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    painter.press("Copy the line", within="#finished")
    expect(found.get_by_text("Copied.")).to_be_visible()
    assert page.evaluate("navigator.clipboard.readText()") == line.inner_text()
    with page.expect_download() as taken:
        found.get_by_role("link", name="Take pictures and labels along").click()
    path = tmp_path / "finished.zip"
    taken.value.save_as(path)
    with zipfile.ZipFile(path) as packed:
        assert packed.testzip() is None
        assert {"painting.jpg", "label.pdf", "finished.txt"} <= set(packed.namelist())
    looked_at(page, "squared")
    page.reload()  # nothing is lost
    shows(picture)
    expect(line).to_be_visible()
    expect(found.get_by_label("Year")).to_have_value("2025")
    found.get_by_label("Year").fill("2026")
    found.get_by_label("Year").blur()
    expect(found.get_by_text("were changed since it was made", exact=False)).to_be_visible()
    found.get_by_label("Painter").fill("B. Painter")  # kept in time, and no word lost
    painter.press("Square it again", within="#finished")
    expect(found.get_by_text("B. Painter, Another cup, 2026.", exact=False)).to_be_visible()
    expect(found.get_by_text("were changed since it was made", exact=False)).to_have_count(0)


def test_corners_are_touched_where_no_sheet_is_found(painter: Painter, gallery: Studio) -> None:
    page = painter.page
    found = choose(painter, gallery.other)
    expect(
        found.get_by_text("The four edges of the sheet were not found", exact=False)
    ).to_be_visible()
    photo = found.get_by_role("img", name="The photo of the finished painting")
    shows(photo)
    looked_at(page, "corners")
    photo.scroll_into_view_if_needed()
    box = photo.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 0.12 * box["width"], box["y"] + 0.12 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.2 * box["width"], box["y"] + 0.25 * box["height"], steps=5)
    page.mouse.up()
    handle = found.get_by_role("button", name="Upper left corner, 20 % from the left, 25 % from")
    expect(handle).to_be_focused()
    for _ in range(5):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("ArrowUp")
    expect(found.get_by_role("button", name="Upper left corner, 40 %")).to_be_focused()
    page.mouse.click(box["x"] + 0.7 * box["width"], box["y"] + 0.8 * box["height"])
    handle = found.get_by_role("button", name="Lower right corner, 70 % from the left, 80 % from")
    expect(handle).to_be_focused()
    page.reload()  # the photo is not lost
    shows(photo)
    painter.press("Square it by these corners", within="#finished")
    shows(found.get_by_role("img", name="The finished painting, squared"))
    expect(found.get_by_text("four edges", exact=False)).to_have_count(0)


def test_what_is_no_photo_is_told_in_a_sentence(
    painter: Painter, watch: Watch, tmp_path: Path
) -> None:
    watch.expect("finished/photo|status of 400")
    choose(painter, save(tmp_path, "words.jpg", b"not a picture, only words" * 9))
    told = painter.page.get_by_role("alert").get_by_text("This is not a photo", exact=False)
    expect(told).to_be_visible()
