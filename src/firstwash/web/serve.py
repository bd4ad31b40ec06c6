"""Serving the worksheet: finding the one that runs already, a port, a log, a quiet end."""

import asyncio
import hashlib
import hmac
import json
import logging
import os
import secrets
import shutil
import signal
import socket
import sys
import threading
import time
import urllib.request
import webbrowser
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import FrameType
from typing import Any, Final

from fastapi import FastAPI

from firstwash.errors import AlreadyOpen, RequestError
from firstwash.store.lock import FolderLock
from firstwash.web.app import create_app
from firstwash.web.jobs import Jobs
from firstwash.web.listener import Listener, bind
from firstwash.web.memory import few_arenas
from firstwash.web.phone import Phone
from firstwash.web.security import Door, Security
from firstwash.web.services import INCOMING, Services, Settings
from firstwash.web.times import Times

__all__ = ["PORT", "find_running", "make_services", "serve"]

PORT: Final = 8737
PORTS: Final = 20  # tried after it, one by one
LOOPBACK: Final = "127.0.0.1"
SERVER: Final = "server"  # folder of the lock and of
STATE: Final = "running.json"
PATIENCE: Final = 8.0  # s for a firstwash that is just starting to answer
ANSWER: Final = 2.0  # s for one that runs
LOG_BYTES: Final = 500_000

MakeApp = Callable[[Services], FastAPI]


@dataclass(frozen=True)
class _Running:
    """What a running server leaves in the data folder, for its owner's eyes only."""

    port: int
    pid: int
    secret: str

    @property
    def url(self) -> str:
        return f"http://{LOOPBACK}:{self.port}/"

    def proof(self, question: str) -> str:
        """What only a server that knows the secret answers to a question."""
        return hmac.new(self.secret.encode(), question.encode(), hashlib.sha256).hexdigest()

    def write(self, folder: Path) -> None:
        """Leave it in the folder, whole or not at all."""
        place = folder / SERVER
        place.mkdir(parents=True, exist_ok=True, mode=0o700)
        half = place / f"{STATE}.half"
        handle = os.open(half, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump({"port": self.port, "pid": self.pid, "secret": self.secret}, file)
        half.replace(place / STATE)

    @classmethod
    def read(cls, folder: Path) -> "_Running | None":
        """What was left there, if it makes sense."""
        try:
            told = json.loads((folder / SERVER / STATE).read_text("utf-8"))
            return cls(int(told["port"]), int(told["pid"]), str(told["secret"]))
        except (OSError, ValueError, KeyError, TypeError):
            return None


def find_running(folder: Path) -> str | None:
    """Address of the server that runs on a data folder, or None.

    The port alone proves nothing: it is asked a question only our own server can answer.
    """
    left = _Running.read(folder)
    if left is None or not 0 < left.port < 65536:
        return None
    question = secrets.token_hex(16)
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))  # never by a proxy
    try:
        with opener.open(f"{left.url}api/hello?question={question}", timeout=ANSWER) as answer:
            told: Any = json.loads(answer.read(10_000))
        given = str(told["proof"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return left.url if hmac.compare_digest(given.encode(), left.proof(question).encode()) else None


def _sockets(port: int | None) -> list[socket.socket]:
    """Sockets at this computer's own addresses and at no other; IPv6's if it has one.

    port: exactly that one, 0 for any; None for the usual one or the next that is free.
    """
    tried = [port] if port is not None else [*range(PORT, PORT + PORTS), 0]
    for one in tried:
        try:
            first = bind(LOOPBACK, one)
        except (OSError, OverflowError):
            continue
        both = [first]
        with suppress(OSError):
            both.append(bind("::1", first.getsockname()[1]))
        return both
    raise RequestError(f"Port {port} cannot be had; choose another, or leave --port out.")


def make_services(
    folder: Path, port: int, secret: str = "", settings: Settings | None = None
) -> Services:
    """What a server on `port` works with; nothing heavy is loaded and nothing started.

    Work and uploads that an earlier server left half done are removed.
    """
    shutil.rmtree(folder / INCOMING, ignore_errors=True)
    settings = settings or Settings()
    jobs = Jobs(folder / "work", times=Times(folder / "times.json"), environment=_for_workers())
    proof = _Running(port, os.getpid(), secret or secrets.token_hex(32)).proof
    return Services(folder, Security(Door.here(port)), jobs, Phone(), settings, proof)


def _for_workers() -> dict[str, str]:
    return {"NUMBA_OPT": os.environ.get("NUMBA_OPT", "1")}  # as cli.py sets it


def serve(
    folder: Path,
    port: int | None = None,
    browser: bool = True,
    say: Callable[[str], None] = print,
    make_app: MakeApp = create_app,
) -> None:
    """Serve the worksheet of a data folder until Ctrl-C or a request to end.

    If one is served already, the browser is sent there instead. say: prints one line. Raises
    RequestError when `port` is taken.
    """
    url = find_running(folder)
    place = folder / SERVER
    place.mkdir(parents=True, exist_ok=True, mode=0o700)
    try:
        lock = FolderLock(place) if url is None else None
    except AlreadyOpen:
        url = _wait_for_running(folder)
    if url is not None or lock is None:
        _show(str(url), browser, say, "The worksheet is open already, at")
        return
    try:
        _serve_alone(folder, _sockets(port), browser, say, make_app)
    finally:
        lock.release()


def _serve_alone(
    folder: Path,
    sockets: list[socket.socket],
    browser: bool,
    say: Callable[[str], None],
    make_app: MakeApp,
) -> None:
    few_arenas()
    running = _Running(sockets[0].getsockname()[1], os.getpid(), secrets.token_hex(32))
    _log_to(folder / "log")
    services = make_services(folder, running.port, running.secret)
    listener = Listener(make_app(services), sockets, lifespan=True)
    running.write(folder)
    try:
        asyncio.run(_until_told(listener, services, lambda: _show(running.url, browser, say)))
    finally:
        (folder / SERVER / STATE).unlink(missing_ok=True)
        services.close()
        logging.getLogger("firstwash").info("ended")


def _wait_for_running(folder: Path) -> str:
    """The address of the one that is just starting. Raises AlreadyOpen if it never answers."""
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        url = find_running(folder)
        if url is not None:
            return url
        time.sleep(0.2)
    raise AlreadyOpen(
        "Your paintings are open in another firstwash that does not answer; close it first."
    )


def _show(
    url: str, browser: bool, say: Callable[[str], None], words: str = "The worksheet is at"
) -> None:
    say(f"{words} {url}")
    if browser:  # in a thread: some computers wait for the browser to end
        threading.Thread(target=_open_browser, args=(url,), daemon=True).start()


def _open_browser(url: str) -> None:
    with suppress(Exception):  # without one, the printed address will do
        webbrowser.open(url)


async def _until_told(listener: Listener, services: Services, ready: Callable[[], None]) -> None:
    """Serve until a signal asks to end; a second one ends at once."""

    def end(number: int, frame: FrameType | None) -> None:
        del number, frame
        services.closing.set()  # streams end by themselves
        listener.leave()

    before = {number: signal.signal(number, end) for number in _ending_signals()}
    try:
        await listener.start()
        ready()
        await listener.until_left()
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _ending_signals() -> Iterable[signal.Signals]:
    if threading.current_thread() is not threading.main_thread():
        return ()
    if sys.platform == "win32":
        return (signal.SIGINT, signal.SIGTERM, signal.SIGBREAK)
    return (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


def _log_to(folder: Path) -> None:
    """Keep a small log of what went wrong: no names, no addresses, no pictures."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    file = RotatingFileHandler(
        folder / "firstwash.log", maxBytes=LOG_BYTES, backupCount=2, encoding="utf-8"
    )
    file.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s %(message)s"))
    ours = logging.getLogger("firstwash")
    ours.handlers[:] = [file]
    ours.setLevel(logging.INFO)
    ours.propagate = False
    logging.getLogger("uvicorn").addHandler(logging.NullHandler())
    logging.getLogger("uvicorn").propagate = False
    ours.info("started")
