"""The commands for the worksheet: `firstwash open` and `firstwash install-launcher`."""

import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from firstwash.terminal import out

__all__ = ["install_launcher", "open_worksheet", "words_or_worksheet"]


def words_or_worksheet(words: list[str]) -> list[str]:
    """The command line's words; none at all, at a terminal, mean to open the worksheet."""
    if words or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return words
    return ["open"]


def open_worksheet(
    port: Annotated[
        int | None,
        typer.Option(
            min=0,
            max=65535,
            help="Port to serve it at; 0 for any.",
            show_default="8737 or the next that is free",
        ),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Only print the address.")
    ] = False,
    data: Annotated[
        Path | None,
        typer.Option(
            help="Folder of your paintings; made if need be.",
            show_default="your computer's place for such things, or FIRSTWASH_HOME",
        ),
    ] = None,
) -> None:
    """Open the worksheet in your browser; Ctrl-C closes it. Only this computer can see it."""
    from firstwash.store.place import data_folder
    from firstwash.web.serve import serve

    serve(data_folder(data), port, not no_browser, say=_say)


def install_launcher() -> None:
    """Put firstwash among your computer's programs, to start it without a terminal."""
    from firstwash.web.launch.launcher import install

    for path in install():
        _say(f"Wrote {path}")


def _say(sentence: str) -> None:
    out.print(Text(sentence), soft_wrap=True)
    out.file.flush()
