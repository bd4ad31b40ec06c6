"""The commands for swatch cards: `firstwash card print` and `firstwash card read`."""

import json
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from firstwash.errors import RequestError
from firstwash.terminal import out, print_table, working

__all__ = ["card"]


class SizeChoice(StrEnum):
    """Paper of a home printer."""

    a4 = "A4"
    letter = "Letter"


class LoadChoice(StrEnum):
    """How a painter measures paint and water."""

    drops = "drops"
    brush_loads = "brush-loads"


card = typer.Typer(
    no_args_is_help=True,
    help="Teach firstwash your own paints: print a swatch card, paint it, photograph it.",
)


@card.command("print")
def card_print(
    names: Annotated[
        list[str] | None,
        typer.Argument(help="Up to eight paints by key or name; else the first eight not taught."),
    ] = None,
    paints: Annotated[
        str, typer.Option(help="The paints you own: a set by name or a text file.")
    ] = "starter",
    size: Annotated[SizeChoice, typer.Option(help="Your printer's paper.")] = SizeChoice.a4,
    loads: Annotated[
        LoadChoice, typer.Option(help="Measure by drops (tubes) or brush-loads (pans).")
    ] = LoadChoice.drops,
    by_hand: Annotated[
        bool,
        typer.Option("--by-hand", help="No printer: a page that says how to draw the card."),
    ] = False,
    folder: Annotated[Path, typer.Option("--out", help="Folder for it; made if need be.")] = Path(
        "card"
    ),
) -> None:
    """Make a swatch card to print, cut out and paint."""
    from firstwash.swatching import print_card

    files, rows, left = print_card(paints, names or (), folder, size.value, loads.value, by_hand)
    out.print(Text(f"Rows: {', '.join(row.paint for row in rows)}"), soft_wrap=True)
    if left:
        out.print(
            Text(
                f"Not on this card: {', '.join(p.key for p in left)}. Name up to eight of them for "
                "another one, with another folder (--out)."
            ),
            soft_wrap=True,
        )
    out.print(
        Text(f"Wrote {' and '.join(str(f) for f in files)}; keep both until it is read."),
        soft_wrap=True,
    )


@card.command("read")
def card_read(
    photo: Annotated[
        Path | None, typer.Argument(help="Photo of the painted card; or use --measured.")
    ] = None,
    told: Annotated[
        Path, typer.Option("--card", help="The file that was written with the card.")
    ] = Path("card/card.json"),
    box: Annotated[
        Path, typer.Option("--box", help="Your list of paints; made from --paints if missing.")
    ] = Path("my-paints.txt"),
    paints: Annotated[
        str, typer.Option(help="The set your list starts from, if there is none yet.")
    ] = "starter",
    corners: Annotated[
        str | None,
        typer.Option(
            help="For a card drawn by hand: the pencil frame's corners in pixels, upper left "
            'first, clockwise: "x,y x,y x,y x,y".'
        ),
    ] = None,
    measured: Annotated[
        Path | None,
        typer.Option(help="An instrument's file instead: CGATS.17 text or CxF3, places A1 to H14."),
    ] = None,
    report: Annotated[Path, typer.Option(help="The page to write about it.")] = Path(
        "card-report.html"
    ),
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress bar.")] = False,
) -> None:
    """Read the photo of a painted card, and plan with your own paints from then on."""
    from firstwash.handout.table import learnt_rows
    from firstwash.swatching import learn_from_measurements, learn_from_photo

    if (photo is None) == (measured is None):
        raise RequestError("Name one photo of the card, or an instrument's file with --measured.")
    with working(quiet or as_json) as progress:
        if measured is not None:
            found = learn_from_measurements(measured, told, box, paints, report)
        else:
            assert photo is not None
            touches = _touches(corners)
            found = learn_from_photo(photo, told, box, paints, touches, report, progress)
    rows = learnt_rows(found.taught)
    if as_json:
        told_more = {
            "warnings": [*found.warnings, *found.taught.notes],
            "added": list(found.added),
            "kept_in": str(found.kept_in),
        }
        print(json.dumps({"paints": rows, **told_more}, indent=2, ensure_ascii=False))
        return
    for warning in (*found.warnings, *found.taught.notes):
        out.print(Text(warning), style="bold")
    heads = ("Paint", "Could be off by", "Now by", "Swatches agree within", "Paint again")
    cells = ("name", "before", "now", "fit", "again")
    print_table(
        "What a quarter coat may be off by, nine times in ten (CIEDE2000: 1 can hardly be seen, "
        "5 is a clear difference)",
        heads,
        [tuple(str(row[c]) for c in cells) for row in rows],
    )
    back = f" What was known before: {found.older}." if found.older else ""
    if found.fresh:
        out.print(Text(f"{found.box} is new, made from the list {paints}."), soft_wrap=True)
    if found.added:
        out.print(Text(f"Added to {found.box}: {', '.join(found.added)}."), soft_wrap=True)
    out.print(Text(f"Kept in {found.kept_in}, used with {found.box}.{back}"), soft_wrap=True)
    out.print(Text(f"Look at {found.report}"), soft_wrap=True)


def _touches(text: str | None) -> list[tuple[float, float]] | None:
    if text is None:
        return None
    try:
        pairs = [tuple(float(v) for v in pair.split(",")) for pair in text.split()]
        if len(pairs) != 4 or any(len(p) != 2 for p in pairs):
            raise ValueError
    except ValueError:
        raise RequestError(
            f'--corners is four pairs of pixels, for example "120,80 3900,95 3880,2900 130,2880", '
            f'not "{text}".'
        ) from None
    return [(p[0], p[1]) for p in pairs]
