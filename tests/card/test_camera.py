"""What is thought of a phone, and what a colour target teaches about it.

The phones here are drawn from the belief itself, so that the truth is known: how much a
target tells is a matter of how the numbers are found, not of whether the belief is right.
"""

import colour
import numpy as np
import pytest

from firstwash.card.camera import CameraBelief, learn_camera, target_reflectance, usual_camera
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.grid import N_BANDS, WAVELENGTHS_NM
from firstwash.optics.observer import reflectance_to_lab
from firstwash.paints.seeing import Look

WHITE = np.ones(N_BANDS)
PLACES = np.array([(x, y) for y in np.linspace(-1, 1, 4) for x in np.linspace(-1, 1, 6)])


def looking(belief: CameraBelief, own: np.ndarray | None = None) -> Look:
    camera = belief.looking(np.ones((1, 3)), np.ones((1, 3)), WHITE)
    return camera.now(np.zeros(camera.unsure) if own is None else own)


def made_up_phone(rng: np.random.Generator) -> Look:
    """A phone as the belief says they come: every number drawn from its spread."""
    before = usual_camera()
    own = rng.standard_normal(len(before.responses) + len(before.bends) + 2)
    own[-1] = abs(own[-1]) * 0.5  # light strays on, never off
    return looking(before, own)


def shows(look: Look, reflectance: np.ndarray) -> np.ndarray:
    """(n, 3) linear light of reflectances (n, 36), a perfect white at 1."""
    return look.seen(look.logs(reflectance, WHITE))


def smooth(rng: np.random.Generator, count: int) -> np.ndarray:
    """(count, 36) reflectances that are not the target's own."""
    centre, width = rng.uniform(400, 700, (count, 1)), rng.uniform(30, 100, (count, 1))
    low, high = rng.uniform(0.05, 0.3, (count, 1)), rng.uniform(0.4, 0.9, (count, 1))
    return low + (high - low) * np.exp(-0.5 * ((WAVELENGTHS_NM - centre) / width) ** 2)


def off(found: Look, true: Look, reflectance: np.ndarray) -> float:
    """Median difference of cube roots, times 100: about steps of L*."""
    away = np.cbrt(shows(found, reflectance)) - np.cbrt(shows(true, reflectance))
    return float(100 * np.median(np.linalg.norm(away, axis=1)))


# ------------------------------------------------------------------ the target and the usual phone


def test_the_target_is_what_its_script_writes() -> None:
    spectra = colour.SDS_COLOURCHECKERS["babel_average"].values()  # as tools/build_target.py
    known = np.array([np.interp(WAVELENGTHS_NM, s.wavelengths, s.values) for s in spectra])
    found = target_reflectance()
    assert found.shape == (24, N_BANDS)
    np.testing.assert_allclose(found, known, atol=5.1e-5)  # four digits in the file
    assert (np.diff(found[18:].mean(axis=1)) < 0).all()  # greys last, from white to black


def test_it_looks_like_the_target_of_the_standard() -> None:
    tables = colour.SDS_COLOURCHECKERS["ISO 17321-1"].values()  # [ISO17321-1]
    known = np.array([np.interp(WAVELENGTHS_NM, t.wavelengths, t.values) for t in tables])
    off = delta_e_2000(reflectance_to_lab(target_reflectance()), reflectance_to_lab(known))
    # Other targets, another instrument; a patch in the wrong place would be off by 20 and more.
    assert np.median(off) < 2.0
    assert off.max() < 6.0


def test_the_usual_phone_keeps_greys_grey() -> None:
    usual = usual_camera()
    assert usual.known_by == "habit"
    np.testing.assert_allclose(usual.response.sum(axis=0), 1.0)
    # No direction of doubt makes a white that is not white.
    np.testing.assert_allclose(usual.responses.sum(axis=1), 0.0, atol=1e-9)
    greys = np.linspace(0.1, 0.9, 5)[:, None] * WHITE
    seen = shows(looking(usual), greys)
    np.testing.assert_allclose(seen, seen[:, :1] * np.ones(3), rtol=1e-9)


def test_the_usual_phone_sees_about_the_screens_colours() -> None:
    """Red looks red: each number answers most to its own third of the spectrum."""
    peaks = WAVELENGTHS_NM[np.argmax(usual_camera().response, axis=0)]
    assert 580 <= peaks[0] <= 630
    assert 520 <= peaks[1] <= 560
    assert 430 <= peaks[2] <= 475


def test_primaries_of_another_space_are_the_same_phone() -> None:
    to_srgb = colour.matrix_RGB_to_RGB(
        colour.RGB_COLOURSPACES["Display P3"], colour.RGB_COLOURSPACES["sRGB"]
    )
    plain, wide = usual_camera(), usual_camera(to_srgb)
    there = plain.response @ np.linalg.inv(to_srgb).T
    there /= there.sum(axis=0)
    # The matrix is refitted for each phone, and their small errors are drawn after it.
    assert np.abs(there - wide.response).max() < 0.005 * wide.response.max()
    assert wide.response.min() > plain.response.min()  # wider primaries, less below nought


def test_it_is_made_once_and_the_same_every_time() -> None:
    assert usual_camera() is usual_camera()
    assert usual_camera(np.eye(3)) is usual_camera()


# ------------------------------------------------------------------ learning from the target


@pytest.mark.parametrize("seed", range(6))
def test_a_made_up_phone_is_found_again(seed: int) -> None:
    rng = np.random.default_rng(seed)
    true = made_up_phone(rng)
    noise = np.exp(rng.normal(0, 0.01, (24, 3)))
    found = learn_camera(usual_camera(), 0.8 * shows(true, target_reflectance()) * noise, PLACES)
    natural = smooth(rng, 200)
    before, after = (off(looking(b), true, natural) for b in (usual_camera(), found))
    # Measured: 0.2 to 0.9 after, 2 to 14 before. Noise of a hundredth is 0.3 in these steps.
    assert after < 1.2
    assert after < 0.4 * before
    assert found.known_by == "target"
    assert found.misfit is not None
    assert found.misfit < 1.0


def learned(seed: int = 0, times: np.ndarray | float = 1.0, seen=None) -> CameraBelief:
    true = made_up_phone(np.random.default_rng(seed))
    shown = shows(true, target_reflectance()) if seen is None else seen
    return learn_camera(usual_camera(), times * shown, PLACES)


def test_doubt_shrinks() -> None:
    before, after = usual_camera(), learned()
    for name in ("responses", "bends"):
        was, now = (
            (v.reshape(len(v), -1).T @ v.reshape(len(v), -1))
            for v in (getattr(before, name), getattr(after, name))
        )
        assert np.trace(now) < 0.25 * np.trace(was)  # measured: 0.12 and 0.14
        # In no direction does it grow.
        assert np.linalg.eigvalsh(was - now).min() > -1e-6 * np.trace(was)
    assert after.colourful[1] < before.colourful[1]
    assert after.stray[1] < before.stray[1]


@pytest.mark.parametrize("exposure", [0.25, 0.6, 1.3])
def test_exposure_does_not_matter_and_white_is_told(exposure: float) -> None:
    natural = smooth(np.random.default_rng(1), 100)
    plain, other = learned(), learned(times=exposure)
    assert off(looking(plain), looking(other), natural) < 0.1
    assert other.white is not None
    # The greys tell where white would be, as far as the tones are known.
    np.testing.assert_allclose(other.white, exposure, rtol=0.02)


def test_light_may_run_across_the_target() -> None:
    natural = smooth(np.random.default_rng(1), 100)
    slope = np.exp(PLACES @ [0.08, -0.05])[:, None]  # 17 % and 10 % from edge to edge
    assert off(looking(learned()), looking(learned(times=slope)), natural) < 0.1


def test_a_spoiled_patch_and_missing_ones_do_little_harm() -> None:
    natural = smooth(np.random.default_rng(1), 100)
    true = made_up_phone(np.random.default_rng(0))
    plain = looking(learned())
    spoiled = shows(true, target_reflectance())
    spoiled[8] = 0.9  # a highlight
    assert off(plain, looking(learned(seen=spoiled)), natural) < 0.2
    clipped = shows(true, target_reflectance())
    clipped[[18, 23]] = np.nan  # white too bright, black too dark
    found = learned(seen=clipped)
    assert np.isfinite(found.response).all()
    assert off(plain, looking(found), natural) < 0.3


def test_something_else_does_not_fit() -> None:
    """Patches in another order cannot be explained by any phone."""
    true = made_up_phone(np.random.default_rng(0))
    mixed = shows(true, target_reflectance())[np.random.default_rng(3).permutation(24)]
    found = learned(seen=mixed)
    assert found.misfit is not None
    assert found.misfit > 15.0  # `card.reading` refuses it above 3.5; a real one gives 1 to 2.5
    assert np.isfinite(found.response).all()


# ------------------------------------------------------------------ told of another white


@pytest.mark.parametrize("share", [0.6, 0.85, 1.0])
def test_tones_told_of_paper_are_exact(share: float) -> None:
    """With tones alone bent, telling them of a paper instead of white is plain algebra."""
    bend = np.array([-0.2, -0.15, -0.03])
    ways = np.array([[0.1, 0.0, 0.0], [0.0, 0.1, 0.02]])
    usual = usual_camera()
    plain = CameraBelief(
        usual.response, usual.responses, bend, ways, (0.0, 0.0), (0.0, 0.0), "target"
    )
    told = plain.told_of(share)
    log = np.linspace(-3.5, 0.0, 15)[:, None] * np.ones(3)
    for j, step in ((0, 0.0), (0, 1.0), (1, -1.0)):
        of_white = Look(usual.response, bend + step * ways[j], 0.0, 0.0)
        of_paper = Look(usual.response, told.bend + step * told.bends[j], 0.0, 0.0)
        edge = np.full((1, 3), np.log(share))
        expected = of_white.seen(log + edge) / of_white.seen(edge)
        np.testing.assert_allclose(of_paper.seen(log), expected, rtol=1e-9)


def test_told_of_white_is_no_change() -> None:
    usual = usual_camera()
    np.testing.assert_allclose(usual.told_of(1.0).bend, usual.bend)
    np.testing.assert_allclose(usual.told_of(1.0).bends, usual.bends)
