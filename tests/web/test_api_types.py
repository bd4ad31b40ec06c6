"""The page's own types are those of the server as it is now."""

import importlib
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def tool() -> Iterator[ModuleType]:
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        yield importlib.import_module("build_api_types")
    finally:
        sys.path.remove(str(ROOT / "tools"))


def test_the_file_is_what_the_tool_makes(tool: ModuleType) -> None:
    """If this fails, run: python tools/build_api_types.py"""
    assert tool.TYPES.read_text("utf-8") == tool.built()


def test_every_type_named_is_there(tool: ModuleType) -> None:
    text = re.sub(r"/\*\*.*?\*/|//[^\n]*|\"[^\"]*\"", "", tool.TYPES.read_text("utf-8"))
    made = set(re.findall(r"export (?:interface|type) (\w+)", text))
    used = set(re.findall(r"\b[A-Z]\w+", text))
    assert used - made <= {"Record"}


@pytest.mark.parametrize(
    ("schema", "kind"),
    [
        ({"type": "string"}, "string"),
        ({"type": "integer"}, "number"),
        ({"type": "array", "items": {"type": "number"}}, "number[]"),
        ({"type": "array", "items": {"enum": ["a", "b"]}}, '("a" | "b")[]'),
        ({"type": "array", "prefixItems": [{"type": "number"}] * 2}, "[number, number]"),
        ({"anyOf": [{"type": "number"}, {"type": "null"}]}, "number | null"),
        ({"type": "object", "additionalProperties": {"type": "number"}}, "Record<string, number>"),
        ({"$ref": "#/components/schemas/Brief"}, "Brief"),
        ({"const": 1}, "1"),
        ({"const": True}, "true"),
        ({}, "unknown"),
    ],
)
def test_schemas_become_types(tool: ModuleType, schema: dict[str, object], kind: str) -> None:
    assert tool.type_of(schema) == kind


def test_a_comment_cannot_end_early(tool: ModuleType) -> None:
    made = tool.interface("Odd", {"description": "a */ b", "properties": {}})
    assert made.count("*/") == 1
