"""The plain baseline does what its definition says."""

import numpy as np

from firstwash.light.retinex import colour_retinex, grey_retinex, integrate


def flat_under_ramp() -> np.ndarray:
    ramp = np.exp(np.linspace(0.0, -1.5, 60))[None, :, None]
    return np.broadcast_to(0.8 * ramp, (40, 60, 3)) * np.array([0.9, 0.5, 0.3])


def test_integration_is_exact() -> None:
    plane = np.random.default_rng(0).normal(size=(21, 34))
    found = integrate(np.diff(plane, axis=1), np.diff(plane, axis=0))
    assert np.allclose(found, plane - plane.mean(), atol=1e-12)


def test_a_ramp_is_light() -> None:
    for found in (grey_retinex(flat_under_ramp()), colour_retinex(flat_under_ramp())):
        assert np.ptp(found / found.mean(axis=(0, 1)), axis=(0, 1)).max() < 1e-9


def test_a_large_step_is_paint() -> None:
    rgb = np.full((30, 40, 3), 0.2)
    rgb[:, 20:] = 0.8
    found = grey_retinex(rgb)
    assert np.isclose(found[0, -1, 0] / found[0, 0, 0], 4.0)


def test_only_the_colour_form_knows_a_small_step_of_colour() -> None:
    rgb = np.full((30, 40, 3), 0.5)
    rgb[:, 20:] *= [1.03, 1.0, 0.95]
    plain, colour = grey_retinex(rgb), colour_retinex(rgb, (0.5, 0.02))
    ratio = rgb[0, -1] / rgb[0, 0]
    assert np.allclose(colour[0, -1] / colour[0, 0], ratio)
    assert not np.allclose(plain[0, -1] / plain[0, 0], ratio, atol=1e-4)
