"""The commands as a person meets them: real processes, real files, refusals in one sentence."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage import data

SMALL = ("--sheet", "10x13cm", "--shapes", "30")  # quick, and still a whole plan


def firstwash(*words: str | Path, **environment: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-W", "error", "-m", "firstwash", *map(str, words)],
        capture_output=True,
        text=True,
        timeout=240,
        env={**os.environ, "COLUMNS": "200", **environment},
        check=False,
    )


@pytest.fixture(scope="module")
def coffee(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("photo") / "still life & <b>cup<b>.png"
    Image.fromarray(data.coffee()).save(path)
    return path


@pytest.fixture(scope="module")
def planned(coffee: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("out") / "plan"
    done = firstwash("plan", coffee, *SMALL, "--out", folder)
    assert done.returncode == 0, done.stderr
    assert "First wash" in done.stdout
    assert str(folder / "summary.html") in done.stdout.replace("\n", "")
    return folder


class Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.files: list[str] = []
        self.tags: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag not in ("meta", "img", "br"):
            self.open.append(tag)
        self.files += [v for k, v in attrs if k in ("src", "href") and v]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_page_is_whole_and_its_files_exist(planned: Path) -> None:
    text = (planned / "summary.html").read_text("utf-8")
    page = Page()
    page.feed(text)
    assert page.open == []
    assert page.files
    assert all((planned / name).is_file() for name in page.files)
    assert "b" not in page.tags  # the photo's name is text, not markup
    assert "still life &amp; &lt;b&gt;cup" in text
    assert "http" not in text.replace("<!doctype html>", "")


def test_every_file_the_plan_names_is_there(planned: Path) -> None:
    files = json.loads((planned / "plan.json").read_text("utf-8"))["files"]
    names = [n for v in files.values() for n in (v if isinstance(v, list) else [v])]
    assert all((planned / n).is_file() for n in names)
    on_disk = {str(p.relative_to(planned)) for p in planned.rglob("*") if p.is_file()}
    assert on_disk == {*names, "plan.json", "summary.html"}


def picture(path: Path) -> np.ndarray:
    with Image.open(path) as opened:
        return np.array(opened)


def test_stages_have_the_photo_s_resolution(planned: Path) -> None:
    crop = json.loads((planned / "plan.json").read_text("utf-8"))["photo"]["crop"]
    for stage in (planned / "stages").iterdir():
        assert list(picture(stage).shape[1::-1]) == crop[2:]


def test_masks_nest_from_layer_to_layer_inside_a_shape(planned: Path) -> None:
    told = json.loads((planned / "plan.json").read_text("utf-8"))
    cells = picture(planned / "masks/cells.png")
    for layer in told["layers"]:
        mask = picture(planned / layer["mask"])
        laid = [any(c["layer"] == layer["number"] for c in cell["coats"]) for cell in told["cells"]]
        np.testing.assert_array_equal(mask.astype(bool), np.array(laid)[cells])


def test_same_input_same_bytes(coffee: Path, planned: Path, tmp_path: Path) -> None:
    again = tmp_path / "plan"
    assert firstwash("plan", coffee, *SMALL, "--out", again, PYTHONHASHSEED="7").returncode == 0
    for file in (p for p in planned.rglob("*") if p.is_file()):
        assert file.read_bytes() == (again / file.relative_to(planned)).read_bytes(), file.name


def test_json_is_all_that_is_printed_and_an_old_plan_is_replaced(
    coffee: Path, planned: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "plan"
    shutil.copytree(planned, folder)
    (folder / "stages" / "stage-9.png").write_text("from an older plan of more layers")
    done = firstwash("plan", coffee, *SMALL, "--out", folder, "--json", "--washes", "12")
    told = json.loads(done.stdout)
    assert told["washes"] <= 12
    assert told["folder"] == str(folder)
    assert not (folder / "stages" / "stage-9.png").exists()
    assert os.listdir(tmp_path) == ["plan"]


REFUSED = [
    (("--layers", "12"), "2 to 8 layers"),
    (("--layers", "1"), "2 to 8 layers"),
    (("--max-paints", "0"), "1 to 24 paints"),
    (("--washes", "2"), "one wash for each layer"),
    (("--paints", "no-such-set"), "no set"),
    (("--sheet", "banana"), "not a sheet size"),
    (("--sheet", "1x1mm"), "3 cm"),
    (("--crop", "1,2"), "--crop"),
    (("--crop", "0.5,0.5,0.9,0.9"), "outside the photo"),
    (("--focal", "0.5,0.5,0.9,0.9"), "outside the sheet"),
    (("--background", "bare"), "mask"),
    (("--background", "bare", "--background-mask", "nowhere.png"), "no file"),
]


@pytest.mark.parametrize(("words", "said"), REFUSED, ids=[" ".join(w) for w, _ in REFUSED])
def test_a_wrong_wish_is_refused_in_a_sentence(
    coffee: Path, tmp_path: Path, words: tuple[str, ...], said: str
) -> None:
    done = firstwash("plan", coffee, "--out", tmp_path / "plan", *words)
    assert done.returncode == 2
    assert said in done.stderr.replace("\n", " ")
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("kind", ["missing", "empty", "text", "cut short", "tiny", "moving"])
def test_a_useless_photo_is_refused_in_a_sentence(coffee: Path, tmp_path: Path, kind: str) -> None:
    photo = tmp_path / "photo.jpg"
    if kind == "moving":
        frames = [Image.new("RGB", (100, 100), (i * 60, 0, 0)) for i in range(3)]
        frames[0].save(photo, "WEBP", save_all=True, append_images=frames[1:])
    elif kind == "tiny":
        Image.new("RGB", (40, 40)).save(photo)
    elif kind != "missing":
        content = {"empty": b"", "text": b"not a photo", "cut short": coffee.read_bytes()[:20_000]}
        photo.write_bytes(content[kind])
    done = firstwash("plan", photo, "--out", tmp_path / "plan", "--quiet")
    assert done.returncode == 2
    assert done.stderr.count("\n") <= 2
    assert "photo.jpg" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "plan").exists()
    assert not [p for p in tmp_path.iterdir() if p != photo]


def test_a_folder_with_other_things_is_left_alone(coffee: Path, tmp_path: Path) -> None:
    (tmp_path / "letters.txt").write_text("dear")
    done = firstwash("plan", coffee, *SMALL, "--out", tmp_path)
    assert done.returncode == 2
    assert "other things" in done.stderr
    assert (tmp_path / "letters.txt").read_text() == "dear"
    done = firstwash("plan", coffee, *SMALL, "--out", tmp_path / "letters.txt")
    assert done.returncode == 2
    assert "is a file" in done.stderr


@pytest.mark.parametrize("colour", [(255, 255, 255), (0, 0, 0), (119, 119, 119), (0, 0, 255)])
def test_a_one_colour_photo_gets_an_honest_plan(
    tmp_path: Path, colour: tuple[int, int, int]
) -> None:
    Image.new("RGB", (200, 150), colour).save(tmp_path / "flat.png")
    done = firstwash("plan", tmp_path / "flat.png", *SMALL, "--out", tmp_path / "plan", "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["washes"] <= 4
    if colour == (255, 255, 255):
        assert told["washes"] == 0
        assert told["reserve_share"] == 1.0


def test_one_paint_alone_gets_an_honest_plan(coffee: Path, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("PB29 | the only one left\n")
    done = firstwash(
        "plan", coffee, *SMALL, "--paints", tmp_path / "mine.txt", "--layers", "2",
        "--out", tmp_path / "plan", "--json",
    )  # fmt: skip
    told = json.loads(done.stdout)
    assert told["paints"] == ["PB29"]
    # It cannot paint an orange cup, and says so.
    assert told["ciede2000_against_photo"]["mean"] > 10


def test_background_and_focal_area(coffee: Path, tmp_path: Path) -> None:
    mask = np.zeros((280, 380), dtype=np.uint8)
    mask[:, 300:] = 255  # the right-hand strip is background
    Image.fromarray(mask).save(tmp_path / "mask.png")
    for treatment in ("painted", "bare", "graded"):
        done = firstwash(
            "plan", coffee, "--shapes", "40", "--background", treatment, "--background-mask",
            tmp_path / "mask.png", "--focal", "0.2,0.1,0.4,0.4", "--out", tmp_path / treatment,
            "--json",
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        told = json.loads((tmp_path / treatment / "plan.json").read_text("utf-8"))
        cells = picture(tmp_path / treatment / "masks/cells.png")
        assert told["focal"] == {"mask": None, "box": [0.2, 0.1, 0.4, 0.4], "weight": 3.0}
        behind = {int(c) for c in np.unique(cells[:, int(cells.shape[1] * 0.85) :])}
        coats = [told["cells"][c]["coats"] for c in behind]
        if treatment == "bare":
            assert all(not c for c in coats)
        if treatment == "graded":
            assert {len(c) for c in coats} == {1}
            assert len({c[0]["puddle"] for c in coats}) == 1
            assert sum(w["kind"] == "graded wash" for w in told["layers"][0]["washes"]) == 1


@pytest.mark.parametrize("wait", [0.1, 0.6, 1.5, 2.5])
def test_ctrl_c_leaves_nothing_behind(coffee: Path, tmp_path: Path, wait: float) -> None:
    work = subprocess.Popen(
        [sys.executable, "-m", "firstwash", "plan", str(coffee), "--out", str(tmp_path / "plan")],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    time.sleep(wait)
    work.send_signal(signal.SIGINT)
    _, said = work.communicate(timeout=60)
    if work.returncode == 0:
        pytest.fail("the plan was finished before it could be stopped")
    # Before Python has set its handler up, the signal itself ends the process.
    assert work.returncode in (130, -signal.SIGINT)
    if work.returncode == 130:
        assert "Stopped; nothing was left half written." in said
        assert "Traceback" not in said
    assert list(tmp_path.iterdir()) == []


def test_glaze_and_paints_speak_both_ways() -> None:
    rows = json.loads(firstwash("glaze", "PB29 step 7", "PR255 10% + PY154 10%", "--json").stdout)
    assert [r["value_step"] for r in rows][:2] == [10, 7]
    assert rows[2]["lab"][0] < rows[1]["lab"][0]
    assert "Model, not measured" in firstwash("glaze", "PB29 5%").stdout.replace("\n", " ")
    paints = json.loads(firstwash("paints", "starter", "--json").stdout)
    assert {"measured", "estimated"} == {p["provenance"] for p in paints}
    assert "starter" in firstwash("paints", "--sets").stdout
    for words in (("glaze", "PB99 10%"), ("glaze", "PB29 step 11"), ("paints", "nothing-like-it")):
        done = firstwash(*words)
        assert done.returncode == 2
        assert done.stderr.count("\n") == 1
