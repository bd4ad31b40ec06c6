"""Spectral reflectance as CxF3 XML, in and out. [ISO17972-1].

A file holds objects, the samples, with curves of evenly spaced fractions of 1. Every curve
names a specification, which says where it starts, how wide its steps are and how it was
measured. Element names as in the public schema of CxF3.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from types import MappingProxyType
from typing import Final
from xml.etree.ElementTree import Element, ParseError, SubElement, TreeBuilder, indent, tostring

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import XMLParser

from firstwash.errors import MeasurementError
from firstwash.optics.grid import STEP_NM, WAVELENGTHS_NM
from firstwash.paints.instrument.numerals import first_bad, numbers
from firstwash.paints.instrument.resample import even
from firstwash.paints.instrument.samples import DIGITS, Reading, Sample, check_writable, clean

__all__ = ["read_cxf", "write_cxf"]

_SPACE: Final = "http://colorexchangeformat.com/CxF3-core"
_MAX_ELEMENTS: Final = 500_000  # 25 for each of the samples that are allowed
_MAX_MARKS: Final = 1_000_000  # signs that open a tag, or attributes; counted before parsing
_MAX_DEPTH: Final = 64
_MAX_TEXT: Final = 100_000  # letters of one curve

_COLOURS: Final = {
    "ColorCIELab": "Lab", "ColorCIELCh": "LCh", "ColorCIEXYZ": "XYZ", "ColorCIExyY": "xyY",
    "ColorCMYK": "CMYK", "ColorRGB": "RGB", "ColorSRGB": "RGB", "ColorDensity": "density",
}  # fmt: skip
_OTHER_SPECTRA: Final = {
    "TransmittanceSpectrum": "measurements of transmission",
    "EmissiveSpectrum": "measurements of emission",
    "CustomSpectrum": "spectra as loose points (CustomSpectrum)",
    "PrivateSpectrum": "locked spectra (PrivateSpectrum)",
}
_WANTED: Final = frozenset({
    "CxF", "Resources", "ObjectCollection", "Object", "Comment", "ColorValues",
    "DeviceColorValues", "ReflectanceSpectrum", "ColorSpecificationCollection",
    "ColorSpecification", "MeasurementSpec", "MeasurementType", "GeometryChoice", "EmissiveMode",
    "SphereGeometry", "SingleAngle", "SingleAngleConfiguration", "IlluminationAngle",
    "MeasurementAngle", "UnknownGeometry", "MultiAngle", "WavelengthRange", "Aperture", "Backing",
    "Device", "DeviceFilter", "DeviceIllumination", "DevicePolarization",
    *_COLOURS, *_OTHER_SPECTRA,
})  # fmt: skip
_TYPES: Final = {
    "Spectrum_Transmittance": "transmission", "Spectrum_TotalTransmittance": "transmission",
    "Spectrum_Emissive": "emission",
}  # fmt: skip
_SPHERES: Final = {
    "Specular_Included": "sphere, specular included",
    "Specular_Excluded": "sphere, specular excluded",
    "Diffuse": "sphere, diffuse",
}
_FILTERS: Final = {
    "Filter_None": "none", "Filter_UVExcluded": "UV excluded", "Filter_UVD65": "UV as in D65",
    "Filter_Partial": "UV in part",
}  # fmt: skip
_LIGHTS: Final = {
    "M0": "M0_Incandescent", "M1": "M1_Daylight", "M2": "M2_UVExcluded", "M3": "M3_Polarized",
}  # fmt: skip
_NOT_TOLD: Final = "not told"
_ANGLES: Final = re.compile(r"(\d+(?:\.\d+)?)/(\d+(?:\.\d+)?) (annular|uniplanar)", re.ASCII)
_OF_M: Final = re.compile(r"(M[0-3])_")


# ------------------------------------------------------------------ in


class _Wanted(TreeBuilder):
    """Builds the tree of the elements we know, without their namespace, within limits."""

    def __init__(self, file: str) -> None:
        super().__init__()
        self._file, self._depth, self._count, self._skipped = file, 0, 0, 0

    def start(self, tag: str, attrs: dict[str, str], /) -> Element:
        """Take an element in, or skip it with all it holds."""
        self._depth += 1
        self._count += 1
        if self._depth > _MAX_DEPTH or self._count > _MAX_ELEMENTS:
            raise _too_large(self._file)
        space, _, local = tag.rpartition("}")
        known = space in ("", "{" + _SPACE)
        if self._depth == 1 and not (known and local == "CxF"):
            raise MeasurementError(
                f"{self._file} is XML but not CxF3; export the spectra as CxF3 or CGATS.17."
            )
        if self._skipped or not known or local not in _WANTED:
            self._skipped += 1
            return Element(local)
        return super().start(local, attrs)

    def end(self, tag: str, /) -> Element:
        """Close an element."""
        self._depth -= 1
        local = tag.rpartition("}")[2]
        if self._skipped:
            self._skipped -= 1
            return Element(local)
        return super().end(local)

    def data(self, data: str, /) -> None:
        """Keep text of elements that are taken in."""
        if not self._skipped:
            super().data(data)


def _too_large(file: str) -> MeasurementError:
    return MeasurementError(f"{file} is too large or too deep; export fewer samples at a time.")


def _tree(data: bytes, file: str) -> Element:
    if max(data.count(b"<"), data.count(b"=")) > _MAX_MARKS:
        raise _too_large(file)
    parser = XMLParser(target=_Wanted(file), forbid_dtd=True)
    try:
        parser.feed(data)
        root: Element = parser.close()
    except DefusedXmlException:
        raise MeasurementError(
            f"{file} defines a document type or entities, which CxF3 does not use; export it again."
        ) from None
    except (ParseError, ValueError, LookupError, AssertionError):
        raise MeasurementError(f"{file} is damaged or cut short; export it again.") from None
    return root


def read_cxf(data: bytes, file: str) -> list[Reading]:
    """The curves of a CxF3 file in their order; `file`: what to call it in messages.

    Raises MeasurementError, in one sentence, for anything but spectral reflectance.
    """
    root = _tree(data, file)
    ways = _Ways(root, file)
    readings = [
        reading
        for number, one in enumerate(root.iterfind("Resources/ObjectCollection/Object"), 1)
        for reading in _of_object(one, number, ways, file)
    ]
    if not readings:
        raise MeasurementError(_no_spectra(root, file))
    return readings


def _no_spectra(root: Element, file: str) -> str:
    tags = dict.fromkeys(element.tag for element in root.iter())
    for tag, what in _OTHER_SPECTRA.items():
        if tag in tags:
            return f"{file} holds {what}; export spectral reflectance of dry paint at even steps."
    kinds = dict.fromkeys(_COLOURS[tag] for tag in tags if tag in _COLOURS)
    only = f", only {', '.join(kinds)}" if kinds else ""
    return f"{file} holds no spectra{only}; export spectral reflectance."


def _of_object(one: Element, number: int, ways: "_Ways", file: str) -> Iterator[Reading]:
    name = clean(one.get("Name", "")) or clean(one.get("Id", "")) or str(number)
    of_type = _OF_M.match(one.get("ObjectType", ""))
    for spectrum in one.iterfind("ColorValues/ReflectanceSpectrum"):
        spec = ways.spec(spectrum, name)
        conditions = ways.conditions(spec)
        if of_type and conditions.get("condition", of_type[1]) == of_type[1]:
            # Some programs say the condition by the object's type and before its name.
            conditions = MappingProxyType({"condition": of_type[1], **conditions})
            name = name.removeprefix(of_type[0]) or name
        words = _words(spectrum, name, file)
        grid = ways.grid(spectrum, spec, len(words), name)
        try:
            values = numbers(words)
        except ValueError:
            raise MeasurementError(
                f"{file} has “{clean(first_bad(words), 40)}” where a number of “{name}” "
                f"should stand; measure it again or leave it out."
            ) from None
        yield Reading(name, grid, values, conditions, False, clean(_text(one, "Comment"), 500))


def _words(spectrum: Element, name: str, file: str) -> list[str]:
    text = spectrum.text or ""
    words = text.split() if len(text) <= _MAX_TEXT else []
    if not words:
        raise MeasurementError(
            f"{file} has no readable spectrum for “{name}”; measure it again or leave it out."
        )
    return words


def _text(parent: Element, path: str) -> str:
    return (parent.findtext(path) or "").strip()


class _Ways:
    """The specifications of a file: wavelengths and ways of measuring, each worked out once."""

    def __init__(self, root: Element, file: str) -> None:
        path = "Resources/ColorSpecificationCollection/ColorSpecification"
        self._file = file
        self._specs = {spec.get("Id"): spec for spec in root.iterfind(path)}
        self._conditions: dict[Element, Mapping[str, str]] = {}
        self._grids: dict[tuple[str, str, int], tuple[float, ...]] = {}

    def spec(self, spectrum: Element, name: str) -> Element:
        """The specification that a curve names."""
        spec = self._specs.get(spectrum.get("ColorSpecification"))
        if spec is None:
            raise MeasurementError(self._no_wavelengths(name))
        return spec

    def _no_wavelengths(self, name: str) -> str:
        return (
            f"{self._file} does not say at which wavelengths “{name}” was measured; "
            f"export it again with its measurement settings."
        )

    def grid(self, spectrum: Element, spec: Element, n: int, name: str) -> tuple[float, ...]:
        """The even wavelengths of a curve of n values."""
        told = spec.find("MeasurementSpec/WavelengthRange")
        range_of = told.attrib if told is not None else {}
        start = spectrum.get("StartWL", "") or range_of.get("StartWL", "")
        step = range_of.get("Increment", "")
        key = (start, step, n)
        if key not in self._grids:
            try:
                first, wide = numbers([start, step])
            except ValueError:
                raise MeasurementError(self._no_wavelengths(name)) from None
            if not (1 <= wide <= 1000 and 0 <= first <= 10_000):
                raise MeasurementError(self._no_wavelengths(name))
            self._grids[key] = even([first + wide * i for i in range(n)], self._file)
        return self._grids[key]

    def conditions(self, spec: Element) -> Mapping[str, str]:
        """What a specification says of the way of measuring, if that is reflectance."""
        if spec not in self._conditions:
            self._check_reflected(spec)
            self._conditions[spec] = MappingProxyType(_conditions(spec))
        return self._conditions[spec]

    def _check_reflected(self, spec: Element) -> None:
        kind = _text(spec, "MeasurementSpec/MeasurementType")
        geometry = spec.find("MeasurementSpec/GeometryChoice")
        inside = {element.tag for element in geometry} if geometry is not None else set()
        what = _TYPES.get(kind) or ("emission" if "EmissiveMode" in inside else "")
        if not what and kind not in ("", "Spectrum_Reflectance"):
            what = f"a kind called “{clean(kind, 40)}”"
        if "MultiAngle" in inside:
            what = "reflectance at many angles"
        if what:
            raise MeasurementError(
                f"{self._file} holds measurements of {what}; "
                f"measure the reflectance of dry paint at one angle."
            )


def _conditions(spec: Element) -> dict[str, str]:
    device = "MeasurementSpec/Device/"
    light = _OF_M.match(_text(spec, device + "DeviceIllumination"))
    crossed = _text(spec, device + "DevicePolarization") in ("true", "1")
    told = {
        "condition": light[1] if light else "",
        "geometry": _geometry(spec),
        "filter": _filter(spec.find(device + "DeviceFilter")),
        "polarisation": "yes" if crossed else "",
        "backing": _text(spec, "MeasurementSpec/Backing"),
        "aperture": _text(spec, "MeasurementSpec/Aperture"),
    }
    return {key: clean(value, 60) for key, value in told.items() if clean(value)}


def _geometry(spec: Element) -> str:
    choice = "MeasurementSpec/GeometryChoice/"
    sphere = _text(spec, choice + "SphereGeometry")
    if sphere:
        return _SPHERES.get(sphere, sphere)
    single = choice + "SingleAngle/"
    angles = [_text(spec, f"{single}{what}Angle") for what in ("Illumination", "Measurement")]
    if all(angles):
        way = _text(spec, single + "SingleAngleConfiguration").lower()
        plain = [re.sub(r"\.0*$", "", angle) for angle in angles]
        return f"{plain[0]}/{plain[1]} {way}".strip()
    other = _text(spec, choice + "UnknownGeometry")
    return "" if other == _NOT_TOLD else other


def _filter(element: Element | None) -> str:
    if element is None:
        return ""
    kind = (element.text or "").strip()
    return _FILTERS.get(kind, element.get("FilterDescription", "") or kind)


# ------------------------------------------------------------------ out


def write_cxf(
    samples: Sequence[Sample], created: datetime, conditions: Mapping[str, str] | None = None
) -> bytes:
    """A CxF3 file of these samples, in UTF-8, reflectance with six decimals.

    Only bands that were measured are written. conditions: as in `Measurements`; other keys are
    left out. The schema wants the first band at 400 nm or below; a sample that was measured from
    410 or 420 nm only is written as it is. Raises MeasurementError when there is no sample or
    two have one name.
    """
    check_writable(samples)
    date = created.isoformat(timespec="seconds")
    root = Element("CxF", xmlns=_SPACE)
    about = SubElement(root, "FileInformation")
    _add(about, "Creator", "firstwash")
    _add(about, "CreationDate", date)
    resources = SubElement(root, "Resources")
    objects = SubElement(resources, "ObjectCollection")
    specs: dict[int, str] = {}
    for number, sample in enumerate(samples, 1):
        start = int(WAVELENGTHS_NM[sample.bands_measured][0])
        _add_object(objects, sample, number, date, specs.setdefault(start, f"from{start}"))
    collection = SubElement(resources, "ColorSpecificationCollection")
    for start, key in specs.items():
        _add_spec(SubElement(collection, "ColorSpecification", Id=key), start, conditions or {})
    indent(root)
    return bytes(tostring(root, encoding="utf-8", xml_declaration=True))


def _add(parent: Element, tag: str, text: str) -> Element:
    child = SubElement(parent, tag)
    child.text = text
    return child


def _add_object(objects: Element, sample: Sample, number: int, date: str, spec: str) -> None:
    one = SubElement(objects, "Object", ObjectType="Standard", Name=sample.name, Id=f"s{number}")
    _add(one, "CreationDate", date)
    if sample.note:
        _add(one, "Comment", sample.note)
    values = sample.reflectance[sample.bands_measured]
    text = " ".join(f"{value:.{DIGITS}f}" for value in values)
    curve = _add(SubElement(one, "ColorValues"), "ReflectanceSpectrum", text)
    curve.set("ColorSpecification", spec)


def _add_spec(spec: Element, start: int, conditions: Mapping[str, str]) -> None:
    """How samples that start at one wavelength were measured; the order is the schema's."""
    told = {key: clean(value, 60) for key, value in conditions.items()}
    way = SubElement(spec, "MeasurementSpec")
    _add(way, "MeasurementType", "Spectrum_Reflectance")
    _add_geometry(SubElement(way, "GeometryChoice"), told.get("geometry", ""))
    SubElement(way, "WavelengthRange", StartWL=str(start), Increment=str(STEP_NM))
    for key, tag in (("aperture", "Aperture"), ("backing", "Backing")):
        if told.get(key):
            _add(way, tag, told[key])
    device = SubElement(way, "Device")
    if told.get("filter"):
        kinds = {words: kind for kind, words in _FILTERS.items()}
        kind = kinds.get(told["filter"], "Filter_Custom")
        made = _add(device, "DeviceFilter", kind)
        if kind == "Filter_Custom":
            made.set("FilterDescription", told["filter"])
    if told.get("condition") in _LIGHTS:
        _add(device, "DeviceIllumination", _LIGHTS[told["condition"]])
    if told.get("polarisation") == "yes":
        _add(device, "DevicePolarization", "true")


def _add_geometry(choice: Element, geometry: str) -> None:
    sphere = {words: kind for kind, words in _SPHERES.items()}.get(geometry)
    angles = _ANGLES.fullmatch(geometry)
    if sphere:
        _add(choice, "SphereGeometry", sphere)
    elif angles:
        single = SubElement(choice, "SingleAngle")
        _add(single, "SingleAngleConfiguration", angles[3].capitalize())
        _add(single, "IlluminationAngle", angles[1])
        _add(single, "MeasurementAngle", angles[2])
    else:
        _add(choice, "UnknownGeometry", geometry or _NOT_TOLD)
