"""Every source key cited in code, tests, tools or docs has its entry in the bibliography."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
# A key stands after white space or an opening bracket; `a[D50]` and `list[Float64]` are code.
CITED = re.compile(r"(?<![\w\])])\[([A-Z][A-Za-z]*\d[\w.-]*)\](?![(\[])")
NOT_SOURCES = {"D50", "D65", "Float64", "P1"}  # arrays of one name, in code
ENTRY = re.compile(r"^- \*\*\[([\w.-]+)\]\*\*", re.MULTILINE)


def cited() -> dict[str, str]:
    """Key → one file that cites it."""
    found = {}
    for folder in ("src", "tests", "tools", "docs", "benchmarks"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in (".py", ".md") and path.name != Path(__file__).name:
                for key in set(CITED.findall(path.read_text("utf-8"))) - NOT_SOURCES:
                    found.setdefault(key, str(path.relative_to(ROOT)))
    return found


def test_every_cited_key_has_an_entry() -> None:
    entries = set(ENTRY.findall((ROOT / "docs/reference/bibliography.md").read_text("utf-8")))
    missing = {k: where for k, where in cited().items() if k not in entries}
    assert len(entries) > 20  # the pattern still finds the entries
    assert sorted(missing.items()) == []


def test_the_pattern_sees_citations() -> None:
    assert CITED.findall("as in [Kubelka1948] and [IEC61966-2-1], not a[0] or [X1](link)") == [
        "Kubelka1948",
        "IEC61966-2-1",
    ]
