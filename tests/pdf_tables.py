"""A PDF held against what PDF/A-2a and PDF/UA-1 ask of it, by readers that are not ours.

qpdf, through pikepdf, checks the file itself; what the standards ask is looked up in its objects:
tags, words for every figure, language, profile, fonts, marks of the standards, and nothing that
they forbid. Not all that they ask can be looked up so; the setter refuses the rest.
"""

import io
from collections.abc import Iterator
from typing import Any

import pikepdf
from PIL import ImageCms

PAINTS = {"Tj", "TJ", "'", '"', "Do", "f", "f*", "S", "s", "B", "B*", "b", "b*", "sh"}
FORBIDDEN = ("JavaScript", "Launch", "Movie", "Sound", "ImportData", "ResetForm")


def faults(content: bytes) -> list[str]:
    """What is wrong with a PDF, one sentence for each; [] for a good one."""
    with pikepdf.open(io.BytesIO(content)) as pdf:
        return [
            *(str(problem) for problem in pdf.check_pdf_syntax()),
            *_root(pdf), *_marks(pdf), *_profile(pdf), *_figures(pdf), *_fonts(pdf),
            *_see_through(pdf), *_tagged(pdf), *_actions(pdf),
        ]  # fmt: skip


def _root(pdf: pikepdf.Pdf) -> Iterator[str]:
    root = pdf.Root
    if not root.get("/MarkInfo", {}).get("/Marked"):
        yield "not marked as tagged"
    if "/StructTreeRoot" not in root:
        yield "no tree of tags"
    if not str(root.get("/Lang", "")):
        yield "no language"
    if not root.get("/ViewerPreferences", {}).get("/DisplayDocTitle"):
        yield "the title is not shown"
    if pdf.is_encrypted:
        yield "encrypted"
    if "/OCProperties" in root:
        yield "layers that may be hidden"


def _marks(pdf: pikepdf.Pdf) -> Iterator[str]:
    with pdf.open_metadata() as told:
        found = (told.get("pdfaid:part"), told.get("pdfaid:conformance"), told.get("pdfuaid:part"))
        if found != ("2", "A", "1"):
            yield f"marked as {found}"
        if not told.get("dc:title"):
            yield "no title"


def _profile(pdf: pikepdf.Pdf) -> Iterator[str]:
    intents = [o for o in pdf.Root.get("/OutputIntents", []) if o.S == "/GTS_PDFA1"]
    if len(intents) != 1:
        yield f"{len(intents)} profiles of output"
        return
    profile = ImageCms.ImageCmsProfile(io.BytesIO(intents[0].DestOutputProfile.read_bytes()))
    space = profile.profile.xcolor_space.strip()
    if space != "RGB" or "sRGB" not in ImageCms.getProfileDescription(profile):
        yield f"the profile of output is {ImageCms.getProfileDescription(profile)!r}"


def elements(pdf: pikepdf.Pdf) -> Iterator[Any]:
    """Every element of the tree of tags."""
    waiting = [pdf.Root.StructTreeRoot]
    while waiting:
        one = waiting.pop()
        if isinstance(one, pikepdf.Array):
            waiting += list(one)
        elif isinstance(one, pikepdf.Dictionary):
            if "/S" in one:
                yield one
            if "/K" in one:
                waiting.append(one.K)


def _figures(pdf: pikepdf.Pdf) -> Iterator[str]:
    if "/StructTreeRoot" not in pdf.Root:
        return
    for one in elements(pdf):
        if one.S == "/Figure" and len(str(one.get("/Alt", "")).strip()) < 3:
            yield "a figure that says nothing"


def resources(pdf: pikepdf.Pdf) -> Iterator[Any]:
    """The resources of every page, and of every drawing inside them, each once."""
    waiting = [page.obj.get("/Resources", {}) for page in pdf.pages]
    seen = set()
    while waiting:
        own = waiting.pop()
        yield own
        for drawing in own.get("/XObject", {}).values():
            if drawing.objgen not in seen and "/Resources" in drawing:
                seen.add(drawing.objgen)
                waiting.append(drawing.Resources)


def _fonts(pdf: pikepdf.Pdf) -> Iterator[str]:
    for own in resources(pdf):
        for font in own.get("/Font", {}).values():
            below = font.DescendantFonts[0] if "/DescendantFonts" in font else font
            kept = below.get("/FontDescriptor", {})
            if font.get("/Subtype") == "/Type3":
                continue  # drawn in the file itself
            if not any(f"/FontFile{n}" in kept for n in ("", "2", "3")):
                yield f"{font.BaseFont} is not embedded"
            if "/ToUnicode" not in font:
                yield f"{font.BaseFont} does not tell its letters"


def _see_through(pdf: pikepdf.Pdf) -> Iterator[str]:
    """Whatever is see-through, which some printers flatten badly, and colours of a press."""
    for own in resources(pdf):
        for state in own.get("/ExtGState", {}).values():
            if state.get("/SMask", "/None") != "/None":
                yield "a soft mask"
            if min(float(state.get("/ca", 1.0)), float(state.get("/CA", 1.0))) < 1.0:
                yield "paint that is see-through"
        for picture in own.get("/XObject", {}).values():
            if picture.get("/Subtype") == "/Image":
                if "/SMask" in picture:
                    yield "a picture that is see-through"
                if "CMYK" in str(picture.get("/ColorSpace", "")):
                    yield "a picture in colours of a press"
                if "JPX" in str(picture.get("/Filter", "")):
                    yield "a picture in JPEG 2000"


def _tagged(pdf: pikepdf.Pdf) -> Iterator[str]:
    """Paint outside every tag and every mark of mere decoration."""
    for number, page in enumerate(pdf.pages, 1):
        depth, loose = 0, 0
        for operands, operator in pikepdf.parse_content_stream(page):
            name = str(operator)
            if name in ("BDC", "BMC"):
                depth += 1
            elif name == "EMC":
                depth -= 1
            elif name in PAINTS and not depth:
                loose += 1
            del operands
        if loose:
            yield f"page {number}: {loose} paints without a tag"
        if depth:
            yield f"page {number}: marks are not closed"


def _actions(pdf: pikepdf.Pdf) -> Iterator[str]:
    for obj in pdf.objects:
        if isinstance(obj, pikepdf.Dictionary) and str(obj.get("/S", ""))[1:] in FORBIDDEN:
            yield f"an action: {obj.S}"
    if "/AA" in pdf.Root:
        yield "an action of the whole"
