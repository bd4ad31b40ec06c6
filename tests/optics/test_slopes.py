"""Many stacks at once: the same reflectance as `optics.stack`, and slopes that are slopes."""

import numpy as np
import pytest

from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import LIGHTS, light, reflectance_to_lab
from firstwash.optics.slopes import lab_slopes, see_stacks
from firstwash.optics.stack import stages
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import default_paper


@pytest.fixture
def depths(rng):
    return rng.uniform(0.001, 2.0, (5, 3, N_BANDS)), rng.uniform(0.001, 1.0, (5, 3, N_BANDS))


def test_the_same_as_one_stack_at_a_time(depths) -> None:
    kx, sx = depths
    kx[1, 0] = sx[1, 0] = 0.0  # a coat of nothing below: the next one soaks in
    seen = see_stacks(default_paper(), kx, sx)
    alone = [stages(default_paper(), k, s)[-1] for k, s in zip(kx, sx, strict=True)]
    np.testing.assert_allclose(seen.reflectance, alone, rtol=1e-12)


def test_slopes_are_small_differences(depths, rng) -> None:
    kx, sx = depths
    seen = see_stacks(default_paper(), kx, sx)
    step = 1e-6
    for depth, slope in ((0, seen.by_k), (1, seen.by_s)):
        way = rng.standard_normal(kx.shape)
        moved = [
            see_stacks(default_paper(), *(d + sign * step * way * (i == depth)
                                          for i, d in enumerate((kx, sx)))).reflectance
            for sign in (1, -1)
        ]  # fmt: skip
        numeric = (moved[0] - moved[1]) / (2 * step)
        # 1e-7: rounding of 1e-16 over a step of 1e-6, and the third derivative
        np.testing.assert_allclose((slope * way).sum(axis=1), numeric, atol=1e-7)


def test_more_absorption_never_lightens(depths) -> None:
    assert (see_stacks(default_paper(), *depths).by_k <= 0).all()


def test_a_coat_of_nothing_has_no_slope(depths) -> None:
    kx, sx = depths
    kx[:, 1] = sx[:, 1] = 0.0
    seen = see_stacks(default_paper(), kx, sx)
    assert (seen.by_k[:, 1] == 0).all()
    assert (seen.by_s[:, 1] == 0).all()


def test_a_dark_ground_shows_scattering_only() -> None:
    # A fibre-free paper, so that the ground is what the stack lies on.
    paper = Paper("plain", np.full(N_BANDS, 0.85))
    kx = np.full((2, 1, N_BANDS), 1e-9)
    sx = np.array([0.0, 0.5])[:, None, None] * np.ones((2, 1, N_BANDS))
    black = np.full((2, N_BANDS), 0.03)
    clear, cloudy = see_stacks(paper, kx, sx, black).reflectance
    np.testing.assert_allclose(clear, 0.03, atol=1e-6)
    assert (cloudy > 0.1).all()


@pytest.mark.parametrize("name", LIGHTS)
def test_lab_slopes_are_small_differences(name, rng) -> None:
    # Some bands so dark that X, Y, Z fall below the straight part of CIELAB.
    r = np.concatenate(
        [rng.uniform(0.05, 0.9, (4, N_BANDS)), rng.uniform(0.0, 0.006, (4, N_BANDS))]
    )
    way = rng.standard_normal(r.shape) * r
    step = 1e-5
    numeric = (
        reflectance_to_lab(r + step * way, name) - reflectance_to_lab(r - step * way, name)
    ) / (2 * step)
    found = np.einsum("nlb,nb->nl", lab_slopes(r, light(name)), way)
    np.testing.assert_allclose(found, numeric, atol=1e-5)
