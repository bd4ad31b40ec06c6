"""The small drawing of a glaze's light: safe, legible, and true to the spectra."""

import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from firstwash.advice import glaze_chart
from firstwash.advice.glaze_chart import light_chart_svg
from firstwash.advice.glaze_reasons import WhyGlaze, explain_glaze, why_glaze
from firstwash.paints.catalogue import default_paper, paint
from firstwash.plan.glaze import parse_coat

SVG = "{http://www.w3.org/2000/svg}"


def over(*coats: str) -> WhyGlaze:
    *under, glaze = (parse_coat(c) for c in coats)
    return explain_glaze(under, glaze)


BROWN = ("PB15:3 20%", "PR255 20%")
VEILED = ("PB29 10%", "PR108 10%")


@pytest.mark.parametrize("numbers", [False, True])
@pytest.mark.parametrize("coats", [BROWN, VEILED, ("PY154 5%",)])
def test_it_is_plain_svg(coats: tuple[str, ...], numbers: bool) -> None:
    drawn = light_chart_svg(over(*coats), numbers)
    root = ET.fromstring(drawn)
    assert root.get("viewBox", "").startswith("0 0 300 ")
    assert root.find(f"{SVG}title") is not None
    # A strict content policy lets none of these into a page.
    for part in root.iter():
        assert part.tag.removeprefix(SVG) in {
            "svg", "title", "desc", "g", "rect", "path", "text"
        }  # fmt: skip
        assert not {"style", "class", "id", "href"} & set(part.attrib)
        assert not any(name.startswith("on") for name in part.attrib)


def luminance(grey: str) -> float:
    """Relative luminance of "#rrggbb", as WCAG 2 defines it (from memory)."""
    parts = [int(grey[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_letters_and_lines_can_be_read() -> None:
    # WCAG 2, AA: 4.5 for text, 3 for the lines that carry meaning (from memory).
    assert contrast(glaze_chart.LETTERS, "#ffffff") >= 4.5
    assert contrast(glaze_chart.LINES, "#ffffff") >= 3.0
    assert contrast(glaze_chart.HATCHING, glaze_chart.TAKEN) >= 3.0
    root = ET.fromstring(light_chart_svg(over(*BROWN), numbers=True))
    sizes = [float(g.get("font-size", "12")) for g in root.iter(f"{SVG}g") if g.get("font-size")]
    assert min(sizes) >= 12.0


@pytest.mark.parametrize("coats", [BROWN, VEILED, ("PY154 5%",)])
@pytest.mark.parametrize("numbers", [False, True])
def test_no_word_lies_on_another_or_runs_out(coats: tuple[str, ...], numbers: bool) -> None:
    root = ET.fromstring(light_chart_svg(over(*coats), numbers))
    boxes = []
    for group in root.iter(f"{SVG}g"):
        moved = re.match(r"translate\(0 ([\d.]+)\)", group.get("transform", ""))
        down = float(moved[1]) if moved else 0.0
        for text in group.findall(f"{SVG}text"):
            wide = 6.6 * len(text.text or "")  # a wide face at 12 units, about
            x, y = float(text.get("x", "0")), float(text.get("y", "0")) + down
            left = x - wide * {"middle": 0.5, "end": 1.0}.get(text.get("text-anchor", ""), 0.0)
            boxes.append((left, left + wide, y, text.text))
    for i, (a, b, y, _) in enumerate(boxes):
        assert a >= 0.0
        assert b <= 300.0
        assert not any(abs(y - v) < 11 and a < d and c < b for c, d, v, _ in boxes[:i])


def test_curves_are_the_spectra() -> None:
    why = over(*BROWN)
    root = ET.fromstring(light_chart_svg(why))
    solid = next(
        p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "2.5" and p.get("stroke")
    )
    points = re.findall(r"([\d.]+) ([\d.]+)", solid.get("d", ""))
    drawn = [1.0 - (float(y) - glaze_chart.TOP) / glaze_chart.HIGH for _, y in points]
    # Written to a tenth of a unit on 130 units of height.
    np.testing.assert_allclose(drawn, why.spectra[2], atol=0.1 / 130)


def test_what_is_taken_is_hatched_and_what_is_added_dotted() -> None:
    brown, veiled = (light_chart_svg(over(*c)) for c in (BROWN, VEILED))
    assert "what the glaze takes" in brown
    assert "what it adds of its own" not in brown
    assert "what it adds of its own" in veiled
    on_paper = light_chart_svg(over("PY154 5%"))
    assert "below:" not in on_paper
    assert "what the wash takes" in on_paper


def test_wavelengths_are_only_written_when_asked_for() -> None:
    why = over(*BROWN)
    plain = "".join(ET.fromstring(light_chart_svg(why)).itertext())
    assert "700 nm" not in plain
    assert "%" not in plain
    asked = "".join(ET.fromstring(light_chart_svg(why, numbers=True)).itertext())
    assert "700 nm" in asked
    assert "50%" in asked


def test_names_are_escaped() -> None:
    named = replace(paint("PB29"), name='<script>alert("x")</script> & blue')
    drawn = light_chart_svg(why_glaze(default_paper(), (named,), np.array([[0.1]])))
    assert "<script" not in drawn
    assert ET.fromstring(drawn) is not None
