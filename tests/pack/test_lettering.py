"""Words in a picture: in the worksheet's face, broken into lines, never cut."""

import unicodedata

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from firstwash.pack.lettering import lettering


def drawn(text: str, size: int = 40, bold: bool = False) -> np.ndarray:
    """Ink (rows, cols) of one line, with room on every side."""
    face = lettering(size, bold)
    image = Image.new("L", (round(face.width(text)) + 80, face.line + 80), 255)
    face.draw(ImageDraw.Draw(image), 40, 40, text, 0)  # type: ignore[arg-type]
    return 255 - np.asarray(image)


@given(st.text(max_size=200), st.integers(60, 600))
def test_no_line_is_wider_than_it_may_be_and_no_letter_is_lost(text: str, width: int) -> None:
    face = lettering(20)
    lines = face.wrap(text, width)
    assert all(face.width(line) <= width for line in lines)
    kept = "".join("".join(lines).split())
    wanted = unicodedata.normalize("NFC", text)
    assert kept == "".join(c for c in "".join(wanted.split()) if c.isprintable())


@pytest.mark.parametrize("text", ["Ågypt ĀĞ", "gjpqy", "Ｗ", "m² × 3", "Žluť Čšř"])
def test_a_line_stays_within_its_height(text: str) -> None:
    face = lettering(40)
    rows = np.flatnonzero(drawn(text).any(axis=1))
    assert rows[0] >= 40  # its top
    assert rows[-1] < 40 + face.line


def test_letters_of_both_files_of_the_face_are_drawn() -> None:
    boxes = drawn("群")  # no font of ours has it: a box is shown, so that it is not lost silently
    assert boxes.any()
    # ž is in the extended file, é in the other one; each draws as itself and not as that box.
    for letter in "žéŁ":
        ink = drawn(letter)
        same = ink.shape == boxes.shape and np.array_equal(ink, boxes)
        assert ink.any()
        assert not same


def test_bold_is_heavier() -> None:
    assert drawn("Glaze", bold=True).sum() > 1.1 * drawn("Glaze").sum()


def test_sizes_have_limits() -> None:
    for size in (5, 401):
        with pytest.raises(ValueError, match="size"):
            lettering(size)
