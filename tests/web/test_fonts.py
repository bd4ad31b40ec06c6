"""The typeface is placed whole or not at all, and the page's files never depend on it."""

import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        import place_fonts
    finally:
        sys.path.remove(str(ROOT / "tools"))
    return place_fonts


@pytest.fixture
def package(tool: ModuleType, tmp_path: Path) -> Path:
    """A package as npm unpacks it, each file holding its own name."""
    made = tmp_path / "package"
    (made / "files").mkdir(parents=True)
    for name in (*(f"files/{font}" for font in tool.NAMES), "LICENSE"):
        (made / name).write_text(name, "utf-8")
    return made


def test_the_fonts_come_with_their_licence(tool: ModuleType, package: Path, tmp_path: Path) -> None:
    folder = tmp_path / "static/fonts"
    assert tool.place(package, folder)
    assert {p.name for p in folder.iterdir()} == {*tool.NAMES, "LICENSE"}
    assert (folder / tool.NAMES[0]).read_text("utf-8") == f"files/{tool.NAMES[0]}"


@pytest.mark.parametrize("missing", ["LICENSE", "files"])
def test_half_a_typeface_is_not_placed(
    missing: str, tool: ModuleType, package: Path, tmp_path: Path
) -> None:
    (package / missing).rename(package / "elsewhere")
    assert not tool.place(package, tmp_path / "fonts")
    assert not (tmp_path / "fonts").exists()


def test_without_npm_the_installation_goes_on_and_says_so(
    tool: ModuleType,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(tool, "PACKAGE", tmp_path / "none")
    monkeypatch.setattr(tool, "FONTS", tmp_path / "fonts")
    monkeypatch.setattr(sys, "executable", str(tmp_path / "python"))  # no npm beside it
    assert tool.main() == 0
    said = capsys.readouterr().out
    assert "system's own" in said
    assert "make fonts" in said
    assert not (tmp_path / "fonts").exists()
