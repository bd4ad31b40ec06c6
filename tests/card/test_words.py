"""Names, strengths, amounts: what the card says."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstwash.card.drawing import cut_to, printable, width_mm, wrapped
from firstwash.card.layout import DILUTIONS
from firstwash.card.recipe import CardRow, rows_for, swatches_of
from firstwash.card.words import (
    GLAZE_CUP,
    MIX_CUP,
    Names,
    batches,
    counted,
    inches,
    measure,
    short_name,
    strength_words,
    unknown_hazards,
)
from firstwash.paints.catalogue import load_set, paint

BOX = load_set("all").paints


def narrow(text: str) -> bool:
    return width_mm(text, 7.0) <= 11.1


def test_strengths_are_told_as_puddle_and_water() -> None:
    told = [strength_words(share) for share in DILUTIONS]
    assert told == ["1 : 31", "1 : 15", "1 : 7", "1 : 3", "1 : 1", "full"]
    assert (MIX_CUP, GLAZE_CUP) == ("1 : 1", "1 : 3")


@pytest.mark.parametrize(
    ("name", "short"),
    [
        ("ultramarine blue", ("ultramar.", "blue")),
        ("phthalo blue (green shade)", ("phthalo", "blue GS")),
        ("indigo (mixed)", ("indigo",)),
        ("perylene green-black", ("perylene", "green-bl.")),
        ("phthalo turquoise", ("phthalo", "turquoise")),
        ("viridian", ("viridian",)),
    ],
)
def test_short_names_read_like_tube_labels(name: str, short: tuple[str, ...]) -> None:
    assert short_name(name, narrow) == short


@given(st.text(min_size=1, max_size=80).map(printable).filter(str.strip))
def test_any_name_is_shortened_to_fit(name: str) -> None:
    told = short_name(name, narrow)
    assert 1 <= len(told) <= 2
    assert all(map(narrow, told))


@pytest.mark.parametrize("one", BOX, ids=lambda p: p.key)
def test_shipped_names_keep_two_words(one) -> None:
    """Whatever is cut, the card still tells a blue from a green."""
    kept = " ".join(short_name(one.name, narrow)).split()
    assert len(kept) >= min(2, len(one.name.split("(")[0].split()))


@pytest.mark.parametrize("count", [1, 3, 8])
def test_no_cup_runs_dry(count: int) -> None:
    """Every cup keeps half of what it held; mixes take a drop of each, coats less than one."""
    rows = rows_for(BOX[:count], BOX)
    drops: dict[tuple[str, str], int] = {}
    for swatch in swatches_of(rows):
        for coat in swatch.coats:
            for key, share in coat:
                mixed = len(coat) > 1
                cup = strength_words(2 * share if mixed else share)
                drops[key, cup] = drops.get((key, cup), 0) + 1
    for batch in batches(rows):
        assert batch.full % 2 == 0 or not batch.row
        for cup in batch.cups:
            held = batch.full // 2  # a row halves every cup
            if not batch.row:  # a partner is thinned at once, or half of the first cup goes on
                thinned = {"1 : 1": 2, "1 : 3": 4}[cup]
                held = batch.full * (thinned if len(batch.cups) == 1 else 1)
            assert held >= drops.get((batch.paint, cup), 0) + 1
        assert {cup for key, cup in drops if key == batch.paint} <= set(batch.cups)


def test_the_painter_counts_in_one_word() -> None:
    assert counted(1, "drops") == "1 drop"
    assert counted(3, "brush-loads") == "3 brush-loads"


@pytest.mark.parametrize(
    ("mm", "told"), [(25.4, "1 in"), (8.0, "5/16 in"), (166.0, "6 9/16 in"), (215.0, "8 7/16 in")]
)
def test_inches_are_told_in_the_ruler_s_fractions(mm: float, told: str) -> None:
    assert inches(mm) == told


def test_paper_measured_in_inches_is_never_too_small() -> None:
    assert measure(180, 240, up=True) == "180 × 240 mm (7 1/8 × 9 1/2 in)"


def test_names_fall_back_to_the_key_then_to_a_number() -> None:
    greek = dataclasses.replace(paint("PB29"), name="μπλε")
    both = dataclasses.replace(greek, key="μπλε")
    row = CardRow("PB29", "μπλε", "μπλε", "μπλε", "μπλε", "μπλε")
    names = Names.of((row,), {"PB29": greek, "μπλε": both}, printable)
    assert names.full == {"PB29": "PB29", "μπλε": "paint 2"}
    assert names.with_key("PB29") == "PB29"
    assert names.with_row("PB29") == "PB29 (A)"


def test_paints_without_known_hazard_are_not_called_harmless() -> None:
    paints = {p.key: p for p in BOX}
    assert unknown_hazards(tuple(paints), paints) == ("lemon-yellow", "sap-green")


@given(st.text(max_size=200), st.floats(5.0, 150.0), st.sampled_from([7.0, 10.5]))
def test_lines_are_never_wider_than_asked(text: str, width: float, size: float) -> None:
    text = printable(text)
    text.encode("cp1252")
    widest = 6 * width_mm("W", size)  # five letters are not broken again
    for line in wrapped(text, width, size):
        assert width_mm(line, size) <= max(width, widest)
    assert width_mm(cut_to(text, width, size), size) <= max(width, 2 * widest)


def test_printable_keeps_latin_letters_and_drops_what_it_must() -> None:
    assert printable("Terre verte, brûlée – “№1”") == "Terre verte, brûlée – “No1”"
    assert printable("żółć", lost="_") == "zó_c"
    assert printable(" a\n\tb\x00\u200b ") == "a b"
