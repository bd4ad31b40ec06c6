"""Test strokes and supplies: the chart, greys, two stacks; the painter's own paints and cards."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from playwright.sync_api import Locator, Page, expect
from tests.web.browser import Served, Watch, serve, shot, worksheet_command
from tests.web.painter import Clerk, Painter, photo_bytes, save

COLOURS = "(chart) => [...chart.querySelectorAll('button')].map((b) => b.style.background).join()"
LIST = """burnt sienna | half pan
ultramarine blue
phthalo green (blue shade)
yellow ochre | tube
quinacridone rose
"""


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A worksheet whose list of paints may be changed."""
    folder = tmp_path_factory.mktemp("own-paints")
    with serve(worksheet_command(folder / "data"), folder) as running:
        yield running


@pytest.fixture
def owner(own: Served, bundle: bytes, page: Page) -> Painter:
    """A painter with his paints."""
    clerk = Clerk(own.address)
    clerk.ask("PUT", "/api/paints/list", {"text": LIST})
    painter = Painter(page, clerk, clerk.bring_in(bundle)).open()
    expect(page.locator("#supplies .paints").first).to_be_visible()
    return painter


def listed(painter: Painter) -> Any:
    return painter.clerk.ask("GET", "/api/paints")


def line(painter: Painter, name: str) -> Locator:
    """A paint's line under Supplies, opened."""
    found = painter.page.locator("#supplies > .paints > li").filter(
        has=painter.page.locator(f"> span:text-matches('^{name}', 'i')")
    )
    if found.locator("details.more").get_attribute("open") is None:
        found.locator("details.more > summary").click()
    return found


def test_every_paint_under_every_other(painter: Painter) -> None:
    page = painter.page
    painter.unfold("Every paint under every other")
    chart = page.get_by_role("region", name="Glaze chart")
    expect(chart).to_be_visible()
    paints = len([p for p in listed(painter)["paints"] if not p["banned"]])
    expect(chart.locator("tbody tr")).to_have_count(paints)
    expect(chart.locator("td button")).to_have_count(paints**2)
    field = chart.locator("td button").nth(1)
    field.click()
    told = page.locator("#glazes [role=status]")
    expect(told).to_contain_text(" over ")
    expect(told.get_by_role("img", name="The darkest it may be")).to_be_visible()
    for label, words in (("Light", "lamplight"), ("Strength of the glaze", "strong, value 5")):
        before = chart.evaluate(COLOURS)
        painter.choose(label, words)
        page.wait_for_function(
            f"([chart, before]) => ({COLOURS})(chart) !== before",
            arg=[chart.element_handle(), before],
        )
    field.press("Tab")
    shot(page, "glaze-chart", whole=False)


def test_a_grey_is_found(painter: Painter) -> None:
    page = painter.page
    painter.unfold("Find a grey")
    painter.press("Find it")
    greys = page.locator("#glazes .others > li")
    expect(greys.first).to_be_visible()
    expect(greys.first).to_contain_text(re.compile("With less .+ it turns"))
    first = greys.first.inner_text()
    ground = page.get_by_role("combobox", name="Ground", exact=True)
    ground.select_option(index=1)
    expect(greys.first).not_to_have_text(first)
    shot(page, "greys", whole=False)


def test_two_stacks_are_compared(painter: Painter) -> None:
    page = painter.page
    painter.unfold("Compare two stacks")
    fold = page.locator("#glazes details").filter(has_text="Compare two stacks")
    fold.get_by_role("button", name="Compare them").click()
    lights = fold.locator(".others > li")
    expect(lights).to_have_count(4)
    said = fold.locator("[role=status]").inner_text()
    fold.get_by_role("combobox", name="How strong").first.select_option(label="a full coat of")
    fold.get_by_role("button", name="One coat more").first.click()
    fold.get_by_role("button", name="Compare them").click()
    expect(fold.locator("[role=status]")).not_to_have_text(said)
    shot(page, "two-stacks", whole=False)


def test_a_paint_is_added_and_taken_off(owner: Painter, watch: Watch) -> None:
    page = owner.page
    before = [p["key"] for p in listed(owner)["paints"]]
    known = owner.clerk.ask("GET", "/api/paints/known")
    new = next(p for p in known if p["key"] not in before and not p["listed"])
    page.get_by_label("Add a paint by its name").fill(new["name"])
    owner.press("Add it")
    expect(page.get_by_label("Add a paint by its name")).to_have_value("")
    assert len(listed(owner)["paints"]) == len(before) + 1
    assert listed(owner)["own"] is True
    added = next(p for p in listed(owner)["paints"] if p["key"] not in before)
    line(owner, added["name"]).get_by_role("button", name="Take it off the list").click()
    expect(page.locator("#supplies > .paints > li")).to_have_count(len(before))
    watch.expect(r"answer 4\d\d|status of 4\d\d")
    page.get_by_label("Add a paint by its name").fill("moonlight on a Tuesday")
    owner.press("Add it")
    expect(page.locator(".problem")).to_be_visible()
    expect(page.get_by_label("Add a paint by its name")).to_have_value("moonlight on a Tuesday")


def test_a_paint_of_unknown_pigment_is_added_and_says_so(owner: Painter) -> None:
    page = owner.page
    page.get_by_label("Add a paint by its name").fill("old green tube")
    page.get_by_role("checkbox", name=re.compile("pigment")).check()
    page.get_by_label("Its colour").select_option("green")
    owner.press("Add it")
    found = line(owner, "old green tube")
    expect(found).to_be_visible()
    paint = next(p for p in listed(owner)["paints"] if p["name"].lower() == "old green tube")
    expect(found).to_contain_text(paint["sure"])
    assert paint["pigments"] == []
    found.get_by_text("Pigment and source").click()
    expect(found).to_contain_text("Pigment not known")


def test_a_paint_is_never_used_and_noted(owner: Painter) -> None:
    page = owner.page
    name = listed(owner)["paints"][0]["name"]
    boxes = page.locator("#paints .paints li")
    ticked = boxes.count()
    line(owner, name).get_by_role("button", name="Never use it").click()
    expect(boxes).to_have_count(ticked - 1)  # not offered for the painting any more
    expect(line(owner, name)).to_contain_text("never used")
    note = line(owner, name).get_by_label("My note")
    note.fill("dried out, <i>wet it</i> first")
    note.blur()
    page.reload()
    expect(page.locator("#supplies .paints").first).to_be_visible()
    expect(line(owner, name).get_by_label("My note")).to_have_value(
        "dried out, <i>wet it</i> first"
    )
    line(owner, name).get_by_role("button", name="Never use it").click()
    expect(boxes).to_have_count(ticked)
    line(owner, name).get_by_role("button", name="Favourite").click()
    expect(boxes.filter(has_text=f"{name}, favourite")).to_have_count(1)


def test_the_list_is_written_as_text_and_taken_along(
    owner: Painter, watch: Watch, tmp_path: Path
) -> None:
    page = owner.page
    owner.unfold("Write the list as text")
    with page.expect_download() as download:
        page.get_by_role("link", name="Take the list along").click()
    kept = tmp_path / "list.txt"
    download.value.save_as(kept)
    text = kept.read_text("utf-8")
    assert text == listed(owner)["text"]
    field = page.get_by_role("textbox", name="My paints, one a line")
    field.fill("burnt sienna | half pan | favourite\nultramarine blue\n")
    owner.press("Keep the list so")
    expect(page.locator("#supplies > .paints > li")).to_have_count(2)
    watch.expect(r"answer 4\d\d|status of 4\d\d")
    field.fill("moonlight on a Tuesday\n")
    owner.press("Keep the list so")
    expect(page.locator(".problem")).to_be_visible()
    expect(field).to_have_value("moonlight on a Tuesday\n")  # nothing typed is lost
    assert len(listed(owner)["paints"]) == 2
    with page.expect_file_chooser() as opened:
        owner.press("Bring in a list")
    opened.value.set_files(kept)
    expect(page.locator("#supplies > .paints > li")).to_have_count(
        len([p for p in text.splitlines() if p and not p.startswith("#")])
    )
    assert listed(owner)["text"] == text


def test_a_card_is_made_and_a_bad_photo_of_it_says_so(
    owner: Painter, watch: Watch, tmp_path: Path
) -> None:
    page = owner.page
    cards = len(listed(owner)["cards"])
    owner.unfold("Make a card")
    owner.press("Make the card")
    expect(page.locator("#supplies .card")).to_have_count(cards + 1)
    card = page.locator("#supplies .card").first
    with page.expect_download() as download:
        card.get_by_role("link", name="The card to print").click()
    pdf = tmp_path / "card.pdf"
    download.value.save_as(pdf)
    opened = pypdfium2.PdfDocument(pdf.read_bytes())
    assert opened[0].get_size() == pytest.approx((595.3, 841.9), abs=0.5)  # A4 in points
    opened.close()
    with page.expect_file_chooser() as chosen:
        card.get_by_role("button", name="Read a photo of it").click()
    chosen.value.set_files(save(tmp_path, "not-the-card.jpg", photo_bytes()))
    problem = page.locator(".problem")
    expect(problem).to_be_visible()
    assert (problem.text_content() or "").removesuffix(" Close").endswith(".")
    expect(card.get_by_role("button", name="Read a photo of it")).to_be_visible()  # again
    shot(page, "supplies-card-refused", whole=False)
    watch.expect(r"answer 4\d\d|status of 4\d\d")
    with page.expect_file_chooser() as chosen:
        card.get_by_role("button", name="Read a photo of it").click()
    chosen.value.set_files(save(tmp_path, "not-a-photo.jpg", b"no photo at all"))
    expect(problem).to_be_visible()


def test_paints_are_ticked_for_this_painting(painter: Painter) -> None:
    page = painter.page
    boxes = page.locator("#paints input[type=checkbox]")
    expect(boxes.first).to_be_checked()
    name = page.locator("#paints li label").first.inner_text().strip().removesuffix(", favourite")
    with painter.accepts(f"Left {name} out"):
        boxes.first.click()
    assert painter.view["plan"]["stale"] is True
    with painter.accepts(f"Took {name}"):
        boxes.first.click()
    assert painter.view["brief"]["paints"] == []


def test_sizes_and_measures_are_told_as_the_painter_likes(owner: Painter) -> None:
    page = owner.page
    puddle = page.locator("#glazes .washes li").first
    before = puddle.inner_text()
    page.get_by_label("Paint from").select_option(label="pans, in brush-loads")
    expect(puddle).not_to_have_text(before)
    with page.expect_response("**/api/paintings/preferences"):  # a reload would cut it off
        page.get_by_label("Units").select_option(label="inches")
    expect(page.get_by_label("Units")).to_have_value("in")
    page.reload()
    expect(page.get_by_label("Units")).to_have_value("in")
    page.get_by_label("Units").select_option(label="centimetres")
    page.get_by_label("Paint from").select_option(label="tubes, in beads")
    expect(page.get_by_label("Paint from")).to_have_value("tubes")
