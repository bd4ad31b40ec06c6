"""The command for looking before painting: `firstwash study`."""

import json
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from firstwash.terminal import out, working

__all__ = ["study"]


class CountedFrom(StrEnum):
    """The end that value steps are numbered from."""

    dark = "dark"
    light = "light"


def study(
    photo: Annotated[Path, typer.Argument(help="The reference photo.")],
    sheet: Annotated[
        str, typer.Option(help='Size of the sheet: "28x38cm", "11x15in", "A3", "quarter imperial".')
    ] = "28x38cm",
    paints: Annotated[
        str,
        typer.Option(help="The paints you own: a set by name or a text file, one paint a line."),
    ] = "starter",
    steps: Annotated[int, typer.Option(help="Value steps, 2 to 10.")] = 5,
    squint: Annotated[
        float, typer.Option(help="How hard to squint: 0, eyes open, to 1, nearly shut.")
    ] = 0.3,
    masses: Annotated[int, typer.Option(help="Tones of the value pattern, 3 to 5.")] = 3,
    count_from: Annotated[
        CountedFrom, typer.Option(help="Number value steps from the darkest or the lightest.")
    ] = CountedFrom.dark,
    folder: Annotated[Path, typer.Option("--out", help="Folder for it; made if need be.")] = Path(
        "study"
    ),
    as_json: Annotated[bool, typer.Option("--json", help="Print the study as JSON.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress bar.")] = False,
) -> None:
    """Look at a photo before painting: values, light, local colour, what to lay first."""
    from firstwash.seeing.study import Asked
    from firstwash.usecases_study import StudyWishes, check_study_folder, study_photo, write_study
    from firstwash.warming import ready_first, warm_up_study

    check_study_folder(folder)
    look = Asked(steps, squint, masses, count_from.value)
    with working(quiet or as_json) as progress:
        ready = ready_first(progress, warm_up_study)
        found = study_photo(photo, StudyWishes(sheet, paints, None, look), ready)
        page = write_study(found, folder)
    if as_json:
        from firstwash.seeing.document import study_document

        told = {**study_document(found.study), "folder": str(folder)}
        print(json.dumps(told, indent=2, ensure_ascii=False))
        return
    one = found.study
    words = (one.pattern.words, one.extremes.words, one.whites.words, one.reach.words)
    for sentence in (*found.notes, *words):
        out.print(Text(sentence), soft_wrap=True)
    out.print(Text(f"\nLook at {page}"), soft_wrap=True)
