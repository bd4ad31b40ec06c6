"""Colour, grain and pen line of made-up places whose truth is known.

One row of a straightened card is drawn at 8 pixels per mm in linear light: paper, a pen line
across it, and swatches with dark rims, sloping washes, speckle and noise.
"""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
import pytest

from firstwash.card.layout import (
    BARE,
    COLUMNS,
    HEIGHT_MM,
    WIDTH_MM,
    line_box,
    sample_box,
    slot_box,
    swatch_box,
)
from firstwash.card.straight import PPMM, LightField, bare_paper, cut
from firstwash.card.windows import Window, paper_texture, pen_line, read_windows

PAPER = np.array([0.74, 0.70, 0.62])
INK = 0.06  # share of paper that a bare pen line gives
ROW = 2
PAINTED = [c for c in range(COLUMNS) if c not in BARE]
COLOURS = np.random.default_rng(8).uniform(0.08, 0.95, (COLUMNS, 3))  # shares of paper


@dataclass(frozen=True)
class Hand:
    """How the row is painted.

    noise: of a pixel. rim: share darker along the edge. wet: share by which a wash slopes from
    top to bottom. speckle: spread of the logarithm. line: mm by which the pen line misses its
    place at the left and at the right, None for no line. hides: share of it that paint hides.
    """

    noise: float = 0.01
    rim: float = 0.0
    wet: float = 0.0
    speckle: float = 0.0
    line: tuple[float, float] | None = (0.0, 0.0)
    hides: float = 0.0


@cache
def painted(hand: Hand) -> np.ndarray:
    """(rows, cols, 3) float32 of the whole card with one painted row."""
    rng = np.random.default_rng(5)
    card = np.full((round(HEIGHT_MM * PPMM), round(WIDTH_MM * PPMM), 3), 0.8, np.float32)
    slot = slot_box(ROW)
    share = np.ones_like(cut(card, slot))
    hidden = np.zeros(share.shape[:2])
    y, x = (np.indices(share.shape[:2]) + 0.5) / PPMM  # mm from the window's corner
    for column in PAINTED:
        box = swatch_box(ROW, column)
        left = round((box.x - slot.x) * PPMM)
        part = slice(None), slice(left, left + round(box.width * PPMM))
        across = box.width / 2 - np.abs(x[part] - (box.x + box.width / 2 - slot.x))
        down = y[part] - slot.height / 2
        inner = np.minimum(across, box.height / 2 - np.abs(down))  # mm from the nearest edge
        rim = hand.rim * np.exp(-((inner / 0.6) ** 4))
        wash = COLOURS[column] ** (1 + rim + hand.wet * down / box.height)[..., None]
        if hand.speckle:
            small = rng.standard_normal((49, 24)).astype(np.float32)  # a third of a mm each
            speck = cv2.resize(small, inner.shape[::-1], interpolation=cv2.INTER_CUBIC)
            wash *= np.exp(hand.speckle * speck / speck.std())[..., None]
        share[part] = np.where((inner > 0)[..., None], wash, 1.0)
        hidden[part] = np.where(inner > 0, hand.hides, 0.0)
    if hand.line is not None:
        left, right = hand.line
        middle = line_box(ROW, 0).y + 2.0 - slot.y + left + (right - left) * x / slot.width
        # A pen of 1 mm, a soft lens.
        soft = 0.5 - 0.5 * np.tanh((np.abs(y - middle) - 0.5) / 0.12)
        share *= 1 - (soft * (1 - INK) * (1 - hidden))[..., None]
    pixels = 1 + hand.noise * rng.standard_normal(share.shape, dtype=np.float32)
    cut(card, slot)[:] = PAPER * share * pixels
    return card


@cache
def read(hand: Hand) -> tuple[Window, ...]:
    card = painted(hand)
    return read_windows(card, LightField.of(bare_paper(card, [ROW]), 1), [ROW])


def shares(windows: tuple[Window, ...]) -> np.ndarray:
    return np.array([w.colour for w in windows])


TRUE = np.where(np.isin(np.arange(COLUMNS), BARE)[:, None], 1.0, COLOURS)

# ------------------------------------------------------------------ colour


def test_flat_swatches_are_read_exactly() -> None:
    found = read(Hand())
    assert [(w.row, w.column) for w in found] == [(ROW, c) for c in range(COLUMNS)]
    # 3,000 pixels with 1 % of noise; what is left is the paper's own level: 0.1 %.
    np.testing.assert_allclose(shares(found), TRUE, rtol=0.004)


def test_rims_do_not_reach_what_is_read() -> None:
    """Paint dries up to a half darker within 0.8 mm of its edge."""
    np.testing.assert_allclose(shares(read(Hand(rim=0.6))), TRUE, rtol=0.004)


def test_heavy_noise_and_speckle_are_averaged_out() -> None:
    found = shares(read(Hand(noise=0.08, speckle=0.05)))
    # Speckles of a third of a millimetre: two hundred in a sample, 5 % / √200 and trimming.
    np.testing.assert_allclose(found, TRUE, rtol=0.02)


def test_dust_and_hairs_are_trimmed() -> None:
    card = painted(Hand()).copy()
    box = sample_box(ROW, 5)
    part = cut(card, box)
    part[10:12] = 0.0  # a hair across the swatch, 2 of 52 rows
    part[30:33, 4:8] = 3.0  # a bright fibre
    light = LightField.of(bare_paper(card, [ROW]), 1)
    found = read_windows(card, light, [ROW])[5]
    np.testing.assert_allclose(found.colour, TRUE[5], rtol=0.006)


def test_a_sloping_wash_is_told_and_spreads_the_colour() -> None:
    plain, wet = read(Hand()), read(Hand(wet=0.4))
    for column in PAINTED:
        one, other = plain[column], wet[column]
        if COLOURS[column, 1] < 0.7:
            assert other.uneven > one.uneven + 0.02
            assert (other.spread >= one.spread - 1e-6).all()
        # The colour is that of the middle, as far as paint darkens evenly with amount.
        assert np.abs(np.cbrt(other.colour) - np.cbrt(TRUE[column])).max() < 0.02
    assert np.median([w.spread.mean() for w in plain]) < 0.012


def test_deep_darks_are_not_trusted() -> None:
    card = painted(Hand()).copy()
    cut(card, sample_box(ROW, 6))[:] = PAPER * 0.001
    light = LightField.of(bare_paper(card, [ROW]), 1)
    found = read_windows(card, light, [ROW])[6]
    assert (found.spread > 0.05).all()
    assert (found.colour >= 0.0).all()
    assert (read(Hand())[6].spread < 0.03).all()


def test_light_is_taken_out_within_a_swatch() -> None:
    """Light that falls by a third over the row, and so by 3 % across one swatch."""
    card = painted(Hand())
    x = (np.arange(card.shape[1]) + 0.5) / PPMM
    lit = card * np.exp(-0.002 * x).astype(np.float32)[None, :, None]
    found = read_windows(lit, LightField.of(bare_paper(lit, [ROW]), 1), [ROW])
    np.testing.assert_allclose(shares(found), TRUE, rtol=0.006)


def test_places_out_of_the_photo_are_left_out() -> None:
    card = painted(Hand()).copy()
    edge = swatch_box(ROW, 4).x + 4.0
    card[:, round(edge * PPMM) :] = np.nan
    found = read_windows(card, LightField.of(bare_paper(card, [ROW]), 1), [ROW])
    assert [w.column for w in found] == [0, 1, 2, 3]
    assert all(np.isfinite(w.colour).all() for w in found)


# ------------------------------------------------------------------ grain


def test_grain_grows_with_granulation() -> None:
    steps = [read(Hand(speckle=s)) for s in (0.0, 0.02, 0.04, 0.08, 0.16)]
    grains = np.array([[w.grain for w in windows] for windows in steps])[:, PAINTED]
    assert (np.diff(np.median(grains, axis=1)) > 0).all()
    assert np.median(grains[0]) < 0.004  # no more than the paper's own
    # Of speckles of a third of a millimetre the 1.2 mm smoothing keeps the greater part.
    np.testing.assert_allclose(np.median(grains[2:], axis=1), [0.037, 0.074, 0.148], rtol=0.2)


def test_the_papers_own_texture() -> None:
    for noise in (0.01, 0.03):
        card = painted(Hand(noise=noise))
        light = LightField.of(bare_paper(card, [ROW]), 1)
        # White noise nearly all varies over less than the 1.2 mm of the smoothing.
        assert paper_texture(card, light, [ROW]) == pytest.approx(noise, rel=0.1)
    assert paper_texture(np.full_like(card, np.nan), light, [ROW]) is None
    assert paper_texture(card, light, []) is None


def test_noise_that_the_paper_shows_as_well_is_no_grain() -> None:
    noisy = read(Hand(noise=0.05))
    assert np.median([w.grain for w in noisy if w.column in PAINTED]) < 0.015


# ------------------------------------------------------------------ the pen line


@pytest.mark.parametrize("line", [(0.0, 0.0), (-1.2, -1.2), (1.2, 1.2), (-0.6, 0.8), (1.0, -0.3)])
def test_the_pen_line_is_found_where_it_was_drawn(line: tuple[float, float]) -> None:
    windows = read(Hand(line=line))
    for w in windows:
        assert w.line is not None
        # Paint that hides nothing darkens the line as it darkens the paper.
        expected = INK * TRUE[w.column]
        np.testing.assert_allclose(w.line, expected, atol=0.012, rtol=0.2)


def test_paint_that_hides_shows_on_the_line() -> None:
    half, clear = read(Hand(hides=0.5)), read(Hand())
    for column in PAINTED:
        through, shown = clear[column].line, half[column].line
        assert through is not None
        assert shown is not None
        middle = (INK + 0.5 * (1 - INK)) * COLOURS[column]
        np.testing.assert_allclose(shown, middle, rtol=0.06)
        assert (shown > through).all()
    for column in BARE:
        bare = half[column].line
        assert bare is not None
        assert bare.max() < 0.08


def test_no_line_no_level() -> None:
    assert all(w.line is None for w in read(Hand(line=None)))


def test_a_line_far_from_its_place_is_not_taken_for_one() -> None:
    """Three millimetres low it lies where swatches are read: nothing is said of hiding."""
    card = painted(Hand(line=(5.5, 5.5)))
    lines = pen_line(card, LightField.of(bare_paper(card, [ROW]), 1), ROW)
    assert lines == [None] * COLUMNS


def test_a_line_seen_in_few_gaps_only_is_not_taken() -> None:
    card = painted(Hand()).copy()
    slot = slot_box(ROW)
    clean = painted(Hand(line=None))
    from_x = round((slot.x + 3.5 * slot.width / COLUMNS) * PPMM)
    card[:, from_x:] = clean[:, from_x:]  # the pen ran dry after three gaps
    lines = pen_line(card, LightField.of(bare_paper(card, [ROW]), 1), ROW)
    assert lines == [None] * COLUMNS


def test_rows_that_are_not_there() -> None:
    empty = np.full((round(HEIGHT_MM * PPMM), round(WIDTH_MM * PPMM), 3), np.nan, np.float32)
    field = LightField.of(bare_paper(painted(Hand()), [ROW]), 1)
    assert read_windows(empty, field, [0, 1]) == ()
    assert pen_line(empty, field, 0) == [None] * COLUMNS
