"""One small plan of a photo with whites and darks, for everything that is shown of a plan."""

from pathlib import Path

import pytest
from PIL import Image
from skimage import data

from firstwash.plan.problem import Limits
from firstwash.usecases import PhotoPlan, Wishes, plan_photo, write_plan

HOSTILE = "a & b <script>alert(1)<"  # a file's name; "/" is all it may not hold


@pytest.fixture(scope="session")
def planned(tmp_path_factory: pytest.TempPathFactory) -> PhotoPlan:
    photo = tmp_path_factory.mktemp("photo") / f"{HOSTILE}.png"
    Image.fromarray(data.coffee()).save(photo)
    # The cup only: 30 shapes on a small sheet are planned in a second.
    limits = Limits(shapes=30, puddles=8, washes=20)
    return plan_photo(photo, Wishes(sheet="12x9cm", limits=limits, crop=(0.2, 0.1, 0.6, 0.7)))


@pytest.fixture(scope="session")
def folder(planned: PhotoPlan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_plan(planned, tmp_path_factory.mktemp("out") / "plan").parent
