"""The server as a process: found again, alone on its folder, light at first, gone at the end."""

import json
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from tests.web.serving import SAMPLES, alive, running, until

from firstwash.errors import RequestError
from firstwash.web.listener import bind
from firstwash.web.serve import PORT, find_running, serve

HEAVY = ("numba", "cv2", "skimage", "scipy", "pyvips", "numpy", "PIL", "firstwash.plan")
WITHOUT = """
import sys
from pathlib import Path
from firstwash.web.app import Settings, create_app
from firstwash.web.serve import make_services
import firstwash.cli_open, firstwash.web.serve
services = make_services(Path(sys.argv[1]), 1, settings=Settings(warm=False))
create_app(services)
print([name for name in sys.argv[2:] if name in sys.modules])
"""
SERVER = """
import sys
from pathlib import Path
from firstwash.web.app import Settings, create_app
from firstwash.web.serve import serve
def make_app(services):
    services.settings = Settings(warm=False)
    if len(sys.argv) > 2:
        services.jobs.start("hold", "sample_work:hold", {"note": sys.argv[2]})
    return create_app(services)
if __name__ == "__main__":
    serve(Path(sys.argv[1]), 0, False, lambda line: print(line, flush=True), make_app)
"""


@contextmanager
def process(folder: Path, *more: Path) -> Iterator[tuple["subprocess.Popen[str]", str]]:
    """A server of its own, and its address."""
    script = folder.parent / "server.py"
    script.write_text(SERVER)
    folder.mkdir(exist_ok=True)
    started = subprocess.Popen(
        [sys.executable, "-W", "error", script, folder, *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(SAMPLES)},
    )
    try:
        assert started.stdout is not None
        line = started.stdout.readline()
        yield started, line.split()[-1] if line else ""
    finally:
        started.kill()
        started.communicate()


def test_nothing_heavy_is_loaded_at_the_start(tmp_path: Path) -> None:
    words = [sys.executable, "-c", WITHOUT, str(tmp_path), *HEAVY]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_second_start_finds_the_first(tmp_path: Path) -> None:
    folder, said = tmp_path / "data", []
    with process(folder) as (_, url):
        assert find_running(folder) == url
        serve(folder, browser=False, say=said.append)
        assert said == [f"The worksheet is open already, at {url}"]
        state = folder / "server" / "running.json"
        assert state.stat().st_mode & 0o077 == 0  # its secret is nobody else's


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_quietly_with_all_it_started(tmp_path: Path, how: signal.Signals) -> None:
    folder, note = tmp_path / "data", tmp_path / "note"
    with process(folder, note) as (server, url):
        until(note.exists)
        involved = [int(pid) for pid in until(note.read_text).split()]
        job = httpx.get(f"{url}api/jobs", trust_env=False).json()["jobs"][0]["id"]
        with httpx.stream("GET", f"{url}api/jobs/{job}/events", trust_env=False) as listening:
            server.send_signal(how)  # a page that listens does not hold it up
            until(lambda: server.poll() is not None)
            del listening
        assert server.returncode == 0
        assert server.stderr is not None
        assert server.stderr.read() == ""
    until(lambda: not any(map(alive, involved)), "the workers' end")
    assert find_running(folder) is None
    assert not (folder / "server" / "running.json").exists()
    assert not (folder / "work").exists()


def test_one_that_was_killed_leaves_the_way_free(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    with process(folder) as (server, _):
        server.kill()
        server.wait()
        assert find_running(folder) is None
        with process(folder) as (_, url):
            assert find_running(folder) == url


def test_another_server_on_that_port_is_not_taken_for_ours(tmp_path: Path) -> None:
    ours, other = tmp_path / "a", tmp_path / "b"
    ours.mkdir()
    other.mkdir()
    with running(other) as served:
        (ours / "server").mkdir()
        told = {"port": served.port, "pid": os.getpid(), "secret": "not its own"}
        (ours / "server" / "running.json").write_text(json.dumps(told))
        assert served.stranger.get("/api/hello").json()["firstwash"]
        assert find_running(ours) is None


@pytest.mark.parametrize(
    "left", ["", "[]", "{}", '{"port": "x"}', '{"port": 0, "pid": 1, "secret": ""}', "\0"]
)
def test_a_spoilt_state_is_no_server(tmp_path: Path, left: str) -> None:
    (tmp_path / "server").mkdir()
    (tmp_path / "server" / "running.json").write_text(left)
    assert find_running(tmp_path) is None


def test_it_listens_at_this_computer_s_own_addresses_only(tmp_path: Path) -> None:
    with process(tmp_path / "data") as (server, url):
        port = httpx.URL(url).port
        lines = [
            line.split()
            for table in ("tcp", "tcp6")
            for line in Path(f"/proc/{server.pid}/net/{table}").read_text().splitlines()[1:]
        ]
        at = {line[1].split(":")[0] for line in lines if int(line[1].split(":")[1], 16) == port}
        at_loopback = {"0100007F", "00000000000000000000000001000000"}  # 127.0.0.1 and ::1
        assert at
        assert at <= at_loopback


def test_a_port_that_was_asked_for_and_is_taken_is_refused(tmp_path: Path) -> None:
    with bind("127.0.0.1", 0) as taken:
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(RequestError, match=f"Port {port}"):
            serve(tmp_path, port, browser=False)


def test_the_usual_port_or_the_next_is_taken(tmp_path: Path) -> None:
    environment = {**os.environ, "FIRSTWASH_HOME": str(tmp_path)}
    words = [sys.executable, "-m", "firstwash", "open", "--no-browser"]
    taken = []
    try:
        taken.append(bind("127.0.0.1", PORT))
        taken[0].listen()
    except OSError:
        pass  # taken by somebody else: just as good
    server = subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=environment)
    try:
        assert server.stdout is not None
        line = server.stdout.readline()
        assert line.startswith("The worksheet is at http://127.0.0.1:")
        assert httpx.URL(line.split()[-1]).port != PORT
    finally:
        server.send_signal(signal.SIGINT)
        server.communicate()
        for sock in taken:
            sock.close()
    assert server.returncode == 0


def test_a_port_cannot_be_listened_at_twice() -> None:
    with bind("127.0.0.1", 0) as one:
        one.listen()
        with pytest.raises(OSError, match="in use"):
            bind("127.0.0.1", one.getsockname()[1])
        assert one.family == socket.AF_INET


def test_the_log_names_nobody(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    with process(folder) as (server, url):
        httpx.get(f"{url}nowhere/secret-name?token=secret", trust_env=False)
        server.send_signal(signal.SIGTERM)
        until(lambda: server.poll() is not None)
    log = (folder / "log" / "firstwash.log").read_text()
    assert "started" in log
    assert "ended" in log
    assert "secret" not in log
    assert str(tmp_path) not in log
