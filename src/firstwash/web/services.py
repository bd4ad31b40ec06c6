"""What the routes work with: one object per server, made before anything heavy is loaded."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from starlette.requests import HTTPConnection

from firstwash.web.errors import Busy
from firstwash.web.jobs import Jobs
from firstwash.web.phone import Phone
from firstwash.web.security import Security

if TYPE_CHECKING:
    from firstwash.store.paintings import Store

__all__ = ["INCOMING", "Services", "Settings", "services_of"]

INCOMING: Final = "incoming"  # folder of files that are still coming in


@dataclass(frozen=True)
class Settings:
    """What the server allows.

    json_bytes: of an ordinary body. photo_bytes, bundle_bytes: of an uploaded file.
    heartbeat_seconds: between two signs of life of an event stream. warm: whether what is slow to
    load and to compile is so in the background after the start, or when first needed.
    """

    json_bytes: int = 2_000_000
    photo_bytes: int = 200_000_000
    bundle_bytes: int = 2_000_000_000
    heartbeat_seconds: float = 15.0
    warm: bool = True


def _open_store(folder: Path) -> "Store":
    from firstwash.store.paintings import Store

    return Store.open(folder)


@dataclass
class Services:
    """folder: where the painter's things are kept. proof: answers a second start's question.

    asked: when the last request was answered (time.monotonic); when_idle: what to do once nobody
    has asked for some minutes.
    """

    folder: Path
    security: Security
    jobs: Jobs
    phone: Phone
    settings: Settings = field(default_factory=Settings)
    proof: Callable[[str], str] = field(default=lambda _: "", repr=False)
    open_store: Callable[[Path], "Store"] = field(default=_open_store, repr=False)
    closing: threading.Event = field(default_factory=threading.Event, repr=False)
    answered: threading.Event = field(default_factory=threading.Event, repr=False)
    asked: float = field(default_factory=time.monotonic, repr=False)
    when_idle: list[Callable[[], object]] = field(default_factory=list, repr=False)
    _opening: threading.Lock = field(default_factory=threading.Lock, repr=False)

    @cached_property
    def _opened(self) -> "Store":
        return self.open_store(self.folder)

    @property
    def store(self) -> "Store":
        """The paintings; opened when first asked for. Never call this in the event loop."""
        with self._opening:
            if self.closing.is_set() and "_opened" not in self.__dict__:
                raise Busy("firstwash is closing; start it again and open the worksheet.")
            return self._opened

    def open(self) -> None:
        """Open the store now, so that nobody need wait for it."""
        _ = self.store

    def uploads(self) -> Path:
        """The folder for files that are coming in, on the disk where they will stay."""
        folder = self.folder / INCOMING
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        return folder

    def close(self) -> None:
        """End the workers, then close the store."""
        self.closing.set()
        self.jobs.close()
        with self._opening:
            store: Any = self.__dict__.get("_opened")
            if store is not None:
                store.close()


def services_of(connection: HTTPConnection) -> Services:
    """The services of the server a request came to (a FastAPI dependency)."""
    services = connection.app.state.services
    assert isinstance(services, Services)
    return services
