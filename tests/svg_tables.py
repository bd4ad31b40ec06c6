"""A drawing read against the tables of SVG 1.1, by a validator that is not ours.

svgwrite holds the specification's tables of elements, attributes, kinds of values and children;
each element of a drawing is looked up there.
"""

from collections.abc import Iterator
from xml.etree.ElementTree import Element

from defusedxml.ElementTree import fromstring
from svgwrite.validator2 import get_validator

SVG = "{http://www.w3.org/2000/svg}"
# Of SVG 2 and HTML, which every reader of SVG 1.1 passes over.
NEWER = ("role", "aria-label", "aria-labelledby")
TABLES = get_validator("full", debug=True)


def faults(svg: str) -> list[str]:
    """What the tables have against a drawing, one sentence for each; [] for a good one."""
    root = fromstring(svg)
    found = [] if root.tag == f"{SVG}svg" else ["the root is no svg of that namespace"]
    return found + list(_of(root)) + list(_ids(root))


def _of(element: Element) -> Iterator[str]:
    name = element.tag.removeprefix(SVG)
    if not TABLES.is_valid_elementname(name):
        yield f"<{name}> is no element of SVG 1.1"
        return
    told = {k: v for k, v in element.attrib.items() if k not in NEWER and not k.startswith("data-")}
    for key, value in told.items():
        try:
            TABLES.check_all_svg_attribute_values(name, {key: value})
        except (ValueError, TypeError) as error:
            yield str(error)
    if (element.text or "").strip() and name not in ("title", "desc", "text", "tspan"):
        yield f"<{name}> holds text"
    for child in element:
        below = child.tag.removeprefix(SVG)
        if TABLES.is_valid_elementname(below) and not TABLES.is_valid_children(name, below):
            yield f"<{below}> may not stand in <{name}>"
        yield from _of(child)


def _ids(root: Element) -> Iterator[str]:
    """Names that are given twice, and places that are pointed at and are not there."""
    own = [e.get("id") for e in root.iter() if e.get("id")]
    yield from (f"{name!r} is a name given twice" for name in {n for n in own if own.count(n) > 1})
    for element in root.iter():
        for value in element.attrib.values():
            if value.startswith("url(#") and value[5:-1] not in own:
                yield f"{value} points at nothing"
