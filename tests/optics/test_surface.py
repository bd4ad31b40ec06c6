"""Reflection at the surface, and paper as a ground."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.optics.grid import N_BANDS
from firstwash.optics.surface import Paper, enter_surface, leave_surface, leave_surface_1

fractions = st.floats(0.0, 1.0)
interfaces = st.floats(0.0, 0.95)


@given(inside=fractions, k1=interfaces, k2=interfaces)
def test_leaving_and_entering_are_inverse(inside: float, k1: float, k2: float) -> None:
    seen = leave_surface(inside, k1, k2)
    # Both directions divide by at least (1 - 0.95)², which costs three digits of sixteen.
    np.testing.assert_allclose(enter_surface(seen, k1, k2), inside, atol=1e-12)


@given(inside=st.tuples(fractions, fractions), k1=interfaces, k2=interfaces)
def test_the_surface_keeps_order_and_energy(
    inside: tuple[float, float], k1: float, k2: float
) -> None:
    dark, light = sorted(inside)
    assert k1 - 1e-15 <= leave_surface(dark, k1, k2)
    assert leave_surface(dark, k1, k2) <= leave_surface(light, k1, k2) + 1e-15
    assert leave_surface(light, k1, k2) <= 1 + 1e-15


def test_black_returns_the_surface_reflection_and_white_stays_white() -> None:
    # [Saunderson1942]: nothing inside leaves k1; a perfect diffuser inside loses nothing.
    assert leave_surface(0.0, 0.04, 0.6) == 0.04
    assert leave_surface(1.0, 0.04, 0.6) == pytest.approx(1.0, abs=1e-15)
    assert leave_surface(0.3, 0.0, 0.0) == pytest.approx(0.3, abs=1e-15)


def test_darker_than_the_surface_itself_means_black_inside() -> None:
    assert enter_surface(0.01, 0.04, 0.6) == 0


def test_kernel_and_array_function_agree(rng: np.random.Generator) -> None:
    inside = rng.uniform(0, 1, 50)
    for value, seen in zip(inside, leave_surface(inside, 0.02, 0.7), strict=True):
        assert leave_surface_1(value, 0.02, 0.7) == pytest.approx(seen, rel=1e-15)


def test_paper_looks_like_itself() -> None:
    white = np.linspace(0.7, 0.95, N_BANDS)
    paper = Paper("test", white)
    np.testing.assert_allclose(leave_surface(paper.inside, paper.k1, paper.k2), white, rtol=1e-14)


def test_fibres_are_as_white_as_the_paper() -> None:
    paper = Paper("test", np.linspace(0.7, 0.95, N_BANDS), fibre_scattering=2.3)
    ratio = paper.fibre_absorption / paper.fibre_scattering
    # (1 - R)²/2R of the paper inside: a layer of bare fibres does not change the paper.
    np.testing.assert_allclose(ratio, (1 - paper.inside) ** 2 / (2 * paper.inside), rtol=1e-14)


def test_paper_cannot_be_changed() -> None:
    paper = Paper("test", np.full(N_BANDS, 0.9))
    for values in (paper.reflectance, paper.inside, paper.fibre_absorption):
        with pytest.raises(ValueError, match="read-only"):
            values[0] = 0.5


@pytest.mark.parametrize(
    "wrong",
    [
        {"reflectance": np.full(35, 0.9)},
        {"reflectance": np.full(N_BANDS, 1.2)},
        {"reflectance": np.full(N_BANDS, np.nan)},
        {"k1": 1.0},
        {"k2": -0.1},
        {"k2": np.nan},
        {"soak": 1.5},
        {"fibre_scattering": -1.0},
        {"fibre_scattering": np.nan},
    ],
)
def test_impossible_paper_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r".+"):
        Paper(**{"name": "test", "reflectance": np.full(N_BANDS, 0.9), **wrong})  # type: ignore[arg-type]
