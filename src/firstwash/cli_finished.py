"""The command for a finished painting: `firstwash finished`."""

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from firstwash.cli_handout import PageSize
from firstwash.terminal import out, working

__all__ = ["finished"]


def finished(
    plan: Annotated[Path, typer.Argument(help="Folder of the plan it was painted from.")],
    photo: Annotated[Path, typer.Argument(help="Photo of the painting on a darker board.")],
    folder: Annotated[Path, typer.Option("--out", help="Folder for it; made if need be.")] = Path(
        "finished"
    ),
    title: Annotated[str, typer.Option(help="Title of the painting.")] = "",
    painter: Annotated[str, typer.Option(help="Name on label and catalogue line.")] = "",
    year: Annotated[str, typer.Option(help="When it was painted.")] = "",
    remark: Annotated[str, typer.Option(help="A last word, such as “private collection”.")] = "",
    corners: Annotated[
        str | None,
        typer.Option(help="Corners of the sheet as shares of the photo: “0.1,0.1 0.9,0.1 …”."),
    ] = None,
    page: Annotated[PageSize, typer.Option(help="Paper of your printer.")] = PageSize.A4,
    texts: Annotated[
        Path | None, typer.Option(help="A translation: compiled gettext texts (.mo).")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress bar.")] = False,
) -> None:
    """Square a finished painting's photo, even its light; make its catalogue line and labels."""
    from firstwash.finished.record import Record
    from firstwash.usecases_finished import FinishedWishes, finish, read_corners
    from firstwash.usecases_handout import HandoutWishes, load_texts, page_language

    told_in = load_texts(texts)
    wishes = FinishedWishes(
        Record(title, painter, year, remark),
        None if corners is None else read_corners(corners),
        page.value,
        told_in,
        page_language(HandoutWishes(texts=told_in)),
    )
    with working(quiet) as progress:
        told = finish(plan, photo, folder, wishes, progress)
    for line in told:
        out.print(Text(line), soft_wrap=True)
    out.print(Text(f"\nLook at {folder / 'painting.jpg'}"), soft_wrap=True)
