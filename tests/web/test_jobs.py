"""Long work: done elsewhere, told as it goes, stopped at once, never handed on twice."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from tests.web.serving import PATIENCE, SAMPLES, Serve, alive, until

from firstwash.errors import FirstwashError, RequestError
from firstwash.web.errors import Busy, NotFound
from firstwash.web.jobs import STOPPED, Job, Jobs
from firstwash.web.times import Times
from firstwash.web.worker import named


def ended(jobs: Jobs, job: Job) -> dict[str, Any]:
    return until(lambda: not job.live and jobs.state(job), f"the end of {job}")


def pids(note: Path) -> list[int]:
    return until(lambda: note.exists() and [int(p) for p in note.read_text().split()], "pids")


def test_work_is_done_elsewhere_and_told(jobs: Jobs) -> None:
    job = jobs.start("count", "sample_work:count", {"to": 3})
    state = ended(jobs, job)
    assert state["state"] == "finished"
    assert state["done"] == 1.0
    assert state["ended"]["result"]["counted"] == 3
    assert state["ended"]["result"]["pid"] != os.getpid()
    told = [(e.name, e.data.get("step"), e.data.get("done")) for e in job.events]
    assert told == [
        *(("progress", f"Step {i}", round(i / 3, 4)) for i in (1, 2, 3)),
        ("finished", None, None),
    ]
    assert (job.folder / "n.txt").read_text() == "3"  # kept: nobody was there to take it


def test_the_result_is_handed_on_once_before_the_page_hears_of_it(jobs: Jobs) -> None:
    seen: list[tuple[Any, str, str]] = []

    def keep(result: dict[str, Any], folder: Path) -> dict[str, Any]:
        seen.append((result["counted"], (folder / "n.txt").read_text(), job.state))
        return {"revision": 7}

    begin = threading.Event()

    def gated(result: dict[str, Any], folder: Path) -> dict[str, Any]:
        begin.wait(PATIENCE)
        return keep(result, folder)

    job = jobs.start("count", "sample_work:count", {"to": 2}, on_done=gated)
    begin.set()
    assert ended(jobs, job)["ended"]["result"] == {"revision": 7}
    assert seen == [(2, "2", "keeping")]
    until(lambda: not job.room.exists(), "tidying")


@pytest.mark.parametrize(
    ("error", "sentence", "kind"),
    [
        (RequestError("Too late; reload."), "Too late; reload.", "request"),
        (KeyError("a secret name"), "Something went wrong", "unexpected"),
    ],
)
def test_what_cannot_be_kept_is_told(
    jobs: Jobs, error: Exception, sentence: str, kind: str
) -> None:
    def keep(_result: dict[str, Any], _folder: Path) -> None:
        raise error

    job = jobs.start("count", "sample_work:count", on_done=keep)
    state = ended(jobs, job)
    assert state["state"] == "failed"
    assert state["ended"]["sentence"].startswith(sentence)
    assert state["ended"]["kind"] == kind


@pytest.mark.parametrize(
    ("work", "sentence", "kind"),
    [
        ("refuse", "This photo is too dark; choose another.", "photo"),
        ("break_down", STOPPED, "stopped"),
        ("unwritable", STOPPED, "stopped"),
        ("die", STOPPED, "stopped"),
        ("no_such_work", STOPPED, "stopped"),
    ],
)
def test_failing_is_told_in_a_sentence_and_the_next_job_runs(
    jobs: Jobs, work: str, sentence: str, kind: str
) -> None:
    state = ended(jobs, jobs.start("x", f"sample_work:{work}"))
    assert (state["state"], state["ended"]["sentence"]) == ("failed", sentence)
    assert state["ended"]["kind"] == kind
    assert "secret" not in json.dumps(state)
    assert ended(jobs, jobs.start("count", "sample_work:count"))["state"] == "finished"


def test_a_job_that_is_stopped_ends_with_all_it_started(jobs: Jobs, tmp_path: Path) -> None:
    note, kept = tmp_path / "note", []
    args = {"note": str(note)}
    job = jobs.start("hold", "sample_work:hold", args, on_done=lambda r, _: kept.append(r))
    involved = pids(note)
    until(lambda: jobs.state(job)["step"] == "Holding", "progress")
    assert jobs.cancel(job.id)
    assert not jobs.cancel(job.id)  # a second time there is nothing to stop
    assert jobs.state(job)["state"] == "cancelled"
    until(lambda: not any(map(alive, involved)), "their end")
    assert [e.name for e in job.events][-1] == "cancelled"
    assert ended(jobs, jobs.start("count", "sample_work:count"))["state"] == "finished"
    assert kept == []
    until(lambda: not job.room.exists(), "tidying")


def test_work_that_will_not_listen_is_stopped_too(jobs: Jobs, tmp_path: Path) -> None:
    note = tmp_path / "note"
    job = jobs.start("deaf", "sample_work:deaf", {"note": str(note)})
    (pid,) = pids(note)
    assert jobs.cancel(job.id)
    until(lambda: not alive(pid), "its end")


def test_a_worker_that_is_killed_takes_nothing_else_with_it(jobs: Jobs, tmp_path: Path) -> None:
    note = tmp_path / "note"
    job = jobs.start("hold", "sample_work:hold", {"note": str(note)})
    worker, other = pids(note)
    os.kill(worker, signal.SIGKILL)
    assert ended(jobs, job)["ended"]["sentence"] == STOPPED
    until(lambda: not alive(other), "what it had started")


def test_an_idle_worker_that_is_killed_is_replaced(jobs: Jobs) -> None:
    first = ended(jobs, jobs.start("count", "sample_work:count"))["ended"]["result"]["pid"]
    os.kill(first, signal.SIGKILL)
    until(lambda: not alive(first), "its end")
    again = ended(jobs, jobs.start("count", "sample_work:count"))
    assert again["state"] == "finished"
    assert again["ended"]["result"]["pid"] != first


def test_a_worker_is_used_again_and_ends_when_idle(tmp_path: Path, samples: None) -> None:
    del samples
    jobs = Jobs(tmp_path / "work", workers=1, idle_seconds=0.5)
    try:
        runs = [ended(jobs, jobs.start("count", "sample_work:count")) for _ in range(2)]
        first, second = (r["ended"]["result"]["pid"] for r in runs)
        assert first == second
        until(lambda: not alive(first), "retirement")
    finally:
        jobs.close()


def test_a_newer_job_of_a_key_replaces_the_older_one(jobs: Jobs, tmp_path: Path) -> None:
    kept: list[str] = []

    def keep(result: dict[str, Any], _folder: Path) -> None:
        kept.append(result["name"])

    older = jobs.start(
        "hold", "sample_work:hold", {"note": str(tmp_path / "n")}, key="painting 1", on_done=keep
    )
    pids(tmp_path / "n")
    newer = jobs.start("count", "sample_work:count", {"name": "b"}, key="painting 1", on_done=keep)
    other = jobs.start("count", "sample_work:count", {"name": "c"}, key="painting 2", on_done=keep)
    assert older.state == "cancelled"
    assert ended(jobs, newer)["state"] == ended(jobs, other)["state"] == "finished"
    assert sorted(kept) == ["b", "c"]
    assert jobs.of_key("painting 1") is newer


def test_work_can_wait_for_other_work(jobs: Jobs, tmp_path: Path) -> None:
    first = jobs.start("hold", "sample_work:hold", {"note": str(tmp_path / "n")}, key="ready")
    second = jobs.start("count", "sample_work:count", after="ready")
    third = jobs.start("count", "sample_work:count", key="other")
    assert ended(jobs, third)["state"] == "finished"  # there was a worker free all the time
    assert second.state == "waiting"
    (first.folder / "let-go").touch()
    assert ended(jobs, second)["state"] == "finished"


def test_fifty_jobs_all_end_and_each_is_handed_on_once(jobs: Jobs) -> None:
    kept: list[str] = []

    def keep(result: dict[str, Any], _folder: Path) -> None:
        kept.append(result["name"])

    names = [f"job {i}" for i in range(50)]
    started = [
        jobs.start("count", "sample_work:count", {"name": n}, key=n, on_done=keep) for n in names
    ]
    stopped = {job.key for job in started[::7] if jobs.cancel(job.id)}
    for job in started:
        until(lambda job=job: not job.live, "all")
    assert sorted(kept) == sorted(set(names) - stopped)
    assert {j.state for j in started} <= {"finished", "cancelled"}


def test_old_jobs_are_forgotten_with_their_files(jobs: Jobs) -> None:
    first = jobs.start("count", "sample_work:count", key="first")
    ended(jobs, first)
    for i in range(45):
        jobs.cancel(jobs.start("count", "sample_work:count", key=f"k{i}").id)
    with pytest.raises(NotFound):
        jobs.get(first.id)
    assert not first.room.exists()


def test_odd_progress_is_made_sense_of(jobs: Jobs) -> None:
    job = jobs.start("odd", "sample_work:odd_progress")
    ended(jobs, job)
    told = [(e.data["step"], e.data["done"]) for e in job.events[:-1]]
    assert told == [("Odd\nstep ☃", 0.0), ("Far", 1.0), ("Back", 0.0)]


def test_closing_ends_every_worker_and_refuses_new_work(tmp_path: Path, samples: None) -> None:
    del samples
    jobs = Jobs(tmp_path / "work")
    notes = [tmp_path / "a", tmp_path / "b"]
    for note in notes:
        jobs.start("hold", "sample_work:hold", {"note": str(note)}, key=note.name)
    involved = [pid for note in notes for pid in pids(note)]
    jobs.close()
    until(lambda: not any(map(alive, involved)), "their end")
    with pytest.raises(Busy):
        jobs.start("count", "sample_work:count")
    assert not (tmp_path / "work").exists()


def test_closing_waits_for_what_is_being_kept(tmp_path: Path, samples: None) -> None:
    del samples
    jobs, begun, kept = Jobs(tmp_path / "work"), threading.Event(), []

    def keep(result: dict[str, Any], folder: Path) -> None:
        begun.set()
        time.sleep(0.5)
        kept.append((folder / f"{result['name']}.txt").read_text())

    job = jobs.start("count", "sample_work:count", on_done=keep)
    assert begun.wait(PATIENCE)
    assert not jobs.cancel(job.id)  # too late to stop it
    jobs.close()
    assert kept == ["3"]
    assert job.state == "finished"


SERVER = """
import sys, time
from pathlib import Path
from firstwash.web.jobs import Jobs
if __name__ == "__main__":
    jobs = Jobs(Path(sys.argv[1]))
    jobs.start("hold", "sample_work:hold", {"note": sys.argv[2]})
    time.sleep(600)
"""


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_workers_end_with_a_server_that_is_killed(tmp_path: Path, how: signal.Signals) -> None:
    script, note = tmp_path / "server.py", tmp_path / "note"
    script.write_text(SERVER)
    environment = {**os.environ, "PYTHONPATH": str(SAMPLES)}
    server = subprocess.Popen([sys.executable, script, tmp_path / "work", note], env=environment)
    involved = pids(note)
    server.send_signal(how)
    server.wait()
    until(lambda: not any(map(alive, involved)), "their end")


def test_what_a_killed_server_left_is_removed(tmp_path: Path) -> None:
    (tmp_path / "work" / "old").mkdir(parents=True)
    jobs = Jobs(tmp_path / "work")
    assert list((tmp_path / "work").iterdir()) == []
    jobs.close()


def test_usual_times_are_kept_and_spoilt_ones_are_forgotten(tmp_path: Path) -> None:
    file = tmp_path / "times.json"
    times = Times(file)
    assert times.usual("plan") is None
    for seconds in (4.0, 100.0, 6.0):
        times.took("plan", seconds)
    assert Times(file).usual("plan") == 6.0  # the median: one odd run does not count
    for spoilt in ("", "[1]", '{"plan": "x"}', '{"plan": 3}', "\0"):
        file.write_text(spoilt)
        assert Times(file).usual("plan") is None


def test_work_no_worker_could_find_is_refused_at_once() -> None:
    assert named(json.dumps) == "json:dumps"
    with pytest.raises(TypeError):
        named(lambda _folder, _progress: None)


# The same over the wire.


def events(client: Any, job_id: str, **headers: str) -> list[dict[str, str]]:
    """All events of a stream, until the server ends it."""
    found: list[dict[str, str]] = []
    with client.stream("GET", f"/api/jobs/{job_id}/events", headers=headers) as answer:
        if answer.status_code != 200:
            return [{"status": str(answer.status_code)}]
        assert answer.headers["content-type"].startswith("text/event-stream")
        for block in "".join(answer.iter_text()).split("\n\n"):
            pairs = (line.partition(": ")[::2] for line in block.splitlines())
            found.append(dict(pairs))
    return [e for e in found if "event" in e]


def test_a_page_hears_of_everything_and_can_come_back(serve: Serve) -> None:
    served = serve()
    jobs, client = served.services.jobs, served.client
    job = jobs.start("odd", "sample_work:odd_progress")
    heard = events(client, job.id)
    assert [e["event"] for e in heard] == ["progress", "progress", "progress", "finished"]
    assert [e["id"] for e in heard] == ["0", "1", "2", "3"]
    assert json.loads(heard[0]["data"])["step"] == "Odd\nstep ☃"
    again = events(client, job.id, **{"Last-Event-ID": "1"})
    assert again == heard[2:]
    assert events(client, job.id, **{"Last-Event-ID": "3"}) == [{"status": "204"}]
    assert len(events(client, job.id, **{"Last-Event-ID": "a\x7f"})) == 4


def test_a_page_can_stop_work_and_the_stream_ends(serve: Serve, tmp_path: Path) -> None:
    served = serve()
    note = tmp_path / "note"
    job = served.services.jobs.start("hold", "sample_work:hold", {"note": str(note)})
    pids(note)
    heard: list[dict[str, str]] = []
    listening = threading.Thread(target=lambda: heard.extend(events(served.stranger, job.id)))
    listening.start()
    assert served.client.get(f"/api/jobs/{job.id}").json()["state"] == "running"
    assert served.client.delete(f"/api/jobs/{job.id}").json() == {"stopped": True}
    listening.join(PATIENCE)
    assert heard[-1]["event"] == "cancelled"
    assert [j["state"] for j in served.client.get("/api/jobs").json()["jobs"]] == ["cancelled"]
    missing = served.client.get("/api/jobs/nonsense")
    assert missing.status_code == 404
    assert missing.json()["error"]["kind"] == "not found"


def test_a_refusal_is_a_firstwash_error() -> None:
    assert issubclass(Busy, FirstwashError)
