"""CGATS.17 text: spellings of fields, layouts, conditions, what is refused, and round trips.

All numbers are invented.
"""

from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.errors import MeasurementError
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.paints.instrument.cgats import write_cgats
from firstwash.paints.instrument.read import read_measurements
from firstwash.paints.instrument.samples import Measurements, Sample, clean

WHEN = datetime(2026, 3, 1, 9, 30, tzinfo=UTC)
NM = range(380, 731, 10)
VALUES = [round(0.05 + 0.02 * i, 4) for i in range(36)]

# As [CGATS17] has it: two samples of an imagined chart, every 20 nm, percent.
SMALL = """CGATS.17
ORIGINATOR "nobody"
FILE_DESCRIPTOR "two patches, invented"
CREATED "2026-03-01"
INSTRUMENTATION "none"
MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2 MeasurementCondition=M1"
MEASUREMENT_GEOMETRY "45/0"
FILTER "none"
SAMPLE_BACKING "white"
KEYWORD "HUMIDITY"   # declared, and of no use to us
HUMIDITY "40"
NUMBER_OF_FIELDS 21
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B
SPECTRAL_NM400 SPECTRAL_NM420 SPECTRAL_NM440 SPECTRAL_NM460 SPECTRAL_NM480 SPECTRAL_NM500
SPECTRAL_NM520 SPECTRAL_NM540 SPECTRAL_NM560 SPECTRAL_NM580 SPECTRAL_NM600 SPECTRAL_NM620
SPECTRAL_NM640 SPECTRAL_NM660 SPECTRAL_NM680 SPECTRAL_NM700
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
1 "warm white" 93.1 0.2 4.0 60 74 79 81 82.5 83 84 84.5 85 86 86.5 87 87 87 87 87
2 "dull blue"  41.0 -3.1 -24.9 20 24 26 26 24 20 16 13 11 10 9.5 9.5 10 11 13 16
END_DATA
"""


def read(text: str | bytes) -> Measurements:
    return read_measurements(text if isinstance(text, bytes) else text.encode(), "a.txt")


def refused(text: str) -> str:
    with pytest.raises(MeasurementError) as error:
        read(text)
    said = str(error.value)
    assert said.startswith("a.txt ")
    assert said.endswith(".")
    assert "\n" not in said
    return said


def text_of(fields: str, *lines: str, head: str = "") -> str:
    parts = ["CGATS.17", head, "BEGIN_DATA_FORMAT", fields, "END_DATA_FORMAT"]
    return "\n".join([*parts, "BEGIN_DATA", *lines, "END_DATA", ""])


def row(name: str, values: Sequence[float] = VALUES, mark: str = ".") -> str:
    return " ".join([name, *(f"{v:g}".replace(".", mark) for v in values)])


def fields(pattern: str, nm: Sequence[int] = NM, first: str = "SAMPLE_ID") -> str:
    return " ".join([first, *(pattern.format(one) for one in nm)])


# ------------------------------------------------------------------ what is read


def test_a_small_file() -> None:
    told = read(SMALL)
    assert [s.name for s in told.samples] == ["warm white", "dull blue"]
    assert dict(told.conditions) == {
        "condition": "M1", "geometry": "45/0", "filter": "none", "backing": "white",
    }  # fmt: skip
    blue = told.samples[1]
    at = {nm: blue.reflectance[list(NM).index(nm)] for nm in (380, 400, 420, 700, 730)}
    # Percent by a hundred: one rounding.
    assert at == pytest.approx({380: 0.20, 400: 0.20, 420: 0.24, 700: 0.16, 730: 0.16}, rel=1e-15)
    assert blue.bands_measured.sum() == 31
    assert told.notes == (
        "The file does not name its unit; with numbers up to 87 they are read as percent.",
        "Measured every 20 nm from 400 nm; bands between are interpolated.",
        "Measured from 400 to 700 nm; bands outside are held at the nearest measured one.",
    )


@pytest.mark.parametrize(
    "pattern",
    [
        "SPECTRAL_NM{}", "SPECTRAL_NM_{}", "SPECTRAL_{}", "SPECTRAL{}", "SPECTRUM_{}", "SPEC_{}",
        "NM_{}", "nm{}", "NM{}", "R_{}", "R{}", "REFL_{}", "REFLECTANCE_{}", "{}", "{}nm", "{}_NM",
        "{}.0", "spectral_nm{},0",
    ],
)  # fmt: skip
def test_spellings_of_a_band(pattern: str) -> None:
    told = read(text_of(fields(pattern), row("A1")))
    np.testing.assert_array_equal(told.samples[0].reflectance, VALUES)


@pytest.mark.parametrize(
    "pattern", ["T_{}", "D_{}", "XYZ_{}", "CMYK_{}", "Q{}", "NM{}X", "SAMPLE_{}"]
)
def test_other_fields_with_numbers_are_no_bands(pattern: str) -> None:
    assert "holds no spectra" in refused(text_of(fields(pattern), row("A1")))


def test_bands_may_stand_in_any_order_among_other_fields() -> None:
    order = [*NM][::-1]
    head = "DATE " + fields("nm{}", order, "SAMPLE_NAME") + " LAB_L"
    told = read(text_of(head, f'2026 "a b" {row("", VALUES[::-1])} 50'))
    assert told.samples[0].name == "a b"
    np.testing.assert_array_equal(told.samples[0].reflectance, VALUES)


@pytest.mark.parametrize(
    "first", ["CGATS.17", "IT8.7/3", "CGATS.5", "XYZ measurements", "", "# hm"]
)
def test_any_first_line_will_do(first: str) -> None:
    assert len(read(first + text_of(fields("nm{}"), row("A1"))[8:]).samples) == 1


@pytest.mark.parametrize(
    "codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"]
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_ends_of_lines(codec: str, end: str) -> None:
    text = text_of(fields("nm{}"), row('"Grün 1"')).replace("\n", end)
    assert read(text.encode(codec)).samples[0].name == "Grün 1"


def test_decimal_commas() -> None:
    told = read(text_of(fields("nm{}"), row("A1", mark=","), row("A2", mark=".")))
    for sample in told.samples:
        np.testing.assert_array_equal(sample.reflectance, VALUES)


def test_words_parted_by_tabs_need_no_quotes() -> None:
    head = fields("nm{}", first="SAMPLE_NAME LAB_L").replace(" ", "\t")
    line = "\t".join(["dull blue #2", "", *map(str, VALUES), ""])
    told = read(text_of(head, line))
    assert told.samples[0].name == "dull blue #2"


@pytest.mark.parametrize(
    ("names", "labels", "expected"),
    [
        ("SAMPLE_ID SAMPLE_NAME", ["1 A1", "2 B1"], ["A1", "B1"]),
        ("SAMPLE_ID SAMPLE_NAME", ["1 patch", "2 patch"], ["1", "2"]),
        ("SAMPLE_ID SAMPLE_NAME", ['1 ""', "2 B1"], ["1", "2"]),
        ("SAMPLE_LOC", ["A1", "A2"], ["A1", "A2"]),
        ("SAMPLE_NAME", ["A1", "A1"], ["1", "2"]),
        ("SAMPLE_NAME", ["A1", "A1", "B"], ["A1", "A1 (2)", "B"]),
        ("CMYK_C", ["0", "10"], ["1", "2"]),
    ],
)
def test_what_names_a_sample(names: str, labels: list[str], expected: list[str]) -> None:
    told = read(text_of(fields("nm{}", first=names), *map(row, labels)))
    assert [s.name for s in told.samples] == expected


@pytest.mark.parametrize(
    ("head", "expected"),
    [
        ('MEASUREMENT_SOURCE "Illumination=D50 Filter=UVcut"', {"filter": "UVcut"}),
        ('MEASUREMENT_SOURCE "Filter=UVcut"\nFILTER "none"', {"filter": "none"}),
        ('MEASUREMENT_SOURCE "Filter=Unknown M10 XM1"\nFILTER "-"', {}),
        ('MEASUREMENT_CONDITION "M2"\nFILTER "M2"', {"condition": "M2"}),
        (
            'MEASUREMENT_GEOMETRY 0/45\nPOLARIZATION "yes"',
            {"geometry": "0/45", "polarisation": "yes"},
        ),
        ('ILLUMINATION_NAME "D50"\nOBSERVER_ANGLE "2"', {}),
    ],
)
def test_what_is_said_of_the_way_of_measuring(head: str, expected: dict[str, str]) -> None:
    assert dict(read(text_of(fields("nm{}"), row("A1"), head=head)).conditions) == expected


def test_a_string_is_a_note() -> None:
    told = read(text_of(fields("nm{}", first="SAMPLE_ID STRING"), row('A1 "two coats"')))
    assert told.samples[0].note == "two coats"


def test_several_tables() -> None:
    first = text_of("SAMPLE_ID LAB_L", "A1 50")
    second = text_of(fields("nm{}"), row("A1"))
    third = text_of(fields("nm{}", NM[2:]), row("A2", VALUES[2:]))
    told = read(first + second + third)
    assert [(s.name, int(s.bands_measured.sum())) for s in told.samples] == [("A1", 36), ("A2", 34)]


def test_tables_under_several_conditions() -> None:
    tables = [
        text_of(fields("nm{}"), row("A1", np.array(VALUES) * (1 - i / 10)), head=f"FILTER M{i}")
        for i in range(3)
    ]
    told = read("".join(tables))
    assert dict(told.conditions) == {"condition": "M1"}
    assert told.samples[0].reflectance[0] == pytest.approx(
        0.045, rel=1e-6
    )  # as printed, six digits


# ------------------------------------------------------------------ wavelengths as data


@pytest.mark.parametrize(("field", "scale"), [("SPECTRAL_DEC", 1), ("SPECTRAL_PCT", 100)])
def test_pairs_of_wavelength_and_value_in_a_set(field: str, scale: float) -> None:
    head = "SAMPLE_ID " + f"SPECTRAL_NM {field} " * 36
    lines = [
        name + " " + " ".join(f"{nm} {scale * v:.6g}" for nm, v in zip(NM, VALUES, strict=True))
        for name in ("A1", "A2")
    ]
    told = read(text_of(head, *lines))
    assert [s.name for s in told.samples] == ["A1", "A2"]
    np.testing.assert_allclose(told.samples[1].reflectance, VALUES, rtol=1e-15)
    assert told.notes == ()  # the field's own name tells the unit


def test_a_set_for_each_pair() -> None:
    lines = [
        f"{name} {nm} {100 * v:.6g}"
        for name in ("A1", "A2", "A2")  # the same name again starts over at 380 nm
        for nm, v in zip(NM, VALUES, strict=True)
    ]
    told = read(text_of("SAMPLE_ID SPECTRAL_NM SPECTRAL_PCT", *lines))
    assert [s.name for s in told.samples] == ["A1", "A2", "A2 (2)"]
    np.testing.assert_allclose(told.samples[2].reflectance, VALUES, rtol=1e-15)


def test_pairs_that_make_no_sense_are_refused() -> None:
    both = "SPECTRAL_NM SPECTRAL_PCT SPECTRAL_NM SPECTRAL_DEC"
    assert "mixes percent and fractions" in refused(text_of(both, "400 5 500 0.5"))
    twice = "SPECTRAL_NM SPECTRAL_PCT " * 2
    assert "two values at 400 nm" in refused(text_of(twice, "400 5 400 5"))
    assert "less than two" in refused(text_of("SPECTRAL_NM SPECTRAL_PCT", "400 5"))


# ------------------------------------------------------------------ what is refused


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ("LAB_L LAB_A LAB_B", "no spectra, only Lab;"),
        ("XYZ_X XYZ_Y XYZ_Z CMYK_C", "no spectra, only XYZ, CMYK;"),
        ("D_RED D_VIS", "no spectra, only density;"),
        ("WEIGHT", "no spectra; export spectral reflectance"),
    ],
)
def test_files_without_spectra(names: str, said: str) -> None:
    assert said in refused(text_of(names, " ".join("1" for _ in names.split())))


@pytest.mark.parametrize(
    ("head", "said"),
    [
        ('MEASUREMENT_SOURCE "Transmissive, D50"', "measurements of transmission"),
        ('MEAS_TYPE "EMISSION"', "measurements of emission"),
        ('DEVICE_CLASS "DISPLAY"', "measurements of emission"),
        ('MEASUREMENT_MODE "ambient light"', "measurements of emission"),
    ],
)
def test_other_kinds_of_spectra(head: str, said: str) -> None:
    assert said in refused(text_of(fields("nm{}"), row("A1"), head=head))


@pytest.mark.parametrize(
    "word",
    ["nan", "inf", "1e999", "-1e999", "0x1F", "1_0", "N/A", "-", "1.2.3", "1,2,3", "½", "٣", "0;1"],
)
def test_words_that_are_no_numbers(word: str) -> None:
    line = row("A1").replace(" 0.05 ", f" {word} ")
    assert f"has “{word}” where a number of “A1” should stand" in refused(
        text_of(fields("nm{}"), line)
    )


def test_an_empty_cell_is_a_missing_band() -> None:
    line = "\t".join(["A1", "", *map(str, VALUES[1:])])
    assert "has “” where a number of “A1”" in refused(text_of(fields("nm{}"), line))


def test_other_damage() -> None:
    whole = text_of(fields("nm{}"), row("A1"))
    assert "two values at 380 nm" in refused(text_of(fields("nm{}") + " R_380", row("A1") + " 1"))
    assert "missing bands between 420 and 440" in refused(
        text_of(fields("nm{}", [nm for nm in NM if nm != 430]), row("A1", VALUES[1:]))
    )
    assert "should have 37 entries" in refused(text_of(fields("nm{}"), row("A1", VALUES[1:])))
    assert "announces 2 sets" in refused(
        whole.replace("BEGIN_DATA\n", "NUMBER_OF_SETS 2\nBEGIN_DATA\n")
    )
    assert "cut short" in refused(whole[:-20])
    assert "-0.5 at 380 nm" in refused(whole.replace("0.05", "-0.5"))
    assert "covers 430 to 730 nm only" in refused(
        text_of(fields("nm{}", NM[5:]), row("A1", VALUES[5:]))
    )


@pytest.mark.parametrize(
    ("unit", "said"),
    [("percent", ""), ("%", ""), ("fraction of 1", "fractions of 1 but goes up to"), ("", "“A2”")],
)
def test_a_told_unit_is_believed(unit: str, said: str) -> None:
    lines = [row("A1", [100 * v for v in VALUES]), row("A2", [v / 36 for v in VALUES])]
    text = text_of(fields("nm{}"), *lines, head=f'MEASUREMENT_UNITS "{unit}"')
    if said:
        assert said in refused(text)
    else:
        assert read(text).samples[1].reflectance.max() < 0.01


# ------------------------------------------------------------------ round trips


@st.composite
def samples(draw) -> Sample:
    start, end = draw(st.integers(0, 4)), draw(st.integers(30, 35))
    curve = np.array(draw(st.lists(st.floats(0, 2), min_size=36, max_size=36)))
    bands = (np.arange(36) >= start) & (np.arange(36) <= end)
    name = draw(st.text(min_size=1, max_size=200).filter(clean))
    return Sample(name, curve, bands, draw(st.text(max_size=100)))


CONDITIONS = st.fixed_dictionaries(
    {},
    optional={
        "condition": st.sampled_from(["M0", "M1", "M2", "M3"]),
        "geometry": st.sampled_from(["45/0", "45/0 annular", "sphere, specular included"]),
        "filter": st.sampled_from(["none", "UV excluded", 'a "cut" # 3']),
        "polarisation": st.just("yes"),
        "backing": st.sampled_from(["white", "black felt"]),
        "aperture": st.just("4 mm"),
    },
)


@settings(max_examples=60, deadline=None)
@given(st.lists(samples(), min_size=1, max_size=4, unique_by=lambda s: s.name), CONDITIONS)
def test_what_is_written_is_read_back(written, conditions) -> None:
    told = read(write_cgats(written, WHEN, conditions))
    assert dict(told.conditions) == conditions
    assert len(told.samples) == len(written)
    for was, now in zip(written, told.samples, strict=True):
        assert (now.name, now.note) == (was.name, was.note)
        np.testing.assert_array_equal(now.bands_measured, was.bands_measured)
        assert now.reflectance.tolist() == [float(f"{v:.6f}") for v in was.reflectance]
    again = write_cgats(told.samples, WHEN, told.conditions)
    assert again == write_cgats(written, WHEN, conditions)  # nothing drifts


def test_what_is_written_is_plain() -> None:
    curve = np.linspace(0.1, 0.8, 36)
    text = write_cgats(
        [Sample("A1", curve, WAVELENGTHS_NM >= 400)], WHEN, {"condition": "M1"}
    ).decode()
    lines = text.split("\r\n")
    assert lines[:3] == [
        "CGATS.17",
        'ORIGINATOR "firstwash"',
        'CREATED "2026-03-01T09:30:00+00:00"',
    ]
    assert 'MEASUREMENT_SOURCE "MeasurementCondition=M1"' in lines
    head = lines[lines.index("BEGIN_DATA_FORMAT") + 1].split("\t")
    assert head[:3] == ["SAMPLE_ID", "SAMPLE_NAME", "SPECTRAL_NM400"]
    assert f"NUMBER_OF_FIELDS {len(head)}" in lines
    data = lines[lines.index("BEGIN_DATA") + 1].split("\t")
    assert data[:3] == ["1", '"A1"', "0.140000"]
    assert lines[-2:] == ["END_DATA", ""]


def test_what_cannot_be_written() -> None:
    one = Sample("A1", np.full(36, 0.5), np.ones(36, dtype=bool))
    for some in ([], [one, one]):
        with pytest.raises(MeasurementError):
            write_cgats(some, WHEN)
