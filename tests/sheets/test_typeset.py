"""Typst source set as a PDF: its size, its words, its faces, and the same bytes again."""

import io
from pathlib import Path

import pikepdf
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from firstwash.errors import RequestError
from firstwash.sheets.typeset import (
    FACE,
    PAGES_MM,
    Page,
    PageName,
    _font_folder,
    lit,
    typeset,
)

MM = 72.0 / 25.4


def png(width: int = 100, height: int = 60) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), (200, 100, 50)).save(out, "png")
    return out.getvalue()


def words_of(pdf: bytes) -> str:
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(page.get_textpage().get_text_bounded() for page in pages)


@pytest.mark.parametrize("name", ["A4", "Letter"])
@pytest.mark.parametrize("landscape", [False, True])
def test_pages_have_their_size(name: PageName, landscape: bool) -> None:
    made = typeset("= One", {}, title="One", page=Page(name, landscape))
    wide, high = (side / MM for side in pypdfium2.PdfDocument(made)[0].get_size())
    expected = PAGES_MM[name][::-1] if landscape else PAGES_MM[name]
    assert (wide, high) == pytest.approx(expected, abs=0.05)  # PDF numbers have few digits


def test_a_length_on_the_page_is_that_long() -> None:
    source = '#place(top + left, image("a.png", alt: "A patch", width: 100mm, height: 60mm))'
    page = pypdfium2.PdfDocument(typeset(source, {"a.png": png()}, title="T"))[0]
    (patch,) = page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE])
    left, bottom, right, top = patch.get_bounds()
    assert ((right - left) / MM, (top - bottom) / MM) == pytest.approx((100.0, 60.0), abs=0.02)


def test_the_document_is_tagged_titled_and_bookmarked() -> None:
    made = typeset("= First\n== Second\nwords", {}, title="A lesson", page=Page(foot="Teacher"))
    with pikepdf.open(io.BytesIO(made)) as pdf:
        assert pdf.Root.MarkInfo.Marked
        assert "/StructTreeRoot" in pdf.Root
        assert str(pdf.Root.Lang).startswith("en")
        assert pdf.Root.OutputIntents[0].OutputConditionIdentifier is not None
        assert pdf.Root.ViewerPreferences.DisplayDocTitle
        with pdf.open_outline() as outline:
            assert [item.title for item in outline.root] == ["First"]
            assert [item.title for item in outline.root[0].children] == ["Second"]
        with pdf.open_metadata() as told:
            assert told["dc:title"] == "A lesson"
    assert "Teacher" in words_of(made)


def test_only_the_open_face_is_used_and_embedded() -> None:
    made = typeset("= Łódź\nčeská ½ × – plain *bold*", {}, title="T")
    with pikepdf.open(io.BytesIO(made)) as pdf:
        fonts = [font.DescendantFonts[0] for font in pdf.pages[0].Resources.Font.values()]
        assert all("Hyperlegible" in str(font.BaseFont) for font in fonts)
        descriptors = [font.FontDescriptor for font in fonts]
        assert all("/FontFile2" in d or "/FontFile3" in d for d in descriptors)
    assert FACE[0].replace(" ", "") in str(fonts[0].BaseFont)


def test_the_same_source_gives_the_same_bytes() -> None:
    source = '= One\n#image("a.png", alt: "A patch")'
    first, again = (typeset(source, {"a.png": png()}, title="T") for _ in range(2))
    assert first == again


def test_the_faces_are_the_same_on_another_day(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = []
    for day in ("0", "1000000000"):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", day)  # the clock of what turns the face
        with _font_folder.__wrapped__() as folder:
            made.append([file.read_bytes() for file in sorted(Path(folder).iterdir())])
    assert len(made[0]) >= 4
    assert made[0] == made[1]


def test_a_long_foot_stays_on_the_page_beside_the_number() -> None:
    for foot in ("W" * 540, "a word and " * 49, "Short"):
        page = pypdfium2.PdfDocument(
            typeset("words", {}, title="T", page=Page("Letter", foot=foot))
        )
        text = page[0].get_textpage()
        boxes = [text.get_charbox(i) for i in range(text.count_chars())]
        wide = page[0].get_size()[0]
        assert min(box[1] for box in boxes) / MM > 5.0  # printers reach no further
        assert max(box[2] for box in boxes) <= wide - 17.5 * MM
        told = "".join(text.get_text_range().split())
        assert told.count("W") == foot.count("W")
        assert told.endswith("1")


@given(st.text(max_size=60))
def test_any_text_comes_through_as_it_is(text: str) -> None:
    literal = lit(text)
    assert literal[0] == literal[-1] == '"'
    assert "\n" not in literal
    typeset(f"#text({literal})", {}, title="T")


@pytest.mark.parametrize(
    "text",
    ['a "quoted" name', "#set page(width: 1mm)", "$ x^2 $", "back\\slash",
     "*stars* _lines_ `ticks`", "@label <label>", "// no comment", "100 % #panic()", "é ü ß Å"],
)  # fmt: skip
def test_words_of_the_setter_are_only_words(text: str) -> None:
    assert text in words_of(typeset(f"#text({lit(text)})", {}, title=text))


def test_what_cannot_be_set_is_told_in_one_sentence() -> None:
    with pytest.raises(RequestError, match="cannot be set"):
        typeset("#nothing-of-that-name()", {}, title="T")
    with pytest.raises(RequestError):  # a picture that says nothing to who cannot see it
        typeset('#image("a.png")', {"a.png": png()}, title="T")
    with pytest.raises(ValueError, match="plain name"):
        typeset("", {"../a.png": b""}, title="T")
