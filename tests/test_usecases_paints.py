"""Plans with the painter's own list: bans, favourites and paints of unknown pigment."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from firstwash.errors import PaintError, RequestError
from firstwash.plan.locks import parse_locks
from firstwash.plan.problem import Limits
from firstwash.usecases import PhotoPlan, Wishes, plan_again, plan_photo, write_plan

FEW = Limits(shapes=10, layers=3, puddles=5, washes=10, paints=3)
TEXT = """\
# studio
PB29 | tube
PG7 | banned
PV19-rose | favourite
PY154
PBr7-burnt
old red | pan | unknown
PB15:3 | empty
"""


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A green field under a blue sky: green paint would serve, were it not banned."""
    pixels = np.full((140, 180, 3), (170, 200, 235), dtype=np.uint8)
    pixels[70:] = (70, 120, 60)
    pixels[80:120, 60:110] = (150, 130, 60)
    path = tmp_path_factory.mktemp("scene") / "field.png"
    Image.fromarray(pixels).save(path)
    return path


def planned(photo: Path, folder: Path, text: str, limits: Limits = FEW) -> PhotoPlan:
    (folder / "studio.txt").write_text(text, "utf-8")
    wishes = Wishes(sheet="9x7cm", paints=str(folder / "studio.txt"), limits=limits)
    return plan_photo(photo, wishes)


def keys(found: PhotoPlan) -> set[str]:
    return {p.key for p in found.plan.paints}


def test_bans_and_favourites_are_heard(photo: Path, tmp_path: Path) -> None:
    found = keys(planned(photo, tmp_path, TEXT))
    assert "PV19-rose" in found
    assert not found & {"PG7", "PB15:3"}
    assert len(found) == 3


def test_the_request_comes_first(photo: Path, tmp_path: Path) -> None:
    asked = replace(FEW, prefer=("PG7",), ban=("PV19-rose",))
    found = keys(planned(photo, tmp_path, TEXT, asked))
    assert "PG7" in found
    assert "PV19-rose" not in found


def test_more_favourites_than_room(photo: Path, tmp_path: Path) -> None:
    text = "PG36\nPB15:3\n" + "".join(
        f"{key} | favourite\n" for key in ("PB29", "PY154", "PBr7-burnt", "PR255", "PV19-violet")
    )
    found = planned(photo, tmp_path, text)
    assert keys(found) <= {"PB29", "PY154", "PBr7-burnt", "PR255", "PV19-violet"}
    assert len(found.plan.paints) == 3
    assert any("Chosen among your 5 favourites" in note for note in found.notes)


def test_a_paint_of_unknown_pigment_can_be_planned_with(photo: Path, tmp_path: Path) -> None:
    text = "old green | pan | unknown | favourite\nPB29\nPY154\nPO20\n"
    found = planned(photo, tmp_path, text)
    assert "old green" in keys(found)
    page = write_plan(found, tmp_path / "plan")
    told = json.loads((page.parent / "plan.json").read_bytes())
    (own,) = (p for p in told["paints"] if p["key"] == "old green")
    assert own["provenance"] == "estimated"
    assert own["sigma"] == 1.2
    # The same plan with the green known is surer of itself.
    known = planned(photo, tmp_path, text.replace("old green | pan | unknown", "PG36"))
    assert found.plan.report.doubt > known.plan.report.doubt


def test_planning_again_hears_them_too(photo: Path, tmp_path: Path) -> None:
    first = planned(photo, tmp_path, TEXT)
    folder = write_plan(first, tmp_path / "plan").parent
    stays = next(p.key for p in first.plan.paints if p.key != "PV19-rose")
    (tmp_path / "studio.txt").write_text(
        TEXT.replace("PY154", "PY154 | favourite").replace("PB29 | tube", "PB29 | favourite"),
        "utf-8",
    )
    wishes = Wishes(sheet="9x7cm", paints=str(tmp_path / "studio.txt"), limits=FEW)
    again = plan_again(photo, folder, wishes, parse_locks([f"paint {stays}"]))
    assert len(again.plan.paints) == 3
    assert stays in keys(again)
    assert keys(again) <= {"PV19-rose", "PY154", "PB29", stays}


def test_a_list_that_cannot_be_used_says_why(photo: Path, tmp_path: Path) -> None:
    with pytest.raises(PaintError, match=r"^studio, line 2: “baned” looks like “banned”"):
        planned(photo, tmp_path, "PB29\nPG7 | baned\n")
    with pytest.raises(RequestError, match="Nothing is left to paint with; ban fewer paints"):
        planned(photo, tmp_path, "PB29 | banned\nPG7 | banned\n")
