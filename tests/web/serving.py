"""Jobs in a room of their own, and whole servers on real sockets."""

import asyncio
import contextlib
import os
import threading
import time
from collections.abc import Callable, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import APIRouter, FastAPI

from firstwash.web.app import Services, Settings, create_app
from firstwash.web.jobs import Jobs
from firstwash.web.listener import Listener, bind
from firstwash.web.phone import Phone
from firstwash.web.serve import make_services

SAMPLES = Path(__file__).parent / "samples"
PATIENCE = 60.0  # s; only so that a broken test ends


def until(true: Callable[[], Any], what: str = "it") -> Any:
    """Wait until something is true, and give it."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        value = true()
        if value:
            return value
        time.sleep(0.01)
    raise AssertionError(f"waited too long for {what}")


def in_a_loop(work: Callable[[], Coroutine[Any, Any, Any]]) -> Any:
    """Run something in an event loop of its own, in a thread: the browser's loop may run here."""
    with ThreadPoolExecutor(1) as aside:
        return aside.submit(lambda: asyncio.run(work())).result(PATIENCE)


def alive(pid: int) -> bool:
    """Whether a process runs; one that ended and was not yet asked for does not."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    stat = Path(f"/proc/{pid}/stat")
    return not (stat.exists() and stat.read_text().rpartition(")")[2].split()[0] == "Z")


@pytest.fixture
def samples(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let workers find the sample work: they start with our own sys.path."""
    monkeypatch.syspath_prepend(SAMPLES)


@pytest.fixture
def jobs(tmp_path: Path, samples: None) -> Iterator[Jobs]:
    del samples
    made = Jobs(tmp_path / "work")
    yield made
    made.close()


class Served:
    """A server in a thread. url: its address. services: behind it. client: our own page's."""

    def __init__(self, app: FastAPI, services: Services, listener: Listener) -> None:
        self.app, self.services, self.listener = app, services, listener
        self.port = listener.port
        self.url = f"http://127.0.0.1:{listener.port}"
        self.token = services.security.here.token
        self.client = httpx.Client(
            base_url=self.url,
            headers={"X-Firstwash-Token": self.token, "Origin": self.url},
            trust_env=False,
            timeout=30,
        )
        self.stranger = httpx.Client(base_url=self.url, trust_env=False, timeout=30)
        self.loop: asyncio.AbstractEventLoop | None = None

    def run(self, ready: threading.Event) -> None:
        async def serve() -> None:
            self.loop = asyncio.get_running_loop()
            await self.listener.start()
            ready.set()
            await self.listener.until_left()

        asyncio.run(serve())


@contextlib.contextmanager
def running(
    folder: Path, *routers: APIRouter, settings: Settings | None = None, phone: Phone | None = None
) -> Iterator[Served]:
    """A server on a data folder until the block ends; nothing is compiled unless asked for."""
    sock = bind("127.0.0.1", 0)
    settings = settings or Settings(warm=False)
    services = make_services(folder, sock.getsockname()[1], settings=settings)
    services.phone = phone or services.phone
    app = create_app(services, routers)
    served = Served(app, services, Listener(app, [sock], lifespan=True))
    ready = threading.Event()
    thread = threading.Thread(target=served.run, args=(ready,))
    thread.start()
    try:
        assert ready.wait(30)
        yield served
    finally:
        served.client.close()
        served.stranger.close()
        services.closing.set()
        served.listener.leave()
        thread.join(30)
        assert not thread.is_alive()


Serve = Callable[..., Served]


@pytest.fixture
def serve(tmp_path: Path, samples: None) -> Iterator[Serve]:
    """Start servers, each on a folder of its own; all end with the test."""
    del samples
    with contextlib.ExitStack() as stack:
        folders = (tmp_path / f"data {i}" for i in range(9))

        def start(*routers: APIRouter, **more: Any) -> Served:
            folder = next(folders)
            folder.mkdir()
            return stack.enter_context(running(folder, *routers, **more))

        yield start
