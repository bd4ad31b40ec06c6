"""The light judged from bare paper: known lights come back, paint and glare do not count."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.drawn_sheets import PAPER, Drawn, even, sideways, warm

from firstwash.easel.margin_light import MarginLight, Samples, margin_samples, strip_samples

PPMM = 2.0
SHEET = Drawn()


FLAT = {light: SHEET.flat(PPMM, light) for light in (even, sideways)}


def samples_of(sheet: Drawn, light: Any = even) -> Samples:
    return margin_samples(sheet.flat(PPMM, light), sheet.border, PPMM)


def light_of(sheet: Drawn, light: Any = even) -> MarginLight:
    found = MarginLight.of(samples_of(sheet, light))
    assert found is not None
    return found


def apart(found: np.ndarray, true: np.ndarray) -> float:
    """Largest share by which it is off."""
    return float(np.abs(found / true - 1.0).max())


def true_field(light: Any, rows: int = 40, cols: int = 60) -> np.ndarray:
    """(rows, cols, 3) of bare paper."""
    u, v = np.meshgrid(
        2 * (np.arange(cols) + 0.5) / cols - 1, 2 * (np.arange(rows) + 0.5) / rows - 1
    )
    return np.asarray(PAPER * light(u, v))


def test_samples_are_bare_paper_on_all_sides() -> None:
    found = samples_of(SHEET)
    assert found.colour == pytest.approx(np.tile(PAPER, (len(found.side), 1)), rel=1e-5)
    counts = np.bincount(found.side, minlength=4)
    assert (counts == 48).all()
    assert (np.abs(found.place) <= 1).all()
    for side, (axis, sign) in enumerate([(1, -1), (0, 1), (1, 1), (0, -1)]):
        assert (sign * found.place[found.side == side, axis] > 0.8).all()
    assert found.burnt_share == 0.0


def test_a_narrow_margin_gives_no_samples() -> None:
    narrow = Drawn(margin=(15.0, 2.0, 15.0, 15.0))
    found = samples_of(narrow)
    assert not (found.side == 1).any()
    assert MarginLight.of(found) is None


def test_nothing_seen_is_no_sample() -> None:
    flat = np.full((200, 300, 3), np.nan, np.float32)
    found = strip_samples(flat, (0.01, 0.05), PPMM)
    assert len(found.side) == 0
    assert found.burnt_share == 0.0
    assert MarginLight.of(found) is None
    assert (
        MarginLight.of(strip_samples(np.zeros((200, 300, 3), np.float32), (0.01, 0.05), 2)) is None
    )


@settings(max_examples=20)
@given(
    st.lists(st.floats(-0.3, 0.3), min_size=5, max_size=5),
    st.tuples(*[st.floats(0.3, 0.9)] * 3),
)
def test_a_light_without_cubic_terms_is_found_exactly(terms: list[float], tint: Any) -> None:
    def light(u: Any, v: Any) -> Any:
        a, b, c, d, e = terms
        log = a * u + b * v + 0.5 * (c * u * u + d * u * v + e * v * v)
        return np.exp(log)[..., None] * tint / np.exp(0.9)

    found = light_of(SHEET, light)
    # Each box gives its middle pixel: light that bends by 0.6 in a 48th of a side is off by 1 ‰,
    # and the ridge on cubic terms holds nothing else down.
    assert apart(found.field(40, 60), true_field(light)) < 0.01
    assert not found.odd.any()
    assert found.ragged < 0.01


def test_cubic_light_is_found_nearly() -> None:
    def light(u: Any, v: Any) -> Any:
        return 0.7 * np.exp(0.08 * u**3 - 0.06 * v**3 + 0.05 * u * u * v)[..., None] * (1, 1, 1)

    # Half of a cubic term is held down on purpose, of 0.19 in all here.
    assert apart(light_of(SHEET, light).field(40, 60), true_field(light)) < 0.06


def test_unevenness_is_greatest_over_least() -> None:
    assert light_of(SHEET).uneven == pytest.approx(1.0, abs=1e-3)
    field = true_field(sideways, 24, 24).mean(axis=2)
    # The corners of 24 × 24 boxes stand for the sheet's.
    assert light_of(SHEET, sideways).uneven == pytest.approx(field.max() / field.min(), rel=0.01)


@pytest.mark.parametrize("light", [even, warm, sideways])
def test_bare_paper_is_one_everywhere(light: Any) -> None:
    found = light_of(SHEET, light)
    bare = Drawn(patches=np.tile(PAPER, (1, 1, 1)))
    relative = found.relative(bare.flat(PPMM, light))
    assert apart(relative, np.ones_like(relative)) < 0.01
    departure = found.departure(bare.flat(PPMM, light), PPMM)
    assert departure.max() < 0.01


def test_paint_departs_by_what_it_takes() -> None:
    paint = Drawn(patches=np.tile(PAPER * (0.5, 0.8, 1.0), (1, 1, 1)))
    off = light_of(SHEET, sideways).departure(paint.flat(PPMM, sideways), PPMM)
    assert off[220, 300] == pytest.approx(np.log(2.0), abs=0.01)
    assert off[6, 300] < 0.01


@settings(max_examples=20)
@given(st.floats(0.05, 0.2), st.integers(0, 3), st.floats(0.3, 0.9))
def test_a_stain_on_the_margin_does_not_count(share: float, side: int, depth: float) -> None:
    flat = FLAT[sideways].copy()
    rows, cols = flat.shape[:2]
    turned = np.rot90(flat, side)
    turned[: round(14 * PPMM), 100 : 100 + round(share * turned.shape[1])] *= depth
    assert flat.shape == (rows, cols, 3)
    found = MarginLight.of(margin_samples(flat, SHEET.border, PPMM))
    assert found is not None
    # The stained boxes are told, and the rest decide: their pull is 1 % at most.
    assert 0.0 < found.odd.mean() < 0.2
    assert apart(found.field(40, 60), true_field(sideways)) < 0.02


def test_burnt_paper_is_told() -> None:
    flat = np.minimum(FLAT[even] * 1.4, 1.0)
    found = margin_samples(flat, SHEET.border, PPMM)
    assert found.burnt_share == 1.0
    assert MarginLight.of(found) is None


def test_one_burnt_corner_is_left_out() -> None:
    def light(u: Any, v: Any) -> Any:
        return 0.85 * np.exp(0.25 * (u - v))[..., None] * (1, 1, 1)

    flat = np.minimum(SHEET.flat(PPMM, light), 1.0)
    samples = margin_samples(flat, SHEET.border, PPMM)
    assert 0.05 < samples.burnt_share < 0.5
    found = MarginLight.of(samples)
    assert found is not None
    # What is clipped is known from the light's slope elsewhere.
    assert apart(found.field(40, 60), true_field(light)) < 0.03


@settings(max_examples=10)
@given(st.floats(0.05, 1.1))
def test_twice_the_light_is_twice_the_field(times: float) -> None:
    flat = FLAT[sideways].copy()
    one, other = (
        MarginLight.of(margin_samples(f, SHEET.border, PPMM))
        for f in (flat, (flat * times).astype(np.float32))
    )
    assert one is not None
    assert other is not None
    assert other.field(10, 10) == pytest.approx(times * one.field(10, 10), rel=1e-3)
    assert other.uneven == pytest.approx(one.uneven, rel=1e-3)
