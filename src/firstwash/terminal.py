"""What all commands say things with: the two streams, a progress bar, tables."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

__all__ = ["err", "out", "print_table", "working"]

out = Console()
err = Console(stderr=True)


@contextmanager
def working(quiet: bool) -> Iterator[Any]:
    """A progress bar on standard error; gives the callback that moves it."""
    columns = (
        SpinnerColumn(),
        TextColumn("{task.description:<24}"),
        BarColumn(bar_width=28),
        TimeElapsedColumn(),
    )
    with Progress(
        *columns, console=err, transient=True, disable=quiet or not err.is_terminal
    ) as bar:
        task = bar.add_task("Starting", total=1.0)
        yield lambda step, done: bar.update(task, description=step, completed=done)


def print_table(heading: str, columns: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    """A table with its heading, on standard output."""
    table = Table(title=heading, title_justify="left", title_style="bold", box=None, pad_edge=False)
    for column in columns:
        table.add_column(column, overflow="fold")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    out.print(table)
    out.print()
