"""What is kept of a painting: read back as it was, and nothing else is let in."""

import json
import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.worksheet.small import is_sentence

from firstwash.errors import RequestError
from firstwash.worksheet.brief import (
    Area,
    Background,
    Brief,
    DrawingFile,
    Grid,
    Kept,
    Mark,
    Picture,
    Place,
    PlanFile,
    Scene,
    SheetAsked,
    Values,
    Work,
    read_brief,
)

KEY = "0123456789abcdef" * 4


def within(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


shares = within(0.0, 1.0)
keys = st.text("0123456789abcdef", min_size=64, max_size=64)
names = st.text(max_size=120)
points = st.tuples(within(-0.5, 1.5), within(-0.5, 1.5))
strokes = st.lists(points, min_size=3, max_size=5).map(tuple)
boxes = st.tuples(shares, shares, shares, shares)
colours = st.integers(0, 0xFFFFFF).map(lambda n: f"#{n:06x}")
sides = st.integers(1, 1_000_000)
pictures = st.builds(
    Picture,
    file=keys,
    name=names,
    size=st.tuples(sides, sides),
    turns=st.integers(0, 3),
    tilt=within(-15.0, 15.0),
    mirrored=st.booleans(),
    neutral=st.none() | st.tuples(shares, shares),
    crop=st.none() | boxes,
    place=st.none()
    | st.builds(Place, left=within(-1, 1), top=within(-1, 1), width=within(0.02, 2)),
)
scenes = st.builds(
    Scene,
    pictures=st.lists(pictures, min_size=1, max_size=3).map(tuple),
    sheet=st.builds(
        SheetAsked,
        size=st.text(max_size=40),
        lie=st.sampled_from(["as the photo", "upright", "across"]),
        weight_gsm=within(40, 2000),
        surface=st.sampled_from(["hot-pressed", "cold-pressed", "rough"]),
    ),
    background=st.builds(
        Background,
        treatment=st.sampled_from(["painted", "bare", "graded"]),
        marks=st.lists(
            st.builds(
                Mark,
                kind=st.sampled_from(["background", "subject"]),
                points=strokes,
                width=within(1e-6, 0.5),
            ),
            max_size=2,
        ).map(tuple),
    ),
    focal=st.none() | boxes,
    areas=st.lists(
        st.builds(
            Area,
            kind=st.sampled_from(["leave out", "lighten", "darken", "recolour"]),
            outline=strokes,
            amount=shares,
            colour=st.none() | colours,
        ),
        max_size=2,
    ).map(tuple),
)
works = st.builds(
    Work,
    layers=st.integers(2, 8),
    puddles=st.none() | st.integers(1, 60),
    hours=st.none() | within(0.25, 500),
    hand=shares,
    prefer=st.lists(names, max_size=2).map(tuple),
    ban=st.lists(names, max_size=2).map(tuple),
)
plans = st.builds(
    PlanFile,
    document=keys,
    cells=keys,
    scene=scenes,
    paints=st.lists(names, max_size=2).map(tuple),
    work=works,
    judged=st.booleans(),
)
briefs = st.builds(
    Brief,
    scene=scenes,
    paints=st.lists(names, max_size=3).map(tuple),
    work=works,
    values=st.builds(Values, steps=st.integers(2, 10), first=st.sampled_from(["light", "dark"])),
    grid=st.builds(Grid, across=st.none() | st.integers(2, 30), diagonals=st.booleans()),
    drawing=st.none()
    | st.builds(DrawingFile, labels=keys, details=st.text(), by_hand=st.booleans()),
    plan=st.none() | plans,
    kept=st.builds(
        Kept,
        washes=st.lists(st.tuples(st.integers(), st.integers()), max_size=2).map(tuple),
        puddles=st.lists(names, max_size=2).map(tuple),
        layers=st.lists(st.integers(), max_size=2).map(tuple),
    ),
)


@given(briefs)
@settings(max_examples=60)
def test_any_brief_is_read_back_as_it_was_written(brief: Brief) -> None:
    assert read_brief(brief.model_dump_json()) == brief
    assert read_brief(brief.model_dump_json().encode()) == brief


# --- what is not a brief ---------------------------------------------------------------------

json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False)
    | st.text(max_size=9)
    | st.sampled_from([10**400, -1, 1e308, "", "\0", KEY, "../../etc/passwd"]),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=2)
    ),
    max_leaves=5,
)


def whole() -> Brief:
    """A brief with something in every part of it."""
    picture = Picture(file=KEY, size=(40, 30), crop=(0.1, 0.1, 0.5, 0.5))
    marks = (Mark(kind="subject", points=((0.5, 0.5), (0.6, 0.6))),)
    areas = (Area(kind="recolour", outline=((0, 0), (1, 0), (1, 1)), colour="#336699"),)
    scene = Scene(pictures=(picture,), background=Background(marks=marks), areas=areas)
    plan = PlanFile(document=KEY, cells=KEY, scene=scene, paints=(), work=Work())
    return Brief(
        scene=scene,
        drawing=DrawingFile(labels=KEY),
        plan=plan,
        kept=Kept(washes=((1, 2),), puddles=("A",)),
    )


def nodes(told: Any) -> list[tuple[Any, Any]]:
    """Every (holder, key) of a JSON value."""
    inner = list(told.items()) if isinstance(told, dict) else []
    inner = list(enumerate(told)) if isinstance(told, list) else inner
    return [(told, k) for k, _ in inner] + [n for _, v in inner for n in nodes(v)]


@given(st.data())
@settings(max_examples=150)
def test_a_brief_with_anything_in_any_place_is_read_or_refused_in_a_sentence(
    data: st.DataObject,
) -> None:
    told = json.loads(whole().model_dump_json())
    holder, key = data.draw(st.sampled_from(nodes(told)))
    holder[key] = data.draw(json_values)
    read, refused = None, "Read."
    try:
        read = read_brief(json.dumps(told))
    except RequestError as error:
        refused = str(error)
    assert is_sentence(refused)
    assert read is None or read_brief(read.model_dump_json()) == read


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "null",
        "[]",
        "{}",
        "[" * 100_000,
        '{"scene":' * 5_000,
        b"\xff\xfe",
        '{"scene": {"pictures": []}}',
        '{"version": 2}',
        json.dumps({"x" * 100_000: 1}),
        json.dumps({"<script>\n": 1}),
        '{"scene": NaN}',
    ],
)
def test_what_is_no_brief_is_refused_in_a_sentence(text: str | bytes) -> None:
    with pytest.raises(RequestError) as error:
        read_brief(text)
    assert is_sentence(str(error.value))


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_numbers_that_are_none_are_refused(number: str) -> None:
    told = whole().model_dump_json().replace('"tilt":0.0', f'"tilt":{number}')
    assert number in told
    with pytest.raises(RequestError):
        read_brief(told)


@pytest.mark.parametrize("key", [KEY[:-1], KEY + "0", KEY.upper(), KEY + "\n", f"../{KEY[3:]}"])
def test_a_file_is_named_by_its_key_alone(key: str) -> None:
    told = whole().model_dump()
    told["scene"]["pictures"][0]["file"] = key
    with pytest.raises(RequestError):
        read_brief(json.dumps(told))


# --- changes ---------------------------------------------------------------------------------


def test_a_change_is_checked_like_anything_else() -> None:
    brief = whole()
    assert brief.but(paints=("PB29",)).paints == ("PB29",)
    assert brief.but() == brief
    for wrong in ({"paints": "x" * 200}, {"nonsense": 1}, {"version": 2}, {"scene": None}):
        with pytest.raises(RequestError) as error:
            brief.but(**wrong)
        assert is_sentence(str(error.value))
    with pytest.raises(RequestError):
        brief.scene.but(focal=(0.0, 0.0, 1.0, math.nan))
    with pytest.raises(RequestError):
        brief.scene.but(pictures=brief.scene.pictures * 9)


def test_the_files_of_a_brief_are_all_that_opening_it_needs() -> None:
    brief = whole()
    assert brief.files == {KEY}
    a, b, c, d, e = (digit * 64 for digit in "abcde")
    moved = brief.but(
        scene=brief.scene.but(pictures=(brief.scene.pictures[0].but(file=a),)),
        drawing=DrawingFile(labels=b),
        plan=brief.plan.but(document=c, cells=d) if brief.plan else None,
    )
    assert moved.files == {KEY, a, b, c, d}  # KEY: the photo that the plan was made from
    assert moved.but(plan=None).files == {a, b}
    assert e not in moved.files


def test_a_plan_is_stale_once_something_else_is_asked() -> None:
    brief = whole()
    assert not brief.is_stale
    assert not brief.but(plan=None, paints=("PB29",)).is_stale
    assert brief.but(paints=("PB29",)).is_stale
    assert brief.but(work=brief.work.but(layers=5)).is_stale
    assert brief.but(scene=brief.scene.but(focal=(0.0, 0.0, 0.5, 0.5))).is_stale
    for same in ({"values": Values(steps=3)}, {"grid": Grid(across=4)}, {"kept": Kept()}):
        assert not brief.but(**same).is_stale  # how it is looked at is not what is asked
