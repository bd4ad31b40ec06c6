"""A finished plan laid out to work on: read back from its files, edited, written again."""

import gzip
import io
import json
import struct
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import RequestError
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.picture.drawing import Drawing, read_drawing, write_drawing
from firstwash.picture.edge_marks import drawn_edges
from firstwash.picture.profile import decode_numbers, encode_png
from firstwash.picture.reference import Reference
from firstwash.plan.bare import as_wished
from firstwash.plan.bench import Bench
from firstwash.plan.document import plan_json
from firstwash.plan.locks import Locks, same_locks
from firstwash.plan.reading import read_cells, read_paper, read_plan
from firstwash.plan.report import make_report
from firstwash.plan.result import Plan
from firstwash.worksheet.brief import Brief, DrawingFile, Kept, PlanFile
from firstwash.worksheet.laying import lay

__all__ = [
    "Desk",
    "Fetch",
    "Put",
    "drawing_of_brief",
    "judged",
    "locks_of",
    "open_desk",
    "planned",
    "with_drawing",
    "with_plan",
]

Fetch = Callable[[str], bytes]
"""The contents of a file by its key."""
Put = Callable[[bytes], str]
"""Keeps contents and gives their key."""

PNG_END: Final = b"IEND\xaeB`\x82"  # [PNG3]: its last chunk, which is always the same
LARGEST: Final = 200_000_000  # bytes of a plan's document, unpacked; a large one has three million


@dataclass(frozen=True, eq=False)
class Desk:
    """A plan with the picture it was made from, its drawing, and what the painter locked."""

    reference: Reference
    drawing: Drawing
    plan: Plan
    locks: Locks

    def with_plan(self, plan: Plan, drawing: Drawing | None = None) -> "Desk":
        """The same desk with an edited plan; locks are found again in it."""
        locks = same_locks(self.locks, self.plan, plan)
        return replace(self, plan=plan, locks=locks, drawing=drawing or self.drawing)


def open_desk(brief: Brief, fetch: Fetch) -> Desk:
    """The brief's plan, ready to be worked on. Raises RequestError if there is none."""
    told, drawing_file = brief.plan, brief.drawing
    if told is None or drawing_file is None:
        raise RequestError("There is no plan yet; plan the painting first.")
    document = _unpacked(fetch(told.document))
    reference = lay(told.scene, fetch, read_paper(document))
    index = _cells_map(fetch(told.cells), reference)
    drawing = drawing_of_brief(drawing_file, fetch, reference.ppmm)
    if drawing.shapes.shape != index.shape:
        raise RequestError("The drawing is of another sheet; plan the painting again.")
    cells = read_cells(document, index, reference.ppmm)
    edges = drawn_edges(reference.lab, cells, drawing)
    plan = read_plan(document, cells, edges, reference)
    return Desk(reference, drawing, plan, locks_of(brief.kept))


def _cells_map(png: bytes, reference: Reference) -> NDArray[np.uint16]:
    """The map of the cells (rows, cols), which has as many pixels as the reference."""
    rows, cols = reference.zone.shape
    try:
        if png[16:24] != struct.pack(">II", cols, rows) or not png.endswith(PNG_END):
            raise ValueError("size")  # found out before it is unpacked
        return decode_numbers(png)
    except ValueError:
        raise RequestError("The plan's map is damaged; plan the painting again.") from None


def drawing_of_brief(told: DrawingFile, fetch: Fetch, ppmm: float) -> Drawing:
    """A drawing read back. Raises RequestError if it is damaged."""
    labels = fetch(told.labels)
    if not labels.endswith(PNG_END):  # what is missing would be read as shape 0
        raise RequestError("The map of the shapes is damaged; take an earlier drawing.")
    return read_drawing(labels, told.details, ppmm)


def _unpacked(packed: bytes) -> Any:
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(packed)) as file:
            text = file.read(LARGEST + 1)
        if len(text) > LARGEST:
            raise ValueError("too large")
        return json.loads(text)
    except (OSError, EOFError, ValueError, RecursionError):
        raise RequestError("The plan is damaged; plan the painting again.") from None


def locks_of(kept: Kept) -> Locks:
    """What the painter locked, as the planner takes it."""
    return Locks(
        washes=frozenset(kept.washes),
        puddles=frozenset(kept.puddles),
        paints=frozenset(kept.paints),
        layers=frozenset(kept.layers),
    )


def kept_of(locks: Locks) -> Kept:
    """The same as the brief keeps it."""
    return Kept(
        washes=tuple(sorted(locks.washes)),
        puddles=tuple(sorted(locks.puddles)),
        paints=tuple(sorted(locks.paints)),
        layers=tuple(sorted(locks.layers)),
    )


def with_plan(brief: Brief, desk: Desk, put: Put, judged: bool) -> Brief:
    """The brief with the desk's plan and locks, written to files.

    What the plan was made from stays as it is told; `planned` tells it anew.
    """
    if brief.plan is None:
        raise RequestError("There is no plan yet; plan the painting first.")
    document, cells = put(packed(desk.plan, desk.locks)), put(cells_png(desk.plan))
    plan = brief.plan.but(document=document, cells=cells, judged=judged)
    return brief.but(plan=plan, kept=kept_of(desk.locks))


def with_drawing(brief: Brief, drawing: Drawing, put: Put) -> Brief:
    """The brief with another drawing."""
    return brief.but(drawing=_file(drawing, put))


def _file(drawing: Drawing, put: Put) -> DrawingFile:
    labels, details = write_drawing(drawing)
    return DrawingFile(labels=put(labels), details=details, by_hand=drawing.by_hand)


def planned(brief: Brief, desk: Desk, put: Put) -> Brief:
    """The brief as it was planned: with the desk's plan, drawing and locks."""
    return brief.but(
        plan=PlanFile(
            document=put(packed(desk.plan, desk.locks)),
            cells=put(cells_png(desk.plan)),
            scene=brief.scene,
            paints=brief.paints,
            work=brief.work,
        ),
        drawing=_file(desk.drawing, put),
        kept=kept_of(desk.locks),
    )


def packed(plan: Plan, locks: Locks) -> bytes:
    """The plan's document, squeezed; the same plan gives the same bytes."""
    text = plan_json(plan, {}, {}, None, locks)
    return gzip.compress(text, compresslevel=6, mtime=0)


def cells_png(plan: Plan) -> bytes:
    """The map of the plan's cells."""
    return encode_png(plan.cells.index.astype(np.uint16), ppmm=plan.cells.ppmm)


def judged(desk: Desk, paints: tuple[Paint, ...], paper: Paper) -> Desk:
    """The desk with its plan judged again; takes a second or two. paints: all the painter owns."""
    aimed_at = as_wished(desk.plan, desk.reference)
    report = make_report(desk.plan, aimed_at, Bench.of(paints, paper))
    was = desk.plan.report
    report = replace(report, palette=was.palette, local_first=was.local_first)
    return replace(desk, plan=desk.plan.told_more(report=report))
