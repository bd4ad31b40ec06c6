"""Shared set-up: warnings of third-party imports, property-test settings, common fixtures."""

import warnings

import numpy as np
import pytest
from hypothesis import settings

# colour-science warns once, at import, that optional parts of it (plotting) are not installed.
# Every other warning stays an error (pyproject.toml).
with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message=r"(?s).*related API features are not available")
    import colour  # noqa: F401

# No deadline: the first call of a compiled kernel takes seconds. Derandomised and without a
# database: a run never depends on the run before, and leaves nothing behind.
settings.register_profile("firstwash", deadline=None, derandomize=True, database=None)
settings.load_profile("firstwash")


@pytest.fixture
def rng() -> np.random.Generator:
    """The same random numbers in every run."""
    return np.random.default_rng(20_240_229)
