"""Killed at any moment, a store loses nothing that was accepted and shows nothing half done."""

import hashlib
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from firstwash.store.paintings import Store
from firstwash.store.records import Revision

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="forks, to be quick")

PROGRAM = Path(__file__).with_name("busy_painter.py")
KILLS = 64
KILLS_PER_FOLDER = 8  # so that the first opening, with its migration, is killed too
LONGEST = 0.03  # seconds from the last awaited save to the kill

Accepted = tuple[str, str, str]  # painting, revision, digest of its state and files


def digest(revision: Revision) -> str:
    """As `busy_painter.digest`, which cannot be imported from here."""
    told = "".join((revision.state, *sorted(revision.files)))
    return hashlib.sha256(told.encode()).hexdigest()


class Painter:
    """The busy program, with one painter at a time."""

    def __init__(self) -> None:
        self.program = subprocess.Popen(
            [sys.executable, str(PROGRAM)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "OMP_NUM_THREADS": "1"},
        )

    def killed_after(self, folder: Path, seed: int, saves: int, seconds: float) -> list[Accepted]:
        """Let a painter work for some saves and some time, kill him; what was accepted."""
        assert self.program.stdin is not None
        self.program.stdin.write(f"{folder} {seed}\n")
        self.program.stdin.flush()
        lines: list[list[str]] = []
        while "started" not in {line[0] for line in lines} or len(lines) < saves + 1:
            lines.append(self.line())  # the first save may be told before the start is
        time.sleep(seconds)
        os.kill(next(int(line[1]) for line in lines if line[0] == "started"), signal.SIGKILL)
        while lines[-1] != ["ended"]:
            lines.append(self.line())
        return [(line[1], line[2], line[3]) for line in lines if line[0] == "accepted"]

    def line(self) -> list[str]:
        """The words of what the program says next."""
        assert self.program.stdout is not None
        line = self.program.stdout.readline().split()
        assert line, "the program ended by itself"
        assert line[0] in ("started", "accepted", "ended"), line
        return line

    def end(self) -> None:
        assert self.program.stdin is not None
        assert self.program.stdout is not None
        self.program.stdin.close()
        self.program.wait(10)
        self.program.stdout.close()


def check(store: Store, accepted: list[Accepted]) -> None:
    """Everything accepted is there with its files; everything there is whole."""
    with store.database.reading() as here:
        assert here.exec_driver_sql("PRAGMA integrity_check").scalar_one() == "ok"
        assert here.exec_driver_sql("PRAGMA foreign_key_check").all() == []
    known: set[Accepted] = set()
    for painting in store.listed():
        steps = store.history(painting.id)
        assert painting.head in {s.id for s in steps}
        assert {s.parent for s in steps} <= {None, *(s.id for s in steps)}
        for step in steps:
            revision = store.revision(painting.id, step.id)
            known.add((painting.id, step.id, digest(revision)))
            for key in revision.files:
                assert hashlib.sha256(store.files.get(key)).hexdigest() == key
    assert set(accepted) <= known


def test_killed_at_any_moment_nothing_accepted_is_lost(tmp_path: Path) -> None:
    chance = random.Random(20_240_229)
    painter = Painter()
    total = promised = 0
    try:
        for number in range(KILLS):
            folder = tmp_path / str(number // KILLS_PER_FOLDER)
            folder.mkdir(exist_ok=True)
            if number % KILLS_PER_FOLDER == 0:
                accepted: list[Accepted] = []
            # Counted in saves, so that a slow machine does as much; the time hits every moment
            # of a save, which takes some thousandths of a second, or of the opening.
            saves, seconds = chance.randint(0, 4), chance.uniform(0, LONGEST)
            accepted += painter.killed_after(folder, number, saves, seconds)
            promised += saves
            with Store.open(folder / "data") as store:
                check(store, accepted)
            if number % KILLS_PER_FOLDER == KILLS_PER_FOLDER - 1:
                total += len(accepted)
    finally:
        painter.end()
    assert total >= promised > KILLS


def test_an_import_killed_half_way_shows_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The worst moment by hand: the files are in, the rows are written, the commit is not."""
    from firstwash.store import unbundle
    from firstwash.store.bundle import export_painting

    with Store.open(tmp_path / "data") as store:
        key = store.files.put(b"photo")
        of = store.create("Pears", "1", [key]).painting.id
        export_painting(store, of, tmp_path / "a.zip")
        shelve = unbundle.shelve

        def killed(*arguments: object) -> None:
            shelve(*arguments)  # type: ignore[arg-type]
            raise KeyboardInterrupt

        monkeypatch.setattr(unbundle, "shelve", killed)
        with pytest.raises(KeyboardInterrupt):
            unbundle.import_painting(store, tmp_path / "a.zip")
        assert [p.name for p in store.listed()] == ["Pears"]
        monkeypatch.undo()
        assert unbundle.import_painting(store, tmp_path / "a.zip").painting.name == "Pears 2"
