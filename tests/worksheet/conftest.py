"""Small plans for everything that the page tells of a plan."""

import io

import pytest
from PIL import Image
from skimage import data

from firstwash.plan.problem import Limits
from firstwash.usecases import PhotoPlan, Wishes, plan_photo


@pytest.fixture(scope="session")
def cup() -> PhotoPlan:
    """A cup with whites, darks and fine strokes: 30 shapes on a small sheet."""
    out = io.BytesIO()
    Image.fromarray(data.coffee()).save(out, "png")
    limits = Limits(shapes=30, puddles=8, washes=20)
    wishes = Wishes(sheet="15x11cm", limits=limits, crop=(0.2, 0.1, 0.6, 0.7))
    return plan_photo(out.getvalue(), wishes)
