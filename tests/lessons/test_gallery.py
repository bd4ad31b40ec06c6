"""The pages of the gallery: whole, told in words, nothing fetched, the same every time."""

import json
import re
from html.parser import HTMLParser

import pytest

from firstwash.errors import Cancelled
from firstwash.lessons.gallery import FILES, MARK, Gallery, make_gallery
from firstwash.paints.catalogue import default_paper, load_set, paint

VOID = ("meta", "img", "br", "line", "path")


class Page(HTMLParser):
    """What matters of a page: open tags, links, pictures, drawings, headings."""

    def __init__(self, page: bytes) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.links: list[str] = []
        self.sources: list[str] = []
        self.alts: list[str] = []
        self.labels: list[str] = []
        self.headings: list[int] = []
        self.feed(page.decode("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {k: v or "" for k, v in attrs}
        self.tags.append(tag)
        if tag not in VOID:
            self.open.append(tag)
        if tag == "img":
            self.sources.append(told["src"])
            self.alts.append(told["alt"])
        if told.get("role") == "img":
            self.labels.append(told["aria-label"])
        if tag == "a":
            self.links.append(told["href"])
        if re.fullmatch(r"h\d", tag):
            self.headings.append(int(tag[1]))

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self.open.pop() == tag


@pytest.fixture(scope="module")
def pages(gallery: Gallery) -> dict[str, Page]:
    return {name: Page(content) for name, content in gallery.files.items()}


def test_every_page_is_whole_and_known_by_name(gallery: Gallery, pages: dict[str, Page]) -> None:
    assert tuple(gallery.files) == FILES
    assert all(page.open == [] for page in pages.values())
    assert gallery.files["index.html"].endswith(MARK.encode())
    assert [f"{one.key}.html" for one in gallery.lessons] == list(FILES[1:])


def test_nothing_is_fetched_and_nothing_runs(gallery: Gallery, pages: dict[str, Page]) -> None:
    for name, page in pages.items():
        text = gallery.files[name].decode("utf-8")
        assert "script" not in page.tags
        assert all(source.startswith("data:image/png;base64,") for source in page.sources)
        assert "http" not in text
        assert "url(" not in text
        assert "@import" not in text
        assert set(page.links) <= set(FILES)


def test_every_drawing_is_told_in_words(pages: dict[str, Page]) -> None:
    for name, page in pages.items():
        assert all(len(alt.split()) >= 3 for alt in page.alts), name
        assert all(len(label.split()) >= 3 for label in page.labels), name
        assert "svg" not in page.tags or page.labels
    assert sum(len(page.alts) for page in pages.values()) >= 20


def test_headings_never_skip_a_level(pages: dict[str, Page]) -> None:
    for page in pages.values():
        assert page.headings[0] == 1
        assert page.headings.count(1) == 1
        for before, after in zip(page.headings, page.headings[1:], strict=False):
            assert after <= before + 1


def test_each_lesson_has_questions_an_exercise_and_a_sheet(gallery: Gallery) -> None:
    for one in gallery.lessons:
        text = gallery.files[f"{one.key}.html"].decode("utf-8")
        assert len(one.asks) >= 3
        assert "<summary>The answer</summary>" in text
        assert "<h2>Sheet to paint on</h2>" in text
        assert one.sentences


def test_sentences_stand_on_their_page_and_end_properly(gallery: Gallery) -> None:
    for one in gallery.lessons:
        text = gallery.files[f"{one.key}.html"].decode("utf-8")
        for sentence in one.sentences:
            assert sentence in text, sentence
            assert sentence.endswith(".")
            assert sentence[0].isupper()
            assert "nan" not in sentence.split()
            assert "!" not in sentence


def test_the_list_s_name_is_text_not_markup(gallery: Gallery) -> None:
    assert "a &amp; b &lt;i&gt;" in gallery.files["index.html"].decode("utf-8")


def test_the_same_paints_give_the_same_bytes(gallery: Gallery) -> None:
    again = make_gallery(load_set("starter-6").paints, default_paper(), "a & b <i>")
    for name, content in gallery.files.items():
        assert again.files[name] == content, name


def test_the_summary_is_plain_data(gallery: Gallery) -> None:
    told = json.loads(json.dumps(gallery.summary(), allow_nan=False))
    assert list(told) == [one.key for one in gallery.lessons]
    assert all(one["sentences"] for one in told.values())


@pytest.mark.parametrize("keys", [("PB29",), ("PBk9", "PW4"), ("PR108", "PB29")])
def test_very_few_paints_still_make_lessons(keys: tuple[str, ...]) -> None:
    made = make_gallery([paint(k) for k in keys], default_paper(), "few")
    assert tuple(made.files) == FILES
    for content in made.files.values():
        assert Page(content).open == []
    if len(keys) == 1:
        said = " ".join(s for one in made.lessons for s in one.sentences)
        assert "With one paint alone nothing can be greyed: a second one is needed." in said
        assert "can differ only in strength" in said
        assert "holds one paint" in made.files["index.html"].decode()
    if "PR108" in keys:  # hazards are told on every page that names the paint
        caution = "cadmium red: toxic, holds cadmium"
        naming = [one for one in made.lessons if any(p.key == "PR108" for p in one.paints)]
        assert naming
        assert all(caution in made.files[f"{one.key}.html"].decode() for one in naming)
        assert caution in made.files["index.html"].decode()


def test_it_can_be_stopped() -> None:
    steps: list[str] = []

    def stop(step: str, done: float) -> None:
        assert 0.0 <= done <= 1.0
        steps.append(step)
        if len(steps) == 2:
            raise Cancelled("stopped")

    with pytest.raises(Cancelled):
        make_gallery(load_set("starter-6").paints, default_paper(), "six", stop)
