"""The shapes are changed with strokes on the sheet: the plan keeps up, each step goes back."""

import re
from collections import Counter
from typing import Any

import pytest
from playwright.sync_api import expect
from tests.web.browser import Served, Watch, shot
from tests.web.painter import Clerk, Painter

ACROSS, DOWN = 24, 18  # fields of 5 mm on the sheet of 12 x 9 cm
Grid = list[list[int]]
Place = tuple[float, float]


@pytest.fixture(scope="module")
def grid(studio: Served, bundle: bytes) -> Grid:
    """Which shape lies where before anything is changed; the same in every test."""
    clerk = Clerk(studio.address)
    return clerk.shapes(clerk.view(clerk.bring_in(bundle)), ACROSS, DOWN)


def middle(row: int, column: int) -> Place:
    return (column + 0.5) / ACROSS, (row + 0.5) / DOWN


def washes(view: Any) -> list[tuple[str, float, int]]:
    layers = view["plan"]["layers"]
    return [(w["label"], w["strength"], len(w["cells"])) for one in layers for w in one["washes"]]


def neighbours(grid: Grid) -> tuple[Place, Place]:
    """Middles of two fields side by side in two shapes of some size."""
    sizes = Counter(shape for row in grid for shape in row)
    row, column = max(
        ((r, c) for r in range(DOWN) for c in range(ACROSS - 1) if grid[r][c] != grid[r][c + 1]),
        key=lambda at: min(sizes[grid[at[0]][at[1]]], sizes[grid[at[0]][at[1] + 1]]),
    )
    return middle(row, column), middle(row, column + 1)


def across_largest(grid: Grid) -> list[Place]:
    """A stroke through the widest run of the largest shape's tallest column."""
    largest, _ = Counter(shape for row in grid for shape in row).most_common(1)[0]
    runs = []
    for column in range(1, ACROSS - 1):
        start = None
        for row in range(DOWN + 1):
            inside = row < DOWN and grid[row][column] == largest
            if inside and start is None:
                start = row
            if not inside and start is not None:
                runs.append((row - start, column, start, row - 1))
                start = None
    _, column, first, last = max(runs)
    return [middle(first, column), middle(last, column)]


def upright_border(grid: Grid) -> tuple[int, int, int]:
    """The longest upright border of two shapes: first row, last row, column left of it."""
    best = (0, 0, 0, 0)
    for column in range(2, ACROSS - 3):
        start = 0
        for row in range(DOWN):
            pair = grid[row][column], grid[row][column + 1]
            if row == 0 or pair != (grid[row - 1][column], grid[row - 1][column + 1]):
                start = row
            if pair[0] != pair[1]:
                best = max(best, (row - start + 1, start, row, column))
    assert best[0] >= 2, "no upright border is long enough in this plan"
    return best[1:]


def changed(painter: Painter, tool: str, words: str, stroke: list[Place]) -> Any:
    """Hold a tool, draw, and give the view after it; the plan has kept up."""
    before = painter.view
    painter.press(tool, within="#shapes")
    expect(painter.page.locator(".below .told")).to_be_visible()  # says what to do
    with painter.accepts(words):
        painter.draw(stroke) if len(stroke) > 1 else painter.touch(*stroke[0])
    after = painter.view
    assert after["plan"]["stamp"] != before["plan"]["stamp"]
    assert after["plan"]["stale"] is False
    assert after["plan"]["layers"]
    return after


def undone(painter: Painter, before: Any) -> None:
    painter.steps_back()
    assert painter.view["plan"] == before["plan"]
    assert painter.view["brief"] == before["brief"]
    painter.steps_forward()
    painter.steps_back()
    assert painter.view["brief"] == before["brief"]


def test_shapes_are_joined(painter: Painter, grid: Grid) -> None:
    before = painter.view
    after = changed(painter, "Join shapes", "Joined shapes", list(neighbours(grid)))
    assert after["plan"]["shapes"] < before["plan"]["shapes"]
    assert washes(after) != washes(before)
    expect(painter.page.locator("#shapes")).to_contain_text(f"in {after['plan']['shapes']} shapes")
    shot(painter.page, "shape-tool-held", whole=False)
    undone(painter, before)


def test_a_tool_is_held_on_until_it_is_laid_down(painter: Painter, grid: Grid) -> None:
    page = painter.page
    changed(painter, "Join shapes", "Joined shapes", list(neighbours(grid)))
    tool = page.locator("#shapes").get_by_role("button", name="Join shapes")
    expect(tool).to_have_attribute("aria-pressed", "true")
    painter.press("Put the tool down")
    expect(tool).to_have_attribute("aria-pressed", "false")
    before = painter.view
    painter.look_into(0.5, 0.5)  # a touch looks again, and changes nothing
    assert painter.view == before


def test_a_shape_is_cut(painter: Painter, grid: Grid) -> None:
    before = painter.view
    after = changed(painter, "Cut a shape", "Cut a shape", across_largest(grid))
    assert after["plan"]["shapes"] > before["plan"]["shapes"]
    undone(painter, before)


def test_a_place_is_left_bare_and_painted_after_all(painter: Painter, grid: Grid) -> None:
    page, before = painter.page, painter.view
    top, bottom = across_largest(grid)
    place = (top[0], (top[1] + bottom[1]) / 2)
    changed(painter, "Leave bare", "Left a place bare", [place])
    painter.press("Leave bare", within="#shapes")  # laid down
    painter.look_into(*place)
    expect(page.locator(".answer .section")).to_contain_text("Bare paper, to the end")
    shot(page, "left-bare", whole=False)
    changed(painter, "Paint it after all", "Painted a bare place", [place])
    painter.press("Paint it after all", within="#shapes")
    painter.look_into(*place)
    expect(page.locator(".answer .coat")).to_be_visible()
    painter.steps_back()
    painter.steps_back()
    assert painter.view["brief"] == before["brief"]


def test_a_place_drawn_round_is_left_bare(painter: Painter, grid: Grid) -> None:
    before = painter.view
    top, bottom = across_largest(grid)
    x, y = top[0], (top[1] + bottom[1]) / 2
    ring = [(x - 0.06, y - 0.06), (x + 0.06, y - 0.06), (x + 0.06, y + 0.06), (x - 0.06, y + 0.06)]
    changed(painter, "Leave bare", "Left a place bare", [*ring, ring[0]])
    painter.press("Leave bare", within="#shapes")
    painter.look_into(x, y)
    expect(painter.page.locator(".answer .section")).to_contain_text("Bare paper, to the end")
    undone(painter, before)


@pytest.mark.parametrize("edge", ["hard", "soft", "lost"])
def test_an_edge_is_set(edge: str, painter: Painter, grid: Grid) -> None:
    before = painter.view
    first, last, column = upright_border(grid)
    along = [((column + 1) / ACROSS, middle(row, column)[1]) for row in (first, last)]
    after = changed(painter, f"{edge.capitalize()} edge", f"Made an edge {edge}", along)
    assert after["brief"]["drawing"] != before["brief"]["drawing"]
    undone(painter, before)


def test_a_border_is_redrawn(painter: Painter, grid: Grid) -> None:
    before = painter.view
    first, last, column = upright_border(grid)
    x, out = (column + 1) / ACROSS, (column + 2) / ACROSS
    top, bottom = middle(first, column)[1], middle(last, column)[1]
    stroke = [(x - 0.01, top), (out, top + 0.02), (out, bottom - 0.02), (x - 0.01, bottom)]
    after = changed(painter, "Redraw a border", "Redrew a border", stroke)
    assert after["plan"]["shapes"] == before["plan"]["shapes"]
    undone(painter, before)


def test_fewer_shapes_with_one_control(painter: Painter) -> None:
    page, before = painter.page, painter.view
    control = page.locator("#shapes").get_by_role("slider", name=re.compile("Fewer or more"))
    with painter.accepts("Drew about 15 shapes"):
        control.fill("15")
    after = painter.view
    assert after["plan"]["shapes"] < before["plan"]["shapes"]
    assert washes(after) != washes(before)
    undone(painter, before)


def test_a_stroke_that_says_nothing_is_refused_in_words(
    painter: Painter, grid: Grid, watch: Watch
) -> None:
    page, before = painter.page, painter.view
    watch.expect(r"answer 4\d\d|status of 4\d\d")
    top, bottom = across_largest(grid)
    place = top[0], (top[1] + bottom[1]) / 2
    painter.press("Join shapes", within="#shapes")
    painter.draw([place, (place[0] + 0.01, place[1] + 0.01)])
    problem = page.locator(".problem")
    expect(problem).to_contain_text("Draw from one shape into its neighbour")
    expect(problem).to_be_in_viewport()  # told where the painter is, not above the page
    assert painter.view == before
