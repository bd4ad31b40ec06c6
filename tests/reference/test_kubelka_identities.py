"""Identities of the Kubelka-Munk theory, in the forms their papers give them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from firstwash.optics.kubelka import (
    absorption_to_scattering,
    infinite_reflectance,
    over,
    slab,
    stack_pair,
)

Layer = tuple[np.ndarray, np.ndarray, np.ndarray]
depth = st.floats(1e-4, 5.0)
fraction = st.floats(0.0, 1.0)

# A layer that is not the same from both sides: (R from above, R from below, T), each pair of
# R and T within energy.
lopsided = st.tuples(fraction, fraction, fraction).map(
    lambda v: (v[0] * (1 - v[2]), v[1] * (1 - v[2]), v[2])
)


def both_sides(kx: float, sx: float) -> Layer:
    r, t = slab(kx, sx)
    return r, r, t


@given(kx=depth, sx=depth)
def test_hyperbolic_solution(kx: float, sx: float) -> None:
    # [Kubelka1948]: a = 1 + K/S, b = √(a² − 1), R = sinh bSX / (a·sinh bSX + b·cosh bSX),
    # T = b / (a·sinh bSX + b·cosh bSX). Here the textbook form, cancellation and all: a² − 1
    # loses digits when K is small beside S (1e-4 / 5: five of sixteen).
    a = 1 + kx / sx
    b = np.sqrt(a * a - 1)
    below = a * np.sinh(b * sx) + b * np.cosh(b * sx)
    r, t = slab(kx, sx)
    np.testing.assert_allclose(r, np.sinh(b * sx) / below, rtol=1e-9)
    np.testing.assert_allclose(t, b / below, rtol=1e-9)


@pytest.mark.parametrize(("kx", "sx"), [(0.3, 0.8), (2.0, 0.1), (0.05, 3.0), (1.0, 0.0)])
@pytest.mark.parametrize("ground", [0.0, 0.4, 0.9])
def test_differential_equation(kx: float, sx: float, ground: float) -> None:
    # [KubelkaMunk1931]: as the layer grows, dR/dX = S − 2(K + S)R + S·R², starting at the ground.
    grown = solve_ivp(
        lambda _, r: sx - 2 * (kx + sx) * r + sx * r * r, (0, 1), [ground], rtol=1e-10, atol=1e-12
    )
    # The integrator's own error at that setting is about 1e-9.
    np.testing.assert_allclose(over(*slab(kx, sx), ground), grown.y[0, -1], atol=1e-8)


@given(kx=depth, sx=depth)
def test_stokes_relation_of_a_homogeneous_layer(kx: float, sx: float) -> None:
    # [Kubelka1948]: T² = a'² − b² with a' = a − R, that is T² = 1 − 2aR + R².
    r, t = slab(kx, sx)
    a = 1 + kx / sx
    # Numbers up to 2aR are subtracted to give T².
    np.testing.assert_allclose(1 - 2 * a * r + r * r, t * t, atol=1e-14 * (1 + 2 * a * r))


@given(kx=depth, sx=depth)
def test_two_halves_are_the_whole(kx: float, sx: float) -> None:
    half = both_sides(kx / 2, sx / 2)
    r_above, r_below, t = stack_pair(half, half)
    whole_r, whole_t = slab(kx, sx)
    # At a depth of ten T is e^-10, made of terms of order 1.
    np.testing.assert_allclose(r_above, whole_r, rtol=1e-12)
    np.testing.assert_allclose(r_below, whole_r, rtol=1e-12)
    np.testing.assert_allclose(t, whole_t, rtol=1e-11)


@given(parts=st.lists(st.floats(0.05, 1.0), min_size=2, max_size=6), kx=depth, sx=depth)
def test_any_cut_of_a_homogeneous_layer_is_the_whole(
    parts: list[float], kx: float, sx: float
) -> None:
    ground = 0.8
    share = np.array(parts) / sum(parts)
    seen = ground
    for part in share:
        seen = over(*slab(part * kx, part * sx), seen)
    np.testing.assert_allclose(seen, over(*slab(kx, sx), ground), rtol=1e-11)


@given(kx=st.tuples(depth, depth), sx=st.tuples(depth, depth))
def test_transmittance_of_a_pair_is_the_same_both_ways(
    kx: tuple[float, float], sx: tuple[float, float]
) -> None:
    # [Kubelka1954]: T is the same from either side, R is not.
    one, two = both_sides(kx[0], sx[0]), both_sides(kx[1], sx[1])
    up, down = stack_pair(one, two), stack_pair(two, one)
    np.testing.assert_allclose(up[2], down[2], rtol=1e-13)
    # Turning the pair over swaps its two reflectances.
    np.testing.assert_allclose(up[0], down[1], rtol=1e-13)
    np.testing.assert_allclose(up[1], down[0], rtol=1e-13)


@given(one=lopsided, two=lopsided, three=lopsided)
def test_composition_is_associative(
    one: tuple[float, float, float],
    two: tuple[float, float, float],
    three: tuple[float, float, float],
) -> None:
    if max(one[1] * two[0], two[1] * three[0]) > 0.999:
        return  # light trapped between mirrors: 1 − R·R has lost its digits
    left = stack_pair(stack_pair(one, two), three)
    right = stack_pair(one, stack_pair(two, three))
    # Each 1 − R·R is at least 1e-3, so at most six digits are lost.
    np.testing.assert_allclose(left, right, atol=1e-9)


@given(one=lopsided, two=lopsided, ground=st.floats(0.0, 0.99))
def test_a_pair_over_a_ground_is_one_over_the_other(
    one: tuple[float, float, float], two: tuple[float, float, float], ground: float
) -> None:
    pair = stack_pair(one, two)
    # From above and over a ground: R = R_above + T²·G / (1 − R_below·G) [Kubelka1954].
    pair_seen = pair[0] + pair[2] ** 2 * ground / (1 - pair[1] * ground)
    below = two[0] + two[2] ** 2 * ground / (1 - two[1] * ground)
    np.testing.assert_allclose(pair_seen, stack_pair(one, (below, below, 0.0))[0], atol=1e-9)


@given(one=lopsided, two=lopsided)
def test_a_pair_keeps_energy(
    one: tuple[float, float, float], two: tuple[float, float, float]
) -> None:
    above, below, t = stack_pair(one, two)
    assert above + t <= 1 + 1e-12
    assert below + t <= 1 + 1e-12


def test_clear_layers_and_opaque_ones() -> None:
    paint = (np.float64(0.3), np.float64(0.2), np.float64(0.4))
    np.testing.assert_array_equal(stack_pair((0.0, 0.0, 1.0), paint), paint)
    np.testing.assert_array_equal(stack_pair(paint, (0.0, 0.0, 1.0)), paint)
    above, below, t = stack_pair((0.6, 0.5, 0.0), paint)
    assert (above, t) == (0.6, 0.0)
    assert below == pytest.approx(0.2 + 0.4**2 * 0.5 / (1 - 0.5 * 0.3))


@given(k_over_s=st.floats(1e-6, 1e6))
def test_reflectance_of_a_layer_too_thick_to_see_through(k_over_s: float) -> None:
    # [KubelkaMunk1931]: K/S = (1 − R)² / 2R, and R = 1 + K/S − √((K/S)² + 2K/S).
    r = infinite_reflectance(k_over_s, 1.0)
    np.testing.assert_allclose(absorption_to_scattering(r), k_over_s, rtol=1e-9)
    textbook = 1 + k_over_s - np.sqrt(k_over_s**2 + 2 * k_over_s)
    # The textbook form subtracts numbers as large as K/S.
    np.testing.assert_allclose(r, textbook, atol=1e-15 * (1 + k_over_s))


def test_known_values() -> None:
    # By hand: K/S = 0.5 gives R∞ = 1.5 − √1.25 = 0.38197 (two less the golden ratio).
    assert infinite_reflectance(0.5, 1.0) == pytest.approx(2 - (1 + 5**0.5) / 2, rel=1e-15)
    # By hand: K = S = 1 gives a = 2, b = √3.
    b = 3**0.5
    below = 2 * np.sinh(b) + b * np.cosh(b)
    assert slab(1.0, 1.0) == (
        pytest.approx(np.sinh(b) / below, rel=1e-15),
        pytest.approx(b / below, rel=1e-15),
    )
