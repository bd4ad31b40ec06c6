"""What the page is told when something cannot be done: one sentence, one shape.

    {"error": {"kind": "photo", "sentence": "This file is not a picture; choose another."}}

`kind` is the error's class in words, without "Error". What nobody foresaw is told without
its details, which go to the log under the same short id.
"""

import logging
import secrets
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, ClassVar

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from firstwash.errors import AlreadyOpen, FirstwashError, Missing, Overtaken
from firstwash.web.words import kind_of, trace_words

__all__ = [
    "Busy",
    "NotAllowed",
    "NotFound",
    "TooLarge",
    "TooManyTries",
    "TooSlow",
    "WebError",
    "WrongHost",
    "error_answer",
    "install_error_answers",
    "unexpected_answer",
]

log = logging.getLogger("firstwash.web")


class WebError(FirstwashError):
    """Base of what the server itself refuses; `status` is the HTTP status it answers with."""

    status: ClassVar[int] = HTTPStatus.BAD_REQUEST


class NotAllowed(WebError):  # noqa: N818 - told as it is
    """The request does not come from our own page, or lacks the page's secret."""

    status = HTTPStatus.FORBIDDEN


class NotFound(WebError):  # noqa: N818 - told as it is
    """There is nothing under that name."""

    status = HTTPStatus.NOT_FOUND


class TooSlow(WebError):  # noqa: N818 - told as it is
    """The sender stopped sending."""

    status = HTTPStatus.REQUEST_TIMEOUT


class TooLarge(WebError):  # noqa: N818 - told as it is
    """More bytes than this address takes."""

    status = HTTPStatus.REQUEST_ENTITY_TOO_LARGE


class WrongHost(WebError):  # noqa: N818 - told as it is
    """The request is addressed to a name this computer does not answer to."""

    status = HTTPStatus.MISDIRECTED_REQUEST


class TooManyTries(WebError):  # noqa: N818 - told as it is
    """Too many wrong codes from one device."""

    status = HTTPStatus.TOO_MANY_REQUESTS


class Busy(WebError):  # noqa: N818 - told as it is
    """The server is closing and takes no new work."""

    status = HTTPStatus.SERVICE_UNAVAILABLE


STATUS_OF: Mapping[type[FirstwashError], int] = {
    Overtaken: HTTPStatus.CONFLICT,
    AlreadyOpen: HTTPStatus.CONFLICT,
    Missing: HTTPStatus.NOT_FOUND,
}
SENTENCES: Mapping[int, tuple[str, str]] = {  # kind and sentence by status
    HTTPStatus.NOT_FOUND: (
        "not found",
        "There is nothing at this address; go back to the worksheet.",
    ),
    HTTPStatus.METHOD_NOT_ALLOWED: (
        "not allowed",
        "This address does not do that; reload the worksheet.",
    ),
    HTTPStatus.REQUEST_ENTITY_TOO_LARGE: (
        "too large",
        "That is more than fits here; send a smaller file.",
    ),
}
FORM = "The page asked in a form that is not understood; reload the worksheet."
UNEXPECTED = "Something went wrong that should not; nothing was lost. Try again."


def _shape(kind: str, sentence: str, **more: Any) -> dict[str, Any]:
    return {"error": {"kind": kind, "sentence": sentence, **more}}


def _status_of(error: FirstwashError) -> int:
    if isinstance(error, WebError):
        return error.status
    known = (status for cls, status in STATUS_OF.items() if isinstance(error, cls))
    return next(known, HTTPStatus.BAD_REQUEST)


def error_answer(error: FirstwashError) -> JSONResponse:
    """The answer to a deliberate error: its own sentence; with `current` if overtaken."""
    more = {"current": error.current} if isinstance(error, Overtaken) else {}
    return JSONResponse(_shape(kind_of(error), str(error), **more), _status_of(error))


def unexpected_answer(error: BaseException) -> JSONResponse:
    """The answer to a bug: a sentence and a short id, which the log also holds."""
    short = secrets.token_hex(4)
    log.error("%s %s", short, trace_words(error))
    return JSONResponse(_shape("unexpected", UNEXPECTED, id=short), 500)


def install_error_answers(app: FastAPI) -> None:
    """Have the application answer every error in the one shape."""

    def deliberate(_: Request, error: Exception) -> JSONResponse:
        assert isinstance(error, FirstwashError)
        return error_answer(error)

    def http(_: Request, error: Exception) -> JSONResponse:
        assert isinstance(error, HTTPException)
        if isinstance(error.__cause__, FirstwashError):  # met while a body was being read
            return error_answer(error.__cause__)
        kind, sentence = SENTENCES.get(error.status_code, ("form", FORM))
        return JSONResponse(_shape(kind, sentence), error.status_code, error.headers)

    def form(_: Request, error: Exception) -> JSONResponse:
        assert isinstance(error, RequestValidationError)
        where = [".".join(map(str, e["loc"])) for e in error.errors()]
        return JSONResponse(_shape("form", FORM, where=where), 422)

    app.add_exception_handler(FirstwashError, deliberate)
    app.add_exception_handler(HTTPException, http)
    app.add_exception_handler(RequestValidationError, form)
