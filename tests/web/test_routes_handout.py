"""The hand-out by address: refused where it could not be made."""

from collections.abc import Iterator

import pytest
from tests.web.asking import cup, ended, refusal, told, with_cup
from tests.web.serving import Served


@pytest.fixture(scope="module")
def served() -> Iterator[Served]:
    with with_cup() as it:
        yield it


def test_a_language_without_texts_is_refused_before_any_work(served: Served) -> None:
    lesson = told(served.client.get("/api/handout/lesson"))
    told(served.client.put("/api/handout/lesson", json={**lesson, "language": "xx"}))
    one = cup(served)
    path = f"/api/paintings/{one['id']}/handout"
    sentence = refusal(served.client.post(path, json={"base": one["revision"]}))
    assert 'no texts in the language "xx"' in sentence
    assert not told(served.client.get(path))["ready"]


def test_other_words_on_the_pages_make_a_hand_out_old(served: Served) -> None:
    lesson = told(served.client.get("/api/handout/lesson"))
    told(served.client.put("/api/handout/lesson", json={**lesson, "language": "en"}))
    one = cup(served)
    path = f"/api/paintings/{one['id']}/handout"
    begun = told(served.client.post(path, json={"base": one["revision"]}))
    ended(served, begun["job"])
    assert told(served.client.get(path))["fresh"]
    told(
        served.client.put("/api/handout/lesson", json={**lesson, "language": "en", "licence": "No"})
    )
    made = told(served.client.get(path))
    assert made["ready"]
    assert not made["fresh"]
    taken = served.client.get(f"{path}.zip")
    assert taken.content[:2] == b"PK"
