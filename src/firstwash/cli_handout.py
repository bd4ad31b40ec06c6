"""The command for the hand-out: `firstwash handout`."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from firstwash.errors import RequestError
from firstwash.terminal import out, working

__all__ = ["handout"]


class PageSize(StrEnum):
    """Paper of the printer."""

    A4 = "A4"
    LETTER = "Letter"


def handout(
    plan: Annotated[
        Path | None, typer.Argument(help="Folder of a plan, as `firstwash plan` left it.")
    ] = None,
    folder: Annotated[Path, typer.Option("--out", help="Folder for it; made if need be.")] = Path(
        "handout"
    ),
    lesson: Annotated[
        Path | None,
        typer.Option(help="File with title, teacher, rights in the photo; see --example."),
    ] = None,
    page: Annotated[PageSize | None, typer.Option(help="Paper of your printer.")] = None,
    detail: Annotated[
        float, typer.Option(help="How much the outline holds: 0, the big shapes, to 1, all.")
    ] = 0.5,
    grid: Annotated[int | None, typer.Option(help="Drawing grid: squares across.")] = None,
    texts: Annotated[
        Path | None,
        typer.Option(help="Translated texts of the pages: a compiled gettext catalogue (.mo)."),
    ] = None,
    example: Annotated[
        bool, typer.Option("--example", help="Print an example of the lesson file, and no more.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress bar.")] = False,
) -> None:
    """Make a hand-out of a plan: outline, step sheets, supplies, test strips, a lesson's pack."""
    from dataclasses import replace

    from firstwash.pack.settings import permission_warning, template
    from firstwash.usecases_handout import HandoutWishes, load_lesson, load_texts, write_handout

    if example:
        print(template(), end="")
        return
    if plan is None:
        raise RequestError("Name the folder of a plan, as `firstwash plan` left it.")
    told = load_lesson(lesson)
    if page is not None:
        told = replace(told, page=page.value)
    wishes = HandoutWishes(told, detail, grid, load_texts(texts))
    with working(quiet) as progress:
        book = write_handout(plan, folder, wishes, progress)
    warning = permission_warning(told)
    if warning is not None:
        out.print(Text(warning), soft_wrap=True)
    out.print(Text(f"\nLook at {book}"), soft_wrap=True)
