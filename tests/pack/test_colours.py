"""The colour list as a spreadsheet, read back with another library."""

import csv
import io
import math
import re
import zipfile
from dataclasses import replace

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

from firstwash.handout.words import proportions
from firstwash.optics.observer import lab_to_srgb8
from firstwash.pack.colours import colour_list, colour_list_csv
from firstwash.plan.result import Plan


def sheets(plan: Plan) -> dict[str, Worksheet]:
    book = openpyxl.load_workbook(io.BytesIO(colour_list(plan)))
    return {page.title: page for page in book.worksheets}


def rows(page: Worksheet) -> list[dict[str, object]]:
    head, *body = page.iter_rows(values_only=True)
    return [dict(zip((str(h) for h in head), row, strict=True)) for row in body]


def test_the_same_plan_makes_the_same_bytes(plan: Plan) -> None:
    assert colour_list(plan) == colour_list(plan)
    assert colour_list_csv(plan) == colour_list_csv(plan)
    with zipfile.ZipFile(io.BytesIO(colour_list(plan))) as z:
        core = z.read("docProps/core.xml").decode()
        assert set(re.findall(r"\d{4}-\d\d-\d\d", core)) == {"1980-01-01"}  # no true date


def test_three_sheets_with_frozen_heads_and_no_formula(plan: Plan) -> None:
    found = sheets(plan)
    assert list(found) == ["Puddles", "Washes", "Paints"]
    for page in found.values():
        assert page.freeze_panes == "B2"
        assert page.print_title_rows == "$1:$1"
        for row in page.iter_rows():
            for cell in row:
                assert cell.data_type in ("s", "n")
                if cell.row > 1:
                    assert cell.hyperlink is None


def test_puddles_say_what_the_plan_says(four: Plan) -> None:
    told = rows(sheets(four)["Puddles"])
    assert [r["Puddle"] for r in told] == [p.name for p in four.puddles]
    for row, puddle in zip(told, four.puddles, strict=True):
        names = [four.paints[p].name for p, _ in puddle.parts]
        assert str(row["Paints"]).split("\n") == names
        assert str(row["Colour Index name"]).split("\n") == [
            ", ".join(four.paints[p].pigments) for p, _ in puddle.parts
        ]
        parts = [int(n) for n in str(row["Parts at full strength"]).split("\n")]
        assert parts == [n for _, n in proportions(puddle)]
        ml = row["Mix, ml"]
        assert isinstance(ml, int | float)
        assert math.isclose(ml, puddle.amount.ml, abs_tol=0.051)  # told to a tenth
        assert names[0] in str(row["From tubes"])
        assert puddle.amount.consistency.name in str(row["As runny as"])


def test_every_wash_is_named_once_in_either_sheet(four: Plan) -> None:
    found = sheets(four)
    washes = [(r["Layer"], r["Wash"], r["Puddle"]) for r in rows(found["Washes"])]
    assert washes == [(w.layer, w.number, four.puddles[w.puddle].name) for w in four.washes]
    named = []
    for row in rows(found["Puddles"]):
        for layer in str(row["Washes"]).split("; "):
            number, _, own = layer.removeprefix("layer ").partition(": ")
            named += [(int(number), int(n), row["Puddle"]) for n in own.split(", ")]
    assert sorted(named) == sorted(washes)


def test_a_swatch_has_the_predicted_colour(four: Plan) -> None:
    page = sheets(four)["Puddles"]
    for number, puddle in enumerate(four.puddles, 2):
        wanted = "FF" + "".join(f"{int(v):02X}" for v in lab_to_srgb8(puddle.swatch[0]))
        assert page.cell(number, 2).fill.start_color.rgb == wanted


def test_paints_tell_lightfastness_with_its_source_and_cautions(four: Plan) -> None:
    told = rows(sheets(four)["Paints"])
    assert [r["Paint"] for r in told] == [p.name for p in four.paints]
    for row, paint in zip(told, four.paints, strict=True):
        assert row["Lightfastness (I best to V)"] == (paint.handling.lightfast or "not known")
        if paint.handling.lightfast:
            assert re.match(r"published|memory|mixed", str(row["Lightfastness from"]))
        grade = row["Transparency (0 opaque to 4 transparent)"]
        known = paint.handling.transparency
        assert grade == ("not known" if known is None else known)


def test_names_that_look_like_formulas_are_text(odd: Plan) -> None:
    page = sheets(odd)["Paints"]
    first = [page.cell(i, 1) for i in range(2, page.max_row + 1)]
    risky = [c for c in first if str(c.value).startswith(("=", "+", "-", "@"))]
    assert len(risky) >= 3
    for cell in risky:
        assert cell.data_type == "s"
        assert cell.style.startswith("Normal")
        assert cell.quotePrefix
    for cell in first:
        assert not re.search("[\x00-\x09\x0b-\x1f\u202e]", str(cell.value))


def test_rows_are_high_enough_for_long_names(odd: Plan) -> None:
    page = sheets(odd)["Paints"]
    width = page.column_dimensions["A"].width
    for number in range(2, page.max_row + 1):
        lines = sum(
            math.ceil(len(part) / width) for part in str(page.cell(number, 1).value).split("\n")
        )
        height = page.row_dimensions[number].height or 15.0  # a row of one line has none of its own
        assert height >= 14 * lines  # 11 point text, about 14 points a line


def test_the_list_as_text_reads_back_and_runs_nothing(plan: Plan) -> None:
    data = colour_list_csv(plan).encode()
    assert data.startswith(b"\xef\xbb\xbf")  # so that spreadsheets take it for UTF-8
    body = data.decode("utf-8-sig")
    assert body.count("\r\n") == len(plan.puddles) + 1
    head, *told = list(csv.reader(io.StringIO(body, newline="")))
    assert head[0] == "Puddle"
    assert [r[0] for r in told] == [p.name for p in plan.puddles]
    for row in told:
        assert len(row) == len(head)
        assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in row)


def test_a_plan_without_puddles_has_heads_only(four: Plan) -> None:
    bare = four.told_more(washes=(), puddles=(), touches=())
    assert [page.max_row for page in sheets(bare).values()][:2] == [1, 1]
    assert len(colour_list_csv(bare).splitlines()) == 1


def test_many_puddles_have_a_row_each(four: Plan) -> None:
    more = tuple(replace(four.puddles[0], name=f"P{n}") for n in range(24))
    many = four.told_more(puddles=(*four.puddles, *more))
    assert sheets(many)["Puddles"].max_row == 1 + len(four.puddles) + 24
