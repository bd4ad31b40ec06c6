"""The renderer's light against closed forms: energy, cosine and distance, penumbra, coats."""

import importlib
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]


def tool_named(name: str) -> ModuleType:
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        return importlib.import_module(name)
    finally:
        sys.path.remove(str(ROOT / "tools"))


drawing, lighting, packed, rays, render, scene, shapes = (
    tool_named(f"still_lifes.{name}")
    for name in ("drawing", "lighting", "packed", "rays", "render", "scene", "shapes")
)
WHITE = (1.0, 1.0, 1.0)
DARK = (0.0, 0.0, 0.0)
NO_SKY = scene.Sky(DARK, DARK, DARK)
WHITE_SKY = scene.Sky(WHITE, WHITE, WHITE)
NO_LAMP = scene.ball_lamp((0.0, 0.0, 500.0), (1e-12, 1e-12, 1e-12), 1.0)
COUNTS = drawing.Counts(8, 16, 16, 16)


def stuff(reflectance, **more):
    return scene.Stuff((tuple(np.broadcast_to(reflectance, 3)),), **more)


def picture(things, lamps=(NO_LAMP,), sky=NO_SKY, eye=None, **more):
    setting = scene.Scene(tuple(things), lamps, sky, eye or scene.Eye((0, -30, 5), (0, 0, 5), 8))
    return render.render(setting, 24, fine=1, counts=COUNTS, **more)


def test_a_ball_in_a_white_sky_is_as_bright_as_its_reflectance():
    """Every direction is equally bright, so light is 1 everywhere and the grain none."""
    rho = np.array([0.1, 0.4, 0.8])
    ball = scene.Thing("ball", shapes.ball(5), stuff(rho))
    found = picture([ball], sky=WHITE_SKY, aspect=1.0)
    inside = found.valid
    share = found.rgb[inside] / found.rgb[~inside].max()
    assert inside.sum() > 100
    # A lobe of the ball's own facets is met by fewer than one ray in a thousand.
    assert np.abs(share - rho).max() < 2e-3


@pytest.mark.parametrize(("rho", "bounces"), [(0.3, 1), (0.7, 2), (0.7, 5)])
def test_a_closed_ball_holds_the_sum_of_its_bounces(rho, bounces):
    """Inside a ball with a lamp at its middle every bounce adds rho times the one before."""
    radius = 20.0
    mesh = shapes.moved(shapes.ball(radius), (0, 0, -radius))
    lamp = scene.Lamp(scene.BALL, (0.0, 0.0, 0.0), (radius**2,) * 3, 0.01)
    shell = scene.Thing("shell", mesh, stuff(rho, thin=True))
    setting = scene.Scene((shell,), (lamp,), NO_SKY, scene.Eye((0, -5, 3), (0, 5, 0), 30))
    planes = drawn(setting, bounces)
    light = (planes.key + planes.gathered)[..., 0]
    whole = (1 - rho ** (bounces + 2)) / (1 - rho)
    # The shell is of flat facets, 80 round and 56 high: a little nearer to the lamp than a ball.
    assert light.mean() == pytest.approx(whole, rel=0.01)
    assert light.std() < 0.02 * whole


def drawn(setting, bounces=2, rows=12, cols=16):
    """The planes themselves, before the camera."""
    arrays = packed.pack(setting)
    cache = render._kept_light(arrays, bounces)
    planes = drawing.empty_planes(rows, cols)
    eye = render._view(setting.eye, cols)
    drawing.draw_rows(arrays, cache, eye, planes, 0, rows, COUNTS, 0)
    return planes


def floor_under(lamp, *things):
    ground = shapes.plane((-60, -60, 0), (120, 0, 0), (0, 120, 0), 4)
    every = (scene.Thing("floor", ground, stuff(0.5)), *things)
    return packed.pack(scene.Scene(every, (lamp,), NO_SKY))


@pytest.mark.parametrize("aside", [0.0, 5.0, 12.0, 30.0])
def test_a_small_lamp_falls_off_with_the_square_and_the_cosine(aside):
    height = 20.0
    arrays = floor_under(scene.ball_lamp((0.0, 0.0, height), WHITE, 0.05))
    r, g, b, even = lighting.lamp_light(arrays, 0, (aside, 0.0, 0.001), (0.0, 0.0, 1.0), 16, 0, 0)
    d2 = height**2 + aside**2
    # The disc that stands for the lamp is 0.05 cm wide: its own spread is below 1e-4.
    assert r == pytest.approx(height**2 / d2 * height / np.sqrt(d2), rel=2e-4)
    assert r == g == b
    assert even == 1.0


def test_a_window_gives_what_summing_over_its_panes_gives():
    wide, high, far = 40.0, 60.0, 50.0
    lamp = scene.window((0.0, far, 30.0), (wide, high), WHITE)
    arrays = floor_under(lamp)
    r, _, _, _ = lighting.lamp_light(arrays, 0, (0.0, 0.0, 0.001), (0.0, 0.0, 1.0), 4096, 3, 0)
    s, t = (np.arange(400) + 0.5) / 400 - 0.5, (np.arange(400) + 0.5) / 400 - 0.5
    s, t = np.meshgrid(s, t)
    panes = (np.abs(s) >= 0.03) & (np.abs(t) >= 0.03)
    z = 30.0 + t * high
    d2 = (s * wide) ** 2 + far**2 + z**2
    kernel = (z / np.sqrt(d2)) * (far / np.sqrt(d2)) / d2 * panes
    expected = lamp.rgb[0] * wide * high * kernel.mean()
    assert r == pytest.approx(expected, rel=0.01)  # 4096 samples, bars are met or not


def covered(apart, one, two):
    """Area of the overlap of two discs, by share of the first."""
    if apart >= one + two:
        return 0.0
    if apart <= abs(two - one):
        return min(1.0, (two / one) ** 2)
    a = np.arccos((apart**2 + one**2 - two**2) / (2 * apart * one))
    b = np.arccos((apart**2 + two**2 - one**2) / (2 * apart * two))
    lens = one**2 * (a - np.sin(2 * a) / 2) + two**2 * (b - np.sin(2 * b) / 2)
    return lens / (np.pi * one**2)


@pytest.mark.parametrize("aside", [0.0, 0.4, 0.8, 1.2, 1.6, 2.0, 3.0, 4.0])
def test_the_shadow_of_a_ball_has_the_penumbra_of_two_discs(aside):
    """A sun overhead 0.1 wide and a ball high above the floor: two discs that slide apart."""
    height, radius, half = 20.0, 1.2, 0.1
    ball = scene.Thing(
        "ball", shapes.moved(shapes.ball(radius), (0, 0, height - radius)), stuff(0.5)
    )
    sun = scene.sun((0, 0, 1), WHITE, float(np.degrees(np.arctan(half))))
    arrays = floor_under(sun, ball)
    spot = rays.Spot((aside, 0.0, 0.001), (0.0, 0.0, 1.0), (0.0, 0.0, 0.0), 0, True)
    share = drawing.shadow_share(arrays, spot, 4096, 5)
    expected = covered(aside / height, half, np.tan(np.arcsin(radius / height)))
    # Seen from aside the ball is a slightly longer disc, and its mesh is inscribed: up to 1 %.
    assert share == pytest.approx(expected, abs=0.015)


def test_form_shadow_is_not_cast_shadow():
    """The far side of a lone ball is in nobody's shadow; its facing says that it turns away."""
    ball = scene.Thing("ball", shapes.ball(5), stuff(0.5))
    found = picture([ball], (scene.sun((1, -0.2, 0.3), WHITE),), aspect=1.0)
    there = found.valid
    assert found.facing[there].min() < -0.3
    assert found.shadow[there].max() < 0.02
    lit = found.light[..., 0] > 1e-3
    # Every pixel is one ray here: the light ends where the facing ends.
    assert np.array_equal(lit[there], found.facing[there] > 0) or (
        np.mean(lit[there] != (found.facing[there] > 0)) < 0.03
    )


def test_a_red_cloth_throws_red_light_on_a_white_wall():
    """What the wall gets beside the lamp's own light has the cloth's colour."""
    red = (0.6, 0.06, 0.03)
    ground = scene.Thing(
        "cloth", shapes.plane((-30, -60, 0), (60, 0, 0), (0, 60, 0), 24), stuff(red)
    )
    wall = scene.Thing("wall", shapes.plane((-30, 0, 0), (60, 0, 0), (0, 0, 30), 24), stuff(0.7))
    lamp = scene.sun((0, -0.001, 1), WHITE)
    eye = scene.Eye((0, -30, 10), (0, 0, 5), 5)
    planes = drawn(scene.Scene((ground, wall), (lamp,), NO_SKY, eye), bounces=0)
    seen = planes.gathered[planes.thing == 1].mean(axis=0)
    assert np.allclose(seen / seen[0], np.array(red) / red[0], atol=0.01)
    assert 0.15 < seen[0] / 0.6 < 0.5  # a wall sees at most half a floor


@pytest.mark.parametrize("rough", [0.1, 0.3, 0.6])
def test_a_coat_gives_back_no_more_than_it_gets(rough):
    """In a white sky body and coat together stay below 1, and reach nearly what is not absorbed."""
    ball = scene.Thing("ball", shapes.ball(5), stuff(0.9, shine=0.04, rough=rough))
    found = picture([ball], sky=WHITE_SKY, aspect=1.0)
    sky = found.rgb[~found.valid].max()
    whole = found.rgb[found.valid] / sky
    # 0.9 + 0.04 at most looking straight down; towards the rim the coat's share grows, the body's
    # shrinks. Few rays per pixel leave a grain of about 0.02 on the coat.
    assert whole.mean() == pytest.approx(0.93, abs=0.03)
    assert whole.max() < 1.04


def test_white_metal_gives_back_nearly_all_and_counts_as_no_truth():
    ball = scene.Thing("ball", shapes.ball(5), stuff(1.0, kind=scene.METAL, rough=0.2))
    found = picture([ball], sky=WHITE_SKY, aspect=1.0)
    on = found.objects == 0
    assert not found.valid[on].any()
    share = found.gloss[on] / found.gloss[~on].max()
    # A rough surface masks itself towards the rim; what is masked is not thrown on.
    assert 0.9 < share.mean() <= 1.01


def test_clear_glass_hides_little_and_tints_the_light_through_it():
    pane = shapes.moved(shapes.box((10, 10, 1)), (0, 0, 5))
    green = scene.Thing("pane", pane, scene.Stuff(((0.5, 0.9, 0.6),), kind=scene.GLASS))
    arrays = floor_under(scene.sun((0, 0, 1), WHITE), green)
    light = lighting.lamp_light(arrays, 0, (0.3, 0.2, 0.001), (0.0, 0.0, 1.0), 8, 0, 0)
    # Two faces, each lets 0.95 of its tint through; the sun is not a point, so 1e-5 is lost.
    assert np.allclose(light[:3], (0.95 * np.array([0.5, 0.9, 0.6])) ** 2, rtol=1e-4)
