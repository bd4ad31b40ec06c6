"""Paper kept bare on purpose is known by its aim, and no stroke is laid on it."""

import numpy as np

from firstwash.paints.catalogue import default_paper
from firstwash.plan.bare import as_wished, clear_of, keeps_bare, paper_lab
from firstwash.plan.result import Plan


def test_the_papers_own_colour_is_known_and_no_other() -> None:
    paper = default_paper()
    white = paper_lab(paper)
    # Nine digits, as a plan is written, are still the paper; a hardly visible tint is not.
    aims = np.array([white, np.round(white, 7), np.add(white, [0.0, 0.0, 0.1]), [50.0, 0.0, 0.0]])
    assert keeps_bare(aims, paper).tolist() == [True, True, False, False]
    assert keeps_bare(np.empty((0, 3)), paper).tolist() == []


def test_a_plan_without_reserves_is_judged_by_the_photo_itself(shared) -> None:  # type: ignore[no-untyped-def]
    assert as_wished(shared.plan, shared.reference) is shared.reference


def test_strokes_on_bare_paper_are_left_out(coffee_plan: Plan) -> None:
    touches, ppmm = coffee_plan.touches, coffee_plan.cells.ppmm
    assert touches
    bare = np.zeros(coffee_plan.cells.index.shape, dtype=np.bool_)
    assert clear_of(touches, bare, ppmm) == touches
    assert clear_of(touches, ~bare, ppmm) == ()
    bare[:, : bare.shape[1] // 2] = True
    kept = clear_of(touches, bare, ppmm)
    assert 0 < len(kept) < len(touches)
    assert all(t.stroke.points_mm[:, 0].min() * ppmm > bare.shape[1] // 2 - 2 for t in kept)
