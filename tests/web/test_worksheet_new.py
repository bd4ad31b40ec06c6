"""A painting is begun: by a file, by dropping, by pasting; planned, stopped, refused."""

import base64
import re
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect
from tests.web.browser import Served, Watch, axe, shot
from tests.web.painter import Clerk, Painter, photo_bytes, save

MOST_ACTIONS = 8
# What a browser does with a file let go over the page, or pasted into it.
GIVE = """([where, kind, text]) => {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const data = new DataTransfer();
  data.items.add(new File([bytes], "jug.jpg", { type: "image/jpeg" }));
  const told = { bubbles: true, cancelable: true };
  const place = document.querySelector(where);
  if (kind === "drop") {
    place.dispatchEvent(new DragEvent("dragover", { ...told, dataTransfer: data }));
    place.dispatchEvent(new DragEvent("drop", { ...told, dataTransfer: data }));
  } else place.dispatchEvent(new ClipboardEvent("paste", { ...told, clipboardData: data }));
}"""


class Counted:
    """Counts what a painter does with the hands: every press, choice and file."""

    def __init__(self) -> None:
        self.done = 0

    def __call__(self, thing: Locator) -> Locator:
        self.done += 1
        return thing


def choose(page: Page, file: Path) -> None:
    with page.expect_file_chooser() as opened:
        page.get_by_role("button", name="Choose a photo").click()
    opened.value.set_files(file)


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    return save(tmp_path, "cup of coffee.jpg", photo_bytes())


def test_from_the_photo_to_the_first_wash(served: Served, page: Page, photo: Path) -> None:
    act = Counted()
    page.goto(served.address)
    expect(page.get_by_text("No paintings yet.")).to_be_visible()
    assert axe(page) == []
    shot(page, "start-empty")
    act(page.get_by_label("Size of the sheet")).fill("12x9cm")
    page.get_by_label("Size of the sheet").blur()
    with page.expect_file_chooser() as opened:
        act(page.get_by_role("button", name="Choose a photo")).click()
    opened.value.set_files(photo)  # the file itself is a second action
    act.done += 1
    expect(page.get_by_role("heading", level=1)).to_have_text("cup of coffee")
    act(page.get_by_label("How much work")).select_option(label="a beginner’s hour and a half")
    expect(page.locator(".topline .said")).to_have_text("Kept: changed how much work it may be")
    act(page.get_by_role("button", name="Plan the painting").first).click()
    doing = page.locator(".doing")
    expect(doing.get_by_role("progressbar")).to_be_visible()
    expect(doing).to_contain_text("The sheet below stays as it was until then.")
    shot(page, "planning")
    expect(doing).to_contain_text("a first look at the lay-in")
    expect(page.locator('.onsheet > img[src$="/look"]')).to_be_visible()
    expect(page.get_by_text("The plan is made.")).to_be_visible()
    lay_in = page.locator("#layer-1")
    expect(lay_in.locator(".washes li").first).to_be_visible()
    expect(lay_in.locator(".washes .letter").first).to_have_text(re.compile(r"^[A-Z]"))
    painter = Painter(page, Clerk(served.address), page.url.rpartition("/")[2])
    painter.shows("stage-1")
    assert act.done <= MOST_ACTIONS
    assert painter.view["plan"]["layers"][0]["washes"]


@pytest.mark.parametrize(("kind", "where"), [("drop", ".lay-here"), ("paste", "body")])
def test_a_photo_let_go_over_the_page_or_pasted(
    kind: str, where: str, studio: Served, page: Page
) -> None:
    page.goto(studio.address)
    expect(page.get_by_text("Lay a photo here")).to_be_visible()
    page.evaluate(GIVE, [where, kind, base64.b64encode(photo_bytes()).decode()])
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("^jug"))
    expect(page.get_by_role("img", name="The photo as it lies on the sheet")).to_be_visible()
    clerk = Clerk(studio.address)
    assert clerk.view(page.url.rpartition("/")[2])["sheet"] == (
        "38 cm (15 in) wide, 28 cm (11 in) high"
    )


def test_a_file_that_is_no_photo_says_one_sentence(
    studio: Served, page: Page, watch: Watch, tmp_path: Path, clerk: Clerk
) -> None:
    before = clerk.ask("GET", "/api/shelf")
    page.goto(studio.address)
    watch.expect(r"answer 4\d\d|status of 4\d\d")
    choose(page, save(tmp_path, "list.jpg", b"burnt sienna\n" * 50))
    problem = page.get_by_role("alert").locator(".problem")
    expect(problem).to_be_visible()
    words = (problem.text_content() or "").removesuffix(" Close")
    assert words.count(".") == 1
    assert words.endswith(".")
    shot(page, "start-problem")
    assert axe(page) == []
    problem.get_by_role("button", name="Close").click()
    expect(problem).to_have_count(0)
    expect(page.get_by_role("button", name="Choose a photo")).to_be_enabled()
    assert clerk.ask("GET", "/api/shelf") == before


def test_a_sheet_nobody_knows_says_one_sentence(
    studio: Served, page: Page, watch: Watch, photo: Path
) -> None:
    page.goto(studio.address)
    watch.expect(r"answer 4\d\d|status of 4\d\d")
    page.get_by_label("Size of the sheet").fill("as large as a door")
    choose(page, photo)
    expect(page.get_by_role("alert").locator(".problem")).to_be_visible()
    expect(page.get_by_label("Size of the sheet")).to_have_value("as large as a door")


def test_a_stopped_plan_leaves_everything_as_it_was(page: Page, clerk: Clerk) -> None:
    large = clerk.new(sheet="A4", shapes=300, washes=120, hours=12, layers=6)
    painter = Painter(page, clerk, large["id"]).open()
    painter.press("Plan the painting", within="#wanted")
    page.locator(".doing").get_by_role("button", name="Stop").click()
    expect(page.get_by_text("Stopped. Nothing was changed.")).to_be_visible()
    expect(page.locator(".doing")).to_have_count(0)
    assert painter.view == large
    expect(page.get_by_role("button", name="Plan the painting").first).to_be_enabled()


def test_a_plan_under_way_is_found_again_after_a_reload(page: Page, clerk: Clerk) -> None:
    large = clerk.new(sheet="A4", shapes=300, washes=120, hours=12, layers=6)
    painter = Painter(page, clerk, large["id"]).open()
    painter.press("Plan the painting", within="#wanted")
    expect(page.locator(".doing")).to_be_visible()
    page.reload()
    expect(page.locator(".doing").get_by_role("progressbar")).to_be_visible()
    page.locator(".doing").get_by_role("button", name="Stop").click()
    expect(page.get_by_text("Stopped. Nothing was changed.")).to_be_visible()
