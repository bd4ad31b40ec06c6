"""The browser checks can fail: each fault planted in a tiny page is found, and a sound page passes.

The page is served by the standard library under the worksheet's own policy, with the vendored
library drawing on it, so that these tests also tell whether the two get on.
"""

import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page
from tests.web import browser
from tests.web.browser import SIZES, Chromium, Served, Watch, axe, serve, shot

ROOT = Path(__file__).parents[2]
VENDORED = ROOT / "src/firstwash/web/vendor/htm-preact-standalone.js"
# The worksheet's policy, less what only a header may say.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; "
    "font-src 'self'; connect-src 'self'; media-src 'self'; form-action 'none'; base-uri 'none'"
)
PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title>
<meta name="viewport" content="width=device-width">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<link rel="icon" href="icon.svg"><link rel="stylesheet" href="look.css">
{head}</head><body><main><h1>A small sheet</h1>{body}</main></body></html>"""
ICON = '<svg xmlns="http://www.w3.org/2000/svg" width="16" height="16"/>'
LOOK = """body { color: #222; background: #fff; font: 18px sans-serif }
.faint { color: #ccc }
.dot { width: 9px; height: 9px; padding: 0 }"""
DRAWN = """import { html, render, useState } from "./htm-preact-standalone.js";
function Drops() {
  const [drops, setDrops] = useState(1);
  const more = () => setDrops((before) => before + 1);
  return html`<button style=${{ background: `rgb(200, 200, ${200 + drops})` }} onClick=${more}>
    One more drop</button><p>${drops} drops</p>`;
}
render(html`<${Drops} />`, document.querySelector("#drops"));"""
LOUD = {
    "console": 'console.error("out of paper");',
    "uncaught": 'throw new Error("out of paper");',
    "rejected": 'Promise.reject(new Error("out of paper"));',
    "missing": 'fetch("no-such-wash");',
    "outside": 'fetch("https://example.org/wash").catch(() => 0);',
    "style": 'document.body.setAttribute("style", "color: red");',
    "code": 'try { eval("1") } catch { /* the policy forbids it */ }',
}


def write(folder: Path, name: str, *, body: str = "", head: str = "", policy: str = POLICY) -> None:
    text = PAGE.format(title=name, policy=policy, head=head, body=body)
    (folder / f"{name}.html").write_text(text, "utf-8")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("pages")
    (made / "icon.svg").write_text(ICON, "utf-8")
    (made / "look.css").write_text(LOOK, "utf-8")
    (made / "drops.js").write_text(DRAWN, "utf-8")
    shutil.copy(VENDORED, made)
    drawn = '<div id="drops"></div><script type="module" src="drops.js"></script>'
    write(made, "sound", body=drawn)
    write(made, "faults", body='<p class="faint">Faint words.</p><img src="icon.svg"><input>')
    write(made, "small", body='<button class="dot">x</button>' * 2)
    write(made, "inline", head="<script>document.title = 'never'</script>")
    for fault, script in LOUD.items():
        (made / f"{fault}.js").write_text(script, "utf-8")
        # Only the planted outside request is let through, to be seen by the watch itself.
        policy = (
            POLICY.replace("connect-src 'self'", "connect-src *") if fault == "outside" else POLICY
        )
        write(made, fault, body=f'<script src="{fault}.js"></script>', policy=policy)
    return made


def static(folder: Path) -> list[str]:
    """The standard library's own file server, at any free port."""
    where = ["--bind", "127.0.0.1", "--directory", str(folder)]
    return [sys.executable, "-m", "http.server", "0", *where]


@pytest.fixture(scope="module")
def small(folder: Path) -> Iterator[Served]:
    with serve(static(folder), folder) as running:
        yield running


def test_a_sound_page_passes_in_every_size(small: Served, chromium: Chromium) -> None:
    for size, (width, _) in SIZES.items():
        opened = chromium.page(size)
        opened.goto(f"{small.address}/sound.html")
        opened.get_by_role("button", name="One more drop").click()
        assert opened.get_by_text("2 drops").is_visible()
        assert opened.evaluate("innerWidth") == width
        assert opened.evaluate("matchMedia('(pointer: coarse)').matches") is (size != "desktop")
        assert axe(opened) == []


def test_the_library_sets_colours_that_the_policy_allows(small: Served, chromium: Chromium) -> None:
    opened = chromium.page()
    opened.goto(f"{small.address}/sound.html")
    button = opened.get_by_role("button")
    assert (
        button.evaluate("(node) => getComputedStyle(node).backgroundColor") == "rgb(200, 200, 201)"
    )


def test_less_motion_is_asked_for_only_when_told(small: Served, chromium: Chromium) -> None:
    for still in (False, True):
        opened = chromium.page(still=still)
        opened.goto(f"{small.address}/sound.html")
        assert opened.evaluate("matchMedia('(prefers-reduced-motion)').matches") is still


def test_accessibility_faults_are_found(small: Served, chromium: Chromium, watch: Watch) -> None:
    opened = chromium.page()
    opened.goto(f"{small.address}/faults.html")
    found = axe(opened)
    assert {line.split()[0] for line in found} == {"color-contrast", "image-alt", "label"}
    opened.goto(f"{small.address}/small.html")  # 2.2 asks for 24 CSS pixels, or room around
    assert "target-size" in {line.split()[0] for line in axe(opened)}
    assert watch.complaints() == []  # axe itself broke no rule of the policy


@pytest.mark.parametrize(
    ("fault", "line"),
    [
        ("console", "console: out of paper"),
        ("uncaught", "uncaught: out of paper"),
        ("rejected", "uncaught: out of paper"),
        ("missing", "answer 404"),
        ("outside", "outside request: https://example.org/wash"),
        ("style", "policy: .*style-src"),
        ("code", "policy: .*script-src blocked eval"),
        ("inline", "policy: .*script-src"),
    ],
)
def test_a_planted_fault_fails_the_test(
    fault: str, line: str, small: Served, chromium: Chromium, watch: Watch
) -> None:
    opened = chromium.page()
    opened.goto(f"{small.address}/{fault}.html", wait_until="networkidle")
    with pytest.raises(AssertionError):
        watch.settle()
    assert any(re.match(line, heard) for heard in watch.complaints())
    watch.expect("")  # everything, so that this test itself passes
    watch.settle()


def test_only_the_expected_fault_is_forgiven() -> None:
    watch = Watch(heard=["answer 409: http://127.0.0.1/save", "uncaught: no brush"])
    watch.expect("answer 409")
    assert watch.complaints() == ["uncaught: no brush"]


def test_a_picture_of_the_page_is_kept(
    small: Served, phone: Page, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(browser, "SCREENS", tmp_path / "screens")
    phone.goto(f"{small.address}/sound.html")
    with Image.open(shot(phone, "small sheet")) as kept:
        assert kept.size[0] == SIZES["phone"][0]  # a pixel for each CSS pixel


def test_a_server_that_crashes_fails_the_test(tmp_path: Path) -> None:
    answer = "print('http://127.0.0.1:1/', flush=True); import time; time.sleep(0.2); 1 / 0"
    with pytest.raises(AssertionError), serve([sys.executable, "-c", answer], tmp_path) as served:
        served.process.wait()
    assert "ZeroDivisionError" in served.log
    assert served.crashes()[0].startswith("Traceback")


def test_a_server_without_an_address_fails_the_test(tmp_path: Path) -> None:
    with pytest.raises(pytest.fail.Exception, match="printed no address:\nsorry"):
        serve([sys.executable, "-c", "print('sorry')"], tmp_path).__enter__()


def test_a_stopped_server_leaves_no_process(tmp_path: Path) -> None:
    with serve(static(tmp_path), tmp_path) as served:
        assert served.process.poll() is None
    assert served.process.poll() is not None


def test_without_chromium_the_test_fails_and_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("PATH", "")
    with pytest.raises(pytest.fail.Exception, match="apt install chromium"):
        browser.program()
