"""sRGB against the figures of its standard and against an independent implementation."""

import colour
import numpy as np

from firstwash.optics.observer import (
    lab_to_srgb8,
    light,
    linear_srgb_to_xyz,
    srgb_decode,
    srgb_encode,
    xyz_to_lab,
    xyz_to_linear_srgb,
)


def test_matrices_of_the_standard() -> None:
    # [IEC61966-2-1] prints four decimals of RGB → XYZ ...
    printed = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    np.testing.assert_allclose(linear_srgb_to_xyz(np.eye(3)).T, printed, atol=0.5e-4)
    # ... and inverts that rounded matrix for XYZ → RGB, which moves the fourth decimal.
    printed = [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
    np.testing.assert_allclose(xyz_to_linear_srgb(np.eye(3)).T, printed, atol=4e-4)


def test_white_of_the_standard() -> None:
    # [IEC61966-2-1]: x = 0.3127, y = 0.3290.
    white = linear_srgb_to_xyz([1.0, 1.0, 1.0])
    np.testing.assert_allclose(white[:2] / white.sum(), [0.3127, 0.3290], atol=1e-12)
    # Its chromaticity is rounded to four digits, the light's own white is not: that is 0.014 in
    # b*, 0.003 in a*.
    np.testing.assert_allclose(xyz_to_lab(white), [100, 0, 0], atol=0.02)
    np.testing.assert_allclose(light("D65").white, white, atol=3e-4)


def test_transfer_curve_of_the_standard() -> None:
    # [IEC61966-2-1]: a line of slope 12.92 up to 0.04045 (0.0031308 in light), a power above.
    np.testing.assert_allclose(srgb_decode([0, 0.04045, 1]), [0, 0.04045 / 12.92, 1], atol=1e-12)
    # The two pieces meet within 3e-8 of light: the published constants are rounded.
    np.testing.assert_allclose(srgb_decode(0.04045 + 1e-12), 0.04045 / 12.92, atol=3e-8)
    # Middle grey as every table of the curve has it: signal 128 is 21.6 % of the light.
    np.testing.assert_allclose(srgb_decode(128 / 255), 0.2158605, atol=5e-8)


def test_curve_agrees_with_an_independent_implementation() -> None:
    signal = np.linspace(0, 1, 4001)
    np.testing.assert_allclose(srgb_decode(signal), colour.models.eotf_sRGB(signal), atol=1e-12)
    linear = np.linspace(0, 1, 4001)
    np.testing.assert_allclose(
        srgb_encode(linear), colour.models.eotf_inverse_sRGB(linear), atol=1e-12
    )


def test_matrix_agrees_with_an_independent_implementation(rng: np.random.Generator) -> None:
    rgb = rng.uniform(-0.2, 1.2, (1000, 3))
    space = colour.RGB_COLOURSPACES["sRGB"]
    theirs = colour.RGB_to_XYZ(rgb, space, apply_cctf_decoding=False)
    # They use the standard's matrix of four decimals, off by up to 5e-5 in each of three terms.
    np.testing.assert_allclose(linear_srgb_to_xyz(rgb), theirs, atol=2e-4)


def test_lab_agrees_with_an_independent_implementation(rng: np.random.Generator) -> None:
    xyz = rng.uniform(0, 1.2, (10_000, 3))
    xyz[:500] *= 0.01  # the straight part of the curve
    for name in ("D65", "D50", "A", "LED"):
        white = light(name).white
        theirs = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white))
        np.testing.assert_allclose(xyz_to_lab(xyz, name), theirs, atol=1e-6)


def test_every_signal_survives_the_way_to_light_and_back() -> None:
    codes = np.arange(256)
    back = np.rint(255 * srgb_encode(srgb_decode(codes / 255)))
    np.testing.assert_array_equal(back, codes)


def test_every_screen_colour_survives_the_way_to_lab_and_back(rng: np.random.Generator) -> None:
    steps = np.array([0, 1, 2, 9, 10, 11, 12, 64, 127, 128, 200, 253, 254, 255])
    grid = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    codes = np.vstack([grid, rng.integers(0, 256, (20_000, 3))])
    lab = xyz_to_lab(linear_srgb_to_xyz(srgb_decode(codes / 255)))
    np.testing.assert_array_equal(lab_to_srgb8(lab), codes)
