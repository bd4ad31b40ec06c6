"""The map of a layer: every wash named beside the drawing, as SVG that a strict page takes."""

import re
from dataclasses import replace
from xml.etree.ElementTree import Element

import numpy as np
import pytest
from defusedxml.ElementTree import fromstring
from scipy.ndimage import distance_transform_edt, label

from firstwash.errors import RequestError
from firstwash.handout.layer_map import LETTER_MM, LayerMap, layer_map, ruling, wash_letters
from firstwash.handout.map_letters import leads_cross
from firstwash.handout.map_svg import CAPITAL, key_svg, layer_map_svg, wash_map_svg
from firstwash.handout.tones import TONES
from firstwash.optics.observer import lab_to_srgb8
from firstwash.usecases import PhotoPlan

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def maps(planned: PhotoPlan) -> list[LayerMap]:
    ruled = ruling(planned.plan)
    return [layer_map(planned.plan, n, ruled) for n in range(1, planned.plan.layers + 1)]


@pytest.fixture(scope="module")
def drawings(maps: list[LayerMap]) -> list[Element]:
    return [fromstring(layer_map_svg(m)) for m in maps]


def attributes(tree: Element) -> set[str]:
    return {name for element in tree.iter() for name in element.attrib}


# --- letters -------------------------------------------------------------------------


def test_every_wash_has_a_letter(maps: list[LayerMap]) -> None:
    for m in maps:
        assert [w.wash.number for w in m.washes] == [w.number for w in m.plan.washes_of(m.layer)]
        assert all(w.leads for w in m.washes)


def test_every_area_wide_enough_has_a_letter_and_the_others_are_counted(
    maps: list[LayerMap],
) -> None:
    """Areas are found here without the map's own code, by parts of one wash at working size."""
    for m in maps:
        cells, wide = m.plan.cells, 0.5 * m.frame.letter
        ends = [end for w in m.washes for lead in w.leads for end in lead.ends]
        rows, cols = (
            np.array([int(e[k] * cells.ppmm) for e in ends], dtype=np.int64) for k in (1, 0)
        )
        areas = 0
        for w in m.washes:
            parts, count = label(np.isin(cells.index, w.wash.cells))
            areas += count
            padded = np.pad(parts, 1)
            for part in range(1, count + 1):
                reach = distance_transform_edt(padded == part).max() / cells.ppmm
                if 2.0 * reach > wide + 1.0:  # half a pixel or so at each side
                    assert part in parts[rows, cols]
        assert len(ends) + m.unnamed == areas


def test_letters_are_those_of_the_puddles_and_tell_washes_apart(planned: PhotoPlan) -> None:
    plan = planned.plan
    for layer in range(1, plan.layers + 1):
        named = wash_letters(plan, layer)
        assert len(set(named.values())) == len(named)
        for wash in plan.washes_of(layer):
            letter, index = named[wash.number]
            same = [w for w in plan.washes_of(layer) if w.puddle == wash.puddle]
            assert letter == plan.puddles[wash.puddle].name
            assert index == (0 if len(same) == 1 else 1 + same.index(wash))


def test_a_line_ends_in_its_own_wash(maps: list[LayerMap]) -> None:
    for m in maps:
        index, ppmm = m.plan.cells.index, m.plan.cells.ppmm
        for w in m.washes:
            for lead in w.leads:
                for end in lead.ends:
                    x, y = (int(v * ppmm) for v in end)
                    assert int(index[y, x]) in w.wash.cells


def test_lines_of_a_map_do_not_cross(maps: list[LayerMap]) -> None:
    for m in maps:
        leads = [lead for w in m.washes for lead in w.leads]
        ends = np.array([end for lead in leads for end in lead.ends])
        ports = np.array([lead.port for lead in leads for _ in lead.ends])
        assert not leads_cross(ends, ports).any()


def test_what_is_hatched_is_bare_paper(maps: list[LayerMap]) -> None:
    """To a pixel: hatching ends at the smooth border, not at the pixels' stairs."""
    plan = maps[0].plan
    coats = tuple(() if cell % 4 == 0 else own for cell, own in enumerate(plan.coats))
    ruled = ruling(replace(plan, coats=coats))
    areas = plan.cells.areas_mm2()
    for layer in range(1, plan.layers + 1):
        bare = np.array([not any(c[0] <= layer for c in own) for own in coats])
        hatch = ruled.bare_hatch(layer, 1.0)
        run = np.hypot(*(hatch[:, 2:] - hatch[:, :2]).T)
        assert run.sum() == pytest.approx(areas[bare].sum(), rel=0.05)  # a mm apart
        x, y = ((hatch[:, :2] + hatch[:, 2:]) / 2 * plan.cells.ppmm).astype(np.int64).T
        assert bare[plan.cells.index[y, x]][run > 2 / plan.cells.ppmm].mean() > 0.97


def test_tones_cover_the_washes_and_neighbours_differ(planned: PhotoPlan) -> None:
    plan = planned.plan
    ruled = ruling(plan)
    for layer in range(1, plan.layers + 1):
        m = layer_map(plan, layer, ruled, toned=True)
        puddles = [q for area in m.toned for q in area.puddles]
        assert sorted(puddles) == sorted({w.puddle for w in plan.washes_of(layer)})
        # No plan here has more puddles than there are tones: each has its own.
        assert len({area.tone for area in m.toned}) == len(puddles)
        greys = [float(area.tone.dark) for area in m.toned]
        assert all(0.06 <= grey <= 0.25 for grey in greys)  # printed, and lines read over it
        svg = layer_map_svg(m)
        assert all(f'fill="{area.tone.grey}"' in svg for area in m.toned)
        assert not re.search(r'fill="#(?!(..)\1\1)', svg)  # greys only


def test_without_being_asked_for_there_are_no_tones(maps: list[LayerMap]) -> None:
    assert all(m.toned == () for m in maps)


def test_a_layer_that_is_not_there_is_refused(planned: PhotoPlan) -> None:
    for layer in (0, planned.plan.layers + 1):
        with pytest.raises(RequestError, match="layers"):
            layer_map(planned.plan, layer)


# --- SVG -----------------------------------------------------------------------------


def test_a_strict_page_takes_it(planned: PhotoPlan, drawings: list[Element]) -> None:
    plan = planned.plan
    wash = fromstring(wash_map_svg(plan, plan.washes[0]))
    for tree in (*drawings, wash):
        assert not attributes(tree) & {"style", "href", "onload", "onclick", "id"}
        tags = {e.tag.removeprefix(SVG) for e in tree.iter()}
        assert tags <= {"svg", "title", "desc", "g", "path", "rect", "circle", "text", "tspan"}
        assert not re.search(r"url\(", "".join(v for e in tree.iter() for v in e.attrib.values()))


def test_it_is_told_to_those_who_do_not_see_it(
    maps: list[LayerMap], drawings: list[Element]
) -> None:
    for m, tree in zip(maps, drawings, strict=True):
        assert tree.attrib["role"] == "img"
        assert tree[0].text == f"Map of layer {m.layer}"
        told = tree[1].text or ""
        assert all(f"{w.letter}{w.index or ''} " in told for w in m.washes)


def test_each_wash_can_be_marked(maps: list[LayerMap], drawings: list[Element]) -> None:
    for m, tree in zip(maps, drawings, strict=True):
        groups = [e for e in tree.iter(f"{SVG}g") if "data-wash" in e.attrib]
        for part in ("area", "letters"):
            own = [g.attrib["data-wash"] for g in groups if g.attrib["data-part"] == part]
            assert own == [f"{m.layer}.{w.wash.number}" for w in m.washes]


def test_it_has_the_size_of_the_sheet_or_the_one_asked_for(maps: list[LayerMap]) -> None:
    m = maps[0]
    own = fromstring(layer_map_svg(m))
    wide = m.plan.sheet.width_mm + 2 * m.margin
    assert float(own.attrib["width"].removesuffix("mm")) == pytest.approx(wide, abs=0.01)
    small = fromstring(layer_map_svg(m, 100.0))
    assert small.attrib["width"] == "100.00mm"
    assert small.attrib["viewBox"] == own.attrib["viewBox"]


def test_letters_are_four_millimetres_high_on_a4(maps: list[LayerMap]) -> None:
    for m in maps:
        sides = sorted(
            (m.plan.sheet.width_mm + 2 * m.margin, m.plan.sheet.height_mm + 2 * m.margin)
        )
        scale = min(277.0 / sides[1], 190.0 / sides[0])
        assert m.frame.letter * scale == pytest.approx(LETTER_MM)
        assert m.frame.letter * scale * CAPITAL >= 4.0


def test_no_letter_lies_over_another(maps: list[LayerMap], drawings: list[Element]) -> None:
    for m, tree in zip(maps, drawings, strict=True):
        size = m.frame.letter
        boxes = []
        for text in tree.iter(f"{SVG}text"):
            letters = len("".join(text.itertext()))
            x, y = float(text.attrib["x"]), float(text.attrib["y"])
            half = 0.7 * size * letters / 2  # wider than any letter of the face but W and M
            boxes.append((x - half, y - CAPITAL * size, x + half, y))
        for i, (a, b, c, d) in enumerate(boxes):
            # Outside the drawing, and clear of all other letters.
            assert c <= 0 or a >= m.plan.sheet.width_mm or d <= 0 or b >= m.plan.sheet.height_mm
            for e, f, g, h in boxes[:i]:
                assert c <= e or g <= a or d <= f or h <= b


def test_a_wash_alone_wears_its_own_colour(planned: PhotoPlan) -> None:
    plan = planned.plan
    ruled = ruling(plan)
    for wash in plan.washes:
        tree = fromstring(wash_map_svg(plan, wash, 200.0, ruled))
        (group,) = [e for e in tree.iter(f"{SVG}g") if "data-wash" in e.attrib]
        code = "#" + bytes(lab_to_srgb8(np.array(wash.after)).tolist()).hex()
        assert group.attrib["data-wash"] == f"{wash.layer}.{wash.number}"
        assert group[0].attrib["fill"] == code
        assert tree.attrib["width"] == "200.00mm"


def test_a_key_shows_each_line_and_tone_differently() -> None:
    parts = ("hard", "soft", "lost", "faint", "reserve", "hatch", "white", *TONES)
    drawn = [key_svg(part, 4.0) for part in parts]
    assert len(set(drawn)) == len(drawn)
    for svg in drawn:
        assert float(fromstring(svg).attrib["width"].removesuffix("mm")) == pytest.approx(9.6)


def test_an_outline_s_area_is_the_wash_s_area(maps: list[LayerMap]) -> None:
    """Within 3 %, summed over outlines, holes taken off by the way they are walked."""
    table = np.array([[0, 6, 3, 1], [-6, 0, 3, 3], [-3, -3, 0, 6], [-1, -3, -6, 0]]) / 20
    for m in maps:
        for w in m.washes:
            curves = np.concatenate([run.curves for run in w.outlines])
            area = -np.einsum("ni,ij,nj->", curves[..., 0], table, curves[..., 1])
            assert area == pytest.approx(w.wash.area_mm2, rel=0.03, abs=3.0)
