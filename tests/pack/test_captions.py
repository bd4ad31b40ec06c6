"""Captions: one for every picture, short enough, long enough to say, true to the plan."""

import re
from dataclasses import replace

from firstwash.pack.captions import (
    Caption,
    aloud,
    captions,
    captions_srt,
    captions_text,
    stage_images,
)
from firstwash.plan.result import Plan

STAMP = re.compile(r"(\d\d):(\d\d):(\d\d),(\d{3})")


def seconds(stamp: str) -> float:
    found = STAMP.fullmatch(stamp)
    assert found is not None
    h, m, s, ms = (int(v) for v in found.groups())
    return 3600 * h + 60 * m + s + ms / 1000


def test_every_picture_has_its_words(plan: Plan) -> None:
    told = captions(plan)
    assert [c.image for c in told] == [name for name, _ in stage_images(plan)]
    assert [c.image for c in told] == [*(f"stage-{n}" for n in range(plan.layers + 1)), "finished"]
    for c in told:
        assert 10 <= len(c.short) <= 90
        assert not c.short.endswith(".")
        sentences = len(re.findall(r"[.](?= [A-Z]|$)", c.text))
        assert 1 <= sentences <= 3
        assert "\n" not in c.text + c.short


def test_captions_can_be_read_aloud(four: Plan) -> None:
    assert aloud("1 fine line (1 cm in all, up to 1.1 mm wide) and 2 dots.") == (
        "1 fine line, 1 centimetre in all, up to 1.1 millimetres wide, and 2 dots."
    )
    assert aloud("About 35 minutes (7 to 65 minutes).") == "About 35 minutes, 7 to 65 minutes."
    assert aloud("The sheet, 38 × 28 cm.") == "The sheet, 38 by 28 centimetres."
    assert aloud("Lay 14 cm² and 1.2 m.") == "Lay 14 square centimetres and 1.2 metres."
    for caption in captions(four):
        assert not re.search(r"[(²×]|\d (mm|cm|m)\b", caption.text)


def test_a_caption_takes_as_long_as_140_words_a_minute() -> None:
    assert Caption("x", "short", " ".join(["word"] * 70)).seconds == 30.0
    assert Caption("x", "short", "word").seconds == 2.0  # long enough to be seen


def test_a_layers_caption_names_its_puddles_and_drying(four: Plan) -> None:
    for number in range(1, four.layers + 1):
        own = captions(four)[number]
        letters = {four.puddles[w.puddle].name for w in four.washes_of(number)}
        if len(letters) <= 6:
            assert letters <= set(re.findall(r"\b[A-Z]\b", own.text))
        else:
            assert f"{len(letters)} puddles" in own.text
        count = len(four.washes_of(number))
        assert f"lay {count} wash" in own.text
        assert "dry" in own.text


def test_many_puddles_are_counted_so_that_a_short_caption_stays_short(four: Plan) -> None:
    washes = tuple(replace(four.washes[0], layer=1, number=n, puddle=n - 1) for n in range(1, 25))
    puddles = tuple(replace(four.puddles[0], name=f"Q{n}") for n in range(24))
    many = four.told_more(washes=washes, puddles=puddles)
    lay_in = captions(many)[1]
    assert "24 puddles" in lay_in.short
    assert len(lay_in.short) <= 90


def test_a_plan_without_fine_strokes_ends_with_its_last_layer(four: Plan) -> None:
    bare = four.told_more(touches=())
    assert captions(bare)[-1].image == f"stage-{four.layers}"
    kept = tuple(t for t in four.touches if t.reserved)
    assert captions(four.told_more(touches=kept))[-1].image == f"stage-{four.layers}"


def test_a_plan_without_a_wash_is_a_bare_sheet(four: Plan) -> None:
    bare = four.told_more(touches=(), washes=(), puddles=())
    assert [c.image for c in captions(bare)] == ["stage-0"]
    assert captions_text(captions(bare))


def test_the_plain_list_holds_every_word(plan: Plan) -> None:
    told = captions(plan)
    text = captions_text(told, " A cup ")
    assert text.startswith("A cup\n\n1. ")
    joined = "".join(text.split())  # lines may be broken at a hyphen
    for c in told:
        assert c.short in text
        assert "".join(c.text.split()) in joined
        assert f"Picture: {c.image}," in text
    assert max(len(line) for line in text.splitlines()) <= 94  # "10. " and a short caption


def test_subtitles_follow_each_other_and_fit_two_lines(plan: Plan) -> None:
    told = captions(plan)
    cues = captions_srt(told).strip().split("\n\n")
    end = 0.0
    for number, cue in enumerate(cues, 1):
        count, times, *lines = cue.split("\n")
        assert int(count) == number
        start, stop = (seconds(t) for t in times.split(" --> "))
        assert abs(start - end) < 2e-3  # rounded to a millisecond at both ends
        assert stop - start >= 0.7  # nobody reads a cue of a blink
        assert 1 <= len(lines) <= 2
        assert max(len(line) for line in lines) <= 42
        end = stop
    assert abs(end - sum(c.seconds for c in told)) < 0.01
    said = " ".join(" ".join(c.split("\n")[2:]) for c in cues)
    assert said.split() == " ".join(c.text for c in told).split()


def test_an_arrow_in_a_text_breaks_no_subtitle() -> None:
    cue = captions_srt([Caption("x", "short", "from 00:00:01,000 --> 00:00:02,000 on")])
    assert cue.count("-->") == 1
