"""The reference and the sheet: how photos lie on it, and what is changed before planning."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Locator, Page, expect
from tests.web.browser import Watch, shot
from tests.web.painter import Clerk, Painter, photo_bytes, save

SAUCER = {"x": 0.305, "y": 0.29}  # the whitest place of the photo, in fractions of it
SIDES: tuple[tuple[Literal["x", "y"], Literal["width", "height"]], ...] = (
    ("x", "width"),
    ("y", "height"),
)


@pytest.fixture
def unplanned(page: Page, clerk: Clerk) -> Painter:
    """A painter before a photo that is not planned yet."""
    made = clerk.new()
    return Painter(page, clerk, made["id"]).open()


def picture(painter: Painter, number: int = 0) -> Any:
    return painter.view["brief"]["scene"]["pictures"][number]


def sheet_changes(painter: Painter) -> Callable[[], bool]:
    """A question to ask later: whether another picture lies on the sheet."""
    before = painter.page.locator(".onsheet > img").first.get_attribute("src")
    return lambda: painter.page.locator(".onsheet > img").first.get_attribute("src") != before


def crop(painter: Painter) -> Locator:
    painter.press("Crop, straighten, white")
    window = painter.page.get_by_role("group", name="The part that fills the sheet")
    expect(window).to_be_visible()
    painter.page.wait_for_function(
        "(w) => w.parentElement.querySelector('img').naturalWidth > 0", arg=window.element_handle()
    )
    return window


def test_the_photo_is_turned_and_mirrored(unplanned: Painter) -> None:
    other = sheet_changes(unplanned)
    with unplanned.accepts("Turned the photo"):
        unplanned.press("Turn a quarter")
    assert picture(unplanned)["turns"] == 1
    assert unplanned.view["width_mm"] < unplanned.view["height_mm"]  # it lies as the photo does
    assert other()
    with unplanned.accepts("Mirrored the photo"):
        unplanned.press("Mirror")
    assert picture(unplanned)["mirrored"] is True
    expect(unplanned.page.get_by_role("button", name="Mirror")).to_have_attribute(
        "aria-pressed", "true"
    )
    unplanned.steps_back()
    unplanned.steps_back()
    assert picture(unplanned)["turns"] == 0


def test_the_photo_is_cropped_with_the_mouse(unplanned: Painter) -> None:
    page, view = unplanned.page, unplanned.view
    window = crop(unplanned)
    window.scroll_into_view_if_needed()
    box = window.locator(".corner.c2").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    with unplanned.accepts("Cropped the photo"):
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x - 120, y - 90, steps=5)
        page.mouse.up()
    left, top, wide, high = picture(unplanned)["crop"]
    assert 0.05 < wide < 0.95
    photo = view["photos"][0]
    ratio = wide * photo["width"] / (high * photo["height"])
    # The sheet's proportions; a pixel's rounding of a photo 600 pixels wide is 0.2 %.
    assert ratio == pytest.approx(view["width_mm"] / view["height_mm"], rel=0.01)
    middle = window.bounding_box()
    assert middle is not None
    with unplanned.accepts("Cropped the photo"):
        page.mouse.move(middle["x"] + 40, middle["y"] + 40)
        page.mouse.down()
        page.mouse.move(middle["x"] + 60, middle["y"] + 50, steps=4)
        page.mouse.up()
    moved = picture(unplanned)["crop"]
    assert moved[0] > left
    assert moved[1] > top
    # Moved, and not resized; the crop is told in whole pixels of a photo of 600 x 400.
    assert moved[2:] == pytest.approx([wide, high], abs=1 / 400)
    shot(page, "crop", whole=False)
    with unplanned.accepts("Took as much as fits"):
        unplanned.press("As much as fits")
    assert picture(unplanned)["crop"] is None


def test_the_photo_is_cropped_with_the_keyboard(unplanned: Painter) -> None:
    page = unplanned.page
    window = crop(unplanned)
    window.focus()
    with unplanned.accepts("Cropped the photo"):
        for key in ("-", "-", "-", "ArrowRight", "ArrowDown", "Enter"):
            page.keyboard.press(key)
    cropped = picture(unplanned)["crop"]
    assert cropped[2] < 0.95
    expect(window).to_be_focused()  # so that the painter can go on
    before = unplanned.clerk.history(unplanned.painting)
    page.keyboard.press("Tab")
    assert unplanned.clerk.history(unplanned.painting) == before  # left as it is accepted


def test_the_photo_is_straightened(unplanned: Painter) -> None:
    crop(unplanned)
    other = sheet_changes(unplanned)
    slider = unplanned.page.get_by_role("slider", name=re.compile("^Straighten"))
    with unplanned.accepts("Straightened the photo"):
        slider.fill("3.5")
    assert picture(unplanned)["tilt"] == 3.5
    expect(unplanned.page.get_by_text("turned 3.5° clockwise")).to_be_visible()
    assert other()


def test_a_neutral_is_touched(unplanned: Painter, watch: Watch) -> None:
    page = unplanned.page
    crop(unplanned)
    unplanned.press("Touch a neutral")
    page.locator(".cropping").scroll_into_view_if_needed()
    photo = page.locator(".cropping").bounding_box()
    assert photo is not None
    expect(page.get_by_text("Touch something in the photo that is really grey")).to_be_visible()
    with unplanned.accepts("Touched a neutral"):
        page.mouse.click(*(photo[o] + SAUCER[o] * photo[s] for o, s in SIDES))
    assert picture(unplanned)["neutral"] == pytest.approx(list(SAUCER.values()), abs=0.01)
    with unplanned.accepts("Took the photo's own white"):
        unplanned.press("The photo's own white")
    assert picture(unplanned)["neutral"] is None
    watch.expect(r"answer 4\d\d|status of 4\d\d")
    unplanned.press("Touch a neutral")
    page.locator(".cropping").click(position={"x": 60, "y": 40})
    expect(page.locator(".problem")).to_contain_text("too dark to show the light")


def test_the_sheet_is_told_in_centimetres_and_inches(unplanned: Painter, watch: Watch) -> None:
    page = unplanned.page
    size = page.locator("#reference").get_by_label("Size of the sheet")
    with unplanned.accepts("Took a sheet of 24x18cm"):
        size.fill("24x18cm")
        size.press("Enter")
    assert (unplanned.view["width_mm"], unplanned.view["height_mm"]) == (240, 180)
    with unplanned.accepts("Took a sheet of 8x6in"):
        size.fill("8x6in")
        size.press("Enter")
    assert unplanned.view["width_mm"] == pytest.approx(8 * 25.4)  # an inch is 25.4 mm exactly
    with unplanned.accepts("Turned the sheet"):
        unplanned.choose("How it lies", "upright")
    assert unplanned.view["height_mm"] == pytest.approx(8 * 25.4)
    watch.expect(r"answer 4\d\d|status of 4\d\d")
    size.fill("a bit larger")
    size.press("Enter")
    expect(page.locator(".problem")).to_be_visible()
    expect(size).to_have_value("8x6in")  # what is accepted


@pytest.mark.parametrize("words", ["left bare", "one graded wash"])
def test_the_background_is_simplified_and_corrected(words: str, unplanned: Painter) -> None:
    page = unplanned.page
    treatment = {"left bare": "bare", "one graded wash": "graded"}[words]
    with unplanned.accepts(f"Background {treatment}"):
        unplanned.choose("Background", words)
    unplanned.shows("background")
    for kind, stroke in (
        ("background", [(0.05, 0.05), (0.3, 0.05)]),
        ("subject", [(0.45, 0.5), (0.6, 0.6)]),
    ):
        unplanned.press(f"This is {kind}")
        other = sheet_changes(unplanned)
        with unplanned.accepts(f"Marked some {kind}"):
            unplanned.draw(stroke)
        unplanned.shows("background")
        assert other()
    marks = unplanned.view["brief"]["scene"]["background"]["marks"]
    assert [m["kind"] for m in marks] == ["background", "subject"]
    assert marks[0]["points"][0] == pytest.approx([0.05, 0.05], abs=0.01)  # a pixel or two
    shot(page, f"background-{treatment}", whole=False)
    with unplanned.accepts("Forgot the marks"):
        unplanned.press("Forget my marks")


def test_the_part_that_matters_most_is_drawn_round(unplanned: Painter) -> None:
    unplanned.press("Draw round the part that matters most")
    with unplanned.accepts("Marked what matters most"):
        unplanned.draw([(0.3, 0.3), (0.7, 0.3), (0.7, 0.6), (0.3, 0.6), (0.3, 0.3)])
    focal = unplanned.view["brief"]["scene"]["focal"]
    assert focal == pytest.approx([0.3, 0.3, 0.4, 0.3], abs=0.02)  # a few pixels of the page
    with unplanned.accepts("Took the focal area away"):
        unplanned.press("No part matters more")


def test_a_part_is_left_out_lightened_or_recoloured(unplanned: Painter) -> None:
    page = unplanned.page
    unplanned.unfold("Leave a part out")
    ring = [(0.6, 0.1), (0.9, 0.1), (0.9, 0.4), (0.6, 0.4)]
    for choice, words in (
        ("leave it out", "Left a part out"),
        ("lighten it", "Lightened a part"),
        ("darken it", "Darkened a part"),
        ("give it another colour", "Gave a part another colour"),
    ):
        unplanned.choose("What to do with a part", choice)
        if "colour" in choice:
            page.get_by_label("Colour", exact=True).fill("#304878")
        unplanned.press("Draw round it")
        other = sheet_changes(unplanned)
        with unplanned.accepts(words):
            unplanned.draw([*ring, ring[0]])
        assert other()
    areas = unplanned.view["brief"]["scene"]["areas"]
    assert [a["kind"] for a in areas] == ["leave out", "lighten", "darken", "recolour"]
    assert areas[3]["colour"] == "#304878"
    shot(page, "parts-changed", whole=False)
    with unplanned.accepts("Took a change back"):
        page.get_by_role("button", name="Take this back").first.click()
    assert len(unplanned.view["brief"]["scene"]["areas"]) == 3


def test_a_touch_is_not_taken_for_a_part(unplanned: Painter) -> None:
    unplanned.unfold("Leave a part out")
    unplanned.press("Draw round it")
    unplanned.touch(0.5, 0.5)
    expect(unplanned.page.locator(".problem")).to_contain_text("a touch alone is not enough")
    assert unplanned.view["brief"]["scene"]["areas"] == []


def test_another_photo_is_laid_on_the_sheet(unplanned: Painter, tmp_path: Path) -> None:
    page = unplanned.page
    with (
        unplanned.accepts("Laid another photo on the sheet"),
        page.expect_file_chooser() as opened,
    ):
        unplanned.press("Lay another photo on the sheet")
        opened.value.set_files(save(tmp_path, "spoon.jpg", photo_bytes()))
    expect(page.get_by_role("heading", name="Photo 2, laid on the sheet")).to_be_visible()
    unplanned.press("Crop, straighten, white, place")
    with unplanned.accepts("Moved a photo"):
        page.get_by_role("slider", name=re.compile("from the left")).fill("0.1")
    with unplanned.accepts("Moved a photo"):
        page.get_by_role("slider", name=re.compile("how wide")).fill("0.6")
    place = picture(unplanned, 1)["place"]
    assert (place["left"], place["width"]) == (0.1, 0.6)
    with unplanned.accepts("Mirrored the photo"):
        page.locator(".photo").nth(1).get_by_role("button", name="Mirror").click()
    shot(page, "two-photos", whole=False)
    with unplanned.accepts("Took a photo off the sheet"):
        page.locator(".photo").nth(1).get_by_role("button", name="Take it off the sheet").click()
    assert len(unplanned.view["brief"]["scene"]["pictures"]) == 1


def test_a_drawing_grid_is_laid_over_the_picture(unplanned: Painter) -> None:
    lines = unplanned.page.locator(".onsheet svg.grid line.inner")
    with unplanned.accepts("Laid a drawing grid"):
        unplanned.choose("Drawing grid", "a grid of 4 squares across")
    expect(lines).to_have_count(3 + 2)  # squares of 30 mm on 120 x 90 mm
    with unplanned.accepts("Changed the grid"):
        unplanned.choose("Diagonals", "with diagonals")
    expect(lines).to_have_count(3 + 2 + 2)
    shot(unplanned.page, "drawing-grid", whole=False)
    with unplanned.accepts("Took the grid away"):
        unplanned.choose("Drawing grid", "no drawing grid")
    expect(lines).to_have_count(0)


def test_values_are_seen(unplanned: Painter) -> None:
    page = unplanned.page
    scale = page.get_by_role("list", name="Value steps").locator("li")
    for steps in (2, 10):
        with unplanned.accepts(f"Looked at {steps} values"):
            unplanned.choose("Value steps", f"{steps} values")
        unplanned.shows(f"values-{steps}-0")
        expect(scale).to_have_count(steps)
    first = scale.first.inner_text()
    with unplanned.accepts("Counted values the other way"):
        now = page.get_by_label("Where counting begins").input_value()
        unplanned.choose(
            "Where counting begins", "the darkest" if "light" in now else "the lightest"
        )
    expect(scale.first).not_to_have_text(first)
    with unplanned.accepts("Squinted"):
        unplanned.choose("Squint", "half shut")
    unplanned.shows("squint-50")
    for study in ("Hue alone", "Whites", "Two values"):
        page.get_by_role("list", name="Value studies").get_by_role(
            "button", name=study
        ).first.click()
        expect(page.get_by_role("img", name="A study of the photo")).to_be_visible()
    shot(page, "seeing", whole=False)


def test_a_hue_is_seen_against_grey(unplanned: Painter) -> None:
    page = unplanned.page
    unplanned.press("See a hue against grey")
    unplanned.touch(0.5, 0.5)
    expect(page.get_by_role("img", name="Grey of the same value")).to_be_visible()
    expect(page.locator("canvas.hand")).to_have_attribute("aria-label", "The sheet")


def test_a_change_of_the_photo_makes_the_plan_stale(painter: Painter) -> None:
    with painter.accepts("Mirrored the photo"):
        painter.press("Mirror")
    assert painter.view["plan"]["stale"] is True
    expect(
        painter.page.get_by_text("Something was changed since this plan was made.")
    ).to_be_visible()
    expect(painter.page.get_by_role("button", name="Join shapes")).to_be_disabled()
    painter.steps_back()
    assert painter.view["plan"]["stale"] is False
    expect(painter.page.get_by_role("button", name="Join shapes")).to_be_enabled()
