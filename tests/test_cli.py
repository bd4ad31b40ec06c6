"""Words in, one sentence or clean output out; and Ctrl-C at the worst moments.

Whole commands as real processes are in test_command_line.py; here the command runs inside
the test, or in a process that interrupts itself at a moment that is not left to chance.
"""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from tests.conftest import Ran

from firstwash import usecases
from firstwash.usecases import PhotoPlan

QUICK = ("--sheet", "9x7cm", "--shapes", "10", "--layers", "2", "--quiet")
STOPPED = "Stopped; nothing was left half written.\n"


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pixels = np.full((140, 180, 3), (190, 210, 235), dtype=np.uint8)
    pixels[60:, 40:120] = (140, 60, 35)
    path = tmp_path_factory.mktemp("photo") / "photo.png"
    Image.fromarray(pixels).save(path)
    return path


# --- words that make no sense ------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nonsense"], "No such command 'nonsense'; see firstwash --help."),
        (["plan"], "Missing argument 'photo'; see firstwash plan --help."),
        (["glaze"], "Missing argument 'coats'; see firstwash glaze --help."),
        (["plan", "x.png", "--nope"], "No such option: --nope"),
        (["plan", "x.png", "y.png"], "unexpected extra argument"),
        (["plan", "x.png", "--layers", "many"], "'--layers': Input should be a valid integer"),
        (["plan", "x.png", "--smallest", "tiny"], "'--smallest': Input should be a valid number"),
        (["plan", "x.png", "--background", "blue"], "'painted', 'bare', 'graded'"),
        (["glaze", "PB29", "--light", "candle"], "'D65', 'D50', 'A', 'LED'"),
        (["plan", "x.png", "--crop", "1,2"], "--crop is left,top,width,height"),
        (["plan", "x.png", "--crop", "a,b,c,d"], "--crop is left,top,width,height"),
        (["plan", "x.png", "--focal", "a,b,c,d"], "--focal is left,top,width,height"),
        (["plan", "x.png", "--paints", "no-such-set"], "There is no set"),
        (["plan", "x.png", "--sheet", "banana"], "is not a sheet size"),
        (["plan", "x.png", "--layers", "12"], "2 to 8 layers"),
        (["plan", "x.png", "--puddles", "-1"], "at least one puddle"),
        (["plan", "x.png", "--cap", "PB29"], "--cap is KEY=SHARE"),
        (["plan", "x.png", "--cap", "PB29=much"], "--cap is KEY=SHARE"),
        (["plan", "x.png", "--cap", "=0.5"], "--cap is KEY=SHARE"),
        (["plan", "x.png", "--cap", "PB29=0.5", "--cap", "PB29=0.4"], "names PB29 twice"),
        (["plan", "x.png", "--cap", "PB29=150%"], "largest share of PB29"),
        (["plan", "x.png", "--cap", "PB29=nan"], "largest share of PB29"),
        (["plan", "x.png", "--no-darker-than", "11"], "Value steps run from 1"),
        (["plan", "x.png", "--handling", "-1"], "Handling counts from 0"),
        (["plan", "x.png", "--hand", "2"], "A hand errs by 0"),
        (["plan", "x.png", "--keep", "layer 1"], "--keep needs --from"),
        (["plan", "x.png", "--from", "p", "--keep", "layer one"], "Name what to keep as"),
        (["plan", "x.png", "--from", "p", "--keep", "wash 2"], "Name what to keep as"),
        (["plan", "x.png", "--from", "p", "--keep", "sky"], "Name what to keep as"),
        (["plan", "x.png", "--from", "p", "--keep", "layer 1"], "p holds no whole plan"),
        (["plan", "no-such-photo.png"], "There is no file no-such-photo.png"),
        (["glaze", "PB29 step " + "9" * 5000], "Value steps run from 1"),
        (["glaze", *["PB29"] * 13], "1 to 12 coats"),
        (["paints", "no-such-paint"], "There is no paint"),
    ],
    ids=lambda value: " ".join(value)[:40] if isinstance(value, list) else "",
)
def test_what_makes_no_sense_is_refused_in_one_sentence(
    run: Callable[..., Ran],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = run(*words)
    assert ran.code == 2
    assert said in ran.err
    assert ran.err.count("\n") == 1  # one line, whatever the terminal's width
    assert ran.out == ""
    assert os.listdir(tmp_path) == []


def test_what_the_painter_says_reaches_the_plan(
    run: Callable[..., Ran], photo: Path, tmp_path: Path
) -> None:
    words = ("--ban", "PR255", "--ban", "PG7", "--prefer", "PB29", "--handling", "0.5")
    more = ("--cap", "PB29=40%", "--cap", "PY150 = 0.3", "--no-darker-than", "2")
    ran = run("plan", photo, *QUICK, *words, *more, "--out", tmp_path / "plan", "--json")
    assert ran.code == 0, ran.err
    limits = json.loads((tmp_path / "plan" / "plan.json").read_text("utf-8"))["limits"]
    assert limits["ban"] == ["PR255", "PG7"]
    assert limits["prefer"] == ["PB29"]
    assert limits["caps"] == [["PB29", 0.4], ["PY150", 0.3]]
    assert limits["darkest_step"] == 2
    assert limits["handling"] == 0.5


def test_a_paint_that_does_not_exist_cannot_be_banned(
    run: Callable[..., Ran], photo: Path, tmp_path: Path
) -> None:
    ran = run("plan", photo, *QUICK, "--ban", "PB92", "--out", tmp_path / "plan")
    assert ran.code == 2
    assert "There is no paint “PB92” to ban; near: " in ran.err
    assert ran.err.count("\n") == 1
    assert os.listdir(tmp_path) == []


def test_no_words_at_all_show_the_help(run: Callable[..., Ran]) -> None:
    ran = run()
    assert ran.code == 2
    assert "Usage: firstwash" in ran.out
    assert ran.err == ""


def test_a_folder_is_checked_before_the_work(
    run: Callable[..., Ran], photo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object) -> PhotoPlan:
        raise AssertionError("planned for a folder that cannot be written")

    monkeypatch.setattr(usecases, "plan_photo", never)
    (tmp_path / "letter.txt").write_text("dear")
    for folder in (tmp_path, tmp_path / "letter.txt", tmp_path / "letter.txt" / "plan"):
        ran = run("plan", photo, "--out", folder)
        assert ran.code == 2
        assert "name a" in ran.err


def test_help_names_every_option_and_its_default(run: Callable[..., Ran]) -> None:
    shown = " ".join(run("plan", "--help").out.split())
    for option in ("--sheet", "--paints", "--crop", "--focal", "--background-mask", "--out"):
        assert option in shown
    for default in ("28x38cm", "starter", "painted"):
        assert f"[default: {default}]" in shown


# --- what is printed ---------------------------------------------------------------


def test_json_is_all_that_is_printed(run: Callable[..., Ran], photo: Path, tmp_path: Path) -> None:
    ran = run("plan", photo, *QUICK, "--out", tmp_path / "plan", "--json")
    assert (ran.code, ran.err) == (0, "")
    told = json.loads(ran.out)
    assert told["folder"] == str(tmp_path / "plan")
    assert sum(told["layers"]) == told["washes"] > 0


def test_a_plan_is_told_in_tables(run: Callable[..., Ran], photo: Path, tmp_path: Path) -> None:
    ran = run("plan", photo, *QUICK, "--out", tmp_path / "plan")
    assert (ran.code, ran.err) == (0, "")
    assert "First wash" in ran.out
    assert "paper to " in ran.out
    assert "How close it can come" in ran.out
    assert f"Look at {tmp_path / 'plan' / 'summary.html'}" in ran.out
    assert os.listdir(tmp_path) == ["plan"]


def test_one_paint_more_is_told_when_asked(
    run: Callable[..., Ran], photo: Path, tmp_path: Path
) -> None:
    own = tmp_path / "mine.txt"
    own.write_text("PB29\nPG7\n", "utf-8")
    words = ("plan", photo, *QUICK, "--paints", own, "--out")
    ran = run(*words, tmp_path / "one", "--one-more")
    assert ran.code == 0, ran.err
    told = "would bring this picture’s colours"
    assert told in " ".join(ran.out.split())
    assert "One paint more" in (tmp_path / "one" / "summary.html").read_text("utf-8")
    assert told not in " ".join(run(*words, tmp_path / "two").out.split())
    assert "One paint more" not in (tmp_path / "two" / "summary.html").read_text("utf-8")


def test_planning_again_keeps_what_is_named(
    run: Callable[..., Ran], photo: Path, tmp_path: Path
) -> None:
    first = run("plan", photo, *QUICK, "--out", tmp_path / "one")
    assert first.code == 0, first.err
    kept = ("--from", tmp_path / "one", "--keep", "layer 1", "--keep", "Puddle a")
    ran = run("plan", photo, *QUICK, *kept, "--puddles", "3", "--out", tmp_path / "two")
    assert (ran.code, ran.err) == (0, "")
    one, two = (
        json.loads((tmp_path / name / "plan.json").read_text("utf-8")) for name in ("one", "two")
    )
    assert two["locks"] == [{"kind": "layer", "name": 1}, {"kind": "puddle", "name": "A"}]
    assert two["limits"]["puddles"] == 3
    for cell, before in zip(two["cells"], one["cells"], strict=True):
        # The same first coat, predicted anew from nine digits.
        assert cell["stage_labs"][1] == pytest.approx(before["stage_labs"][1], abs=1e-6)
    refused = run("plan", photo, *QUICK, "--from", tmp_path / "one", "--keep", "wash 9.9")
    assert refused.code == 2
    assert "The plan has layers 1 to 2, not 9." in refused.err


def test_a_name_that_is_not_text_can_be_printed(photo: Path, tmp_path: Path) -> None:
    """In a process of its own, for the test runner's own output takes any character."""
    odd = os.fsencode(tmp_path) + b"/caf\xe9"
    words = [sys.executable, "-m", "firstwash", "plan", photo, *QUICK, "--json", "--out", odd]
    done = subprocess.run(words, capture_output=True, check=False, timeout=120)
    if done.returncode == 2 and b"cannot be written" in done.stderr:
        pytest.skip("this disk only takes names that are text")
    assert done.returncode == 0, done.stderr
    assert os.fsencode(json.loads(done.stdout)["folder"]) == odd
    done = subprocess.run(words[:-3] + words[-2:], capture_output=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    assert done.stderr == b""


def test_glazes_name_the_paper_and_their_colours(run: Callable[..., Ran]) -> None:
    rows = json.loads(run("glaze", "PB29 step 7", "PY154 10%", "--json").out)
    assert rows[0]["coat"] == "bare paper"
    assert rows[0]["words"] == "paper"
    assert rows[1]["words"].endswith(" blue")
    assert [row["value_step"] for row in rows][:2] == [10, 7]
    assert "Model, not measured" in " ".join(run("glaze", "PB29").out.split())


@pytest.mark.parametrize("words", [[], ["starter"], ["PB29", "burnt sienna"]])
def test_paints_are_listed(run: Callable[..., Ran], words: list[str]) -> None:
    rows = json.loads(run("paints", *words, "--json").out)
    assert {"PB29", "PBr7-burnt"} <= {row["key"] for row in rows}
    assert "Colour is" in run("paints", *words).out


# --- Ctrl-C ------------------------------------------------------------------------

# Interrupts itself each time Python is about to do one of these things; the sign of a thing
# is the name of an audit event and a part of what it is done to. Planning itself is marked
# by the compiled kernels, which are looked up on disk when they are first called.
INTERRUPTED = """
import os, signal, sys
moments = sys.argv[1].split(";")
def hook(event, args):
    if moments and moments[0].split("=")[0] == event and moments[0].split("=")[1] in str(args):
        del moments[0]
        os.kill(os.getpid(), signal.SIGINT)
sys.argv = ["firstwash", *sys.argv[2:]]
from firstwash.__main__ import main
sys.addaudithook(hook)
main()
"""

MOMENTS = {
    "loading the command": "import=firstwash.cli",
    "loading what it needs": "import=numba",
    "opening the photo": "open=photo.png",
    "planning": "open=kernels.fit_stack",
    "before the draft": "os.mkdir=.firstwash-",
    "the first file": "open=plan.json",
    "a later file": "open=stage-1.png",
    "putting it in place": "os.rename=.firstwash-",
    "a second time while tidying up": "open=stage-1.png;os.remove=",
}


WRITING = list(MOMENTS)[4:]  # before these the folder is not touched, whatever is in it


@pytest.mark.parametrize(
    ("moment", "old"), [*((m, False) for m in MOMENTS), *((m, True) for m in WRITING)]
)
def test_ctrl_c_at_any_moment_leaves_everything_as_it_was(
    photo: Path, plan_folder: Path, tmp_path: Path, moment: str, old: bool
) -> None:
    if old:
        _copy(plan_folder, tmp_path / "plan")
    before = _listing(tmp_path)
    words = ["plan", str(photo), *QUICK, "--out", str(tmp_path / "plan")]
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", INTERRUPTED, MOMENTS[moment], *words],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,  # far more than the whole plan takes: it must end, not hang
    )
    assert (done.returncode, done.stderr, done.stdout) == (130, STOPPED, "")
    assert _listing(tmp_path) == before


@pytest.fixture(scope="module")
def plan_folder(photo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("older") / "plan"
    wishes = usecases.Wishes(sheet="9x7cm", limits=usecases.Limits(shapes=5, layers=3))
    return usecases.write_plan(usecases.plan_photo(photo, wishes), folder).parent


def _copy(folder: Path, target: Path) -> None:
    for path in folder.rglob("*"):
        if path.is_file():
            copy = target / path.relative_to(folder)
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(path.read_bytes())


def _listing(folder: Path) -> dict[str, bytes | None]:
    return {
        str(p.relative_to(folder)): p.read_bytes() if p.is_file() else None
        for p in folder.rglob("*")
    }


def test_where_ctrl_c_is_let_pass_the_work_goes_on(photo: Path, tmp_path: Path) -> None:
    """As a shell asks of jobs in the background."""
    moments = ";".join(MOMENTS[m] for m in ("opening the photo", "the first file"))
    ignore = f"import signal\nsignal.signal(signal.SIGINT, signal.SIG_IGN)\n{INTERRUPTED}"
    done = subprocess.run(
        [sys.executable, "-c", ignore, moments, "plan", str(photo), *QUICK, "--out", "plan"],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
        cwd=tmp_path,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "plan/summary.html").is_file()


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="needs a terminal")
def test_a_stopped_progress_bar_gives_the_cursor_back(photo: Path, tmp_path: Path) -> None:
    ours, theirs = os.openpty()
    words = [w for w in QUICK if w != "--quiet"]
    planning = [*words, "--out", str(tmp_path / "plan")]
    work = subprocess.Popen(
        [sys.executable, "-c", INTERRUPTED, MOMENTS["planning"], "plan", str(photo), *planning],
        stdout=subprocess.DEVNULL,
        stderr=theirs,
        env={**os.environ, "TERM": "xterm"},
    )
    os.close(theirs)
    said = b""
    try:
        while piece := os.read(ours, 4096):
            said += piece
    except OSError:  # how Linux tells that the other side has closed
        pass
    os.close(ours)
    assert work.wait(timeout=120) == 130
    assert b"\x1b[?25l" in said  # the bar had hidden the cursor
    assert said.rstrip().endswith(b"Stopped; nothing was left half written.")
    assert said.rfind(b"\x1b[?25h") > said.rfind(b"\x1b[?25l")


def test_planning_inside_another_program_leaves_its_ctrl_c_alone(
    run: Callable[..., Ran], photo: Path, tmp_path: Path
) -> None:
    before = signal.getsignal(signal.SIGINT)
    assert run("plan", photo, *QUICK, "--out", tmp_path / "plan").code == 0
    (tmp_path / "letter.txt").write_text("dear")
    assert run("plan", photo, *QUICK, "--out", tmp_path).code == 2
    assert signal.getsignal(signal.SIGINT) is before
