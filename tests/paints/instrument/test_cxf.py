"""CxF3: what is read, what is refused, and round trips. All numbers are invented."""

from datetime import UTC, datetime
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstwash.errors import MeasurementError
from firstwash.optics.grid import WAVELENGTHS_NM
from firstwash.paints.instrument.cxf import write_cxf
from firstwash.paints.instrument.read import read_measurements
from firstwash.paints.instrument.samples import Measurements, Sample, clean

WHEN = datetime(2026, 3, 1, 9, 30, tzinfo=UTC)
SPACE = "http://colorexchangeformat.com/CxF3-core"
VALUES = [round(0.05 + 0.02 * i, 4) for i in range(36)]
CURVE = " ".join(map(str, VALUES))

# As the schema of [ISO17972-1] has it; the second sample is measured from 400 to 700 nm.
SMALL = f"""<?xml version="1.0" encoding="UTF-8"?>
<cc:CxF xmlns:cc="{SPACE}" xmlns:own="urn:own">
  <cc:FileInformation><cc:Creator>nobody</cc:Creator></cc:FileInformation>
  <cc:Resources>
    <cc:ObjectCollection>
      <cc:Object ObjectType="Target" Name="warm &amp; white" Id="c1">
        <cc:CreationDate>2026-03-01T09:30:00Z</cc:CreationDate>
        <cc:Comment>on rough paper</cc:Comment>
        <cc:ColorValues>
          <cc:ColorCIELab ColorSpecification="way"><cc:L>93</cc:L><cc:A>0</cc:A><cc:B>4</cc:B>
          </cc:ColorCIELab>
          <cc:ReflectanceSpectrum ColorSpecification="way" StartWL="380">
            {CURVE}
          </cc:ReflectanceSpectrum>
        </cc:ColorValues>
        <cc:TagCollection Name="Location"><cc:Tag Name="Row" Value="0"/></cc:TagCollection>
        <own:ReflectanceSpectrum>1 2 3</own:ReflectanceSpectrum>
      </cc:Object>
      <cc:Object ObjectType="Target" Name="" Id="c2">
        <cc:CreationDate>2026-03-01T09:30:00Z</cc:CreationDate>
        <cc:ColorValues>
          <cc:ReflectanceSpectrum ColorSpecification="way" StartWL="400">
            {" ".join(map(str, VALUES[2:-3]))}
          </cc:ReflectanceSpectrum>
        </cc:ColorValues>
      </cc:Object>
    </cc:ObjectCollection>
    <cc:ColorSpecificationCollection>
      <cc:ColorSpecification Id="way">
        <cc:TristimulusSpec><cc:Illuminant>D50</cc:Illuminant></cc:TristimulusSpec>
        <cc:MeasurementSpec>
          <cc:MeasurementType>Spectrum_Reflectance</cc:MeasurementType>
          <cc:GeometryChoice>
            <cc:SingleAngle>
              <cc:SingleAngleConfiguration>Annular</cc:SingleAngleConfiguration>
              <cc:IlluminationAngle>45.0</cc:IlluminationAngle>
              <cc:MeasurementAngle>0</cc:MeasurementAngle>
            </cc:SingleAngle>
          </cc:GeometryChoice>
          <cc:WavelengthRange StartWL="380" Increment="10"/>
          <cc:Backing>white</cc:Backing>
          <cc:Device>
            <cc:Model>none</cc:Model>
            <cc:DeviceFilter>Filter_None</cc:DeviceFilter>
            <cc:DeviceIllumination>M0_Incandescent</cc:DeviceIllumination>
            <cc:DevicePolarization>false</cc:DevicePolarization>
          </cc:Device>
        </cc:MeasurementSpec>
      </cc:ColorSpecification>
    </cc:ColorSpecificationCollection>
  </cc:Resources>
</cc:CxF>
"""


def read(data: str | bytes) -> Measurements:
    return read_measurements(data if isinstance(data, bytes) else data.encode(), "a.cxf")


def refused(data: str | bytes) -> str:
    with pytest.raises(MeasurementError) as error:
        read(data)
    said = str(error.value)
    assert said.startswith("a.cxf ")
    assert said.endswith(".")
    assert "\n" not in said
    return said


def swapped(old: str, new: str, count: int = -1) -> str:
    assert old in SMALL
    return SMALL.replace(old, new, count)


# ------------------------------------------------------------------ what is read


def test_a_small_file() -> None:
    told = read(SMALL)
    assert [s.name for s in told.samples] == ["warm & white", "c2"]
    assert [s.note for s in told.samples] == ["on rough paper", ""]
    np.testing.assert_array_equal(told.samples[0].reflectance, VALUES)
    np.testing.assert_array_equal(told.samples[1].reflectance[2:-3], VALUES[2:-3])
    assert told.samples[1].bands_measured.sum() == 31
    assert dict(told.conditions) == {
        "condition": "M0", "geometry": "45/0 annular", "filter": "none", "backing": "white",
    }  # fmt: skip
    assert told.notes == (
        "Measured from 400 to 700 nm; bands outside are held at the nearest measured one "
        "(1 sample).",
    )


@pytest.mark.parametrize("spelled", [
    SMALL.replace("cc:", "").replace("xmlns:cc", "xmlns"),
    SMALL.replace("cc:", "").replace(f'xmlns:cc="{SPACE}"', ""),
    SMALL.replace("cc:", "x-1:").replace("xmlns:cc", "xmlns:x-1"),
])  # fmt: skip
def test_prefixes_do_not_matter(spelled: str) -> None:
    assert len(read(spelled).samples) == 2


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_encodings(codec: str) -> None:
    text = swapped("warm &amp; white", "grün").replace("UTF-8", codec.removesuffix("-sig"))
    assert read(text.encode(codec)).samples[0].name == "grün"


def test_the_start_may_stand_in_the_specification_only() -> None:
    told = read(swapped(' StartWL="380">', ">").replace(' StartWL="400"', ""))
    assert told.samples[1].bands_measured.sum() == 31
    assert told.samples[1].reflectance[0] == VALUES[2]  # taken to start at 380 nm, as it says


@pytest.mark.parametrize(
    ("old", "new", "key", "expected"),
    [
        ("M0_Incandescent", "M1_Daylight", "condition", "M1"),
        ("M0_Incandescent", "LED", "condition", None),
        ("<cc:Model>none</cc:Model>", "<cc:Model/>", "filter", "none"),
        ("Filter_None", "Filter_UVExcluded", "filter", "UV excluded"),
        (">Filter_None<", ' FilterDescription="420 nm cut">Filter_Custom<', "filter", "420 nm cut"),
        ("Filter_None", "Filter_Custom", "filter", "Filter_Custom"),
        (">false<", ">true<", "polarisation", "yes"),
        ("45.0<", "8<", "geometry", "8/0 annular"),
    ],
)
def test_conditions(old: str, new: str, key: str, expected: str | None) -> None:
    assert read(SMALL.replace(old, new)).conditions.get(key) == expected


GEOMETRY = SMALL[SMALL.index("<cc:SingleAngle>") : SMALL.index("</cc:GeometryChoice>")]


@pytest.mark.parametrize(
    ("geometry", "expected"),
    [
        ("<cc:SphereGeometry>Specular_Included</cc:SphereGeometry>", "sphere, specular included"),
        ("<cc:UnknownGeometry>by eye</cc:UnknownGeometry>", "by eye"),
        ("", None),
    ],
)
def test_geometries(geometry: str, expected: str | None) -> None:
    assert read(swapped(GEOMETRY, geometry)).conditions.get("geometry") == expected


def test_a_sample_measured_under_several_conditions() -> None:
    """Each object has a curve for each specification."""
    way = SMALL[SMALL.index("<cc:ColorSpecification Id") : SMALL.index("</cc:ColorSpecificationCo")]
    curve = SMALL[SMALL.index("<cc:ReflectanceSpectrum") : SMALL.index("</cc:ColorValues>")]
    text = swapped(way, way + way.replace('"way"', '"day"').replace("M0_Inc", "M1_Inc"))
    second = SMALL[
        SMALL.index('<cc:Object ObjectType="Target" Name=""') : SMALL.index("</cc:ObjectC")
    ]
    dimmer = curve.replace('"way"', '"day"').replace("0.05 ", "0.04 ")
    told = read(text.replace(second, "").replace(curve, curve + dimmer))
    assert dict(told.conditions)["condition"] == "M1"
    assert [s.reflectance[0] for s in told.samples] == [0.04]
    assert "those measured with M1" in told.notes[0]


def test_a_condition_told_by_the_objects_type() -> None:
    """Some programs put it there, and before the name."""
    text = swapped("<cc:DeviceIllumination>M0_Incandescent</cc:DeviceIllumination>", "")
    text = text.replace('"Target" Name="warm', '"M2_Measurement" Name="M2_warm')
    told = read(text.replace('"Target" Name="" Id="c2"', '"M2_Measurement" Name="M2_" Id="c2"'))
    assert told.conditions["condition"] == "M2"
    assert [s.name for s in told.samples] == ["warm & white", "M2_"]


# ------------------------------------------------------------------ what is refused


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("Spectrum_Reflectance", "Spectrum_Transmittance", "measurements of transmission"),
        ("Spectrum_Reflectance", "Spectrum_TotalTransmittance", "measurements of transmission"),
        ("Spectrum_Reflectance", "Spectrum_Emissive", "measurements of emission"),
        ("Spectrum_Reflectance", "Spectrum_Custom", "a kind called “Spectrum_Custom”"),
        (GEOMETRY, "<cc:EmissiveMode>EmissiveMode_Other</cc:EmissiveMode>", "of emission"),
        (GEOMETRY, "<cc:MultiAngle/>", "reflectance at many angles"),
        ("cc:ReflectanceSpectrum", "cc:TransmittanceSpectrum", "measurements of transmission"),
        ("cc:ReflectanceSpectrum", "cc:EmissiveSpectrum", "measurements of emission"),
        ("cc:ReflectanceSpectrum", "cc:CustomSpectrum", "loose points"),
        ("cc:ReflectanceSpectrum", "cc:PrivateSpectrum", "locked spectra"),
        ("cc:ReflectanceSpectrum", "own:ReflectanceSpectrum", "no spectra, only Lab"),
        ("cc:ColorValues", "cc:Values", "no spectra; export"),
        ('ColorSpecification="way"', 'ColorSpecification="lost"', "at which wavelengths “warm"),
        ('Increment="10"', "", "at which wavelengths “warm"),
        ('Increment="10"', 'Increment="ten"', "at which wavelengths"),
        ('Increment="10"', 'Increment="0"', "at which wavelengths"),
        ('Increment="10"', 'Increment="-10"', "at which wavelengths"),
        ('Increment="10"', 'Increment="1e999"', "at which wavelengths"),
        ('Increment="10"', 'Increment="25"', "every 25 nm"),
        ('Increment="10"', 'Increment="5"', "covers 380 to 555 nm only"),
        ('StartWL="380">', 'StartWL="440">', "covers 440 to 790 nm only"),
        ("0.05 ", "nan ", "has “nan” where a number of “warm & white” should stand"),
        ("0.05 ", "1e999 ", "has “1e999” where"),
        ("0.05 ", "<cc:b/> - ", "has “-” where"),
        ("0.05 ", "-0.05 ", "a reflectance of -0.05 at 380 nm"),
        ("0.05 ", "5 ", "fractions of 1 but goes up to 5"),
        (CURVE, "", "no readable spectrum for “warm & white”"),
        (CURVE, "1" * 100_001, "no readable spectrum"),
        (CURVE, "0.5", "covers less than two wavelengths"),
        ("</cc:Resources>", "", "damaged or cut short"),
        (SPACE, "http://colorexchangeformat.com/v2", "is XML but not CxF3"),
        ("cc:CxF", "cc:Colours", "is XML but not CxF3"),
    ],
)
def test_what_makes_no_sense_is_refused(old: str, new: str, said: str) -> None:
    assert said in refused(swapped(old, new))


BOMB = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10}">' for i in range(1, 12))


@pytest.mark.parametrize(
    "kind",
    [
        f'<!DOCTYPE x [<!ENTITY l0 "ha">{BOMB}]>',
        '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]>',
        '<!DOCTYPE x SYSTEM "http://localhost/x.dtd">',
        '<!DOCTYPE x [<!ENTITY % p SYSTEM "http://localhost/x.dtd"> %p;]>',
        "<!DOCTYPE x>",
    ],
)
def test_document_types_and_entities_are_refused(kind: str) -> None:
    text = swapped("<cc:CxF", kind + "<cc:CxF").replace("warm", "&e;&l11;")
    assert "document type or entities" in refused(text)


@pytest.mark.parametrize("unknown", ["&e;", "&lol;", "&#0;", "&#xFFFE;", "\x00", "<", "\x1b"])
def test_what_xml_does_not_allow_is_damage(unknown: str) -> None:
    assert "damaged or cut short" in refused(swapped("nobody", unknown))


@pytest.mark.parametrize(
    "codec",
    ["utf-7", "utf-32", "idna", "punycode", "base64", "cp037", "shift_jis", "no-such", "\u20ac"],
)
def test_wrong_encodings_are_damage(codec: str) -> None:
    assert "damaged or cut short" in refused(swapped("UTF-8", codec))


def test_latin_letters_said_to_be_utf_8_are_damage() -> None:
    assert "damaged" in refused(swapped("nobody", "grün").encode("latin-1"))


@pytest.mark.parametrize(
    "inside",
    [
        "<Resources>" * 200_000,
        "<a>" * 100,
        "<a/>" * 500_001,
        "<a/>" * 1_000_001,
        "<a " + " ".join(f'a{i}=""' for i in range(1_000_001)) + "/>",
    ],
)
def test_what_is_too_large_or_too_deep_is_refused(inside: str) -> None:
    assert "too large or too deep" in refused(f'<CxF xmlns="{SPACE}">{inside}</CxF>')


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
        "geometry": st.sampled_from(
            ["45/0", "45/0 annular", "8/7.5 uniplanar", "sphere, specular excluded", "<by eye>"]
        ),
        "filter": st.sampled_from(["none", "UV excluded", 'a "cut" & more']),
        "polarisation": st.just("yes"),
        "backing": st.sampled_from(["white", "black felt"]),
        "aperture": st.just("4 mm"),
    },
)


@settings(max_examples=60, deadline=None)
@given(st.lists(samples(), min_size=1, max_size=4, unique_by=lambda s: s.name), CONDITIONS)
def test_what_is_written_is_read_back(written, conditions) -> None:
    told = read(write_cxf(written, WHEN, conditions))
    assert dict(told.conditions) == conditions
    assert len(told.samples) == len(written)
    for was, now in zip(written, told.samples, strict=True):
        assert (now.name, now.note) == (was.name, was.note)
        np.testing.assert_array_equal(now.bands_measured, was.bands_measured)
        assert now.reflectance.tolist() == [float(f"{v:.6f}") for v in was.reflectance]
    again = write_cxf(told.samples, WHEN, told.conditions)
    assert again == write_cxf(written, WHEN, conditions)  # nothing drifts


def test_what_is_written_follows_the_schema() -> None:
    """Elements that the schema requires, in its order; all references lead somewhere."""
    some = [
        Sample("A1", np.full(36, 0.5), np.ones(36, dtype=bool), "a note"),
        Sample("A2", np.full(36, 0.5), WAVELENGTHS_NM >= 400),
    ]
    conditions = {
        "condition": "M1", "geometry": "45/0 annular", "filter": "none", "backing": "white",
        "aperture": "4 mm", "polarisation": "yes",
    }  # fmt: skip
    root = ElementTree.fromstring(write_cxf(some, WHEN, conditions))

    def below(path: str) -> list[str]:
        found = root.find("/".join(f"{{{SPACE}}}{tag}" for tag in path.split("/")))
        assert found is not None, path
        return [child.tag.removeprefix(f"{{{SPACE}}}") for child in found]

    assert [child.tag for child in root] == [
        f"{{{SPACE}}}{t}" for t in ("FileInformation", "Resources")
    ]
    assert below("Resources") == ["ObjectCollection", "ColorSpecificationCollection"]
    assert below("Resources/ObjectCollection/Object") == ["CreationDate", "Comment", "ColorValues"]
    way = "Resources/ColorSpecificationCollection/ColorSpecification/MeasurementSpec"
    assert below(way) == [
        "MeasurementType", "GeometryChoice", "WavelengthRange", "Aperture", "Backing", "Device",
    ]  # fmt: skip
    assert below(f"{way}/Device") == ["DeviceFilter", "DeviceIllumination", "DevicePolarization"]
    ids = {spec.get("Id") for spec in root.iter(f"{{{SPACE}}}ColorSpecification")}
    named = [c.get("ColorSpecification") for c in root.iter(f"{{{SPACE}}}ReflectanceSpectrum")]
    assert named == ["from380", "from400"]
    assert set(named) == ids
    objects = list(root.iter(f"{{{SPACE}}}Object"))
    assert all({"Name", "Id", "ObjectType"} <= set(one.keys()) for one in objects)


def test_what_cannot_be_written() -> None:
    one = Sample("A1", np.full(36, 0.5), np.ones(36, dtype=bool))
    for some in ([], [one, one]):
        with pytest.raises(MeasurementError):
            write_cxf(some, WHEN)
