"""Everything firstwash raises on purpose.

    FirstwashError                 one sentence a painter can act on
    ├── PhotoError                 the picture cannot be used
    ├── PaintError                 a paint or a set of paints cannot be used
    ├── MeasurementError           an instrument's measurements cannot be used
    ├── SheetError                 the sheet of paper cannot be used
    ├── RequestError               the plan asked for makes no sense
    ├── OutputError                the result cannot be written
    └── Cancelled                  the painter stopped the work

Anything else that escapes is a bug.
"""

__all__ = [
    "Cancelled",
    "FirstwashError",
    "MeasurementError",
    "OutputError",
    "PaintError",
    "PhotoError",
    "RequestError",
    "SheetError",
]


class FirstwashError(Exception):
    """Base of every deliberate error; its text is one sentence that says what to do."""


class PhotoError(FirstwashError):
    """The reference picture cannot be read or used."""


class PaintError(FirstwashError):
    """A paint is unknown, or a set of paints cannot make a plan."""


class MeasurementError(FirstwashError):
    """A file of spectral measurements cannot be read, or the samples cannot be written."""


class SheetError(FirstwashError):
    """The sheet's size or crop makes no sense."""


class RequestError(FirstwashError):
    """A limit (layers, paints, puddles, ...) is outside what can be planned."""


class OutputError(FirstwashError):
    """The result cannot be written where it was asked for."""


class Cancelled(FirstwashError):  # noqa: N818 - an outcome the caller asked for, not a failure
    """The work was stopped on request; nothing was left half written."""
