"""Writes the table of facts on pigments, `src/firstwash/paints/data/facts.csv`.

    python tools/build_facts.py TABLE

TABLE is the project's collected table of facts (CSV, one row per kind of single-pigment
watercolour). It names, for every value, the source it was read in (`published_fields`) or that
it is from memory (`memory_fields`); both are carried over, value by value. Every known value
is carried, none is changed and no row is left out.
"""

import csv
import io
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Final

OUT: Final = Path(__file__).parents[1] / "src/firstwash/paints/data/facts.csv"

# Our column: the collected table's, in the order we write them.
COLUMNS: Final = {
    "pigment": "ci_name",
    "name": "common_name",
    "number": "ci_number",
    "chemistry": "chemical_class",
    "hue_family": "hue_family",
    "transparency": "transparency",
    "staining": "staining",
    "granulation": "granulation",
    "tinting": "tinting_strength",
    "lightfast": "lf_astm",
    "lightfast_medium": "lf_astm_medium",
    "lightfast_note": "lf_note",
    "blue_wool": "lf_1_8",
    "value_range": "value_range",
    "value_range_between": "value_range_minmax",
    "masstone_lightness": "masstone_L_est",
    "hue_angle": "hue_angle_deg",
    "hue_angle_between": "hue_angle_minmax",
    "hue_space": "hue_angle_space",
    "chroma": "chroma",
    "chroma_space": "chroma_space",
    "makes": "n_samples",
    "drying_shift": "drying_shift",
    "hazard": "hazard_level",
    "hazard_elements": "hazard_elements",
    "hazard_note": "hazard_note",
    "absorption_nm": "absorption_bands_nm",
    "peak_nm": "reflectance_peak_nm",
    "edge_nm": "reflectance_edge50_nm",
    "absorption_note": "absorption_note",
    "note": "notes",
}
FIELDS: Final = {"absorption_nm": "absorption"}  # columns whose field has another name
NO_FACTS: Final = ("pigment", "name", "note")  # tell the row apart, or speak of other values

# Values the collected table gives no source of their own: that of the value they belong to.
BELONGS_TO: Final = {
    "lightfast_medium": ("lightfast",),
    "value_range_between": ("value_range",),
    "hue_angle_between": ("hue_angle",),
    "hue_space": ("hue_angle",),
    "chroma_space": ("chroma",),
    "makes": ("value_range", "hue_angle", "transparency"),
}

# Several kinds under one index name; all others go by that name alone.
KEYS: Final = {
    "red iron oxide (opaque, synthetic)": "PR101-opaque",
    "transparent red iron oxide": "PR101-transparent",
    "quinacridone rose (gamma, red form)": "PV19-rose",
    "quinacridone violet (beta, violet form)": "PV19-violet",
    "burnt sienna": "PBr7-burnt",
    "raw sienna": "PBr7-raw",
    "burnt umber": "PBr7-burnt-umber",
    "raw umber": "PBr7-raw-umber",
}


def source(cells: Mapping[str, str], column: str) -> str:
    """Where a value was read: "S03", "S05+D" (computed from it), "S11+S12", or "M"."""
    published = dict(item.split("=") for item in cells["published_fields"].split())
    there = COLUMNS[column]
    if there in published:
        return published[there].replace(";", "+")
    if there in cells["memory_fields"].split() or column == "hue_family":
        return "M"
    for owner in BELONGS_TO.get(column, ()):
        if cells[COLUMNS[owner]]:
            return source(cells, owner).replace("+D", "")
    raise ValueError(f"{cells['ci_name']}: nothing says where {there} comes from")


def row(cells: Mapping[str, str]) -> list[str]:
    """One row of our table from one of the collected one."""
    key = KEYS.get(cells["common_name"], cells["ci_name"])
    known = [c for c in COLUMNS if cells[COLUMNS[c]] and c not in NO_FACTS]
    sources = " ".join(f"{FIELDS.get(c, c)}={source(cells, c)}" for c in known)
    return [key, *(cells[there] for there in COLUMNS.values()), sources]


def table(text: str) -> str:
    """Our table as CSV from the collected one; raises ValueError where two keys are the same."""
    rows = [row(cells) for cells in csv.DictReader(io.StringIO(text))]
    keys = [one[0] for one in rows]
    if len(set(keys)) < len(keys):
        raise ValueError("two rows have one key; tell them apart in KEYS")
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([["key", *COLUMNS, "sources"], *rows])
    return out.getvalue()


def main() -> None:
    """Read the table named on the command line, write ours."""
    if len(sys.argv) != 2:
        sys.exit("Say which table: python tools/build_facts.py TABLE")
    OUT.write_text(table(Path(sys.argv[1]).read_text("utf-8")), "utf-8")


if __name__ == "__main__":
    main()
