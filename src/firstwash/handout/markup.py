"""Pieces of HTML the pages share."""

from collections.abc import Sequence
from html import escape

__all__ = ["folded", "listed", "table", "whole"]


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Cells of `rows` are HTML already; `head` is text. A row of one cell runs over all columns."""
    top = "".join(f'<th scope="col">{escape(h)}</th>' for h in head)
    body = "".join(_row(row, len(head)) for row in rows)
    return (
        f'<div class="scroll"><table><thead><tr>{top}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def _row(cells: Sequence[str], columns: int) -> str:
    if len(cells) == 1:
        return f'<tr><td colspan="{columns}">{cells[0]}</td></tr>'
    return "<tr>" + "".join(f"<td>{c}</td>" for c in cells) + "</tr>"


def listed(items: Sequence[str], kind: str = "") -> str:
    """A list of HTML items; kind: its class."""
    named = f' class="{kind}"' if kind else ""
    return f"<ul{named}>{''.join(f'<li>{item}</li>' for item in items)}</ul>"


def folded(summary: str, inside: str) -> str:
    """HTML that is shown when its summary, text, is opened."""
    return f"<details><summary>{escape(summary)}</summary>{inside}</details>"


def whole(text: str) -> str:
    """Text that is not broken across lines."""
    return f'<span class="whole">{escape(text)}</span>'
