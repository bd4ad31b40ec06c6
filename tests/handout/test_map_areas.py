"""Which areas have letters: every wash, the widest first, and no lines that cross."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from firstwash.handout.map_areas import SHARED, WIDE, Area, leads_to
from firstwash.handout.map_letters import Frame, Lead, leads_cross, places

FRAME = Frame(380.0, 280.0, 10.0)


def scattered(seed: int, count: int, washes: int) -> list[Area]:
    """Areas anywhere, the widest first, about half of them wide enough for a letter."""
    rng = np.random.default_rng(seed)
    ends = rng.uniform((2, 2), (378, 278), (count, 2)).tolist()
    wide = rng.uniform(0.0, 2.0 * WIDE * FRAME.letter, count).tolist()
    number = rng.integers(1, washes + 1, count).tolist()
    found = [Area(n, w, (x, y)) for n, w, (x, y) in zip(number, wide, ends, strict=True)]
    return sorted(found, key=lambda a: -a.wide_mm)


def every(leads: dict[int, list[Lead]]) -> list[Lead]:
    return [lead for own in leads.values() for lead in own]


@given(st.integers(0, 10_000), st.integers(0, 260), st.integers(1, 40))
def test_every_wash_is_led_to_and_no_lines_cross(seed: int, count: int, washes: int) -> None:
    areas = scattered(seed, count, washes)
    leads = leads_to(areas, FRAME)
    assert set(leads) == {a.wash for a in areas}
    ends = {a.end: a.wash for a in areas}
    assert all(ends[e] == n for n, own in leads.items() for lead in own for e in lead.ends)
    for wash in leads:
        widest = next(a for a in areas if a.wash == wash)
        assert widest.end in [e for lead in leads[wash] for e in lead.ends]
    found = every(leads)
    assert len(found) <= len(places(FRAME))
    assert all(len(lead.ends) <= SHARED for lead in found)
    if found:
        led = np.array([e for lead in found for e in lead.ends])
        ports = np.array([lead.port for lead in found for _ in lead.ends])
        assert not leads_cross(led, ports).any()


def test_where_there_is_room_every_wide_area_is_led_to() -> None:
    areas = scattered(7, 90, 12)
    led = {e for lead in every(leads_to(areas, FRAME)) for e in lead.ends}
    assert all(a.end in led for a in areas if a.wide_mm >= WIDE * FRAME.letter)


def test_near_areas_of_a_wash_share_a_letter() -> None:
    areas = [Area(1, 20.0, (30.0, 100.0)), Area(1, 15.0, (40.0, 120.0))]
    (lead,) = leads_to(areas, FRAME)[1]
    assert lead.ends == ((30.0, 100.0), (40.0, 120.0))
