"""Parts of the picture left out, lightened, darkened and recoloured."""

import math
from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.errors import RequestError
from firstwash.optics.observer import lab_to_xyz, xyz_to_lab, xyz_to_linear_srgb
from firstwash.picture.arrange import Laid, arranged
from firstwash.picture.changes import Change, area_mask, changed, filled
from firstwash.picture.reference import BACKGROUND, Reference, with_background, with_focal_area
from firstwash.picture.sheet import parse_sheet

SHEET = parse_sheet("12x8cm")
BOX = ((0.25, 0.25), (0.75, 0.25), (0.75, 0.75), (0.25, 0.75))
EVERYWHERE = ((-1.0, -1.0), (2.0, -1.0), (2.0, 2.0), (-1.0, 2.0))
PAPER = (95.0, 0.5, 3.0)
KINDS = ("leave out", "lighten", "darken", "recolour")


def of_lab(lab: np.ndarray) -> Reference:
    light = xyz_to_linear_srgb(lab_to_xyz(lab))
    return arranged(SHEET, [Laid(light.astype(np.float32))])


@pytest.fixture(scope="module")
def mixed() -> Reference:
    """Soft random colours, twice as fine as the sheet is worked at."""
    rng = np.random.default_rng(1)
    coarse = rng.uniform([20, -30, -30], [90, 30, 30], (16, 24, 3))
    return of_lab(np.repeat(np.repeat(coarse, 20, axis=0), 20, axis=1))


def change(kind: str, area: tuple = BOX, amount: float = 1.0, **more: object) -> Change:
    lab = (60.0, 20.0, -10.0) if kind == "recolour" else None
    return Change(kind, area, amount, **({"lab": lab} | more))  # type: ignore[arg-type]


def inside(reference: Reference) -> tuple[slice, slice]:
    rows, cols = reference.xyz.shape[:2]
    return slice(int(0.3 * rows), int(0.7 * rows)), slice(int(0.3 * cols), int(0.7 * cols))


# --- where ---------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_outside_nothing_changes(mixed: Reference, kind: str) -> None:
    edited = changed(mixed, [change(kind)], PAPER)
    for name, margin in (("xyz", 4), ("judge_xyz", 2)):
        old, new = getattr(mixed, name), getattr(edited, name)
        rows, cols = old.shape[:2]
        same = np.ones((rows, cols), dtype=bool)
        same[
            rows // 4 - margin : rows * 3 // 4 + margin, cols // 4 - margin : cols * 3 // 4 + margin
        ] = False
        np.testing.assert_array_equal(old[same], new[same])
        assert np.abs(old - new).max() > 0.01
        assert new.dtype == np.float32
        assert new.min() >= 0.0


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_of_a_change_is_no_change(mixed: Reference, kind: str) -> None:
    edited = changed(mixed, [change(kind, amount=0.0)], PAPER)
    # To Lab and back in double precision, kept as float32.
    np.testing.assert_allclose(edited.xyz, mixed.xyz, atol=1e-6)


def test_no_changes_are_none(mixed: Reference) -> None:
    assert changed(mixed, []) is mixed


def test_both_sizes_show_the_same(mixed: Reference) -> None:
    """The judged picture is the worked one seen from further away."""
    edited = changed(mixed, [change(kind, amount=0.6) for kind in KINDS], PAPER)
    work = edited.xyz.reshape(80, 2, 120, 2, 3).mean(axis=(1, 3))
    np.testing.assert_allclose(edited.judge_xyz, work, atol=1e-5)


def test_zone_weight_and_picture_are_kept(mixed: Reference) -> None:
    mask = np.zeros(mixed.xyz.shape[:2])
    mask[:, :100] = 1
    marked = with_focal_area(with_background(mixed, mask, "painted", np.ones(3)), mask)
    before = marked.xyz.copy()
    edited = changed(marked, [change("darken")])
    np.testing.assert_array_equal(edited.zone, marked.zone)
    assert (edited.zone == BACKGROUND).any()
    np.testing.assert_array_equal(edited.weight, marked.weight)
    np.testing.assert_array_equal(marked.xyz, before)


def test_the_edge_of_an_area_fades_over_a_millimetre(mixed: Reference) -> None:
    row = area_mask(mixed, BOX)[80]
    assert row[60:180].mean() > 0.98
    edge = row[54:66]  # around 3 cm, two pixels a millimetre
    assert (np.diff(edge) >= 0).all()
    low, high = np.interp([0.1, 0.9], edge, np.arange(len(edge)))
    assert (high - low) / mixed.ppmm == pytest.approx(1.0, abs=0.3)
    # Centred on the line that was drawn, to half a pixel.
    assert np.interp(0.5, edge, np.arange(54, 66)) + 0.5 == pytest.approx(60, abs=0.5)


def test_changes_are_made_in_their_order(mixed: Reference) -> None:
    one, two = change("lighten", amount=0.5), change("darken", amount=0.5)
    np.testing.assert_array_equal(
        changed(mixed, [one, two]).xyz, changed(changed(mixed, [one]), [two]).xyz
    )


# --- lighter and darker ----------------------------------------------------------------


@given(st.floats(0.0, 100.0), st.floats(-60.0, 60.0), st.floats(-60.0, 60.0), st.floats(0.0, 1.0))
def test_lightness_moves_its_share_and_hue_stays(
    lightness: float, a: float, b: float, amount: float
) -> None:
    even = of_lab(np.full((8, 12, 3), 50.0))
    xyz = np.maximum(lab_to_xyz(np.array([lightness, a, b])), 0.0)
    even.xyz[:] = xyz
    before = xyz_to_lab(xyz.astype(np.float32))
    for kind, end in (("lighten", 100.0), ("darken", 0.0)):
        after = changed(even, [change(kind, amount=amount)]).lab[80, 120]
        # float32; colours no light could have are clipped after the change.
        assert after[0] == pytest.approx(before[0] + amount * (end - before[0]), abs=1.5)
        assert -1e-3 <= after[0] <= 100.01
        if (lab_to_xyz(after) > 1e-4).all():
            cross = before[1] * after[2] - before[2] * after[1]
            assert abs(cross) <= 0.02 * np.hypot(*before[1:]) * np.hypot(*after[1:]) + 0.1


def test_lightening_ends_at_the_paper(mixed: Reference) -> None:
    after = changed(mixed, [change("lighten")], PAPER).lab[inside(mixed)]
    np.testing.assert_allclose(after, np.broadcast_to(PAPER, after.shape), atol=0.01)


def test_lightening_never_darkens_a_glint() -> None:
    bright = of_lab(np.full((8, 12, 3), [99.0, 0.0, 0.0]))
    after = changed(bright, [change("lighten")], PAPER).lab
    assert after[..., 0].min() > 98.9


def test_darkening_ends_at_black(mixed: Reference) -> None:
    assert changed(mixed, [change("darken")]).xyz[inside(mixed)].max() < 1e-6


# --- another colour --------------------------------------------------------------------


def test_the_mean_gets_the_wanted_colour(mixed: Reference) -> None:
    wanted = (60.0, 12.0, -9.0)
    for amount in (0.3, 1.0):
        edited = changed(mixed, [change("recolour", EVERYWHERE, amount, lab=wanted)])
        old, new = mixed.lab.reshape(-1, 3).mean(axis=0), edited.lab.reshape(-1, 3).mean(axis=0)
        np.testing.assert_allclose(
            new[1:], old[1:] + amount * (np.array(wanted) - old)[1:], atol=0.1
        )
        assert new[0] == pytest.approx(old[0], abs=0.05)  # a few clipped at the gamut of light


def test_lightness_comes_along_only_if_asked(mixed: Reference) -> None:
    wanted = (65.0, 0.0, 0.0)
    plain = changed(mixed, [change("recolour", EVERYWHERE, lab=wanted)])
    lit = changed(mixed, [change("recolour", EVERYWHERE, lab=wanted, with_light=True)])
    np.testing.assert_allclose(plain.lab[..., 0], mixed.lab[..., 0], atol=0.05)
    assert lit.lab[..., 0].mean() == pytest.approx(65.0, abs=0.5)  # the lightest stop at 100
    inner = (mixed.lab[..., 0] > 25) & (mixed.lab[..., 0] < 80)
    moved = (lit.lab - mixed.lab)[..., 0][inner]
    assert np.ptp(moved) < 0.05  # its own variation is kept


def test_a_grey_thing_can_be_coloured() -> None:
    grey = of_lab(np.full((8, 12, 3), [50.0, 0.0, 0.0]))
    after = changed(grey, [change("recolour", lab=(50.0, 30.0, 10.0))]).lab[80, 120]
    np.testing.assert_allclose(after, [50.0, 30.0, 10.0], atol=0.01)


def test_a_glint_on_a_coloured_thing_stays_a_glint() -> None:
    apple = np.full((80, 120, 3), [45.0, 50.0, 30.0])
    apple[38:42, 58:62] = [95.0, 0.0, 0.0]
    after = changed(of_lab(apple), [change("recolour", lab=(45.0, -40.0, 30.0))]).lab
    assert np.hypot(*after[80, 120, 1:]) < 10.0
    assert after[60, 90, 1] == pytest.approx(-40.0, abs=1.0)


# --- left out --------------------------------------------------------------------------


def test_a_part_left_out_of_a_smooth_picture_leaves_no_trace() -> None:
    """A plane is harmonic, so the skin over a hole in it is the plane itself."""
    down, across = np.mgrid[0:1:160j, 0:1:240j]
    plane = np.stack([40 + 30 * across, 20 * down - 10, 15 * across - 5], axis=-1)
    spot = plane.copy()
    spot[60:100, 90:150] = [10.0, 40.0, 40.0]
    edited = changed(
        of_lab(spot), [change("leave out", ((0.3, 0.3), (0.7, 0.3), (0.7, 0.7), (0.3, 0.7)))]
    )
    expected = of_lab(plane)
    # The rim is an average over 1.5 mm on its own side of the edge, which tilts it a little.
    assert np.abs(edited.lab - expected.lab).max() < 2.0
    assert np.abs(edited.lab - expected.lab)[70:90, 105:135].max() < 0.7


def test_the_fill_stays_within_its_rim() -> None:
    rng = np.random.default_rng(2)
    picture = rng.uniform(-3.0, 5.0, (50, 70, 2))
    hole = np.zeros((50, 70), dtype=bool)
    hole[10:40, 5:60] = True
    out = filled(picture, hole, 3.0)
    np.testing.assert_array_equal(out[~hole], picture[~hole])
    assert out[hole].min() >= picture[~hole].min()
    assert out[hole].max() <= picture[~hole].max()
    # Every place is the mean of its neighbours, as far as the last sweeps went.
    mean = (out[:-2, 1:-1] + out[2:, 1:-1] + out[1:-1, :-2] + out[1:-1, 2:]) / 4
    deep = np.zeros_like(hole)
    deep[13:37, 8:57] = True
    assert np.abs(out[1:-1, 1:-1] - mean)[deep[1:-1, 1:-1]].max() < 0.01


@pytest.mark.parametrize("place", [(slice(0, 20), slice(0, 70)), (slice(30, 50), slice(40, 70))])
def test_a_hole_at_the_edge_is_filled_from_the_rest(place: tuple[slice, slice]) -> None:
    hole = np.zeros((50, 70), dtype=bool)
    hole[place] = True
    picture = np.repeat(np.where(hole, 9.0, 2.0)[..., None], 2, axis=2)
    np.testing.assert_allclose(filled(picture, hole, 3.0), 2.0, atol=1e-5)


@pytest.mark.parametrize("shape", [(1, 2), (2, 2), (3, 40), (5, 5)])
def test_the_smallest_pictures_are_filled(shape: tuple[int, int]) -> None:
    hole = np.ones(shape, dtype=bool)
    hole[0, 0] = False
    picture = np.zeros((*shape, 3))
    picture[0, 0] = 7.0
    np.testing.assert_allclose(filled(picture, hole, 1.0), 7.0, atol=1e-5)


def test_no_hole_is_no_change() -> None:
    picture = np.random.default_rng(3).random((6, 7, 3))
    np.testing.assert_array_equal(filled(picture, np.zeros((6, 7), dtype=bool), 2.0), picture)


def test_leaving_everything_out_is_refused(mixed: Reference) -> None:
    with pytest.raises(RequestError, match="Leave something"):
        changed(mixed, [change("leave out", EVERYWHERE)])


# --- nonsense --------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_an_area_off_the_sheet_is_refused(mixed: Reference, kind: str) -> None:
    away = ((2.0, 2.0), (3.0, 2.0), (3.0, 3.0))
    with pytest.raises(RequestError, match="off the sheet"):
        changed(mixed, [change(kind, away)])


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "area",
    [
        ((0.5, 0.5),) * 3,
        ((0.0, 0.0), (1e300, 0.0), (0.0, 1e300)),
        ((0.1, 0.1), (0.9, 0.9), (0.9, 0.1), (0.1, 0.9)),  # crosses itself
        ((0.0, 0.0), (0.5, 0.001), (0.0, 0.002)),
    ],
)
def test_odd_areas_do_no_harm(mixed: Reference, kind: str, area: tuple) -> None:
    edited = mixed
    with suppress(RequestError):  # too thin to be on the sheet, or all over it
        edited = changed(mixed, [change(kind, area)], PAPER)
    assert np.isfinite(edited.xyz).all()
    assert edited.xyz.min() >= 0.0
    assert np.isfinite(edited.judge_xyz).all()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("rub out", BOX), "left out, lightened"),
        (("darken", BOX[:2]), "three corners"),
        (("darken", ((0.0, 0.0), (1.0, 0.0), (math.nan, 1.0))), "three corners"),
        (("darken", BOX, 1.1), "between 0"),
        (("darken", BOX, -0.1), "between 0"),
        (("darken", BOX, math.nan), "between 0"),
        (("recolour", BOX), "Choose the colour"),
        (("recolour", BOX, 1.0, (50.0, math.nan, 0.0)), "Choose the colour"),
        (("recolour", BOX, 1.0, (50.0, 1e9, 0.0)), "Choose the colour"),
    ],
)
def test_a_change_without_sense_is_refused(asked: tuple, said: str) -> None:
    with pytest.raises(RequestError, match=said):
        Change(*asked)
