"""The types of the page's requests and answers, from the server's own OpenAPI description.

Run: python tools/build_api_types.py  (writes src/firstwash/web/elements/api-types.d.ts)
A test compares the file with what this makes, so the page is checked against the server.
"""

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from firstwash.web.app import create_app
from firstwash.web.late import LateRoutes
from firstwash.web.serve import make_services

TYPES = Path(__file__).parents[1] / "src/firstwash/web/elements/api-types.d.ts"
HEAD = "// Made by tools/build_api_types.py from the server's OpenAPI description; do not change.\n"
PLAIN = {"string": "string", "integer": "number", "number": "number", "boolean": "boolean"}


def type_of(schema: Mapping[str, Any]) -> str:
    """The TypeScript type of a JSON schema."""
    if "$ref" in schema:
        return str(schema["$ref"]).rsplit("/", 1)[-1]
    if "const" in schema:
        return _value(schema["const"])
    if "enum" in schema:
        return " | ".join(_value(v) for v in schema["enum"])
    if "anyOf" in schema:
        return " | ".join(dict.fromkeys(type_of(s) for s in schema["anyOf"]))
    kind = schema.get("type")
    if kind == "null":
        return "null"
    if kind == "array":
        return _array(schema)
    if kind == "object":
        inner = schema.get("additionalProperties")
        return f"Record<string, {type_of(inner)}>" if isinstance(inner, dict) else "object"
    return PLAIN.get(str(kind), "unknown")


def _value(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value).lower()


def _array(schema: Mapping[str, Any]) -> str:
    fixed = schema.get("prefixItems")
    if fixed:
        return f"[{', '.join(type_of(s) for s in fixed)}]"
    inner = type_of(schema.get("items", {}))
    return (
        f"({inner})[]" if " " in inner and not inner.startswith(("Record", "[")) else f"{inner}[]"
    )


def interface(name: str, schema: Mapping[str, Any]) -> str:
    """One named object; every field is there, for the server fills in what was left out."""
    told = schema.get("description", "").split("\n")[0].replace("*/", "")
    lines = [f"/** {told} */"] if told else []
    if "properties" not in schema:
        return "\n".join([*lines, f"export type {name} = {type_of(schema)};"])
    lines.append(f"export interface {name} {{")
    lines += [f"  {field}: {type_of(s)};" for field, s in schema["properties"].items()]
    return "\n".join([*lines, "}"])


def built() -> str:
    """The whole file."""
    with tempfile.TemporaryDirectory() as folder:
        services = make_services(Path(folder), 0)
        try:
            app = create_app(services)
            LateRoutes(app, services).load()
            schemas = app.openapi()["components"]["schemas"]
        finally:
            services.close()
    seen: dict[str, str] = {}
    for name, schema in sorted(schemas.items()):
        plain = name.removesuffix("-Output").removesuffix("-Input").replace("-", "_")
        if name.endswith("-Input") and f"{plain}-Output" in schemas:
            continue  # what is sent has the same fields
        seen[plain] = interface(plain, schema)
    text = HEAD + "\n" + "\n\n".join(seen.values()) + "\n"
    return text.replace("-Output", "").replace("-Input", "")


if __name__ == "__main__":
    TYPES.write_text(built(), "utf-8")
    print(f"wrote {TYPES.name}: {TYPES.stat().st_size} bytes")
