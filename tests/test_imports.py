"""Imports run one way only, and never in a loop.

    arrays, errors, parallel ← language, typed_text ← optics ← paints, picture ← light ← plan, card
        ← easel, handout ← tracing ← advice ← lessons, seeing ← store
        ← usecases, usecases_lessons, swatching ← usecases_study ← worksheet ← sheets
        ← pack, finished ← usecases_finished, usecases_handout ← usecases_students
        ← warming_work ← warming ← (firstwash itself) ← terminal
        ← cli_cards, cli_handout, cli_lessons, cli_open, cli_study
        ← cli_finished, cli_students ← web, cli

A module may import from its own package and from packages left of it. Packages of one rank
never import each other, except that `cli` and `cli_open` may load `web` inside a
function. The top package
may import anything left of it: it is the public face.
"""

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src" / "firstwash"
ORDER = (
    "arrays errors parallel", "language typed_text", "optics", "paints picture", "light",
    "plan card",
    "easel handout", "tracing", "advice", "laid lessons seeing", "store",
    "usecases usecases_lessons swatching", "usecases_study", "worksheet", "sheets",
    "pack finished", "usecases_handout usecases_finished", "usecases_progress usecases_students",
    "warming_work", "warming", "firstwash", "terminal",
    "cli_cards cli_handout cli_lessons cli_open cli_study",
    "cli_finished cli_progress cli_students", "web cli",
)  # fmt: skip
RANK = {name: rank for rank, names in enumerate(ORDER) for name in names.split()}
RANK["__main__"] = RANK["cli"] + 1


def imports_of(path: Path, module: str, known: set[str]) -> set[tuple[str, bool]]:
    """Our own modules that `module` imports, each with whether a function does it lazily."""
    tree = ast.parse(path.read_text("utf-8"))
    functions = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]
    lazy = {id(inner) for function in functions for inner in ast.walk(function)}
    package = module if path.name == "__init__.py" else module.rpartition(".")[0]
    found = set()
    for node in ast.walk(tree):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            parts = package.split(".")[: len(package.split(".")) - node.level + 1]
            base = ".".join(
                [*(parts if node.level else []), *([node.module] if node.module else [])]
            )
            whole = [f"{base}.{alias.name}" for alias in node.names]
            names = [name if name in known else base for name in whole]
        ours = (name for name in names if name.split(".")[0] == "firstwash")
        found |= {(name, id(node) in lazy) for name in ours}
    return found


def violations(root: Path) -> list[str]:
    """What is wrong with the imports under `root`, the folder of the top package."""
    files = {
        ".".join(("firstwash", *path.relative_to(root).with_suffix("").parts)): path
        for path in sorted(root.rglob("*.py"))
    }
    files = {name.removesuffix(".__init__"): path for name, path in files.items()}
    wrong, graph = [], {}
    for module, path in files.items():
        imported = imports_of(path, module, set(files)) - {(module, False), (module, True)}
        graph[module] = {name for name, _ in imported}
        here = module.split(".")[1] if "." in module else module
        if here not in RANK:
            wrong.append(f"{module} has no rank")
            continue
        for name, lazy in sorted(imported):
            there = name.split(".")[1] if "." in name else name
            allowed = there == here or RANK.get(there, 99) < RANK[here]
            if not (allowed or (lazy and there == "web" and here in ("cli", "cli_open"))):
                wrong.append(f"{module} imports {name}")
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        wrong.append("loop: " + " → ".join(error.args[1]))
    return wrong


def test_imports_run_one_way() -> None:
    assert violations(SOURCE) == []


# Small source trees with one thing wrong, and a part of what must be said about it.
WRONG: list[tuple[dict[str, str], str]] = [
    ({"optics/a.py": "from firstwash.paints import b", "paints/b.py": ""}, "optics.a imports"),
    ({"optics/a.py": "import firstwash.plan.b", "plan/b.py": ""}, "optics.a imports"),
    ({"paints/a.py": "from ..picture.b import c", "picture/b.py": ""}, "paints.a imports"),
    ({"paints/a.py": "from firstwash import picture", "picture/__init__.py": ""}, "paints.a"),
    ({"plan/a.py": "def f():\n    import firstwash.web.b", "web/b.py": ""}, "plan.a imports"),
    ({"plan/a.py": "from firstwash import f", "__init__.py": "def f(): ..."}, "plan.a imports"),
    ({"__init__.py": "from firstwash.cli import f", "cli.py": ""}, "firstwash imports"),
    ({"cli.py": "from firstwash.web import app", "web/app.py": ""}, "cli imports"),
    ({"web/app.py": "def f():\n    from firstwash import cli", "cli.py": ""}, "web.app"),
    ({"arrays.py": "from firstwash.errors import X", "errors.py": ""}, "arrays imports"),
    ({"plan/a.py": "from . import b", "plan/b.py": "from .a import c"}, "loop"),
    ({"extra/a.py": ""}, "no rank"),
]


@pytest.mark.parametrize(("files", "expected"), WRONG)
def test_a_wrong_import_is_found(tmp_path: Path, files: dict[str, str], expected: str) -> None:
    write(tmp_path, files)
    assert any(expected in line for line in violations(tmp_path)), violations(tmp_path)


def test_right_imports_pass(tmp_path: Path) -> None:
    write(
        tmp_path,
        {
            "__init__.py": "from firstwash.plan.a import f\nfrom firstwash.store import s",
            "errors.py": "import math",
            "optics/__init__.py": "from .b import g",
            "optics/b.py": "import numpy as np\nfrom firstwash.errors import X",
            "plan/a.py": "from firstwash.optics import b\nfrom ..optics.b import g",
            "plan/b.py": "from . import c",
            "plan/c.py": "",
            "store.py": "from firstwash.handout.h import page",
            "handout/h.py": "from firstwash.plan import a",
            "usecases.py": "from firstwash.store import s",
            "web/app.py": "from firstwash.usecases import u",
            "cli.py": "import firstwash.usecases\ndef serve():\n    from firstwash.web import app",
            "__main__.py": "from firstwash.cli import main",
        },
    )
    assert violations(tmp_path) == []


def write(root: Path, files: dict[str, str]) -> None:
    """Make a small source tree."""
    for name, text in files.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text, "utf-8")
