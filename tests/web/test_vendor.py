"""The one vendored file is the published one, its types name what it exports, the lock is ours."""

import hashlib
import json
import re
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
VENDOR = ROOT / "src/firstwash/web/vendor"


def read(path: Path) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(path.read_text("utf-8"))
    return loaded


RECORD = read(VENDOR / "vendor.json")
LOCK = read(ROOT / "package-lock.json")["packages"]
WANTED = read(ROOT / "package.json")["devDependencies"]


def test_the_file_is_byte_for_byte_the_published_one() -> None:
    held = (VENDOR / RECORD["file"]).read_bytes()
    assert hashlib.sha256(held).hexdigest() == RECORD["sha256"]
    # npm has checked the package it unpacked against the lock.
    published = ROOT / "node_modules" / RECORD["package"] / RECORD["path_in_package"]
    assert held == published.read_bytes()


def test_the_record_names_the_locked_package() -> None:
    locked = LOCK[f"node_modules/{RECORD['package']}"]
    assert (locked["version"], locked["integrity"]) == (
        RECORD["version"],
        RECORD["package_integrity"],
    )


def test_nothing_else_is_vendored() -> None:
    licences = {f"LICENSE-{name}.txt" for name in RECORD["licences"]}
    types = RECORD["file"].replace(".js", ".d.ts")
    assert {p.name for p in VENDOR.iterdir()} == {"vendor.json", RECORD["file"], types} | licences


def test_the_types_name_exactly_what_the_file_exports() -> None:
    source = (VENDOR / RECORD["file"]).read_text("utf-8")
    listed = re.findall(r"export\{(.*?)\}", source)[-1]
    exported = {pair.split(" as ")[-1] for pair in listed.split(",")}
    types = (VENDOR / RECORD["file"].replace(".js", ".d.ts")).read_text("utf-8")
    assert set(re.findall(r"^export (?:function|class) (\w+)", types, re.MULTILINE)) == exported


def test_the_lock_pins_every_package_and_names_no_address() -> None:
    assert all(re.fullmatch(r"\d+\.\d+\.\d+", version) for version in WANTED.values())
    packages = {name: entry for name, entry in LOCK.items() if name}
    assert packages
    for name, entry in packages.items():
        assert entry["integrity"].startswith("sha512-"), name
        assert not {"resolved", "funding"} & set(entry), name
