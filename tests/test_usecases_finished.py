"""A finished painting from photo and plan to its folder: squared, told, the same each time."""

import io
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from tests.drawn_sheets import camera, corners, even, warm
from tests.finished_photos import MARGIN, folder_in, painted, photo, planned

from firstwash.errors import OutputError, PhotoError, RequestError
from firstwash.finished.record import Record
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import linear_srgb_to_xyz, xyz_to_lab
from firstwash.picture.load import load_photo
from firstwash.usecases_finished import FinishedWishes, finish, finished_files, read_corners

RECORD = Record("The cup", "A. Painter", "2031")
CORNERS = "0.1,0.05 0.9,0.06 0.92,0.95 0.08,0.94"


@pytest.fixture(scope="module")
def files() -> dict[str, bytes]:
    return finished_files(planned().plan, photo(), FinishedWishes(RECORD))


def off(jpeg: bytes) -> float:
    """Mean CIEDE2000 from the planned painting, both shrunk to 60 × 40 places."""
    picture = np.asarray(Image.open(io.BytesIO(jpeg)).resize((60, 40), Image.Resampling.BOX))
    file = io.BytesIO()
    Image.fromarray(np.kron(picture, np.ones((2, 2, 1), np.uint8))).save(file, "png")
    linear = load_photo(file.getvalue()).linear[::2, ::2]
    plan = planned().plan.finished_xyz
    rows, cols = plan.shape[:2]
    small = plan[: rows // 40 * 40, : cols // 60 * 60]
    small = small.reshape(40, rows // 40, 60, cols // 60, 3).mean(axis=(1, 3))
    seen = xyz_to_lab(linear_srgb_to_xyz(np.maximum(linear, 0)))
    return float(delta_e_2000(seen, xyz_to_lab(small)).mean())


def test_everything_is_there(files: dict[str, bytes]) -> None:
    assert set(files) == {"painting.jpg", "sheet.jpg", "label.pdf", "finished.txt"}
    told = files["finished.txt"].decode()
    assert "A. Painter, The cup, 2031. Transparent watercolour" in told
    assert "image 18 × 12 cm" in told
    assert "no measurement" in told
    assert "change what you changed at the board" in told


def test_pictures_have_their_size(files: dict[str, bytes]) -> None:
    sizes = {}
    for name in ("painting.jpg", "sheet.jpg"):
        picture = Image.open(io.BytesIO(files[name]))
        ppmm = picture.info["dpi"][0] / 25.4
        sizes[name] = tuple(side / ppmm for side in picture.size)
    assert sizes["painting.jpg"] == pytest.approx((180.0, 120.0), rel=0.01)
    upper, right, lower, left = MARGIN
    # A pixel is a fifth of a millimetre; density is kept to whole pixels per centimetre.
    assert sizes["sheet.jpg"] == pytest.approx((180 + left + right, 120 + upper + lower), rel=0.015)
    # To the half centimetre: 20.4 × 14.6 cm.
    assert "sheet 20.5 × 14.5 cm" in files["finished.txt"].decode()


@pytest.mark.parametrize("light", [even, warm])
@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_the_painting_comes_back(light, turns: int) -> None:
    made = finished_files(planned().plan, photo(light, turns))
    # JPEG in light that takes half of the blue, borders of shapes in 3 mm boxes: below 2.
    assert off(made["painting.jpg"]) < 2.0


def test_uneven_light_is_gone(files: dict[str, bytes]) -> None:
    assert off(files["painting.jpg"]) < 2.0


def test_the_same_photo_gives_the_same_bytes(files: dict[str, bytes]) -> None:
    again = finished_files(planned().plan, photo(), FinishedWishes(RECORD))
    assert {name for name in files if files[name] != again[name]} == set()


def test_the_label_names_the_painting(files: dict[str, bytes]) -> None:
    pages = pypdfium2.PdfDocument(files["label.pdf"])
    words = pages[0].get_textpage().get_text_bounded()
    assert len(pages) == 1
    assert "The cup, 2031" in words
    wide, high = (side / 72 * 25.4 for side in pages[0].get_size())
    assert (wide, high) == pytest.approx((210.0, 297.0), abs=0.05)
    letter = finished_files(planned().plan, photo(), FinishedWishes(page="Letter"))["label.pdf"]
    size = pypdfium2.PdfDocument(letter)[0].get_size()
    assert [side / 72 * 25.4 for side in size] == pytest.approx([215.9, 279.4], abs=0.05)


def test_corners_told_by_hand_do_as_well() -> None:
    sheet = painted()
    size = (1280, 960)
    plane = camera(sheet.wide, sheet.high, size=size, tilt=14.0, towards=50.0, k1=0.01)
    shares = (plane.pixels(corners(sheet.wide, sheet.high)) + 0.5) / size
    text = " ".join(f"{x:.3f},{y:.3f}" for x, y in shares)
    made = finished_files(planned().plan, photo(), FinishedWishes(corners=read_corners(text)))
    assert off(made["painting.jpg"]) < 2.0
    wrong = FinishedWishes(corners=read_corners(" ".join(reversed(text.split()))))
    with pytest.raises(PhotoError, match="upper left first"):
        finished_files(planned().plan, photo(), wrong)


def test_another_picture_is_refused_or_told() -> None:
    file = io.BytesIO()
    Image.new("RGB", (640, 480), (90, 80, 70)).save(file, "png")
    with pytest.raises(PhotoError, match="darker board"):
        finished_files(planned().plan, file.getvalue())
    touched = FinishedWishes(corners=read_corners(CORNERS))
    made = finished_files(planned().plan, file.getvalue(), touched)
    told = made["finished.txt"].decode()
    assert "looks little like" in told
    assert "as in the photo" in told
    assert "sheet.jpg" not in made
    for bad in (b"", b"no photo"):
        with pytest.raises(PhotoError):
            finished_files(planned().plan, bad)


@pytest.mark.parametrize(
    "text",
    ["", "0.1,0.1", "0.1,0.1 0.9,0.1 0.9,0.9", f"{CORNERS} 0.5,0.5", "a,b c,d e,f g,h",
     "0.1 0.1 0.9 0.9", "0.1,0.1,0.1 0.9,0.1 0.9,0.9 0.1,0.9", "-0.1,0.1 0.9,0.1 0.9,0.9 0.1,0.9",
     "10,10 90,10 90,90 10,90", "nan,0.1 0.9,0.1 0.9,0.9 0.1,0.9", "inf,0 1,0 1,1 0,1"],
)  # fmt: skip
def test_corners_wrongly_written_are_refused(text: str) -> None:
    with pytest.raises(RequestError, match="four pairs of shares"):
        read_corners(text)


def test_corners_are_read() -> None:
    assert read_corners(f"  {CORNERS}\n") == ((0.1, 0.05), (0.9, 0.06), (0.92, 0.95), (0.08, 0.94))


def test_a_folder_is_replaced_and_nothing_else(tmp_path: Path) -> None:
    plan, out = folder_in(tmp_path), tmp_path / "out"
    (tmp_path / "photo.jpg").write_bytes(photo())
    told = finish(plan, tmp_path / "photo.jpg", out, FinishedWishes(RECORD))
    assert told[0].startswith("A. Painter")
    assert "" not in told
    assert finish(plan, tmp_path / "photo.jpg", out, FinishedWishes(RECORD)) == told
    assert len(list(out.iterdir())) == 4
    (out / "letter.txt").write_text("dear")
    with pytest.raises(OutputError, match=r"letter\.txt"):
        finish(plan, tmp_path / "photo.jpg", out)
    assert (out / "letter.txt").read_text() == "dear"


def test_a_folder_that_only_looks_like_ours_is_refused(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "painting.jpg").write_bytes(b"mine")
    with pytest.raises(OutputError, match="other things"):
        finish(tmp_path / "plan", tmp_path / "photo.jpg", out)
    assert (out / "painting.jpg").read_bytes() == b"mine"


def test_nothing_is_left_of_a_refusal(tmp_path: Path) -> None:
    with pytest.raises(RequestError, match="no whole plan"):
        finish(tmp_path, tmp_path / "photo.jpg", tmp_path / "out")
    plan = folder_in(tmp_path)
    with pytest.raises(PhotoError):
        finish(plan, tmp_path / "photo.jpg", tmp_path / "out")
    assert not (tmp_path / "out").exists()
