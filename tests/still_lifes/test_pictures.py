"""Whole pictures: the truth adds up, the same seed gives the same bytes, set-ups are sound."""

import importlib
import sys
from dataclasses import fields, replace
from functools import cache
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


bvh, drawing, gallery, grain, packed, random_scene, rays, render, scene, shapes, surfaces, truth = (
    tool_named(f"still_lifes.{name}")
    for name in (
        "bvh", "drawing", "gallery", "grain", "packed", "random_scene", "rays", "render",
        "scene", "shapes", "surfaces", "truth",
    )
)  # fmt: skip
FEW = drawing.Counts(2, 4, 2, 2)
set_up = cache(gallery.scene)


def corner():
    """A glazed ball and a wooden box on checks by a window: soon drawn."""
    checks = scene.Stuff(((0.7, 0.7, 0.6), (0.1, 0.2, 0.5)), "checks", 4.0, bump=0.05)
    grain_ = scene.Stuff(((0.4, 0.2, 0.1), (0.2, 0.1, 0.05)), "wood", 3.0, shine=0.03, rough=0.4)
    red = scene.Stuff(((0.5, 0.08, 0.05),), shine=0.04, rough=0.2)
    things = (
        scene.Thing("floor", shapes.plane((-40, -40, 0), (80, 0, 0), (0, 80, 0), 24), checks),
        scene.Thing("ball", shapes.moved(shapes.ball(5, rows=24, cols=32), (-4, 0, 0)), red),
        scene.Thing("box", shapes.moved(shapes.box((6, 6, 7), 6), (8, 3, 0), turn=30), grain_),
    )
    lamp = scene.window((-50, -30, 40), (40, 40), scene.glow(4000))
    return scene.Scene(things, (lamp,), scene.Sky(), scene.Eye((0, -50, 25), (1, 0, 3), 16))


def small(setting, **more):
    return render.render(setting, 32, fine=1, counts=FEW, bounces=1, **more)


@pytest.fixture(scope="module")
def drawn():
    return small(corner())


def test_the_truth_adds_up(drawn):
    whole = drawn.reflectance * drawn.light + drawn.gloss
    assert np.allclose(drawn.rgb, whole, atol=2e-6)  # float32
    assert (drawn.gloss >= 0).all()
    assert (drawn.light >= 0).all()
    assert drawn.reflectance[drawn.valid].min() >= 0.005
    assert drawn.reflectance[drawn.valid].max() <= 0.9


def test_it_adds_up_when_a_pixel_has_several_parts():
    setting = corner()
    found = render.render(setting, 16, fine=2, counts=FEW, bounces=1)
    assert np.allclose(found.rgb, found.reflectance * found.light + found.gloss, atol=2e-6)
    assert found.rgb.shape == (12, 16, 3)


def test_white_lies_at_the_percentile_and_exposure_moves_it(drawn):
    assert np.percentile(drawn.rgb.max(axis=-1), 99.5) == pytest.approx(1.0, abs=1e-5)
    darker = small(replace(corner(), exposure=0.5))
    assert np.allclose(darker.rgb, 0.5 * drawn.rgb, atol=1e-5)
    assert np.array_equal(darker.reflectance, drawn.reflectance)


def test_a_camera_that_balances_leaves_the_key_neutral():
    """Balance 1 takes all of the key's colour out of the light and none out of the reflectance."""
    setting = corner()
    plain, taken = (small(replace(setting, balance=b)) for b in (0.0, 1.0))
    assert np.allclose(taken.key, 1.0, atol=1e-6)
    assert plain.key @ render.LUMINANCE == pytest.approx(1.0)
    assert np.array_equal(plain.reflectance, taken.reflectance)


def test_the_same_seed_gives_the_same_bytes(drawn):
    again, other = (small(corner(), seed=s) for s in (0, 1))
    for f in fields(truth.Rendered):
        one, two = getattr(drawn, f.name), getattr(again, f.name)
        assert np.asarray(one).tobytes() == np.asarray(two).tobytes(), f.name
    assert other.rgb.tobytes() != drawn.rgb.tobytes()
    assert np.array_equal(other.objects, drawn.objects)


def test_a_picture_comes_back_from_disk_for_the_same_scene_only(drawn, tmp_path):
    truth.save_rendered(tmp_path / "new" / "k.npz", drawn, "abc")
    back = truth.load_rendered(tmp_path / "new" / "k.npz", "abc")
    assert back.names == drawn.names
    assert np.array_equal(back.rgb, drawn.rgb)
    assert truth.load_rendered(tmp_path / "new" / "k.npz", "abd") is None
    assert truth.load_rendered(tmp_path / "none.npz", "abc") is None


def test_the_mark_follows_the_scene():
    setting = corner()
    mark = render.made_of(setting, 320)
    assert mark == render.made_of(corner(), 320)
    assert mark != render.made_of(setting, 160)
    assert mark != render.made_of(replace(setting, balance=0.1), 320)
    lamp = replace(setting.lamps[0], radius=1.0)
    assert mark != render.made_of(replace(setting, lamps=(lamp,)), 320)


def test_enough_is_kept_apart_and_the_painters_cases_are_there():
    assert len(gallery.TUNING) >= 12
    assert len(gallery.KEPT_APART) >= 6
    assert len(set(gallery.NAMES)) == len(gallery.NAMES)
    assert not set(gallery.TUNING) & set(gallery.KEPT_APART)
    assert len(gallery.PAINTERS_CASES) == 9
    for name, things in gallery.PAINTERS_CASES.values():
        assert name in gallery.TUNING
        there = {t.name for t in set_up(name).things} | {"sky"}
        assert set(things) <= there


@pytest.mark.parametrize("name", gallery.NAMES)
def test_every_set_up_is_sound(name):
    """Colours that things can have, names told apart, the eye looking at lit things."""
    setting = set_up(name)
    names = [t.name for t in setting.things]
    assert len(set(names)) == len(names)
    for thing in setting.things:
        # Glass is nearly clear, and a flame's colours are its light: neither is body colour.
        if thing.stuff.kind == scene.SOLID:
            assert 0.01 <= np.min(thing.stuff.colours) <= np.max(thing.stuff.colours) <= 0.9
        assert np.allclose(np.linalg.norm(thing.mesh.normals, axis=1), 1.0, atol=1e-6)
        assert np.isfinite(thing.mesh.points).all()


@pytest.mark.parametrize(
    "make",
    [
        lambda: shapes.ball(3), lambda: shapes.box((2, 3, 4)),
        lambda: shapes.turned_pot([(0, 0), (3, 0), (4, 5), (2, 9)], 0.3),
        lambda: tool_named("still_lifes.growth").lemon(),
        lambda: tool_named("still_lifes.growth").loaf(),
        lambda: tool_named("still_lifes.pots").jug(),
        lambda: tool_named("still_lifes.pots").kettle(),
    ],
)  # fmt: skip
def test_normals_point_out_of_bodies(make):
    """The volume inside, by the divergence theorem over the normals, is positive and adds up."""
    mesh = make()
    three = mesh.points[mesh.faces]
    flat = np.cross(three[:, 1] - three[:, 0], three[:, 2] - three[:, 0])
    middle = three.mean(axis=1)
    normals = mesh.normals[mesh.faces].mean(axis=1)
    turned = np.sign((flat * normals).sum(axis=1))[:, None] * flat
    volume = (middle * turned).sum() / 6.0
    assert volume > 1.0
    big = np.linalg.norm(flat, axis=1) > 1e-3
    unit = turned[big] / np.linalg.norm(flat[big], axis=1, keepdims=True)
    # Rims and tips turn within one facet; nearly everywhere the shading follows the surface.
    assert np.mean((unit * normals[big]).sum(axis=1) > 0.7) > 0.97


def test_the_tree_finds_what_trying_every_triangle_finds(rng):
    corners = rng.uniform(-5, 5, (400, 1, 3)) + rng.normal(0, 0.5, (400, 3, 3))
    mesh = scene.Mesh(
        corners.reshape(-1, 3), np.tile([0.0, 0.0, 1.0], (1200, 1)), np.zeros((1200, 3)),
        np.arange(1200).reshape(-1, 3),
    )  # fmt: skip
    thing = scene.Thing("crumbs", mesh, scene.Stuff(((0.5, 0.5, 0.5),)))
    arrays = packed.pack(scene.Scene((thing,), (scene.sun((0, 0, 1), (1, 1, 1)),)))
    for _ in range(200):
        at, way = rng.uniform(-8, 8, 3), rng.normal(size=3)
        way /= np.linalg.norm(way)
        hit = rays.met(arrays, tuple(at), tuple(way), rays.FAR, False)
        alone = [rays._face_met(f, tuple(at), tuple(way))[0] for f in arrays.faces]
        nearest = min((d for d in alone if d > 1e-4), default=rays.FAR)
        assert hit.far == pytest.approx(nearest, rel=1e-12)


def test_patterns_stay_within_reason(rng):
    """Any place on any pattern: between the three colours, whatever its knobs."""
    for pattern in surfaces.PATTERNS:
        colours = ((0.1, 0.2, 0.3), (0.7, 0.6, 0.5), (0.3, 0.8, 0.05))
        stuff = scene.Stuff(colours, pattern, 1.3, (0.4, 0.9))
        row = packed._stuff_row(stuff)
        seen = np.array([surfaces.reflectance(row, *p) for p in rng.uniform(-20, 20, (300, 3))])
        low, high = np.min(stuff.colours, axis=0), np.max(stuff.colours, axis=0)
        assert (seen >= low - 1e-9).all(), pattern
        assert (seen <= high + 1e-9).all(), pattern
        assert pattern in ("plain", "leaf", "veins") or np.ptp(seen) > 0.05, pattern


@pytest.mark.parametrize("seed", [0, 1])
def test_a_random_set_up_is_the_same_for_its_seed(seed):
    one, two, other = (random_scene.random_scene(s) for s in (seed, seed, seed + 100))
    assert render.made_of(one, 64) == render.made_of(two, 64)
    assert render.made_of(one, 64) != render.made_of(other, 64)


def test_random_set_ups_are_sound_and_differ():
    kinds, cloths = set(), 0
    for seed in range(12):
        made = random_scene.random_scene(seed)
        names = [t.name for t in made.things]
        assert len(set(names)) == len(names)
        assert len(names) >= 3
        kinds.add(made.lamps[0].kind)
        cloths += "cloth" in names
        for thing in made.things:
            assert 0.0 <= np.min(thing.stuff.colours) <= np.max(thing.stuff.colours) <= 0.9
            assert np.isfinite(thing.mesh.normals).all()
    assert kinds == {scene.BALL, scene.SUN, scene.WINDOW}
    assert 2 < cloths < 12


def test_a_random_picture_adds_up():
    found = small(random_scene.random_scene(5))
    assert np.allclose(found.rgb, found.reflectance * found.light + found.gloss, atol=2e-6)
    assert found.valid.mean() > 0.5
    assert np.isfinite(found.rgb).all()
