"""Everything firstwash raises on purpose.

    FirstwashError                 one sentence a painter can act on
    ├── PhotoError                 the picture cannot be used
    ├── PaintError                 a paint or a set of paints cannot be used
    ├── MeasurementError           an instrument's measurements cannot be used
    ├── SheetError                 the sheet of paper cannot be used
    ├── RequestError               the plan asked for makes no sense
    ├── OutputError                the result cannot be written
    ├── StoreError                 the kept paintings cannot be read or changed as asked
    │   ├── AlreadyOpen            another firstwash has the folder of paintings open
    │   ├── Missing                there is no such painting, change or file
    │   └── Overtaken              somebody, perhaps another tab, changed it first
    └── Cancelled                  the painter stopped the work

Anything else that escapes is a bug.
"""

__all__ = [
    "AlreadyOpen",
    "Cancelled",
    "FirstwashError",
    "MeasurementError",
    "Missing",
    "OutputError",
    "Overtaken",
    "PaintError",
    "PhotoError",
    "RequestError",
    "SheetError",
    "StoreError",
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


class StoreError(FirstwashError):
    """The kept paintings cannot be read, or cannot be changed as asked."""


class AlreadyOpen(StoreError):  # noqa: N818 - a state of things, told as such
    """Another firstwash has the folder of paintings open."""


class Missing(StoreError):  # noqa: N818 - a state of things, told as such
    """There is no such painting, revision, note or file."""


class Overtaken(StoreError):  # noqa: N818 - a state of things, told as such
    """The change was made on something that is no longer the newest.

    current: what is the newest now: a revision's id, or the version of a note or of the box.
    """

    def __init__(self, sentence: str, current: str | int) -> None:
        """The sentence for the painter, and what a caller needs to catch up."""
        super().__init__(sentence)
        self.current = current


class Cancelled(FirstwashError):  # noqa: N818 - an outcome the caller asked for, not a failure
    """The work was stopped on request; nothing was left half written."""
