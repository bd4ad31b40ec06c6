"""Shared set-up: warnings of third-party imports, property-test settings, common fixtures."""

import sys
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

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


class Ran(NamedTuple):
    """What a command did: its exit code and what it said."""

    code: int
    out: str
    err: str


@pytest.fixture
def run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Callable[..., Ran]:
    """The command inside this process, in an empty folder: run("plan", photo, ...)."""
    from firstwash import cli

    monkeypatch.chdir(tmp_path)

    def command(*words: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["firstwash", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        seen = capsys.readouterr()
        return Ran(int(ended.value.code or 0), seen.out, seen.err)

    return command
