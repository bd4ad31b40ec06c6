"""The pieces pages are set from: any text as text, pictures and pages put together."""

import pypdfium2
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.sheets.plans import HOSTILE, printed, squeezed

from firstwash.sheets.pages import (
    BITE,
    LONG,
    Pages,
    bullets,
    heading,
    joined,
    note,
    page_of,
    para,
    soft,
    strong,
    table_of,
    upper,
)
from firstwash.sheets.typeset import typeset

LATIN = st.characters(min_codepoint=0x21, max_codepoint=0x17E, categories=("L", "N", "P", "S"))


def as_read(markup: str) -> str:
    return "".join(page.letters for page in printed(Pages(markup)))


@settings(max_examples=12, deadline=None)
@given(st.lists(st.text(LATIN, min_size=1, max_size=80), min_size=1, max_size=12))
def test_any_text_comes_through_as_it_is(texts: list[str]) -> None:
    """Ligatures and accents may be read back otherwise, so only ASCII is compared."""
    told = as_read("\n\n".join(f"#par({soft(text)})" for text in texts))
    for text in texts:
        if text.isascii():
            assert squeezed(text) in told.replace("ﬁ", "fi").replace("ﬂ", "fl").replace("ﬀ", "ff")


def test_hostile_text_comes_through_in_every_place() -> None:
    for text in HOSTILE:
        cells = [[strong(text), note(text)]]
        parts = [heading(1, text), para(text), bullets([note(text)])]
        told = as_read(page_of([*parts, table_of((text, "B"), "1fr, 1fr", cells)]).source)
        assert told.count(squeezed(text)) == 6


def test_a_number_stays_with_its_unit() -> None:
    assert soft("cut in 45 cm, soften 3 mm") == (
        '("cut" + " " + "in" + " " + "45" + "\\u{a0}" + "cm," + " " + "soften" + " " + "3" + '
        '"\\u{a0}" + "mm")'
    )
    assert soft("the m in it") == '("the" + " " + "m" + " " + "in" + " " + "it")'
    assert soft("plain words") == '"plain words"'
    assert soft("") == '""'


def test_a_long_word_may_break_and_a_short_one_may_not() -> None:
    assert "200b" not in soft("x" * (LONG - 1))
    assert soft("y" * LONG).count("200b") == (LONG - 1) // BITE


def test_pages_follow_one_another_each_on_a_page_of_its_own() -> None:
    one, two = page_of([para("One")], {"a": b"1"}), page_of([para("Two"), ""], {"b": b"2"})
    whole = joined([one, two])
    assert whole.files == {"a": b"1", "b": b"2"}
    assert [page.words for page in printed(whole)] == ["One 1", "Two 2"]


def test_a_table_repeats_its_head_on_every_page() -> None:
    rows = [[f'#"{n}"', '#"x"'] for n in range(120)]
    pages = printed(page_of([table_of(("Number", "What"), "1fr, 1fr", rows)]))
    assert len(pages) > 1
    assert all("NumberWhat" in page.letters for page in pages)


def test_capitals() -> None:
    assert upper("prussian Blue") == "Prussian Blue"
    assert upper("") == ""


def test_a_page_is_a_tagged_pdf() -> None:
    made = typeset(page_of([heading(1, "A page")]).source, {}, title="T")
    assert pypdfium2.PdfDocument(made).is_tagged()
