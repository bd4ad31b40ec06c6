"""The painter's own list of paints: what a line means, edits, and text that cannot be used."""

import dataclasses
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import PaintError
from firstwash.paints.box import Box, BoxPaint, load_box, paint_of, parse_box, write_box
from firstwash.paints.box_lines import FILLS, FORMS, read_line, write_line
from firstwash.paints.catalogue import Handling, load_set, paint, set_names
from firstwash.paints.facts import handling_of
from firstwash.paints.unknown import FAMILIES, SIGMA

TRAVEL = """\
# my travel box
PB29  | pan | half empty | favourite | granulates nicely on rough
PR83  | tube | banned | fades

PBr7-burnt
mystery red | pan | unknown | from the student's set: the name on the pan   # replace it
"""


def travel() -> Box:
    return parse_box(TRAVEL, "travel box")


def keys(box: Box) -> list[str]:
    return [p.key for p in box.to_set().paints]


# ------------------------------------------------------------------ what a line means


def test_a_whole_box() -> None:
    blue, crimson, sienna, mystery = travel().paints
    assert blue == BoxPaint(
        "PB29",
        form="pan",
        fill="half empty",
        favourite=True,
        note="granulates nicely on rough",
    )
    assert crimson == BoxPaint("PR83", form="tube", banned=True, note="fades")
    assert sienna == BoxPaint("PBr7-burnt")
    assert mystery.unknown_hue == "red"
    assert mystery.note == "from the student's set: the name on the pan"
    assert mystery.comment == "replace it"
    assert travel().favourites == ("PB29",)
    assert travel().banned == ("PR83",)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("PB29", BoxPaint("PB29")),
        (" pb29 ", BoxPaint("pb29")),
        ("PB29 ||  | ", BoxPaint("PB29")),
        ("PB29 | favourite | pan", BoxPaint("PB29", form="pan", favourite=True)),
        ("PB29 | Half-Pan | HALF  EMPTY.", BoxPaint("PB29", form="half pan", fill="half empty")),
        ("PB29 | half pan, nearly empty", BoxPaint("PB29", form="half pan", fill="nearly empty")),
        ("PB29 | half pan, from Rome", BoxPaint("PB29", note="half pan, from Rome")),
        ("PB29 | pan | pan | favorite", BoxPaint("PB29", form="pan", favourite=True)),
        ("PB29 | one | two", BoxPaint("PB29", note="one | two")),
        ("PB29 | a   long\tnote", BoxPaint("PB29", note="a long note")),
        ("PB29 | banned # fades | pan", BoxPaint("PB29", banned=True, comment="fades | pan")),
        ("Sunset | unknown Orange", BoxPaint("Sunset", unknown=True, hue="orange")),
        ("Sunset | unknown purple", BoxPaint("Sunset", unknown=True, hue="violet")),
        ("PB29 | new blue for skies", BoxPaint("PB29", note="new blue for skies")),
        ("PB29 | unknown how old", BoxPaint("PB29", note="unknown how old")),
        ("Türkis № 5 | unknown turquoise", BoxPaint("Türkis № 5", unknown=True, hue="turquoise")),
        ("# PB29", None),
        ("  ", None),
    ],
)
def test_what_a_line_means(text: str, meant: BoxPaint | None) -> None:
    assert read_line(text) == meant


def test_the_words_may_come_in_any_order() -> None:
    fields = ["tube", "new", "favourite", "a note"]
    for turn in range(4):
        turned = fields[turn:] + fields[:turn]
        assert read_line(" | ".join(["PG7", *turned])) == read_line("PG7 | " + " | ".join(fields))


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("PB92", r"There is no paint “PB92”\. Near: .*PB29"),
        (
            "student red",
            r"no paint “student red”.* If its pigment is unknown, add “\| unknown red”",
        ),
        ("PB29 | pan | tube", "is both pan and tube; keep one"),
        ("PB29 | new | empty", "is both new and empty; keep one"),
        ("PB29 | favourite | banned", "is both favourite and banned"),
        ("PB29 | baned", "“baned” looks like “banned”"),
        ("PB29 | favorit", "“favorit” looks like “favourite”"),
        ("PB29 | half emty", "“half emty” looks like “half empty”"),
        ("Sunset | unknown", "nothing says what colour “Sunset” is"),
        ("Sunset | unknown crimzon", "“crimzon” is no hue word; say unknown and one of yellow"),
        ("Sunset | unknown red | unknown blue", "said to be blue and red; keep one hue"),
        ("PB29 | unknown blue", "“PB29” is a paint whose colour is known"),
        ("PB29 | unknown", "“PB29” is a paint whose colour is known"),
        ("| pan", "names no paint; begin it with one"),
        ("|", "names no paint; begin it with one"),
        ("PB29 | bell \a", "a character that cannot be seen"),
        ("PB29 | page\u2028break", "a character that cannot be seen"),
        ("PB29 | back\u202ewards", "a character that cannot be seen"),
        ("PB29 | a\x0bb", "a character that cannot be seen"),
        ("PB29 | \ud800", "a character that cannot be seen"),
        ("PB29 | " + "a" * 500, "longer than 500 letters"),
        ("phthalo blue", "There is no paint"),
        ("PBr7", "There is no paint “PBr7”"),
    ],
)
def test_a_line_that_cannot_be_used_is_told_by_its_number(line: str, told: str) -> None:
    with pytest.raises(PaintError, match=rf"^box, line 3: .*{told}") as refused:
        parse_box(f"# one\nPG7\n{line}\nPY154\n", "box")
    assert "\n" not in str(refused.value)
    assert str(refused.value).endswith(".")


@pytest.mark.parametrize(
    "again", ["PB29", "ultramarine blue", "pb29 | tube", "mystery red|unknown|pan"]
)
def test_a_paint_named_twice_is_refused(again: str) -> None:
    with pytest.raises(PaintError, match=r"travel box, line 7: (PB29|mystery red) is listed twice"):
        parse_box(TRAVEL + again, "travel box")


# ------------------------------------------------------------------ which paint is meant


def test_known_paints_are_those_of_the_catalogue() -> None:
    assert paint_of(BoxPaint("pb29")) is paint("PB29")
    assert paint_of(BoxPaint("Raw  Sienna")) is paint("PBr7-raw")


def test_a_paint_of_unknown_pigment_goes_by_the_name_on_its_pan() -> None:
    one = paint_of(BoxPaint("mystery red", unknown=True))
    assert (one.key, one.name, one.pigments) == ("mystery red", "mystery red", ())
    assert one.handling == Handling()
    assert one.provenance == "estimated"
    assert one.source.startswith("assumed")
    assert one.sigma == SIGMA


def test_the_name_of_a_known_paint_on_an_unknown_one_is_told_apart() -> None:
    box = parse_box("PB27\nPrussian blue | unknown\nlamp black | unknown\nPY154", "box")
    assert keys(box) == ["PB27", "Prussian blue (unknown)", "lamp black (unknown)", "PY154"]
    assert paint_of(box.paints[2]).handling == Handling()


@pytest.mark.parametrize(
    ("written", "key", "family"),
    [
        ("PO20", "PO20", "orange"),
        ("cadmium orange", "PO20", "orange"),
        ("yellow ochre", "PY43", "ochre"),
        ("PR101-opaque", "PR101-opaque", "brown"),
        ("PV14", "PV14", "violet"),
    ],
)
def test_a_pigment_known_by_its_facts_brings_its_hazard(
    written: str, key: str, family: str
) -> None:
    one = paint_of(BoxPaint(written))
    assert (one.key, one.sigma) == (key, SIGMA)
    assert one.handling == handling_of(key)
    assert all(known in one.source for known in FAMILIES[family])
    # The painter's own word on its hue stands, and costs no warning.
    other = paint_of(BoxPaint(key, unknown=True, hue="red"))
    assert other.handling == one.handling
    assert FAMILIES["red"][0] in other.source
    assert paint_of(BoxPaint(key, unknown=True)).source == one.source


# ------------------------------------------------------------------ sets


def test_banned_and_empty_paints_are_in_no_plan() -> None:
    box = parse_box(TRAVEL + "PG7 | empty | favourite\n", "travel box")
    found = box.to_set()
    assert [p.key for p in found.paints] == ["PB29", "PBr7-burnt", "mystery red"]
    assert found.name == "travel box"
    assert found.notes == {
        "PB29": "granulates nicely on rough",
        "mystery red": "from the student's set: the name on the pan",
    }
    assert box.favourites == ("PB29",)
    whole = box.to_set(with_banned=True)
    assert [p.key for p in whole.paints] == ["PB29", "PR83", "PBr7-burnt", "mystery red"]


def test_taught_paints_stand_for_those_of_the_catalogue() -> None:
    taught = dataclasses.replace(paint("PB29"), provenance="calibrated")
    found = travel().to_set(own=[taught, dataclasses.replace(taught, key="other")])
    assert found.paints[0] is taught
    assert len(found.paints) == 3


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "names no paint"),
        ("# only\n\n", "names no paint"),
        ("PB29 | banned\nPG7 | empty", "only banned or used-up paints"),
    ],
)
def test_a_box_without_a_paint_to_use_makes_no_set(text: str, told: str) -> None:
    with pytest.raises(PaintError, match=f"^box .*{told}"):
        parse_box(text, "box").to_set()


@pytest.mark.parametrize("name", set_names())
def test_shipped_sets_mean_the_same_both_ways(name: str) -> None:
    box, old = load_box(name).to_set(), load_set(name)
    assert box.paints == old.paints
    assert box.notes == old.notes


def test_older_lists_are_read_as_before(tmp_path: Path) -> None:
    file = tmp_path / "travel box.txt"
    file.write_text(
        "\ufeff# my box\nPB29\n\n pr83 | for roses, and lips # buy\nRaw Sienna\n", "utf-8"
    )
    for asked in (file, str(file)):
        box, old = load_box(asked).to_set(), load_set(asked)
        assert box.paints == old.paints
        assert box.notes == old.notes == {"PR83": "for roses, and lips"}
        assert box.name == old.name


# ------------------------------------------------------------------ text


def test_text_is_kept_as_it_is() -> None:
    assert write_box(travel()) == TRAVEL
    assert write_box(parse_box("", "box")) == ""


@pytest.mark.parametrize("text", [f"\ufeff{TRAVEL}", TRAVEL.replace("\n", "\r\n"), TRAVEL.rstrip()])
def test_other_machines_ends_of_lines_make_no_difference(text: str) -> None:
    assert parse_box(text, "travel box") == travel()


WORD = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cf", "Cs", "Zl", "Zp")), max_size=30
)
PAINTS = st.builds(
    BoxPaint,
    name=st.sampled_from(["PB29", "raw sienna", "PG7", "PO20"]) | WORD,
    form=st.sampled_from([None, *FORMS]),
    fill=st.sampled_from([None, *FILLS]),
    favourite=st.booleans(),
    unknown=st.booleans(),
    hue=st.sampled_from([None, *FAMILIES]),
    note=WORD,
    comment=WORD,
)


@given(PAINTS)
def test_what_can_be_written_is_read_back(one: BoxPaint) -> None:
    try:
        line = write_line(one)
    except PaintError as error:
        assert str(error).endswith(".")  # noqa: PT017 - either outcome is right
    else:
        assert read_line(line) == one


@given(st.text(max_size=60))
def test_any_text_is_a_box_or_a_paint_error(text: str) -> None:
    try:
        box = parse_box(text, "box")
    except PaintError as error:
        assert "\n" not in str(error)  # noqa: PT017 - either outcome is right
    else:
        assert parse_box(write_box(box), "box") == box


def test_a_box_of_too_many_lines_is_refused() -> None:
    with pytest.raises(PaintError, match="box has 5000 lines; a box holds at most 1000"):
        parse_box("\n" * 4999 + "PB29", "box")
    lines = (f"old pan {n} | unknown red" for n in range(1000))
    assert len(parse_box("\n".join(lines), "box").paints) == 1000


# ------------------------------------------------------------------ files


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"PB29 | na\xefve", "save it as text in UTF-8"),
        (b"\xff\xfeP\x00B\x002\x009\x00", "save it as text in UTF-8"),
        (b"#" * 10_000_000, r"box\.txt is too large"),
        (b"PB29\x00", "line 1: the line holds a character that cannot be seen"),
    ],
    ids=["latin", "UTF-16", "10 MB", "NUL"],
)
def test_a_file_that_is_no_list_is_refused(tmp_path: Path, content: bytes, told: str) -> None:
    (tmp_path / "box.txt").write_bytes(content)
    with pytest.raises(PaintError, match=told):
        load_box(tmp_path / "box.txt")


def test_a_missing_file_is_answered_with_the_sets_there_are(tmp_path: Path) -> None:
    with pytest.raises(PaintError, match=r"no set or readable text file “startr”\. Near: starter"):
        load_box("startr")
    for odd in (tmp_path, "", "a\x00b", "x" * 5000):
        with pytest.raises(PaintError, match="no set or readable text file"):
            load_box(odd)


def test_a_file_of_an_odd_name_is_a_box(tmp_path: Path) -> None:
    file = tmp_path / ("a\nb" + "x" * 100 + ".txt")
    file.write_text("PB29", "utf-8")
    assert load_box(file).name == "a?b" + "x" * 77


# ------------------------------------------------------------------ edits


def test_an_edit_writes_its_own_line_anew_and_no_other() -> None:
    before = TRAVEL.splitlines()
    after = write_box(travel().changed("PR83", fill="nearly empty")).splitlines()
    assert [n for n, (a, b) in enumerate(zip(before, after, strict=True)) if a != b] == [2]
    assert after[2] == "PR83 | tube | nearly empty | banned | fades"


def test_an_edit_leaves_the_box_it_came_from() -> None:
    box = travel()
    box.without("PB29").noted("PR83", "x").renamed("other")
    assert box == travel()


def test_edits() -> None:
    box = travel()
    assert keys(box.with_paint("PG7")) == ["PB29", "PBr7-burnt", "mystery red", "PG7"]
    assert keys(box.with_paint("PG7", before="PB29"))[0] == "PG7"
    assert keys(box.without("Ultramarine Blue")) == ["PBr7-burnt", "mystery red"]
    assert box.renamed("studio").name == "studio"
    assert box.noted("mystery red", "").to_set().notes.keys() == {"PB29"}
    assert box.noted("burnt sienna", "  for\nskies ").to_set().notes["PBr7-burnt"] == "for skies"
    assert box.changed("PB29", banned=True).favourites == ()
    assert box.changed("PR83", favourite=True).banned == ()
    other = box.changed("mystery red", name="PR255", unknown=False)
    assert keys(other) == ["PB29", "PBr7-burnt", "PR255"]
    assert other.paints[3].comment == "replace it"
    new = BoxPaint("Sunset", unknown=True, hue="pink", favourite=True)
    assert box.with_paint(new).paints[-1].unknown_hue == "magenta"


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (lambda b: b.with_paint("PB29"), "PB29 is listed twice"),
        (lambda b: b.with_paint("PB92"), "There is no paint “PB92”"),
        (lambda b: b.with_paint(""), "“” cannot be written down"),
        (lambda b: b.with_paint("PG7", before="PG36"), "There is no “PG36” in travel box"),
        (lambda b: b.without("PG7"), "There is no “PG7” in travel box"),
        (lambda b: b.noted("PB29", "one # two"), "“PB29” cannot be written down"),
        (lambda b: b.noted("PB29", "tube"), "PB29: the paint is both pan and tube"),
        (lambda b: b.noted("PB29", "a | banned"), "PB29: .*both favourite and banned"),
        (lambda b: b.noted("PB29", "x" * 600), "longer than 500 letters"),
        (lambda b: b.changed("PB29", form="jar"), "cannot be written down"),
        (lambda b: b.renamed(" "), "needs a name"),
        (lambda b: b.renamed("x" * 81), "needs a name"),
        (lambda b: b.renamed("a\nb"), "needs a name"),
    ],
)
def test_an_edit_that_cannot_be_is_refused(edit, told: str) -> None:
    with pytest.raises(PaintError, match=told):
        edit(travel())


def test_a_box_compares_and_hashes_by_what_it_says() -> None:
    assert travel() == travel()
    assert hash(travel()) == hash(travel())
    assert travel() != travel().renamed("other")
