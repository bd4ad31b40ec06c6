"""Layers of finite thickness: limits, energy, monotonicity, gradients, refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.optics.kubelka import (
    absorption_to_scattering,
    infinite_reflectance,
    invert_over_white_black,
    over,
    over_1,
    slab,
    slab_1,
    slab_gradient_1,
    stack_pair,
)

# Rounding: a handful of operations in double precision on numbers of order 1.
EPS = 1e-14

depths = st.one_of(
    st.just(0.0),
    st.floats(1e-12, 1e3),
    st.floats(-12, 3).map(lambda e: 10.0**e),
)
fractions = st.floats(0.0, 1.0)


@given(kx=depths, sx=depths)
def test_a_layer_never_returns_more_light_than_it_gets(kx: float, sx: float) -> None:
    r, t = slab(kx, sx)
    assert r >= 0
    assert t >= 0
    assert r + t <= 1 + EPS


@given(kx=depths, sx=depths, ground=fractions)
def test_a_layer_over_a_ground_stays_between_black_and_white(
    kx: float, sx: float, ground: float
) -> None:
    assert -EPS <= over(*slab(kx, sx), ground) <= 1 + EPS


@given(kx=depths, sx=depths, more=st.floats(1e-6, 10.0), ground=fractions)
def test_more_absorption_never_lightens(kx: float, sx: float, more: float, ground: float) -> None:
    r0, t0 = slab(kx, sx)
    r1, t1 = slab(kx + more, sx)
    assert r1 <= r0 + EPS
    assert t1 <= t0 + EPS
    assert over(r1, t1, ground) <= over(r0, t0, ground) + EPS


@given(kx=depths, sx=depths, more=st.floats(1e-6, 10.0))
def test_more_scattering_reflects_more_and_lets_less_through(
    kx: float, sx: float, more: float
) -> None:
    r0, t0 = slab(kx, sx)
    r1, t1 = slab(kx, sx + more)
    assert r1 >= r0 - EPS
    assert t1 <= t0 + EPS


@given(kx=depths, sx=depths, ground=st.tuples(fractions, fractions))
def test_a_lighter_ground_never_looks_darker(
    kx: float, sx: float, ground: tuple[float, float]
) -> None:
    r, t = slab(kx, sx)
    dark, light = sorted(ground)
    assert over(r, t, dark) <= over(r, t, light) + EPS


def test_no_paint_is_clear() -> None:
    assert slab(0.0, 0.0) == (0.0, 1.0)
    assert over(0.0, 1.0, 0.37) == 0.37


def test_without_scattering_light_is_absorbed_exponentially() -> None:
    kx = np.geomspace(1e-9, 500, 60)
    r, t = slab(kx, 0.0)
    assert np.all(r == 0)
    # exp() of the same number on both sides: only the final division may round.
    np.testing.assert_allclose(t, np.exp(-kx), rtol=1e-13)


def test_scattering_tending_to_none_is_continuous() -> None:
    kx = np.geomspace(1e-3, 5, 20)
    # r is at most sx, so with sx = 1e-12 both may differ from the limit by about that much.
    r, t = slab(kx, 1e-12)
    np.testing.assert_allclose(r, 0, atol=2e-12)
    np.testing.assert_allclose(t, np.exp(-kx), atol=1e-11)


def test_without_absorption_what_is_not_reflected_passes() -> None:
    sx = np.geomspace(1e-9, 1e9, 60)
    r, t = slab(0.0, sx)
    np.testing.assert_allclose(r, sx / (1 + sx), rtol=1e-13)
    np.testing.assert_allclose(t, 1 / (1 + sx), rtol=1e-13)
    # A trace of absorption changes neither by more than its own size, up to sx = 1e3.
    r2, t2 = slab(1e-15, sx[sx < 1e3])
    np.testing.assert_allclose(r2, r[sx < 1e3], atol=1e-11)
    np.testing.assert_allclose(t2, t[sx < 1e3], atol=1e-11)


@given(kx=st.floats(0.05, 50.0), ratio=st.floats(0.01, 100.0), ground=fractions)
def test_a_very_thick_layer_hides_its_ground(kx: float, ratio: float, ground: float) -> None:
    k, s = kx, kx * ratio
    limit = infinite_reflectance(k, s)
    # 2000 times this depth transmits under exp(-100); the rest is rounding.
    np.testing.assert_allclose(over(*slab(2000 * k, 2000 * s), ground), limit, rtol=1e-12)
    np.testing.assert_allclose(absorption_to_scattering(limit), k / s, rtol=1e-9)


def test_infinite_reflectance_at_its_limits() -> None:
    assert infinite_reflectance(1.0, 0.0) == 0
    assert infinite_reflectance(0.0, 1.0) == 1
    assert infinite_reflectance(0.0, 0.0) == 0
    with pytest.raises(ValueError, match=r"\(0, 1\]"):
        absorption_to_scattering(0.0)


@pytest.mark.parametrize(
    ("kx", "sx"),
    [
        (1e100, 0.0),
        (0.0, 1e300),
        (1e100, 1e100),
        (1e-300, 1e-300),
        (1e-300, 1e100),
        (1e100, 1e-300),
    ],
)
def test_huge_and_tiny_depths_stay_finite(kx: float, sx: float) -> None:
    r, t = slab(kx, sx)
    assert np.isfinite(r)
    assert np.isfinite(t)
    expected = infinite_reflectance(kx, sx) if max(kx, sx) > 1 else 0.5
    np.testing.assert_allclose(over(r, t, 0.5), expected, rtol=1e-12)


@pytest.mark.parametrize("bad", [-1e-9, np.nan, np.inf, -np.inf])
def test_negative_and_non_finite_depths_are_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="finite and not negative"):
        slab(bad, 1.0)
    with pytest.raises(ValueError, match="finite and not negative"):
        slab([0.1, 0.2], [0.1, bad])


def test_shapes_broadcast_and_scalars_stay_scalars() -> None:
    r, t = slab(np.ones((3, 1)), np.ones(4))
    assert r.shape == t.shape == (3, 4)
    assert slab(1.0, 2.0)[0].shape == ()
    assert over(r, t, 0.5).shape == (3, 4)
    assert over(0.1, 0.2, 0.3).shape == ()


def test_kernels_and_array_functions_agree(rng: np.random.Generator) -> None:
    kx, sx = rng.uniform(0, 3, (2, 200))
    ground = rng.uniform(0, 1, 200)
    r, t = slab(kx, sx)
    seen = over(r, t, ground)
    for i in range(200):
        assert slab_1(kx[i], sx[i]) == (r[i], t[i])
        # The array form guards its divisor against zero, which may round differently.
        assert over_1(r[i], t[i], ground[i]) == pytest.approx(seen[i], rel=1e-15)


@given(kx=st.floats(-10, 2).map(lambda e: 10.0**e), sx=st.floats(-10, 2).map(lambda e: 10.0**e))
def test_gradient_kernel_returns_the_same_layer(kx: float, sx: float) -> None:
    # The same formula in another arrangement; below q = 1e-3 its series.
    assert slab_gradient_1(kx, sx)[:2] == pytest.approx(slab_1(kx, sx), rel=1e-12, abs=1e-15)


@given(kx=st.floats(-4, 2).map(lambda e: 10.0**e), sx=st.floats(-4, 2).map(lambda e: 10.0**e))
def test_gradient_matches_finite_differences(kx: float, sx: float) -> None:
    _, _, *slopes = slab_gradient_1(kx, sx)

    def at(step_k: float, step_s: float) -> np.ndarray:
        return np.array(slab_1(kx * (1 + step_k), sx * (1 + step_s)))

    # Five points, step 0.3 % of the depth: truncation about step⁴ = 1e-10 of the slope, rounding
    # about 1e-16 / (0.003 · 1e-4) = 3e-10. Ten times that is allowed.
    h = 0.003
    by_k = (8 * (at(h, 0) - at(-h, 0)) - (at(2 * h, 0) - at(-2 * h, 0))) / (12 * h * kx)
    by_s = (8 * (at(0, h) - at(0, -h)) - (at(0, 2 * h) - at(0, -2 * h))) / (12 * h * sx)
    numeric = [by_k[0], by_s[0], by_k[1], by_s[1]]
    assert slopes == pytest.approx(numeric, rel=1e-8, abs=3e-9)


def test_gradient_at_no_paint_and_across_the_series_switch() -> None:
    assert slab_gradient_1(0.0, 0.0) == (0.0, 1.0, 0.0, 1.0, -1.0, -1.0)
    # q = kx crosses 1e-3 here, where the kernel changes from series to closed form. No value
    # or slope changes faster than at rate 2, so over a step of 2e-9 nothing may move by 1e-8.
    below, above = slab_gradient_1(1e-3 - 1e-9, 0.0), slab_gradient_1(1e-3 + 1e-9, 0.0)
    assert below == pytest.approx(above, abs=1e-8)


def test_gradient_of_a_layer_that_only_scatters() -> None:
    sx = 5.0
    r, t, _, r_s, _, t_s = slab_gradient_1(0.0, sx)
    assert r == pytest.approx(sx / (1 + sx), rel=1e-14)
    assert r_s == pytest.approx(1 / (1 + sx) ** 2, rel=1e-12)
    assert t_s == pytest.approx(-1 / (1 + sx) ** 2, rel=1e-12)
    assert t == pytest.approx(1 / (1 + sx), rel=1e-14)


def test_gradient_of_a_very_thick_layer_does_not_overflow() -> None:
    values = slab_gradient_1(2000.0, 1.0)
    assert all(np.isfinite(values))
    assert values[1] == 0


@given(kx=st.floats(1e-6, 8.0), sx=st.floats(1e-6, 8.0))
def test_over_white_and_over_black_give_the_layer_back(kx: float, sx: float) -> None:
    r, t = slab(kx, sx)
    if t < 1e-3:
        return  # white and black then look alike to three digits, and so does the answer
    back_k, back_s = invert_over_white_black(over(r, t, 1.0), over(r, t, 0.0))
    # The pair is known to 1e-16 and t² is their difference: at t = 1e-3 ten digits remain.
    np.testing.assert_allclose(back_k, kx, rtol=1e-9, atol=1e-14)
    np.testing.assert_allclose(back_s, sx, rtol=1e-9, atol=1e-14)


def test_inversion_at_its_limits() -> None:
    kx, sx = invert_over_white_black(1.0, 0.4)  # loses nothing: only scatters
    assert kx == 0
    assert sx == pytest.approx(2 / 3, rel=1e-15)  # r = sx/(1 + sx)
    kx, sx = invert_over_white_black(0.5, 0.0)  # black shows black: only absorbs, twice through
    assert kx == pytest.approx(np.log(2) / 2, rel=1e-15)
    assert sx == 0
    kx, sx = invert_over_white_black([[0.5], [0.6]], [0.1, 0.2])
    assert kx.shape == sx.shape == (2, 2)


@pytest.mark.parametrize(
    ("rw", "rb"), [(0.4, 0.4), (0.4, 0.5), (1.1, 0.5), (0.4, -0.1), (np.nan, 0.1), (0.5, np.nan)]
)
def test_inversion_refuses_what_no_layer_can_show(rw: float, rb: float) -> None:
    with pytest.raises(ValueError, match="over black < over white"):
        invert_over_white_black(rw, rb)


def test_a_pair_of_mirrors_traps_light_without_dividing_by_zero() -> None:
    assert np.isfinite(over(1.0, 0.0, 1.0))
    assert all(np.isfinite(v) for v in stack_pair((1.0, 1.0, 0.0), (1.0, 1.0, 0.0)))
