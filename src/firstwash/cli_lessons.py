"""The command for the lessons: `firstwash lessons`."""

import json
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from firstwash.terminal import out, working

__all__ = ["lessons"]


def lessons(
    folder: Annotated[Path, typer.Argument(help="Folder for the pages; made if need be.")],
    paints: Annotated[
        str,
        typer.Option(help="The paints you own: a set by name or a text file, one paint a line."),
    ] = "starter",
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the findings as JSON, numbers and all.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress bar.")] = False,
) -> None:
    """Make a gallery of lessons with your own paints, for yourself or a class."""
    from firstwash.usecases_lessons import check_lessons_folder, write_lessons
    from firstwash.warming import ready_first

    check_lessons_folder(folder)
    with working(quiet or as_json) as progress:
        gallery, page = write_lessons(paints, folder, ready_first(progress))
    if as_json:
        told = {"lessons": gallery.summary(), "folder": str(folder)}
        print(json.dumps(told, indent=2, ensure_ascii=False))
        return
    for number, lesson in enumerate(gallery.lessons, 1):
        out.print(Text(f"{number}. {lesson.title}", style="bold"))
        out.print(Text(f"   {lesson.lead}"), soft_wrap=True)
    out.print(Text(f"\nLook at {page}"), soft_wrap=True)
