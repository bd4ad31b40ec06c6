"""The page a painter reads: well formed, alone, safe, and in words that make sense."""

from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from PIL import Image

from firstwash.handout.steps import edges_words
from firstwash.handout.summary import summary_page
from firstwash.handout.table import plan_rows
from firstwash.handout.words import change_words
from firstwash.plan.board.ranges import range_words
from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.usecases import PhotoPlan, Wishes, plan_photo, write_plan

VOID = {"meta", "img", "br"}
FILES = {
    "reference": "reference.jpg",
    "comparison": "comparison.png",
    "difference": "difference.png",
    "given_up": "given-up.png",
    "finished": "stages/finished.png",
    "touches": "masks/touches.png",
    "masks": [f"masks/layer-{n}.png" for n in range(1, 9)],
    "stages": [f"stages/stage-{n}.png" for n in range(9)],
}


class Page(HTMLParser):
    """Tags must close in order; words, links and headings are gathered."""

    def __init__(self, content: bytes) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[str] = []
        self.links: list[str] = []
        self.words: list[str] = []
        self.headings: list[str] = []
        self.alts: list[str] = []
        self.feed(content.decode("utf-8"))
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        if tag not in VOID:
            self.open.append(tag)
        names = [name for name, _ in attrs]
        assert len(set(names)) == len(names)
        assert not any(name.startswith("on") for name in names)  # no scripts in attributes
        self.links += [value for name, value in attrs if name in ("src", "href") and value]
        if tag == "img":
            self.alts.append(dict(attrs).get("alt") or "")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)
        if self.open and self.open[-1] in ("h1", "h2"):
            self.headings.append(data)

    @property
    def text(self) -> str:
        return " ".join(self.words)


@pytest.fixture(scope="module")
def page(folder: Path) -> Page:
    return Page((folder / "summary.html").read_bytes())


def test_every_file_the_page_shows_is_there(page: Page, folder: Path) -> None:
    assert len(page.links) > 8
    for link in page.links:
        assert (folder / link).is_file(), link


def test_the_page_stands_alone(page: Page, folder: Path) -> None:
    """No address of another place: it can be read without a network, and tells nobody."""
    source = (folder / "summary.html").read_text("utf-8")
    assert "://" not in source
    assert "url(" not in source
    assert not any(link.startswith(("/", "//", "data:")) or ":" in link for link in page.links)
    assert not {"script", "iframe", "link", "object", "form"} & set(page.seen)


def test_a_hostile_file_name_is_only_a_name(page: Page) -> None:
    assert page.headings[0] == "a & b <script>alert(1)<"
    assert "script" not in page.seen


@pytest.mark.parametrize("title", ["<script>alert(1)</script>", "a & b", '"><img src=x>', "été ☃"])
def test_any_title_is_only_text(planned: PhotoPlan, title: str) -> None:
    page = Page(summary_page(planned.plan, FILES, title, [title]))
    assert page.headings[0] == title
    assert title in page.words[page.words.index(title) + 1 :]  # among the notes too
    assert "x" not in page.links


def test_hostile_paints_are_only_names(planned: PhotoPlan) -> None:
    nasty = "<b>rose</b> & 'co\""
    paints = tuple(replace(p, name=nasty, pigments=(nasty,)) for p in planned.plan.paints)
    page = Page(summary_page(replace(planned.plan, paints=paints), FILES, "x"))
    assert "b" not in page.seen
    assert nasty in page.words


def test_every_picture_is_described(page: Page) -> None:
    assert all(len(alt) > 10 for alt in page.alts)
    assert len(set(page.alts)) == len(page.alts)


def test_the_page_tells_the_whole_plan(page: Page, planned: PhotoPlan) -> None:
    plan = planned.plan
    assert str(plan.sheet) in page.text
    for paint in plan.paints:
        assert paint.name in page.words
    for puddle in plan.puddles:
        assert puddle.name in page.words
    for wash in plan.washes:
        assert f"{edges_words(wash)} {change_words(wash, plan)}" in page.text
    assert range_words(plan.schedule.minutes) in page.text
    assert page.headings[-1] == "Cautions"
    assert "Read the label first" in page.text


def test_the_first_wash_is_laid_on_paper_not_on_grey(page: Page, planned: PhotoPlan) -> None:
    _, _, rows = plan_rows(planned.plan)[1]
    assert rows
    assert all(row[-1].startswith("paper to ") for row in rows)
    assert "paper to " in page.text
    assert "grey to grey" not in page.text


def test_layers_without_washes_are_told_in_a_sentence(planned: PhotoPlan) -> None:
    first = tuple(tuple(c for c in own if c[0] == 1) for own in planned.plan.coats)
    report = replace(planned.plan.report, by_hand=None)
    washes = tuple(planned.plan.washes_of(1))
    idle = replace(planned.plan, washes=washes, coats=first, report=report)
    page = Page(summary_page(idle, FILES, "x"))
    assert page.text.count("Nothing is left to paint in this layer.") == idle.layers - 1
    assert not any("last darks" in heading for heading in page.headings)


@pytest.fixture(scope="module")
def white(tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Page]:
    place = tmp_path_factory.mktemp("white")
    Image.new("RGB", (90, 70), (255, 255, 255)).save(place / "snow.png")
    result = plan_photo(place / "snow.png", Wishes(sheet="9x7cm", limits=Limits(shapes=5)))
    return result.plan, Page(write_plan(result, place / "plan").read_bytes())


def test_a_white_photo_leaves_the_paper_alone(white: tuple[Plan, Page]) -> None:
    plan, page = white
    assert plan.washes == ()
    assert plan.reserve_share() == 1.0
    assert "the whole sheet stays bare paper" in page.text
    assert page.text.count("Nothing is left to paint in this layer.") == plan.layers
