"""The command for a class with paints of their own: `firstwash students`."""

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from firstwash.cli_handout import PageSize
from firstwash.terminal import out, working

__all__ = ["students"]


def students(
    plan: Annotated[Path, typer.Argument(help="Folder of the teacher's plan.")],
    paints: Annotated[
        str,
        typer.Argument(help="Folder with one list of paints per student, one list, or a set."),
    ],
    folder: Annotated[Path, typer.Option("--out", help="Folder for it; made if need be.")] = Path(
        "students"
    ),
    lesson: Annotated[
        Path | None, typer.Option(help="File with title and page, as for the hand-out.")
    ] = None,
    page: Annotated[PageSize | None, typer.Option(help="Paper of your printer.")] = None,
    texts: Annotated[
        Path | None, typer.Option(help="A translation: compiled gettext texts (.mo).")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress bar.")] = False,
) -> None:
    """Plan the same subject for every student's own paints; tell who can reach what."""
    from dataclasses import replace

    from firstwash.usecases_handout import HandoutWishes, load_lesson, load_texts
    from firstwash.usecases_students import students_handout

    told = load_lesson(lesson)
    if page is not None:
        told = replace(told, page=page.value)
    wishes = HandoutWishes(told, texts=load_texts(texts))
    with working(quiet) as progress:
        reached = students_handout(plan, paints, folder, wishes, progress)
    for one in reached:
        out.print(Text(f"{one.name}: {one.wrong or one.nearness}"), soft_wrap=True)
    out.print(Text(f"\nLook at {folder / 'students.pdf'}"), soft_wrap=True)
