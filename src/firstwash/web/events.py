"""Routes of long work: its state, its progress as server-sent events, and how to stop it.

    GET    /api/jobs               {"jobs": [state, ...]}
    GET    /api/jobs/{id}          state
    DELETE /api/jobs/{id}          {"stopped": true or false}
    GET    /api/jobs/{id}/look     a picture of it, where it lets one be seen early
    GET    /api/jobs/{id}/events   progress {step, done, seconds, usual}, then one of
                                   finished {result, seconds}, failed {sentence, kind, seconds}
                                   and cancelled {seconds}; then the stream ends

Events carry their number as id. A browser that lost the stream asks with Last-Event-ID and gets
the rest; once it has the last event, the answer is 204, which tells it to stop asking.
Source of the format: [HTML], server-sent events.
"""

import asyncio
import json
import time
from collections.abc import AsyncIterator
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header, Response
from fastapi.responses import FileResponse, StreamingResponse

from firstwash.web.errors import NotFound
from firstwash.web.jobs import Event, Job
from firstwash.web.services import Services, services_of

__all__ = ["router"]

LOOK = 0.1  # s between two looks at a job's progress
router = APIRouter(prefix="/api/jobs", tags=["work"])
Given = Annotated[Services, Depends(services_of)]


@router.get("")
def every_job(services: Given) -> dict[str, Any]:
    """All work still known, oldest first."""
    return {"jobs": [services.jobs.state(job) for job in services.jobs.all()]}


@router.get("/{job_id}")
def one_job(job_id: str, services: Given) -> dict[str, Any]:
    """How one piece of work stands."""
    return services.jobs.state(services.jobs.get(job_id))


@router.delete("/{job_id}")
def stop_job(job_id: str, services: Given) -> dict[str, bool]:
    """Stop one piece of work; nothing it did is kept."""
    return {"stopped": services.jobs.cancel(job_id)}


@router.get("/{job_id}/look", response_class=FileResponse)
def early_look(job_id: str, services: Given) -> FileResponse:
    """A picture that some work lets be seen before it is done."""
    path = services.jobs.get(job_id).folder / "look.jpg"
    if not path.is_file():
        raise NotFound("There is nothing to be seen of this work yet.")
    return FileResponse(path, media_type="image/jpeg")


@router.get("/{job_id}/events")
async def job_events(
    job_id: str, services: Given, last_event_id: Annotated[str | None, Header()] = None
) -> Response:
    """The progress of one piece of work, as it happens."""
    job = services.jobs.get(job_id)
    told = (last_event_id or "")[:10]
    since = int(told) + 1 if told.isascii() and told.isdigit() else 0
    events, ended = services.jobs.told(job, since)
    if ended and not events and since:
        return Response(status_code=204)
    stream = _stream(services, job, since)
    return StreamingResponse(
        stream, media_type="text/event-stream", headers={"x-accel-buffering": "no"}
    )


async def _stream(services: Services, job: Job, since: int) -> AsyncIterator[bytes]:
    yield b"retry: 1000\n\n"
    spoken = time.monotonic()
    while not services.closing.is_set():
        events, ended = services.jobs.told(job, since)
        for event in events:
            yield _line(since, event)
            since += 1
        if ended:
            return
        now = time.monotonic()
        if events:
            spoken = now
        elif now - spoken > services.settings.heartbeat_seconds:
            spoken = now
            yield b": still here\n\n"
        await asyncio.sleep(LOOK)


def _line(number: int, event: Event) -> bytes:
    data = json.dumps(event.data, ensure_ascii=False)  # one line, whatever it holds
    return f"id: {number}\nevent: {event.name}\ndata: {data}\n\n".encode()
