"""The command line: arguments in, use cases called, tables and files out."""

import json
import os
import re
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from io import TextIOWrapper
from pathlib import Path
from types import FrameType
from typing import Annotated, Any

import typer
from rich.table import Table
from rich.text import Text

from firstwash.cli_cards import card
from firstwash.cli_finished import finished
from firstwash.cli_handout import handout
from firstwash.cli_lessons import lessons
from firstwash.cli_open import install_launcher, open_worksheet, words_or_worksheet
from firstwash.cli_progress import progress
from firstwash.cli_students import students
from firstwash.cli_study import study
from firstwash.errors import FirstwashError, RequestError
from firstwash.terminal import err, out, print_table, working

__all__ = ["app", "main"]

app = typer.Typer(
    name="firstwash",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    help="Plan a transparent watercolour from a photo and the paints you own: what to mix, "
    "where to lay it, in which order, and what the sheet will look like after each layer.",
)
app.add_typer(card, name="card")
app.command("study")(study)
app.command("lessons")(lessons)
app.command("handout")(handout)
app.command("finished")(finished)
app.command("progress")(progress)
app.command("students")(students)
app.command("open")(open_worksheet)
app.command("install-launcher")(install_launcher)

# A quarter less time to compile the kernels, three or four per cent more to run them.
os.environ.setdefault("NUMBA_OPT", "1")

REFUSED, STOPPED = 2, 130  # exit codes: a wrong request, and Ctrl-C as shells report it


class BackgroundChoice(StrEnum):
    """How the background is treated."""

    painted = "painted"
    bare = "bare"
    graded = "graded"


class FormatChoice(StrEnum):
    """Files of spectra."""

    cgats = "cgats"
    cxf = "cxf"


class LightChoice(StrEnum):
    """Lights to look at a stack under."""

    daylight = "D65"
    print = "D50"
    lamp = "A"
    led = "LED"


def _fractions(text: str | None, what: str) -> tuple[float, float, float, float] | None:
    if text is None:
        return None
    try:
        x, y, w, h = (float(v) for v in text.split(","))
    except ValueError:
        raise RequestError(
            f"{what} is left,top,width,height as fractions, for example 0.1,0.2,0.5,0.5, "
            f'not "{text}".'
        ) from None
    return x, y, w, h


def _caps(pairs: list[str]) -> dict[str, float]:
    """Largest shares by paint from "PB29=0.4" or "PB29=40%"."""
    caps: dict[str, float] = {}
    for pair in pairs:
        key, equals, share = (part.strip() for part in pair.partition("="))
        try:
            value = float(share.removesuffix("%")) / (100.0 if share.endswith("%") else 1.0)
        except ValueError:
            equals = ""
        if not (key and equals):
            raise RequestError(f'--cap is KEY=SHARE, for example PB29=0.4, not "{pair}".')
        if key in caps:
            raise RequestError(f"--cap names {key} twice; say it once.")
        caps[key] = value
    return caps


def _focal(text: str | None) -> Any:
    """Four fractions, or the path of a mask picture."""
    if text is None or text.count(",") == 3:
        return _fractions(text, "--focal")
    return Path(text)


@app.command()
def plan(
    photo: Annotated[
        Path, typer.Argument(help="The photo to paint: JPEG, PNG, TIFF, WebP, HEIC or AVIF.")
    ],
    sheet: Annotated[
        str,
        typer.Option(
            help='Paper size: "28x38cm", "11x15in", "A3", "quarter imperial"; add '
            '"landscape" or "portrait" to fix how it lies.'
        ),
    ] = "28x38cm",
    paints: Annotated[
        str,
        typer.Option(
            help="The paints you own: a set by name ([bold]firstwash paints --sets[/bold] lists "
            "them) or a text file, one paint a line."
        ),
    ] = "starter",
    max_paints: Annotated[int, typer.Option(help="Paints to choose from the set, at most.")] = 6,
    layers: Annotated[int, typer.Option(help="Layers, each dried before the next: 2 to 8.")] = 4,
    puddles: Annotated[int, typer.Option(help="Mixtures in all, at most; 0 for no limit.")] = 16,
    washes: Annotated[
        int | None,
        typer.Option(
            help="Washes in all, at most: one puddle at one strength in one layer, over as many "
            "areas as want it; 0 for no limit.",
            show_default="60, or 15 with --beginner",
        ),
    ] = None,
    hours: Annotated[
        float | None,
        typer.Option(
            help="Hours at the board, drying included, at most (or a few minutes more); 0 for no "
            "limit.",
            show_default="5, or 1.5 with --beginner",
        ),
    ] = None,
    beginner: Annotated[
        bool,
        typer.Option("--beginner", help="15 washes, an hour and a half, a hair dryer at hand."),
    ] = False,
    touches: Annotated[
        int, typer.Option(help="Fine dark strokes at the end, at most; 0 for none.")
    ] = 40,
    temperature: Annotated[float, typer.Option(help="Of the room, °C (20 °C is 68 °F).")] = 20.0,
    humidity: Annotated[float, typer.Option(help="Of the room's air, in percent.")] = 50.0,
    hair_dryer: Annotated[
        bool, typer.Option("--hair-dryer", help="Dry each layer with one once its shine is gone.")
    ] = False,
    shapes: Annotated[
        int, typer.Option(help="Shapes to see the picture as, at most; fewer is simpler.")
    ] = 150,
    smallest: Annotated[
        float, typer.Option(help="Smallest area worth a brush, mm² on the sheet (25 is 5 × 5 mm).")
    ] = 25.0,
    black_and_white: Annotated[
        bool, typer.Option("--black-and-white", help="Allow black and white paint.")
    ] = False,
    ban: Annotated[
        list[str] | None,
        typer.Option(metavar="PAINT", help="A paint never to use, by key or name; repeatable."),
    ] = None,
    prefer: Annotated[
        list[str] | None,
        typer.Option(metavar="PAINT", help="A paint to have on the palette; repeatable."),
    ] = None,
    cap: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PAINT=SHARE",
            help="Largest share of a paint in any puddle, for example PB29=0.4; repeatable.",
        ),
    ] = None,
    no_darker_than: Annotated[
        int | None,
        typer.Option(
            metavar="STEP",
            help="Use no paint whose full coat alone dries darker than this value step "
            "(1 darkest, 10 paper), so that darks are mixed.",
        ),
    ] = None,
    handling: Annotated[
        float,
        typer.Option(
            help="How much handling counts beside the match: stains first, grain where the "
            "picture is rough, opaque paints late; 0 ignores it, 2 counts it double."
        ),
    ] = 1.0,
    local_first: Annotated[
        bool,
        typer.Option(
            "--local-first/--as-seen",
            help="Under shadows, start with the object's own colour where the photo tells it, or "
            "with the colour as seen.",
        ),
    ] = True,
    hand: Annotated[
        float,
        typer.Option(
            help="How far a hand is off in mixing and laying, as a share; the plan is chosen for "
            "what such hands make of it, where washes are limited. 0 for one that never errs."
        ),
    ] = 0.2,
    one_more: Annotated[
        bool,
        typer.Option(
            "--one-more", help="Tell which one paint more would help this picture most; slower."
        ),
    ] = False,
    crop: Annotated[
        str | None,
        typer.Option(
            help="Part of the photo to paint: left,top,width,height as fractions of it (0-1)."
        ),
    ] = None,
    focal: Annotated[
        str | None,
        typer.Option(
            help="What matters most: left,top,width,height as fractions of the sheet, "
            "or a picture of the photo's proportions, white where it matters."
        ),
    ] = None,
    background: Annotated[
        BackgroundChoice,
        typer.Option(help="Paint it, leave it bare paper, or lay one graded wash."),
    ] = BackgroundChoice.painted,
    background_mask: Annotated[
        Path | None,
        typer.Option(help="A picture of the photo's proportions, white where the background is."),
    ] = None,
    before: Annotated[
        Path | None,
        typer.Option(
            "--from",
            help="Folder of a plan of the same photo: plan again on its drawing, with what "
            "--keep names.",
        ),
    ] = None,
    keep: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WHAT",
            help='What of that plan stays: "layer 1", "wash 2.3" (layer and number), '
            '"puddle C", "paint PB29"; repeatable.',
        ),
    ] = None,
    folder: Annotated[
        Path, typer.Option("--out", help="Folder for the plan; made if need be.")
    ] = Path("plan"),
    as_json: Annotated[
        bool, typer.Option("--json", help="Print a summary as JSON instead of a table.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="No progress bar.")] = False,
) -> None:
    """Plan the painting of a photo, and write it to a folder to look through."""
    from firstwash.handout.reasons import NO_PAINT_MORE, more_words
    from firstwash.handout.table import plan_rows, plan_summary
    from firstwash.handout.words import palette_words
    from firstwash.plan.board.drying import Room
    from firstwash.plan.locks import parse_locks
    from firstwash.plan.problem import Limits
    from firstwash.usecases import Wishes, check_folder, plan_again, plan_photo, write_plan
    from firstwash.warming import ready_first

    check_folder(folder)  # before the work, not after it
    locks = parse_locks(keep or [])
    if locks and before is None:
        raise RequestError("--keep needs --from, the folder of the plan that holds it.")
    wishes = Wishes(
        sheet=sheet,
        paints=paints,
        limits=Limits(
            layers=layers,
            paints=max_paints,
            puddles=puddles or None,
            washes=(15 if beginner else 60) if washes is None else washes or None,
            hours=(1.5 if beginner else 5.0) if hours is None else hours or None,
            touches=touches,
            shapes=shapes,
            min_area_mm2=smallest,
            black_and_white=black_and_white,
            handling=handling,
            local_first=local_first,
            hand=hand,
            ban=tuple(ban or ()),
            prefer=tuple(prefer or ()),
            caps=tuple(_caps(cap or []).items()),
            darkest_step=no_darker_than,
        ),
        crop=_fractions(crop, "--crop"),
        focal=_focal(focal),
        one_more=one_more,
        background=background.value,
        background_mask=background_mask,
        room=Room(temperature, humidity / 100.0, hair_dryer=hair_dryer or beginner),
    )
    with working(quiet or as_json) as progress:
        if before is None:
            result = plan_photo(photo, wishes, ready_first(progress))
        else:
            result = plan_again(photo, before, wishes, locks, ready_first(progress))
        with _unwinding():
            page = write_plan(result, folder, progress)
    if as_json:
        summary = plan_summary(result.plan, result.notes)
        print(json.dumps({**summary, "folder": str(folder)}, indent=2, ensure_ascii=False))
        return
    for heading, columns, rows in plan_rows(result.plan):
        print_table(heading, columns, rows)
    worth = palette_words(result.plan)
    if result.more is not None:
        out.print(Text("\n".join(more_words(m) for m in result.more) or NO_PAINT_MORE))
    for note in (*([worth] if worth else ()), *result.notes, *result.plan.notes):
        out.print(Text(note), style="italic")
    out.print(Text(f"\nLook at {page}"), soft_wrap=True)


@app.command()
def glaze(
    coats: Annotated[
        list[str],
        typer.Argument(
            help='Bottom to top, each in quotes: "PB29 30%", "PR255 20% + PY154 10%", '
            '"PB29 step 7" (so strong that it alone dries to value 7; 10 is paper).'
        ),
    ],
    light: Annotated[
        LightChoice,
        typer.Option(help="Light to see it under: daylight, print viewing, lamp or LED."),
    ] = (LightChoice.daylight),
    paints: Annotated[
        str,
        typer.Option(help="Your paints: a set or a text file; what its swatch card taught counts."),
    ] = "all",
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Predict what coats laid over one another will look like, each over dry paint."""
    from firstwash.handout.table import glaze_rows
    from firstwash.paints.shelf import load_shelf
    from firstwash.plan.glaze import parse_coat, predict_glazes

    shelf = load_shelf(paints)
    read = [parse_coat(c, shelf.paper, shelf.paint) for c in coats]
    laid = {p.key: p for coat in read for p, _ in coat.parts}
    foreign = [p.name for p in laid.values() if not shelf.lists(p)]
    banned = [laid[k].name for k in shelf.box.banned if k in laid]
    stages = predict_glazes(read, light.value, shelf.paper)
    rows = glaze_rows(stages)
    if as_json:
        print(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    table = Table(box=None, pad_edge=False)
    for column in ("Coat", "Seen", "In words", "Value step", "L*", "a*", "b*", "Range"):
        table.add_column(column, justify="right" if column in ("L*", "a*", "b*") else "left")
    for row in rows:
        swatch = Text("  ").append("      ", style=f"on {row['lighter_srgb']}")
        swatch.append("            ", style=f"on {row['srgb']}")
        swatch.append("      ", style=f"on {row['darker_srgb']}")
        table.add_row(
            Text(row["coat"]),
            swatch,
            row["words"],
            str(row["value_step"]),
            *(f"{v:.0f}" for v in row["lab"]),
            row["range"],
        )
    out.print(table)
    for who, why in ((foreign, f"Not on the list {paints}"), (banned, "Banned on your list")):
        if who:
            out.print(Text(f"{why}: {', '.join(who)}."), style="italic")
    pale = list(dict.fromkeys(key for row in rows for key in row["paler_than_any_swatch"]))
    if pale:
        out.print(Text(f"Paler than any swatch seen: {', '.join(pale)}."), style="italic")
    out.print(
        Text(
            "Model, not measured: pale washes and glazes over dry paint. Left and right of a "
            "swatch, and the range: what nine of ten such stacks should lie between."
        ),
        style="italic",
    )


@app.command()
def paints(
    names: Annotated[
        list[str] | None,
        typer.Argument(help="Paints by key or name, or one set or text file; all if left out."),
    ] = None,
    sets: Annotated[bool, typer.Option("--sets", help="List the sets instead.")] = False,
    facts: Annotated[
        bool,
        typer.Option(
            "--facts", help="All that is known of the pigments, and from where; 78 of them."
        ),
    ] = False,
    spectra: Annotated[
        Path | None,
        typer.Option(help="Write what the paints look like on paper as spectra to this file."),
    ] = None,
    form: Annotated[
        FormatChoice, typer.Option("--format", help="Of that file: CGATS.17 text or CxF3.")
    ] = FormatChoice.cgats,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """List paints: what they are, how they handle, and where their colour comes from."""
    from firstwash.handout.table import fact_rows, note_words, paint_rows, set_rows
    from firstwash.paints.catalogue import all_paints, set_names
    from firstwash.paints.shelf import load_shelf

    if sets:
        if as_json:
            print(json.dumps({row[0]: row[1] for row in set_rows()}, indent=2, ensure_ascii=False))
            return
        print_table("Sets", ("Set", "Paints"), set_rows())
        return
    listed = bool(
        names and len(names) == 1 and (names[0] in set_names() or Path(names[0]).is_file())
    )
    shelf = load_shelf(names[0] if listed and names else "all")
    paper = shelf.paper
    if listed:
        chosen = shelf.to_set(with_banned=True).paints
    else:
        chosen = tuple(shelf.paint(n) for n in names) if names and not facts else all_paints()
    if facts:
        asked = sorted({k for p in chosen for k in p.pigments}) if listed else names or ()
        _print_facts(fact_rows(asked, listed), as_json)
        return
    if spectra is not None:
        from firstwash.swatching import write_spectra

        write_spectra(chosen, spectra, form.value, paper)
        out.print(Text(f"Wrote {spectra}"), soft_wrap=True)
        return
    if as_json:
        print(json.dumps(paint_rows(chosen, paper), indent=2, ensure_ascii=False))
        return
    columns = ("Key", "Name", "Colour is", "May be off by", "Handling", "Light", "Hazard")
    cells = ("key", "name", "provenance", "within", "handling", "lightfast", "hazard")
    rows = [tuple(str(row[c]) for c in cells) for row in paint_rows(chosen, paper)]
    print_table("Paints", columns, rows)
    said = [(p.key, note_words(shelf.box, p)) for p in chosen if listed]
    for key, words in said:
        if words:
            out.print(Text(f"{key}: {words}"))
    if any(words for _, words in said):
        out.print()
    out.print(
        Text(
            "Measured: fitted to published spectra. Estimated: from published facts and memory, "
            "not measured. Calibrated: from your own swatches. May be off by: CIEDE2000 that nine "
            "of ten quarter coats stay within; 1 can hardly be seen, 5 is a clear difference. "
            "Grades and hazards: the label on your own paint comes first."
        ),
        style="italic",
    )


def _print_facts(rows: list[dict[str, Any]], as_json: bool) -> None:
    if as_json:
        print(json.dumps(rows, indent=2, ensure_ascii=False))
        return
    for row in rows:
        print_table(
            f"{row['name']} ({row['key']})",
            ("Fact", "Value", "From"),
            [(k, str(v["value"]), v["source"]) for k, v in row["facts"].items()],
        )


@contextmanager
def _unwinding() -> Iterator[None]:
    """Ctrl-C raises KeyboardInterrupt, once, so that files half written are taken away."""

    def stop(number: int, frame: FrameType | None) -> None:
        del number, frame
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # a second one must not stop the tidying
        raise KeyboardInterrupt

    before = signal.getsignal(signal.SIGINT)
    here = threading.current_thread() is threading.main_thread()
    if not here or before in (signal.SIG_IGN, None):
        yield
        return
    signal.signal(signal.SIGINT, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def main() -> None:
    """Run the command; every deliberate error is one sentence and a non-zero exit."""
    if isinstance(sys.stdout, TextIOWrapper):  # a file's name may hold what cannot be shown
        sys.stdout.reconfigure(errors="backslashreplace")
    sys.exit(_run())


def _run() -> int:
    try:
        words = words_or_worksheet(sys.argv[1:])
        code = app(words, prog_name="firstwash", standalone_mode=False)
    except FirstwashError as error:
        _say(str(error))
        return REFUSED
    except (KeyboardInterrupt, typer.Abort):
        code = STOPPED
    except typer.Exit as done:
        code = done.exit_code
    except Exception as error:
        # A wrong option: Typer carries its own copy of click, so its class has no fixed home.
        if not (hasattr(error, "format_message") and hasattr(error, "exit_code")):
            raise
        code = _refuse_words(error)
    if code == STOPPED:  # typer itself turns Ctrl-C into this code
        _say("Stopped; nothing was left half written.")
    return code if isinstance(code, int) else 0


def _refuse_words(error: Any) -> int:
    """One sentence about words on the command line that make no sense."""
    where = error.ctx.command_path if getattr(error, "ctx", None) else "firstwash"
    what = error.format_message().strip().rstrip(".")
    what = re.sub(r"Value error, |, unable to parse string as an? \w+", "", what)
    if what:  # empty where the help was shown instead
        _say(f"{what}; see {where} --help.")
    return int(error.exit_code)


def _say(sentence: str) -> None:
    """One sentence on standard error, on one line whatever the width."""
    err.print(Text(sentence), soft_wrap=True)


if __name__ == "__main__":
    main()
