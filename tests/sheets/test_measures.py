"""Kitchen words: nobody counts nineteen pinheads, and beads are as large as their paint."""

from math import pi

import pytest
from tests.sheets.plans import assert_inside, printed

from firstwash.plan.board.amounts import BEADS, LOADS
from firstwash.sheets.measures import MOST_COUNTED, bead_mm, beads_words, measures_page


@pytest.mark.parametrize(
    ("count", "measure", "words"),
    [
        (7, "pinhead", "7 × pinhead"),
        (12, "pinhead", "2 × lentil + 2 × pinhead"),
        (19, "pinhead", "1 × pea"),
        (18, "medium brush", "5 × large brush"),
        (9, "lentil", "9 × lentil"),
        (3, "hazelnut", "3 × hazelnut"),
    ],
)
def test_many_small_ones_are_told_in_larger_ones(count: int, measure: str, words: str) -> None:
    assert beads_words(count, measure) == words


@pytest.mark.parametrize("sizes", [BEADS, LOADS])
def test_what_is_told_is_what_was_counted(sizes: tuple[tuple[str, float], ...]) -> None:
    """Within a hand's own error, about a fifth; here half of that."""
    known = dict(sizes)
    for name, size in sizes:
        for count in range(1, 60):
            told = [one.split(" × ") for one in beads_words(count, name).split(" + ")]
            ml = sum(int(n) * known[measure] for n, measure in told)
            assert ml == pytest.approx(count * size, rel=0.1)
            coarsest = name == sizes[0][0]
            assert coarsest or all(int(n) <= MOST_COUNTED for n, m in told if m != sizes[0][0])


def test_a_bead_is_a_ball() -> None:
    for _, ml in BEADS:
        assert pi / 6.0 * bead_mm(ml) ** 3 == pytest.approx(1000.0 * ml)


def test_all_words_are_explained_on_a_page() -> None:
    pages = printed(measures_page(), "Letter")
    assert_inside(pages, "Letter")
    told = "".join(page.letters for page in pages)
    for word in ("pinhead", "hazelnut", "largebrush", "honey", "clearbroth", "lessthan1.5"):
        assert word in told
