"""One still life planned with six paints, for every lesson, and the whole gallery of it."""

import pytest

from firstwash.lessons.gallery import Gallery, make_gallery
from firstwash.lessons.workshop import Workshop, open_workshop
from firstwash.paints.catalogue import default_paper, load_set


@pytest.fixture(scope="session")
def shop() -> Workshop:
    return open_workshop(load_set("starter-6").paints, default_paper())


@pytest.fixture(scope="session")
def gallery() -> Gallery:
    return make_gallery(load_set("starter-6").paints, default_paper(), "a & b <i>")
