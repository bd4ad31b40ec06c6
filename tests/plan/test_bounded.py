"""Bounded steps: the exact minimum, found again by two independent solvers, and hostile input."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import lsq_linear, nnls

from firstwash.plan import bounded
from firstwash.plan.bounded import RIDGE, bounded_step

Problem = tuple[np.ndarray, np.ndarray, np.ndarray]  # J, e and where the variables stand


def problem(seed: int, n: int, rows: int, spread: float = 0.0) -> Problem:
    """A least-squares problem |J·d + e|²; columns differ in size by 10^±spread."""
    rng = np.random.default_rng(seed)
    jacobian = rng.normal(size=(rows, n)) * 10.0 ** rng.uniform(-spread, spread, n)
    x = np.where(rng.random(n) < 0.4, 0.0, rng.uniform(0.0, 1.0, n))
    return jacobian, rng.normal(size=rows), x


def stepped(made: Problem, damping: float, free: np.ndarray | None = None) -> np.ndarray:
    jacobian, residual, x = made
    step = np.empty(len(x))
    open_ = np.ones(len(x), dtype=np.bool_) if free is None else free
    bounded_step(x, open_, jacobian.T @ jacobian, jacobian.T @ residual, damping, step)
    return step


def damped(jacobian: np.ndarray, damping: float) -> np.ndarray:
    """J with the damping as rows of its own, so that |tall·d|² is d·(H + damping·diag H)·d."""
    size = np.sqrt(damping * np.square(jacobian).sum(axis=0) + RIDGE)
    return np.vstack([jacobian, np.diag(size)])


def descended(made: Problem, damping: float, d: np.ndarray) -> float:
    jacobian, residual, _ = made
    tall = damped(jacobian, damping) @ d
    return float(residual @ jacobian @ d + 0.5 * tall @ tall)


sizes = st.integers(1, 70)
seeds = st.integers(0, 2**32 - 1)
dampings = st.floats(-6.0, 1.5).map(lambda e: 10.0**e)  # what the solver works with


@given(seed=seeds, n=sizes, rows=sizes, damping=dampings, spread=st.floats(0.0, 2.0))
@settings(deadline=None)  # compiled once, then microseconds
def test_a_step_is_where_nothing_pulls_any_more(
    seed: int, n: int, rows: int, damping: float, spread: float
) -> None:
    made = problem(seed, n, rows, spread)
    jacobian, residual, x = made
    step = stepped(made, damping)
    assert (x + step >= 0.0).all()
    tall = damped(jacobian, damping)
    size = np.linalg.norm(tall, axis=0)  # in units where every variable bends alike
    pull = (jacobian.T @ residual + tall.T @ (tall @ step)) / size
    steepest = np.abs(jacobian.T @ residual / size).max()
    # Rounding of sums of 70 terms; the solver itself takes 1e-10 of the steepest for nothing.
    loose = 1e-9 * max(steepest, 1e-12)
    inside = x + step > 0.0
    assert np.abs(pull[inside]).max(initial=0.0) <= loose
    assert pull[~inside].min(initial=0.0) >= -loose


@given(seed=seeds, n=sizes, rows=sizes, damping=dampings)
@settings(deadline=None)
def test_from_nothing_it_is_nonnegative_least_squares(
    seed: int, n: int, rows: int, damping: float
) -> None:
    jacobian, residual, _ = problem(seed, n, rows)
    made = jacobian, residual, np.zeros(n)
    tall = damped(jacobian, damping)
    best, _ = nnls(tall, np.append(-residual, np.zeros(n)), maxiter=50 * n)
    # With little damping the valley is flat along many variables: the depth reached tells more
    # than the place. 1e-8 of it is the other solver's own stopping rule.
    reached = (descended(made, damping, stepped(made, damping)), descended(made, damping, best))
    assert reached[0] == pytest.approx(reached[1], rel=1e-8, abs=1e-12)


@pytest.mark.parametrize("damping", [1e-6, 1e-3, 1.0])
@pytest.mark.parametrize("n", [1, 4, 12, 24])
def test_the_same_point_as_an_independent_solver_finds(n: int, damping: float) -> None:
    for seed in range(6):
        made = problem(seed, n, 3 * n)
        jacobian, residual, x = made
        tall, right = damped(jacobian, damping), np.append(-residual, np.zeros(n))
        best = lsq_linear(tall, right, (-x - 1e-15, np.inf), tol=1e-12)
        # lsq_linear stops inside its bounds, a little short of them.
        np.testing.assert_allclose(stepped(made, damping), best.x, atol=1e-5)


def test_more_paints_than_colours_still_reach_the_bottom() -> None:
    for seed in range(20):
        made = problem(seed, 24, 9)
        jacobian, residual, x = made
        tall, right = damped(jacobian, 1e-3), np.append(-residual, np.zeros(24))
        best = lsq_linear(tall, right, (-x - 1e-15, np.inf), tol=1e-12)
        gained = descended(made, 1e-3, stepped(made, 1e-3))
        assert gained <= descended(made, 1e-3, np.maximum(best.x, -x)) * (1 - 1e-9)


@given(seed=seeds, n=sizes, rows=sizes, damping=dampings)
@settings(deadline=None, max_examples=40)
def test_the_slow_way_ends_where_the_fast_one_does(
    seed: int, n: int, rows: int, damping: float
) -> None:
    made = problem(seed, n, rows)
    with pytest.MonkeyPatch.context() as patch:
        # Compiled code keeps its callees, so the slow way is called as plain Python.
        patch.setattr(bounded, "_exchange_blocks", lambda *_: False)
        jacobian, residual, x = made
        slow = np.empty(n)
        everything = np.ones(n, dtype=np.bool_)
        hessian = jacobian.T @ jacobian
        bounded_step.py_func(x, everything, hessian, jacobian.T @ residual, damping, slow)
    fast = stepped(made, damping)
    depths = [descended(made, damping, d) for d in (fast, slow)]
    assert (x + slow >= 0.0).all()
    assert depths[0] == pytest.approx(depths[1], rel=1e-8, abs=1e-12)


def test_fixed_variables_stay() -> None:
    made = problem(0, 8, 20)
    free = np.arange(8) % 2 == 0
    step = stepped(made, 1e-3, free)
    assert (step[~free] == 0).all()
    assert (step[free] != 0).any()
    # What stays must not be counted on: the rest is solved as if it were not there.
    part = made[0][:, free], made[1], made[2][free]
    np.testing.assert_allclose(step[free], stepped(part, 1e-3), rtol=1e-9, atol=1e-12)


def test_nothing_free_means_no_step() -> None:
    assert (stepped(problem(1, 5, 9), 1e-3, np.zeros(5, dtype=np.bool_)) == 0).all()


def test_variables_that_end_on_their_bound_end_on_it_exactly() -> None:
    left = []
    for seed in range(30):
        made = problem(seed, 20, 12)
        left.append(made[2] + stepped(made, 1e-4))
    assert 0.1 < np.mean(np.array(left) == 0) < 0.9
    assert not ((np.array(left) > 0) & (np.array(left) < 1e-13)).any()


def test_a_variable_without_effect_goes_where_its_price_sends_it() -> None:
    x, step = np.array([0.5, 0.5]), np.empty(2)
    free = np.ones(2, dtype=np.bool_)
    bounded_step(x, free, np.zeros((2, 2)), np.array([1e-4, 0.0]), 1e-3, step)
    assert step.tolist() == [-0.5, 0.0]


def test_twins_share_a_step_without_trouble() -> None:
    rng = np.random.default_rng(2)
    column = rng.normal(size=(9, 1))
    made = np.repeat(column, 6, axis=1), -column[:, 0], np.zeros(6)
    step = stepped(made, 1e-6)
    assert step.sum() == pytest.approx(1.0, abs=1e-5)  # damping keeps back about a millionth
    assert (step >= 0).all()


@pytest.mark.parametrize("worst", [np.nan, np.inf])
def test_what_is_not_a_number_ends_too(worst: float) -> None:
    jacobian, residual, x = problem(3, 6, 10)
    hessian, gradient, step = jacobian.T @ jacobian, jacobian.T @ residual, np.empty(6)
    hessian[2, 2] = worst
    bounded_step(x, np.ones(6, dtype=np.bool_), hessian, gradient, 1e-3, step)
    assert len(step) == 6  # whatever it says, the solver only takes what lowers the true cost


def test_the_same_problem_gives_the_same_bits() -> None:
    made = problem(5, 60, 12)
    np.testing.assert_array_equal(stepped(made, 1e-5), stepped(made, 1e-5))
