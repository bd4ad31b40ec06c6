"""Facts on pigments: every value has its source, none is out of its scale, no hazard is lost."""

import copy
import csv
import importlib
import pickle
import re
import sys
from collections import Counter
from dataclasses import asdict, fields
from importlib import resources
from pathlib import Path

import pytest

from firstwash.errors import PaintError
from firstwash.paints.catalogue import all_paints, paint
from firstwash.paints.facts import (
    Handling,
    PigmentFacts,
    facts,
    facts_of,
    handling_of,
    read_facts,
)

ROOT = Path(__file__).parents[2]
TEXT = resources.files("firstwash.paints").joinpath("data", "facts.csv").read_text("utf-8")
HEAD = TEXT.splitlines()[0]
NO_FACTS = {"key", "pigment", "name", "note", "sources"}
# Metals that the label of a paint warns of (ASTM D4236 practice); the level is our own reading.
METALS = {
    "cadmium": "Cd", "cobalt": "Co", "nickel": "Ni", "chrom": "Cr", "mangan": "Mn",
    "barium": "Ba", "vanad": "V", "antimony": "Sb",
}  # fmt: skip


def by_key() -> dict[str, PigmentFacts]:
    return {one.key: one for one in facts()}


# ------------------------------------------------------------------ completeness and sources


def test_there_is_one_row_a_kind() -> None:
    assert len(facts()) == len(by_key()) == 78
    several = {p for p, n in Counter(one.pigment for one in facts()).items() if n > 1}
    assert several == {"PR101", "PV19", "PBr7"}


def test_every_value_has_a_source_and_no_blank_has_one() -> None:
    for one in facts():
        for field in fields(one):
            value, told = getattr(one, field.name), one.source_of(field.name)
            if field.name in NO_FACTS or value in (None, "", ()):
                assert told == "", (one.key, field.name)
            else:
                assert re.fullmatch(
                    r"memory|published \((S\d\d)(, S\d\d)*\)(, computed from it)?", told
                ), (one.key, field.name, told)


def test_sources_of_single_values() -> None:
    magenta = by_key()["PR122"]
    assert magenta.source_of("value_range") == "published (S03)"
    assert magenta.source_of("hue_angle") == "published (S03, S08)"
    assert magenta.source_of("hue_angle_between") == "published (S03, S08)"
    assert magenta.source_of("masstone_lightness") == "published (S03), computed from it"
    assert magenta.source_of("tinting") == "memory"
    assert magenta.source_of("edge_nm") == "memory"
    assert magenta.source_of("drying_shift") == magenta.source_of("name") == ""
    with pytest.raises(AttributeError):
        magenta.source_of("price")


def test_most_values_are_from_memory_as_the_page_says() -> None:
    told = [one.source_of(f.name) for one in facts() for f in fields(one)]
    assert told.count("memory") > sum(t.startswith("published") for t in told)


def test_every_source_of_the_facts_is_on_the_page() -> None:
    docs = ROOT / "docs/reference"
    page, estimates = (
        (docs / name).read_text("utf-8") for name in ("pigment-sources.md", "estimated-paints.md")
    )
    used = {key for one in facts() for told in one.sources.values() for key in told.split("+")}
    used |= set(re.findall(r"\bS\d\d\b", estimates))
    listed = {line.split("|")[1].strip() for line in page.splitlines() if line.startswith("| ")}
    assert listed - {"key"} == used


# ------------------------------------------------------------------ sense


def test_names_are_whole() -> None:
    for one in facts():
        assert one.name.count("(") == one.name.count(")"), one.name
        assert one.name.strip() == one.name != ""


def test_values_lie_on_their_scales() -> None:
    for one in facts():
        for grade in (one.transparency, one.staining, one.granulation, one.tinting):
            assert grade in {0, 1, 2, 3, 4}
        assert one.lightfast in {"", "I", "II", "III", "IV", "V"}
        assert bool(one.lightfast) == bool(one.lightfast_medium)
        assert one.hazard in {"none", "caution", "toxic"}
        assert one.drying_shift.partition(":")[0].split(" ")[0] in {
            "", "small", "moderate", "large",
        }  # fmt: skip
        if one.blue_wool is not None:
            assert 1 <= one.blue_wool[0] <= one.blue_wool[1] <= 8
        for span in (*one.absorption, one.peak_nm, one.edge_nm):
            if span is not None:
                assert 380 <= span[0] <= span[1] <= 800, one.key
        assert re.fullmatch(r"(\d{5,6}(:\d)?(; )?)+|", one.number), one.number
        assert re.match(r"P(Y|O|R|V|B|G|Br|Bk|W)\d", one.pigment)


def test_means_lie_between_their_ends() -> None:
    for one in facts():
        if one.value_range_between is not None:
            low, high = one.value_range_between
            assert low <= one.value_range <= high
        if one.hue_angle_between is not None:
            low, high = one.hue_angle_between
            assert (one.hue_angle - low) % 360 <= (high - low) % 360, one.key
            assert one.hue_space == "CIELAB"
        if one.chroma is not None:
            assert one.chroma_space


def test_masstone_lightness_is_what_it_is_computed_from() -> None:
    told = [one for one in facts() if one.masstone_lightness is not None]
    assert len(told) == 9
    for one in told:
        if one.key == "PV16":
            # L* of the published luminance factor 10.6 % (S23), by the formula of [CIE15].
            assert one.masstone_lightness == round(116 * 0.106 ** (1 / 3) - 16)
        else:
            assert one.masstone_lightness == 95 - one.value_range


def test_published_values_read_back() -> None:
    # From the pages named in docs/reference/pigment-sources.md.
    assert (by_key()["PG7"].value_range, by_key()["PG7"].hue_angle) == (57, 177)
    assert by_key()["PR122"].hue_angle_between == (354, 4)
    assert by_key()["PB28"].absorption == ((556, 556), (588, 588), (625, 625))
    assert by_key()["PB28"].peak_nm == (440, 440)
    assert by_key()["PY184"].edge_nm == (517, 517)
    assert by_key()["PB15:3"].blue_wool == (7, 8)
    assert by_key()["PB15:3"].makes == 10
    assert by_key()["PB29"].drying_shift == "large: total shift 47 %"


# ------------------------------------------------------------------ hazards


def test_every_metal_in_the_chemistry_is_among_the_hazards() -> None:
    for one in facts():
        for word, symbol in METALS.items():
            if word in one.chemistry.casefold():
                assert symbol in one.hazard_elements, (one.key, word)
                assert one.hazard in {"caution", "toxic"}, one.key


def test_cadmium_is_toxic_and_the_rest_of_the_metals_need_care() -> None:
    assert {one.key for one in facts() if one.hazard == "toxic"} == {"PY35", "PO20", "PR108"}
    careful = {one.key for one in facts() if one.hazard == "caution"}
    assert careful >= {"PB28", "PB35", "PB36", "PG18", "PG19", "PG50", "PV14", "PV16", "PB33"}
    assert careful >= {"PY150", "PY153", "PY53", "PY40", "PBr7-burnt-umber", "PBr7-raw-umber"}


def test_paints_of_the_catalogue_carry_the_hazard_of_their_pigments() -> None:
    levels = ("none", "caution", "toxic")
    for one in all_paints():
        known = [levels.index(f.hazard) for f in facts() if f.pigment in one.pigments]
        if len(one.pigments) == 1 and known:
            assert levels.index(one.handling.hazard) >= min(known), one.key
    assert paint("PR108").handling.hazard_elements == "Cd"


# ------------------------------------------------------------------ handling


def test_handling_is_made_of_the_facts() -> None:
    crimson = handling_of("PR83")
    assert (crimson.transparency, crimson.staining, crimson.lightfast) == (4, 3, "IV")
    assert crimson.sources["identity"] == "mixed"
    assert crimson.sources["lightfast"] == "memory"
    assert handling_of("PY53").hazard_elements == "Ni; Sb"
    assert handling_of("no such key") == Handling()
    assert facts_of("no such key") is None


def test_handling_can_be_copied_and_stored() -> None:
    one = handling_of("PB29")
    assert copy.deepcopy(one) == one
    assert pickle.loads(pickle.dumps(one)) == one
    assert Handling(**asdict(one)) == one


# ------------------------------------------------------------------ the table and its tool


@pytest.fixture(scope="module")
def tool():
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        yield importlib.import_module("build_facts")
    finally:
        sys.path.remove(str(ROOT / "tools"))


def collected(tool, **cells: str) -> str:
    """A collected table of one row."""
    names = [*tool.COLUMNS.values(), "published_fields", "memory_fields"]
    row = {
        "ci_name": "PX1", "common_name": "test blue, light", "hue_family": "blue",
        "ci_number": "12345", "memory_fields": "ci_number", **cells,
    }  # fmt: skip
    lines = [names, [row.get(n, "") for n in names]]
    return "\n".join(",".join(f'"{c}"' for c in line) for line in lines)


def test_the_tool_carries_every_value_with_its_source(tool) -> None:
    text = tool.table(
        collected(
            tool,
            lf_astm="I",
            lf_astm_medium="acrylic",
            value_range="40",
            value_range_minmax="35-44",
            masstone_L_est="55",
            n_samples="3",
            published_fields="lf_astm=S11;S12 value_range=S05 masstone_L_est=S05+D",
        )
    )
    (one,) = read_facts(text)
    assert one.name == "test blue, light"  # a comma in a name is part of it
    assert one.source_of("lightfast") == one.source_of("lightfast_medium")
    assert one.source_of("lightfast") == "published (S11, S12)"
    assert one.source_of("makes") == one.source_of("value_range_between") == "published (S05)"
    assert one.source_of("masstone_lightness") == "published (S05), computed from it"
    assert one.source_of("number") == "memory"


def test_the_tool_refuses_a_value_of_unknown_origin(tool) -> None:
    with pytest.raises(ValueError, match="PX1: nothing says where drying_shift comes from"):
        tool.table(collected(tool, drying_shift="small"))


def test_the_tool_refuses_two_rows_of_one_key(tool) -> None:
    text = collected(tool)
    with pytest.raises(ValueError, match="one key"):
        tool.table(text + "\n" + text.splitlines()[1])


def test_the_committed_table_is_as_the_tool_writes_it(tool) -> None:
    assert HEAD.split(",") == ["key", *tool.COLUMNS, "sources"]
    rows = list(csv.DictReader(TEXT.splitlines()))
    for row in rows:
        known = [tool.FIELDS.get(c, c) for c in tool.COLUMNS if row[c] and c not in tool.NO_FACTS]
        assert [item.partition("=")[0] for item in row["sources"].split()] == known


ROW = TEXT.splitlines()[2]  # of PY35


@pytest.mark.parametrize(
    "text",
    [
        "key,pigment\nPY35,PY35",
        f"{HEAD}\n{ROW.replace('PY35,PY35', 'PY35,PY35,more,')}",
        f"{HEAD}\n{ROW.replace(',1,2,1,3,', ',one,2,1,3,')}",
        f"{HEAD}\n{ROW.replace('480-520', 'green')}",
        f"{HEAD}\n{ROW.replace('number=M', 'number')}",
        f"{HEAD}\n{ROW[:60]}",
    ],
    ids=["columns", "cells", "grade", "span", "source", "cut short"],
)
def test_a_damaged_table_is_a_paint_error(text: str) -> None:
    with pytest.raises(PaintError, match="table of facts cannot be read"):
        read_facts(text)


@pytest.mark.parametrize("missing", ["number", "lightfast", "edge_nm"])
def test_a_value_without_a_source_is_refused(missing: str) -> None:
    row = re.sub(rf"\b{missing}=\S+ ", "", ROW)
    with pytest.raises(PaintError, match=f"PY35 has a value without a source.*{missing}"):
        read_facts(f"{HEAD}\n{row}")
