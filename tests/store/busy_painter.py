"""A program that saves, imports and adopts without rest, to be killed: see test_killed.

Reads lines "<folder> <seed>" and forks a painter for each, who works in that folder until
killed. Says "started <pid>", then one line for everything the store has accepted, then
"ended". Forking spares the imports, which would take most of the time.
"""

import hashlib
import os
import random
import sys
from pathlib import Path

from firstwash.store.bundle import export_painting
from firstwash.store.paintings import Store
from firstwash.store.records import Revision
from firstwash.store.unbundle import import_painting


def say(*words: str) -> None:
    """One line in one piece: a pipe takes lines this short whole or not at all."""
    os.write(1, (" ".join(words) + "\n").encode())


def digest(revision: Revision) -> str:
    """Of the state and the keys, to be compared with what is found after the kill."""
    told = "".join((revision.state, *sorted(revision.files)))
    return hashlib.sha256(told.encode()).hexdigest()


def paint(folder: Path, seed: int) -> None:
    """Work until killed; everything is said after the store has returned, never before."""
    chance = random.Random(seed)
    store = Store.open(folder / "data")
    at = store.create("Pears", f'"{seed}"')
    say("accepted", at.painting.id, at.revision.id, digest(at.revision))
    while True:
        upload = folder / f"upload-{seed}"
        upload.write_bytes(chance.randbytes(chance.randint(1, 60_000)))
        what = chance.random()
        keys = [store.files.adopt(upload), store.files.put(chance.randbytes(2000))]
        if what < 0.75:
            words = f'"{"x" * chance.randint(1, 20_000)}"'
            at = store.accept(at.painting.id, at.revision.id, words, keys, "Changed")
        elif what < 0.85 and at.can_step_back:
            at = store.step_back(at.painting.id, at.revision.id)
        else:
            export_painting(store, at.painting.id, folder / "out.zip")
            at = import_painting(store, folder / "out.zip")
        say("accepted", at.painting.id, at.revision.id, digest(at.revision))


def main() -> None:
    """Fork a painter for every line read, and wait until he is dead."""
    for line in sys.stdin:
        folder, seed = line.split()
        child = os.fork()
        if child == 0:
            try:
                paint(Path(folder), int(seed))
            except BaseException as error:
                say("failed", repr(error))
            os._exit(1)
        say("started", str(child))
        os.waitpid(child, 0)
        say("ended")


if __name__ == "__main__":
    main()
