"""Strokes of detail: found where they are, as wide as they are, and worth their while."""

import math

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from skimage import data
from sklearn.datasets import load_sample_image

from firstwash.optics.difference import delta_e_2000
from firstwash.optics.observer import linear_srgb_to_xyz, srgb_decode, xyz_to_lab
from firstwash.picture.shapes import ShapeLimits, find_cells, find_shapes
from firstwash.picture.stroke_render import Stroke, draw_strokes, stroke_cover
from firstwash.picture.strokes import StrokeLimits, find_strokes

Lab = NDArray[np.float64]
SIZE_MM = (90.0, 120.0)


# --- pictures with strokes that are known ----------------------------------------


def ground(ppmm: float, noise: float = 0.0) -> tuple[Lab, Lab]:
    """CIELAB of a softly graded ground, without and with noise of that spread in L*."""
    rows, cols = round(SIZE_MM[0] * ppmm), round(SIZE_MM[1] * ppmm)
    plain = np.empty((rows, cols, 3))
    plain[:] = [55.0, 8.0, 15.0]
    plain[..., 0] += np.linspace(-6.0, 6.0, cols)
    rough = np.random.default_rng(1).normal(0.0, noise, plain.shape) * [1.0, 0.4, 0.4]
    return plain, plain + rough


def arc(
    x: float, y: float, angle: float, length: float, bend: float, n: int = 120
) -> NDArray[np.float64]:
    """A curve (n, 2) mm that starts at a place in a direction and turns by `bend` in all."""
    turn = angle + bend * np.linspace(0.0, 1.0, n)
    steps = np.column_stack([np.cos(turn), np.sin(turn)]) * length / n
    return np.array([x, y]) + np.cumsum(steps, axis=0)


def brush(points: NDArray[np.float64], width: float, lab: tuple[float, float, float]) -> Stroke:
    """A stroke that swells to `width` in the middle and thins to the tips."""
    swell = np.sqrt(np.sin(np.pi * np.linspace(0.02, 0.98, len(points))))
    return Stroke(points, width / 2 * swell, "light", lab, 0.0, 0.0)


def nearest(
    points: NDArray[np.float64], line: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Distance (n,) of points from a line's points, and which one is nearest."""
    away = np.linalg.norm(points[:, None] - line[None], axis=2)
    return away.min(axis=1), away.argmin(axis=1)


WIDTHS = [(2.0, 1.0), (2.0, 1.4), (2.0, 2.2), (4.0, 0.5), (4.0, 1.0), (4.0, 2.2)]


@pytest.mark.parametrize(("ppmm", "width"), WIDTHS)
@pytest.mark.parametrize("contrast", [-25.0, -10.0, 10.0, 25.0])
@pytest.mark.parametrize("noise", [0.0, 2.0])
def test_a_stroke_is_found_as_it_is(
    ppmm: float, width: float, contrast: float, noise: float
) -> None:
    plain, rough = ground(ppmm, noise)
    true = brush(arc(25, 25, 0.1, 60, 0.7), width, (55.0 + contrast, 8.0, 15.0))
    photo = draw_strokes(rough, [true], None, ppmm)
    found = find_strokes(photo, plain, ppmm)
    assert len(found) == 1
    (one,) = found
    assert one.kind == "line"
    assert one.polarity == ("light" if contrast > 0 else "dark")
    off, at = nearest(one.points_mm, true.points_mm)
    inner = slice(5, -5)  # a broad line seems to run on for a millimetre beyond its tip
    assert off[inner].max() < 0.3 + 0.03  # the true points are half a millimetre apart
    assert off.max() < 1.6
    # All of it but the tips, which are thinner and fainter than the rest.
    assert 0.85 * 60 < one.length_mm < 63
    middle = (at > 30) & (at < 90)
    widths = one.half_widths_mm[middle] / true.half_widths_mm[at[middle]]
    # Bare pixels: a line of two pixels seems broader than it is and a little paler.
    assert widths.min() > 0.85
    assert widths.max() < 1.25
    assert one.lab[0] == pytest.approx(true.lab[0], abs=0.2 * abs(contrast) + 1.0)
    np.testing.assert_allclose(one.lab[1:], true.lab[1:], atol=2.0)


def test_the_course_is_found_within_a_third_of_a_millimetre() -> None:
    plain, rough = ground(2.0, 1.5)
    for bend in (-1.5, 0.0, 1.5):
        path = arc(30, 45, -bend / 2, 55, bend, n=2000)
        photo = draw_strokes(rough, [brush(path, 1.2, (35.0, 8.0, 15.0))], None, 2.0)
        (one,) = find_strokes(photo, plain, 2.0)
        assert nearest(one.points_mm, path)[0].max() < 0.3


def test_strokes_thin_towards_their_tips() -> None:
    plain, rough = ground(2.0, 1.0)
    photo = draw_strokes(rough, [brush(arc(25, 30, 0.2, 50, 0.3), 1.6, (30.0, 8, 15))], None, 2.0)
    (one,) = find_strokes(photo, plain, 2.0)
    w = one.half_widths_mm
    middle = w[len(w) // 2]
    assert max(w[0], w[-1]) < 0.5 * middle
    assert (np.diff(w[: len(w) // 10]) >= 0).all()
    assert (np.diff(w[-len(w) // 10 :]) <= 0).all()


def test_lines_that_cross_stay_two_strokes() -> None:
    plain, rough = ground(2.0, 1.0)
    paths = [arc(20, 20, 0.5, 70, 0.2), arc(20, 65, -0.5, 70, -0.2)]
    drawn = [brush(p, 1.0, (80.0, 5, 10)) for p in paths]
    found = find_strokes(draw_strokes(rough, drawn, None, 2.0), plain, 2.0)
    assert len(found) == 2
    assert min(s.length_mm for s in found) > 55
    for one in found:
        best = min(nearest(one.points_mm, p)[0].max() for p in paths)
        assert best < 0.6


def test_a_line_with_gaps_is_one_stroke() -> None:
    plain, rough = ground(2.0, 1.0)
    path = arc(20, 40, 0.0, 80, 0.3)
    parts = [path[:40], path[43:80], path[84:]]  # gaps of two to three millimetres
    drawn = [Stroke(p, np.full(len(p), 0.5), "light", (80.0, 5, 10), 0, 0) for p in parts]
    (one,) = find_strokes(draw_strokes(rough, drawn, None, 2.0), plain, 2.0)
    assert one.length_mm > 75


def test_a_line_of_another_colour_but_equal_lightness_is_found() -> None:
    plain, rough = ground(2.0, 1.0)
    path = arc(25, 25, 0.2, 60, 0.4)
    tint = brush(path, 1.4, (56.0, 35.0, 5.0))
    (one,) = find_strokes(draw_strokes(rough, [tint], None, 2.0), plain, 2.0)
    assert nearest(one.points_mm, path)[0].max() < 0.6
    np.testing.assert_allclose(one.lab, tint.lab, atol=5.0)


@pytest.mark.parametrize("light", [True, False])
def test_catch_lights_are_found(light: bool) -> None:
    plain, rough = ground(2.0, 1.0)
    places = [(20.3, 20.1), (60.2, 45.4), (100.0, 70.7)]
    lab = (92.0, 0.0, 2.0) if light else (15.0, 3.0, 3.0)
    radii = (0.6, 1.0, 1.7)
    drawn = [
        Stroke(np.array([p]), np.array([r]), "light", lab, 0, 0)
        for p, r in zip(places, radii, strict=True)
    ]
    found = find_strokes(draw_strokes(rough, drawn, None, 2.0), plain, 2.0)
    assert [s.kind for s in found] == ["dot"] * 3
    assert {s.polarity for s in found} == {"light" if light else "dark"}
    largest_first = sorted(found, key=lambda s: -s.area_mm2)
    for one, place, radius in zip(largest_first, places[::-1], radii[::-1], strict=True):
        assert np.linalg.norm(one.points_mm.mean(axis=0) - place) < 0.2
        assert one.width_mm / 2 == pytest.approx(radius, rel=0.25)
    assert largest_first[0].lab[0] == pytest.approx(lab[0], abs=2.0)


# --- what is no stroke -----------------------------------------------------------


def test_a_painting_that_equals_the_photo_needs_none() -> None:
    lab = photo_lab("chelsea", 300)
    assert find_strokes(lab, lab, 2.0) == ()


@pytest.mark.parametrize("ppmm", [2.0, 4.0])
def test_noise_gives_none(ppmm: float) -> None:
    for spread in (1.0, 2.0, 3.0):  # photos brought to the sheet's size have 1 to 2
        plain, rough = ground(ppmm, spread)
        assert len(find_strokes(rough, plain, ppmm)) == 0


def test_soft_grain_gives_few() -> None:
    plain, rough = ground(2.0, 1.0)
    grain = gaussian_filter(rough - plain, (0.8, 0.8, 0.0))
    grain *= 2.0 / grain[..., 0].std()
    assert len(find_strokes(plain + grain, plain, 2.0)) <= 3


def test_broad_bands_edges_and_their_halos_are_left_to_the_washes() -> None:
    plain, rough = ground(2.0, 0.5)
    y, x = np.mgrid[0 : plain.shape[0], 0 : plain.shape[1]] / 2.0
    away = (x - 60) * math.cos(0.4) + (y - 45) * math.sin(0.4)
    edge, band, halo = rough.copy(), rough.copy(), rough.copy()
    edge[..., 0] += 15.0 * np.tanh(away / 0.7)
    band[..., 0] += np.where(np.abs(away) < 4.0, 20.0, 0.0)
    # Sharpened edges are brighter just beside the step than farther off.
    halo[..., 0] += 15.0 * np.tanh(away / 0.7) + 5.0 * np.exp(-(((away - 1.5) / 0.8) ** 2))
    for photo in (edge, band, halo):
        assert find_strokes(photo, plain, 2.0) == ()


def test_a_painting_that_is_off_all_over_is_not_put_right_by_strokes() -> None:
    plain, rough = ground(2.0, 1.0)
    photo = draw_strokes(rough, [brush(arc(25, 30, 0.2, 50, 0.3), 1.2, (49.0, 8, 15))], None, 2.0)
    (one,) = find_strokes(photo, plain, 2.0)
    assert one.polarity == "dark"
    # Where the painting is 25 L* too light on both sides too, the line is not what it lacks.
    assert find_strokes(photo, plain + np.array([25.0, 0, 0]), 2.0) == ()


# --- what strokes are worth ------------------------------------------------------


def crowd(seed: int, n: int = 30) -> tuple[Lab, Lab, list[Stroke]]:
    """A plain painting, a photo with many strokes of all sorts, and those strokes."""
    rng = np.random.default_rng(seed)
    plain, rough = ground(2.0, 1.0)
    strokes = []
    for _ in range(n):
        path = arc(*rng.uniform([10, 10], [110, 80]), rng.uniform(0, 6.3), rng.uniform(6, 40), 0.8)
        lab = (float(rng.choice([25.0, 40.0, 75.0, 90.0])), 8.0, 15.0)
        strokes.append(brush(path, rng.uniform(0.6, 2.2), lab))
    return plain, draw_strokes(rough, strokes, None, 2.0), strokes


def test_gains_add_up_to_what_the_strokes_take_away() -> None:
    plain, photo, _ = crowd(2)
    weight = np.random.default_rng(0).uniform(1.0, 3.0, plain.shape[:2])
    found = find_strokes(photo, plain, 2.0, weight)
    assert len(found) > 15
    drawn = draw_strokes(plain, found, None, 2.0)
    before, after = (delta_e_2000(p, photo) ** 2 * weight / 4.0 for p in (plain, drawn))
    assert sum(s.gain for s in found) == pytest.approx(before.sum() - after.sum(), rel=1e-9)
    assert all(s.gain >= StrokeLimits().min_gain for s in found)
    assert after.sum() < 0.45 * before.sum()
    covered = stroke_cover(found, plain.shape[:2], 2.0)[1] > 0.5
    assert after[covered].mean() < 0.2 * before[covered].mean()


def test_limits_are_kept() -> None:
    plain, photo, _ = crowd(3, 60)
    limits = StrokeLimits(
        most_dark=7, most_light=4, min_length_mm=9.0, min_width_mm=0.5, max_width_mm=1.8
    )
    found = find_strokes(photo, plain, 2.0, limits=limits)
    assert sum(s.polarity == "dark" for s in found) == 7
    assert sum(s.polarity == "light" for s in found) == 4
    for one in (s for s in found if s.kind == "line"):
        assert one.length_mm >= 9.0
        assert 2 * one.half_widths_mm.min() >= 0.5
        assert one.width_mm <= 1.8
        assert one.contrast >= limits.min_contrast
    none = StrokeLimits(most_dark=0, most_light=0)
    assert find_strokes(photo, plain, 2.0, limits=none) == ()
    dear = find_strokes(photo, plain, 2.0, limits=StrokeLimits(min_gain=5000.0))
    assert 0 < len(dear) < len(find_strokes(photo, plain, 2.0))


def test_few_strokes_are_the_best_of_many() -> None:
    plain, photo, _ = crowd(4)
    many = find_strokes(photo, plain, 2.0)
    few = find_strokes(photo, plain, 2.0, limits=StrokeLimits(most_dark=3, most_light=3))
    # The first ones are the same until one kind is used up.
    assert few[0].gain == many[0].gain
    assert sum(s.gain for s in few) >= 6 / len(many) * sum(s.gain for s in many)


def test_the_focal_area_comes_first() -> None:
    plain, rough = ground(2.0, 1.0)
    paths = [arc(15, 20, 0.1, 40, 0.2), arc(65, 60, 0.1, 40, 0.2)]
    photo = draw_strokes(rough, [brush(p, 1.0, (80.0, 5, 10)) for p in paths], None, 2.0)
    one_only = StrokeLimits(most_light=1)
    for k, path in enumerate(paths):
        weight = np.ones(plain.shape[:2])
        rows = slice(0, 80) if k == 0 else slice(100, 180)
        weight[rows] = 3.0
        (one,) = find_strokes(photo, plain, 2.0, weight, one_only)
        assert nearest(one.points_mm, path)[0].max() < 0.6
    everywhere = find_strokes(photo, plain, 2.0, np.zeros(plain.shape[:2]))
    assert everywhere == ()


def test_no_two_strokes_lie_on_the_same_place() -> None:
    plain, photo, _ = crowd(5, 50)
    found = find_strokes(photo, plain, 2.0)
    taken = np.zeros(plain.shape[:2])
    for one in found:
        share = stroke_cover([one], plain.shape[:2], 2.0)[1]
        assert np.minimum(taken, share).sum() <= 0.4 * share.sum() + 1e-3
        taken = np.maximum(taken, share)


# --- turning, repeating, hostile pictures ----------------------------------------


def test_a_turned_picture_gives_turned_strokes() -> None:
    plain, rough = ground(2.0, 1.0)
    rng = np.random.default_rng(8)
    strokes = [
        brush(arc(x, y, rng.uniform(-0.6, 0.6), 22, rng.uniform(-1, 1)), width, (light, 8.0, 15.0))
        for x, width in ((10, 0.8), (48, 1.4), (86, 2.0))
        for y, light in ((20, 80.0), (45, 30.0), (70, 70.0))
    ]
    photo = draw_strokes(rough, strokes, None, 2.0)
    straight = find_strokes(photo, plain, 2.0)
    turned = find_strokes(np.rot90(photo), np.rot90(plain), 2.0)
    assert len(straight) == len(turned) == 9
    for one in straight:
        there = np.column_stack([one.points_mm[:, 1], SIZE_MM[1] - one.points_mm[:, 0]])
        off, at = nearest(
            there[len(there) // 2][None], np.concatenate([s.points_mm for s in turned])
        )
        assert off[0] < 0.25  # the points are 0.4 mm apart, and thinning takes sides by a pixel
        widths = np.concatenate([s.half_widths_mm for s in turned])
        assert widths[at[0]] == pytest.approx(one.half_widths_mm[len(there) // 2], rel=0.05)
    gains = [sum(s.gain for s in found) for found in (straight, turned)]
    assert gains[0] == pytest.approx(gains[1], rel=0.02)


def test_the_same_picture_gives_the_same_strokes() -> None:
    plain, photo, _ = crowd(7)
    one, other = find_strokes(photo, plain, 2.0), find_strokes(photo.copy(), plain.copy(), 2.0)
    assert len(one) == len(other)
    for a, b in zip(one, other, strict=True):
        np.testing.assert_array_equal(a.points_mm, b.points_mm)
        np.testing.assert_array_equal(a.half_widths_mm, b.half_widths_mm)
        assert (a.lab, a.gain, a.polarity, a.kind) == (b.lab, b.gain, b.polarity, b.kind)


@pytest.mark.parametrize("shape", [(1, 1), (2, 300), (8, 8), (9, 50), (300, 8), (40, 40)])
@pytest.mark.parametrize("ppmm", [0.05, 0.5, 1.0, 30.0])
def test_tiny_and_wild_pictures_are_survived(shape: tuple[int, int], ppmm: float) -> None:
    rng = np.random.default_rng(0)
    stripes = np.zeros((*shape, 3))
    stripes[..., 0] = 90.0 * (np.add.outer(np.arange(shape[0]), np.arange(shape[1])) % 7 < 2)
    for photo in (
        np.full((*shape, 3), [100.0, 0.0, 0.0]),
        stripes,
        rng.uniform(0, 100, (*shape, 3)),
        rng.normal(0, 300, (*shape, 3)),
    ):
        found = find_strokes(photo, np.full((*shape, 3), 50.0), ppmm)
        for one in found:
            assert np.isfinite(one.points_mm).all()
            assert one.gain > 0.0


def test_white_paper_on_white_paper_needs_nothing() -> None:
    white = np.full((80, 100, 3), [100.0, 0.0, 0.0])
    assert find_strokes(white, white, 2.0) == ()
    assert find_strokes(white, white - [30.0, 0.0, 0.0], 2.0) == ()


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_pictures_that_are_not_finite_are_refused(bad: float) -> None:
    good, wrong = np.full((20, 20, 3), 50.0), np.full((20, 20, 3), 50.0)
    wrong[3, 4, 1] = bad
    weight = np.ones((20, 20))
    with pytest.raises(ValueError, match="finite"):
        find_strokes(wrong, good, 2.0)
    with pytest.raises(ValueError, match="finite"):
        find_strokes(good, wrong, 2.0)
    weight[0, 0] = bad
    with pytest.raises(ValueError, match="finite"):
        find_strokes(good, good, 2.0, weight)


def test_pictures_that_do_not_fit_are_refused() -> None:
    good = np.full((20, 30, 3), 50.0)
    for photo, painted, weight in (
        (good, good[:10], None),
        (good[..., 0], good[..., 0], None),
        (good[..., :2], good[..., :2], None),
        (good, good, np.ones((30, 20))),
        (good, good, np.full((20, 30), -1.0)),
    ):
        with pytest.raises(ValueError, match=r"last axis|one size|negative"):
            find_strokes(photo, painted, 2.0, weight)
    for ppmm in (0.0, -1.0, np.nan):
        with pytest.raises(ValueError, match="ppmm"):
            find_strokes(good, good, ppmm)


# --- real photos -----------------------------------------------------------------


def photo_lab(name: str, width: int) -> Lab:
    """An open photo of that width in pixels as CIELAB."""
    packaged = name == "flower"
    pixels = load_sample_image("flower.jpg") if packaged else getattr(data, name)()
    signal = pixels.astype(np.float32) / 255.0
    size = (width, round(width * signal.shape[0] / signal.shape[1]))
    larger = width > signal.shape[1]
    how = cv2.INTER_CUBIC if larger else cv2.INTER_AREA
    linear = np.clip(cv2.resize(srgb_decode(signal), size, interpolation=how), 0.0, 1.0)
    return xyz_to_lab(linear_srgb_to_xyz(linear))


def flat_painting(lab: Lab, shapes: int) -> Lab:
    """What flat washes over that many shapes would show if each had its best colour."""
    limits = ShapeLimits(count=shapes)
    cells = find_cells(lab, find_shapes(lab, 2.0, limits), 2.0, limits)
    return np.asarray(cells.mean(lab)[cells.index])


@pytest.fixture(scope="module")
def cat() -> tuple[Lab, tuple[Stroke, ...], Lab]:
    lab = photo_lab("chelsea", 700)
    painted = flat_painting(lab, 60)
    return lab, find_strokes(lab, painted, 2.0), painted


@pytest.mark.slow
def test_the_cat_gets_its_whiskers(cat: tuple[Lab, tuple[Stroke, ...], Lab]) -> None:
    _, strokes, _ = cat
    # Its whiskers lie in the lower left of the picture, 350 × 233 mm here, and slant upwards to
    # the right; they are the longest light strokes.
    whiskers = [
        s
        for s in strokes
        if s.polarity == "light" and s.length_mm > 30 and s.points_mm[:, 1].mean() > 140
    ]
    assert len(whiskers) >= 4
    for one in whiskers:
        chord = np.linalg.norm(one.points_mm[-1] - one.points_mm[0])
        assert chord > 0.95 * (one.length_mm - 2 * one.half_widths_mm.max())


@pytest.mark.slow
def test_the_cat_s_eye_gets_its_light(cat: tuple[Lab, tuple[Stroke, ...], Lab]) -> None:
    lab, strokes, _ = cat
    # The pupil of the eye to the left, as a share of the picture.
    place = np.array([0.375, 0.339]) * [lab.shape[1] / 2, lab.shape[0] / 2]
    near = [s for s in strokes if np.linalg.norm(s.points_mm.mean(axis=0) - place) < 8.0]
    assert any(s.polarity == "light" and s.length_mm < 8.0 for s in near)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "fewest"), [("chelsea", 50), ("coffee", 50), ("flower", 30)])
def test_strokes_bring_real_photos_nearer(name: str, fewest: int) -> None:
    lab = photo_lab(name, 560)
    painted = flat_painting(lab, 60)
    strokes = find_strokes(lab, painted, 2.0)
    assert len(strokes) >= fewest
    drawn = draw_strokes(painted, strokes, None, 2.0)
    before, after = delta_e_2000(painted, lab), delta_e_2000(drawn, lab)
    touched = stroke_cover(strokes, (lab.shape[0], lab.shape[1]), 2.0)[1] > 0.5
    assert after.mean() < before.mean()
    # Under the strokes more than half of the difference goes; they are a few per cent of it all.
    assert after[touched].mean() < 0.6 * before[touched].mean()
    assert 0.002 < touched.mean() < 0.06
    for one in (s for s in strokes if s.kind == "line"):
        assert one.length_mm > 3.5 * 2 * np.median(one.half_widths_mm)
