"""Fine strokes: reserved light, laid dark, and only where they help in the colour they get."""

from dataclasses import replace

import numpy as np
import pytest

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import lab_to_xyz, xyz_to_lab
from firstwash.paints.catalogue import default_paper, load_set
from firstwash.picture.stroke_render import Stroke, draw_strokes
from firstwash.plan.bench import Bench
from firstwash.plan.touches import (
    FEW_MASKED_MM,
    PAINT_ROUND_MM,
    Touch,
    choose_touches,
    draw_touches,
    masked_where_worth,
)

PPMM = 2.0
SHAPE = (120, 160)
BENCH = Bench.of(load_set("measured").paints[:5], default_paper())
RECIPES = np.eye(5)[[0, 3, 4]] / BENCH.loads[[0, 3, 4], None]


def line(y_mm: float, lab: tuple[float, float, float], half: float = 0.5) -> Stroke:
    points = np.column_stack([np.linspace(10, 70, 30), np.full(30, y_mm)])
    return Stroke(points, np.full(30, half), "light", lab, 1.0, 1.0)


def stages() -> np.ndarray:
    """Paper, a first wash, and a glaze over it, everywhere the same."""
    paper = BENCH.labs(np.zeros((0, 5)))[0]
    labs = np.array([paper, [82.0, 5.0, 20.0], [55.0, 10.0, 30.0]])
    return np.broadcast_to(lab_to_xyz(labs)[:, None, None], (3, *SHAPE, 3)).astype(np.float32)


def photo(*strokes: Stroke) -> np.ndarray:
    ground = np.broadcast_to(xyz_to_lab(stages()[-1, 0, 0]), (*SHAPE, 3))
    return draw_strokes(ground, strokes, None, PPMM)


def chosen(*strokes: Stroke, most: int = 10) -> tuple[Touch, ...]:
    return choose_touches(BENCH, RECIPES, stages(), photo(*strokes), PPMM, most)


def test_a_white_line_is_kept_from_every_wash() -> None:
    (touch, *_) = chosen(line(30, (94.0, 0.0, 2.0)))
    assert touch.reserved
    assert touch.after == 0
    fine = touch.stroke.width_mm < PAINT_ROUND_MM
    long = touch.stroke.length_mm > FEW_MASKED_MM
    assert touch.way == "painted round" or fine
    assert touch.way == "masked" or not (fine and long)


def test_masking_fluid_is_for_lights_that_are_many_or_fine() -> None:
    def kept(count: int, half: float, after: int = 0) -> tuple[Touch, ...]:
        stroke = line(30, (94.0, 0.0, 2.0), half)
        short = replace(
            stroke, points_mm=stroke.points_mm[:5], half_widths_mm=stroke.half_widths_mm[:5]
        )
        one = Touch(short, "masked", after, None, None, (94.0, 0.0, 2.0), 1.0)
        return masked_where_worth([one] * count)

    assert {t.way for t in kept(1, 0.5)} == {"painted round"}  # a centimetre, 1 mm wide
    assert {t.way for t in kept(8, 0.5)} == {"masked"}
    assert {t.way for t in kept(1, 0.2)} == {"masked"}


def test_a_line_of_the_first_wash_is_kept_from_the_second_only() -> None:
    (touch, *_) = chosen(line(30, (82.0, 5.0, 20.0)))
    assert touch.after == 1


def test_a_dark_line_is_laid_last_with_a_puddle_that_is_there() -> None:
    (touch, *_) = chosen(line(30, (22.0, 8.0, 8.0)))
    assert touch.way == "laid last"
    assert touch.puddle in range(len(RECIPES))
    assert 0 < touch.strength <= 1
    assert touch.lab[0] < 55


def test_every_touch_brings_the_picture_closer() -> None:
    wanted = photo(
        line(15, (92.0, 0.0, 5.0)), line(30, (25.0, 5.0, 10.0)), line(45, (80.0, 5.0, 20.0), 1.0)
    )
    touches = choose_touches(BENCH, RECIPES, stages(), wanted, PPMM, 10)
    assert len(touches) >= 3
    before = delta_e_2000(xyz_to_lab(stages()[-1]), wanted)
    after = delta_e_2000(xyz_to_lab(draw_touches(stages()[-1], touches, PPMM)), wanted)
    assert (after**2).mean() < 0.5 * (before**2).mean()


def test_reserves_appear_in_the_stages_that_would_cover_them() -> None:
    touches = chosen(line(30, (82.0, 5.0, 20.0)), line(45, (25.0, 5.0, 10.0)))
    kept = [t for t in touches if t.reserved]
    assert kept
    for n in range(3):
        drawn = draw_touches(stages()[n], touches, PPMM, n)
        changed = np.abs(drawn - stages()[n]).max(axis=2) > 1e-4
        assert changed.any() == (n == 2)
    # a stroke laid last is in no stage, only in the finished sheet
    last = draw_touches(stages()[2], touches, PPMM)
    assert np.abs(last - draw_touches(stages()[2], touches, PPMM, 2)).max() > 0.05


def test_none_are_chosen_where_nothing_is_missing_or_none_allowed() -> None:
    assert chosen() == ()
    assert chosen(line(30, (94.0, 0.0, 2.0)), most=0) == ()


def test_limits_are_kept() -> None:
    many = [line(6 + 4 * i, (22.0, 8.0, 8.0), 0.4) for i in range(12)]
    found = chosen(*many, most=5)
    assert sum(not t.reserved for t in found) <= 5
    gains = [t.stroke.gain for t in found]
    assert gains == sorted(gains, reverse=True)


@pytest.mark.parametrize("light", [1.0, 0.0])
def test_covered_pixels_show_the_strokes_colour(light: float) -> None:
    stroke = line(30, (60.0, 0.0, 0.0), 2.0)
    touch = Touch(stroke, "laid last", None, 0, 0.5, (60.0, 0.0, 0.0), 1.0)
    out = draw_touches(np.full((*SHAPE, 3), light), [touch], PPMM)
    np.testing.assert_allclose(out[60, 80], lab_to_xyz(np.array([60.0, 0, 0])), rtol=1e-5)
    assert (out[5, 80] == light).all()
