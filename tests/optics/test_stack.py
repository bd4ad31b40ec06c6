"""Coats over paper: only darker when transparent, order, amounts, the coat that soaks in."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstwash.optics.grid import N_BANDS
from firstwash.optics.kubelka import over, slab
from firstwash.optics.stack import coats_inside, first_coat_1, first_coat_gradient_1, stages
from firstwash.optics.surface import Paper, leave_surface

WHITE = np.linspace(0.80, 0.92, N_BANDS)
PLAIN = Paper("plain", WHITE)
SOAKING = Paper("soaking", WHITE, soak=0.68, fibre_scattering=2.3)

# Rounding of a few dozen operations on numbers of order 1.
EPS = 1e-13

coats = arrays(float, (3, N_BANDS), elements=st.floats(0.0, 5.0))
one_coat = arrays(float, N_BANDS, elements=st.floats(0.0, 5.0))


def none(n: int = 1) -> np.ndarray:
    return np.zeros((n, N_BANDS))


@pytest.mark.parametrize("paper", [PLAIN, SOAKING])
def test_no_coats_is_the_paper(paper: Paper) -> None:
    bare = stages(paper, none(0), none(0))
    assert bare.shape == (1, N_BANDS)
    np.testing.assert_allclose(bare[0], WHITE, rtol=1e-14)
    # Coats of clear water leave it so.
    for stage in stages(paper, none(3), none(3)):
        np.testing.assert_allclose(stage, WHITE, rtol=1e-14)


@given(kx=coats, sx=coats)
def test_stages_lie_strictly_between_black_and_white(kx: np.ndarray, sx: np.ndarray) -> None:
    for paper in (PLAIN, SOAKING):
        seen = stages(paper, kx, sx)
        assert seen.shape == (4, N_BANDS)
        assert (seen > 0).all()
        assert (seen < 1).all()


@given(kx=coats)
def test_transparent_coats_never_lighten(kx: np.ndarray) -> None:
    for paper in (PLAIN, Paper("soaking", WHITE, soak=0.68)):
        assert (np.diff(stages(paper, kx, none(3)), axis=0) <= EPS).all()


@given(kx=coats)
def test_transparent_coats_may_be_laid_in_any_order(kx: np.ndarray) -> None:
    order = stages(PLAIN, kx, none(3))[-1]
    np.testing.assert_allclose(stages(PLAIN, kx[::-1], none(3))[-1], order, rtol=1e-12)
    np.testing.assert_allclose(stages(PLAIN, kx[[1, 2, 0]], none(3))[-1], order, rtol=1e-12)


@given(kx=one_coat, sx=one_coat)
def test_two_coats_are_one_double_coat(kx: np.ndarray, sx: np.ndarray) -> None:
    twice = stages(PLAIN, [kx, kx], [sx, sx])[-1]
    double = stages(PLAIN, [2 * kx], [2 * sx])[-1]
    # Thick coats go through sinh and cosh of up to 20; their digits cancel in the ratios.
    np.testing.assert_allclose(twice, double, rtol=1e-11)


@given(kx=one_coat, sx=one_coat)
def test_a_clear_coat_between_changes_nothing(kx: np.ndarray, sx: np.ndarray) -> None:
    for paper in (PLAIN, SOAKING):
        plain = stages(paper, [kx, kx], [sx, sx])[-1]
        gaps = stages(paper, [0 * kx, kx, 0 * kx, kx], [0 * sx, sx, 0 * sx, sx])[-1]
        np.testing.assert_allclose(gaps, plain, rtol=1e-14)


def test_order_matters_when_a_coat_scatters() -> None:
    opaque = (np.full(N_BANDS, 0.05), np.full(N_BANDS, 3.0))
    dark = (np.full(N_BANDS, 1.0), np.zeros(N_BANDS))
    under = stages(PLAIN, [opaque[0], dark[0]], [opaque[1], dark[1]])[-1]
    on_top = stages(PLAIN, [dark[0], opaque[0]], [dark[1], opaque[1]])[-1]
    assert (on_top > under + 0.05).all()
    # ... and an opaque coat does lighten what it covers.
    assert (on_top > stages(PLAIN, [dark[0]], [dark[1]])[-1] + 0.05).all()


def test_stages_are_the_layers_composed_by_hand(rng: np.random.Generator) -> None:
    kx, sx = rng.uniform(0, 2, (2, 3, N_BANDS))
    inside = PLAIN.inside
    for i, stage in enumerate(stages(PLAIN, kx, sx)[1:]):
        inside = over(*slab(kx[i], sx[i]), inside)
        np.testing.assert_allclose(stage, leave_surface(inside, PLAIN.k1, PLAIN.k2), rtol=1e-13)


def test_the_first_coat_with_paint_sinks_in_and_the_next_do_not(rng: np.random.Generator) -> None:
    kx, sx = rng.uniform(0.1, 1, (2, 2, N_BANDS))
    kx[0, :10] = sx[0, :10] = 0  # a paint that is perfectly clear in ten bands
    below = over(
        *slab(
            SOAKING.soak * kx[0] + SOAKING.fibre_absorption,
            SOAKING.soak * sx[0] + SOAKING.fibre_scattering,
        ),
        SOAKING.inside,
    )
    below = over(*slab((1 - SOAKING.soak) * kx[0], (1 - SOAKING.soak) * sx[0]), below)
    above = over(*slab(kx[1], sx[1]), below)
    for clear in (0, 2):
        water = np.zeros((clear, N_BANDS))
        seen = stages(SOAKING, np.vstack([water, kx]), np.vstack([water, sx]))
        for stage, inside in zip(seen[-2:], (below, above), strict=True):
            expected = leave_surface(inside, SOAKING.k1, SOAKING.k2)
            np.testing.assert_allclose(stage, expected, rtol=1e-12)


@given(
    kx=st.floats(0.001, 3.0),
    sx=st.floats(0.001, 3.0),
    ground=st.floats(0.05, 0.98),
    soak=st.floats(0.0, 1.0),
    fibre_s=st.floats(0.0, 3.0),
)
def test_first_coat_gradient_matches_finite_differences(
    kx: float, sx: float, ground: float, soak: float, fibre_s: float
) -> None:
    fibre_k = fibre_s * (1 - ground) ** 2 / (2 * ground)
    rest = (ground, soak, fibre_k, fibre_s)
    value, by_k, by_s = first_coat_gradient_1(kx, sx, *rest)
    assert value == pytest.approx(first_coat_1(kx, sx, *rest), rel=1e-11)
    # Rounding eps/h = 1e-11 and curvature h² · (third slope, at most some tens): see kubelka.
    h = 1e-5
    by_k_seen = (first_coat_1(kx + h, sx, *rest) - first_coat_1(kx - h, sx, *rest)) / (2 * h)
    by_s_seen = (first_coat_1(kx, sx + h, *rest) - first_coat_1(kx, sx - h, *rest)) / (2 * h)
    assert by_k == pytest.approx(by_k_seen, abs=2e-8)
    assert by_s == pytest.approx(by_s_seen, abs=2e-8)


def test_inside_stages_start_at_the_ground() -> None:
    out = np.empty((2, N_BANDS))
    ground = np.full(N_BANDS, 0.5)
    coats_inside(none(), none(), ground, 0.0, np.zeros(N_BANDS), 0.0, out)
    assert (out == 0.5).all()


@pytest.mark.parametrize("bad", [-0.1, np.nan, np.inf])
def test_impossible_depths_are_refused(bad: float) -> None:
    wrong = none()
    wrong[0, 5] = bad
    with pytest.raises(ValueError, match="finite and not negative"):
        stages(PLAIN, wrong, none())
    with pytest.raises(ValueError, match="finite and not negative"):
        stages(PLAIN, none(), wrong)


def test_wrong_shapes_are_refused() -> None:
    with pytest.raises(ValueError, match="36"):
        stages(PLAIN, np.zeros((1, 31)), np.zeros((1, 31)))
    with pytest.raises(ValueError, match="coats"):
        stages(PLAIN, none(2), none(3))
    with pytest.raises(ValueError, match="coats"):
        stages(PLAIN, np.zeros(N_BANDS), np.zeros(N_BANDS))
