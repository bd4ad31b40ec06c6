"""Ranges of stacks: size, shape, and what they are made of."""

from dataclasses import replace

import numpy as np
import pytest

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import default_paper, paint
from firstwash.paints.doubt import GLAZE_LAB, MODEL_LAB, doubt_of_stacks
from firstwash.paints.spread import drawn_curves, plain_spread

PAPER = default_paper()


def of(amounts, *keys):
    return doubt_of_stacks(PAPER, [paint(k) for k in keys], np.array(amounts, dtype=float))


def test_lab_is_the_prediction() -> None:
    found = of([[[0.3, 0.0], [0.0, 0.2]]], "PB29", "PY154")
    blue, yellow = paint("PB29"), paint("PY154")
    kx = np.array([0.3 * blue.k, 0.2 * yellow.k])
    sx = np.array([0.3 * blue.s, 0.2 * yellow.s])
    np.testing.assert_allclose(found.lab[0], reflectance_to_lab(stages(PAPER, kx, sx)[-1]))


def test_bare_paper_is_sure() -> None:
    found = of([[[0.0]]], "PB29")
    assert float(found.differences()[0]) < 0.01


def test_a_sure_paint_leaves_the_models_own_error() -> None:
    sure = replace(paint("PB29"), spread=np.zeros((1, 72)))
    one, two = doubt_of_stacks(PAPER, [sure], np.array([[[0.3], [0.0]], [[0.3], [0.3]]])).covariance
    np.testing.assert_allclose(one, MODEL_LAB**2 * np.eye(3), atol=1e-9)
    np.testing.assert_allclose(two, (MODEL_LAB**2 + GLAZE_LAB**2) * np.eye(3), atol=1e-9)


def test_the_covariance_is_that_of_drawn_curves() -> None:
    blue = replace(paint("PB29"), spread=plain_spread(0.05))  # small, so that straight lines serve
    amounts = np.array([[[0.3], [0.2]]])
    found = doubt_of_stacks(PAPER, [blue], amounts)
    ks, ss = drawn_curves([(blue.k, blue.s, blue.doubt)], 2000)
    labs = np.array(
        [
            reflectance_to_lab(
                stages(PAPER, amounts[0] * k, amounts[0] * s)[-1]
            )
            for k, s in zip(ks[:, 0], ss[:, 0], strict=True)
        ]
    )  # fmt: skip
    told = found.covariance[0] - (MODEL_LAB**2 + GLAZE_LAB**2) * np.eye(3)
    # 2,000 draws: about 3 % of a spread, 6 % of a variance; and a little curvature
    np.testing.assert_allclose(np.diag(told), labs.var(axis=0), rtol=0.15)


def test_two_coats_of_one_paint_err_together() -> None:
    """Twice the paint in two coats is as unsure as the paint is, not less by a root of two."""
    blue = replace(paint("PB29"), spread=plain_spread(0.2))
    split, whole = doubt_of_stacks(
        PAPER, [blue], np.array([[[0.15], [0.15]], [[0.3], [0.0]]])
    ).moves
    sizes = [float(np.sqrt((m[0] ** 2).sum())) for m in (split, whole)]
    assert sizes[0] == pytest.approx(sizes[1], rel=0.25)  # the soak moves the first coat a little


def test_ends_are_lighter_and_darker_and_on_the_rim() -> None:
    found = of([[[0.05]], [[0.5]]], "PB60")
    lighter, darker = found.ends
    assert (darker[:, 0] < found.lab[:, 0]).all()
    assert (found.lab[:, 0] < lighter[:, 0]).all()
    np.testing.assert_allclose(found.lightness[:, 1], lighter[:, 0])
    assert found.holds(0.5 * (found.lab + lighter)).all()
    assert not found.holds(found.lab + 3.0 * (lighter - found.lab)).any()


def test_nine_of_ten_draws_are_held() -> None:
    found = of([[[0.2, 0.1]]], "PB60", "PR255")
    rng = np.random.default_rng(1)
    drawn = rng.multivariate_normal(found.lab[0], found.covariance[0], 4000)
    many = replace(
        found,
        lab=np.tile(found.lab, (4000, 1)),
        covariance=np.tile(found.covariance, (4000, 1, 1)),
        moves=np.tile(found.moves, (4000, 1, 1)),
    )
    # 4,000 draws: the standard error of 0.9 is 0.005
    assert many.holds(drawn).mean() == pytest.approx(0.9, abs=0.02)
    away = delta_e_2000(drawn, np.tile(found.lab, (4000, 1)))
    assert (away <= found.differences()[0]).mean() == pytest.approx(0.9, abs=0.04)


def test_less_sure_paints_have_wider_ranges() -> None:
    narrow, wide = replace(paint("PB60"), sigma=0.1), replace(paint("PB60"), sigma=0.6)
    amounts = np.array([[[0.1]]])
    sizes = [float(doubt_of_stacks(PAPER, [p], amounts).differences()[0]) for p in (narrow, wide)]
    assert sizes[0] < sizes[1]
