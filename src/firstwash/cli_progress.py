"""The command for an unfinished painting: `firstwash progress`."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from firstwash.terminal import out, working

__all__ = ["progress"]


class Way(StrEnum):
    """Ways to go on."""

    AS_PLANNED = "as planned"
    BY_STRENGTH = "by strength"
    ANEW = "anew"
    LIFTED = "lifted first"


def progress(
    plan: Annotated[Path, typer.Argument(help="Folder of the plan that is being painted.")],
    photo: Annotated[Path, typer.Argument(help="Photo of the sheet, dry, on a darker board.")],
    after_layer: Annotated[int, typer.Option(help="The last layer that was painted and is dry.")],
    folder: Annotated[Path, typer.Option("--out", help="Folder for what was found.")] = Path(
        "progress"
    ),
    corners: Annotated[
        str | None,
        typer.Option(help="Corners of the sheet as shares of the photo: “0.1,0.1 0.9,0.1 …”."),
    ] = None,
    take: Annotated[Way | None, typer.Option(help="The way to go on that you choose.")] = None,
    into: Annotated[Path, typer.Option(help="Folder for the plan of that way.")] = Path("plan-on"),
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress bar.")] = False,
) -> None:
    """Tell from a photo where an unfinished painting stands, and how it may go on."""
    from firstwash.usecases_finished import read_corners
    from firstwash.usecases_progress import write_standing

    with working(quiet) as told:
        lines = write_standing(
            plan, photo, after_layer, folder, None if corners is None else read_corners(corners),
            None if take is None else take.value, into, told,
        )  # fmt: skip
    for line in lines:
        out.print(Text(line), soft_wrap=True)
    out.print(Text(f"\nLook at {folder / 'sheet.jpg'}"), soft_wrap=True)
