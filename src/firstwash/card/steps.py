"""How to paint a swatch card, in sentences: the same for the printed frame and by hand."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from firstwash.card.layout import PEN_LINE_MM, slot_box
from firstwash.card.words import GLAZE_CUP, MIX_CUP, Batch, Loads, counted, measure

__all__ = [
    "CAUTIONS",
    "PHOTO",
    "SWATCH_WORDS",
    "Step",
    "batch_words",
    "cups_needed",
    "needs",
    "painting",
    "printing",
    "strip_size",
]

_BEYOND: Final = (7.0, 17.0)  # mm of paper beyond the windows, to each side, above and below

SWATCH_WORDS: Final = f"{measure(8)} wide and {measure(14)} high"

PHOTO: Final = (
    "By a window in daylight, out of the sun; no flash and no lamp. Leave filters and HDR off.",
    "From straight above: the whole card and a little table, sharp, no shadow of hand or phone.",
    "A target of 24 colour patches beside the card makes the reading truer; it is not needed.",
)

# Common practice; that labels follow ASTM D4236 in the United States: from memory.
CAUTIONS: Final = (
    "Read the labels of your paints first (in the United States they follow ASTM D4236); they and "
    "your local rules come before this page. Some paints contain cadmium, cobalt, nickel or "
    "chromium.",
    "Do not point a brush with your lips. Do not sand or spray dry paint. Keep food and drink "
    "away, and wash your hands when you are done.",
    "Rinse water goes where your local rules send it.",
)


@dataclass(frozen=True)
class Step:
    """One thing to do: how its sentence begins, in bold, and how it goes on."""

    lead: str
    text: str


def strip_size(rows: int) -> tuple[float, float]:
    """Width and height in mm of paper that fills the windows of a number of rows."""
    first, last = slot_box(0), slot_box(rows - 1)
    height = last.y + last.height - first.y + 2 * _BEYOND[1]
    return first.width + 2 * _BEYOND[0], 5.0 * round(height / 5.0)


def needs(sheet: str, every: Sequence[Batch], loads: Loads) -> tuple[str, ...]:
    """What to have at hand; sheet: what is said of the paper, every: all that is mixed."""
    counts = (
        "and something that makes even drops (a dropper, a straw)."
        if loads == "drops"
        else "and a rag. For every brush-load fill the same brush and wipe it once on the rim."
    )
    return (
        sheet,
        f"A waterproof black pen, about {PEN_LINE_MM:g} mm (0.04 in) wide, and a ruler.",
        f"A brush about {measure(8)} wide, about {cups_needed(every)} small cups or wells, clean "
        f"water, {counts}",
    )


def printing() -> tuple[Step, ...]:
    """The steps that make the printed frame ready."""
    return (
        Step(
            "Print page 1 at 100 % (“actual size”),",
            "one-sided, on plain matt paper. Hold a ruler to the scale below the card: 100 mm must "
            "be 100 mm.",
        ),
        Step(
            "Cut out the windows",
            "along the thin lines with a knife. Leave the rest of the page whole; the square "
            "markers need white around them.",
        ),
        Step(
            "Tape the frame over your paper",
            "so that it fills every window; no tape on markers or words.",
        ),
        Step(
            "Draw the pen line first,",
            "with a ruler through each window from arrow to arrow, across the bare places too. "
            "Let it dry. How well a paint hides it shows how opaque the paint is.",
        ),
    )


def painting(loads: Loads) -> tuple[Step, ...]:
    """The steps from the first puddle to the dry card."""
    one = counted(1, loads)
    return (
        Step(
            "Mix each paint at full strength:",
            "as strong as you ever lay it, one normal coat that still flows, not a crust. The "
            f"table that follows tells how many {loads}.",
        ),
        Step(
            "Halve it five times.",
            "Move half into the next cup, add as much water, stir; then half of that into the "
            "next. So 1 : 3 is one part of full puddle to three of water.",
        ),
        Step(
            "Paint places 2 to 7 from pale to strong:",
            f"one even coat each, across the pen line, {SWATCH_WORDS}, with about {measure(3)} of "
            "bare paper between. Places 1 and 12 stay bare. Stir before every load. Then keep the "
            f"{MIX_CUP} and {GLAZE_CUP} cups of every paint, covered, and wash the others.",
        ),
        Step(
            "Lay the first coat in places 13 and 14",
            f"from the {GLAZE_CUP} cups: in 13 the row’s own paint, in 14 the paint named for it.",
        ),
        Step(
            "Mix for places 8 to 11:",
            f"{one} from the row’s {MIX_CUP} cup and {one} from the {MIX_CUP} cup of the paint "
            "named for the place; a letter with it tells that paint’s row. Stir and lay.",
        ),
        Step(  # the cool back of the hand: common practice, no source
            "Let it dry fully, lying flat.",
            "Hold the back of your hand close: while the paper feels cool it is damp. Then lay one "
            f"coat of the row’s own {GLAZE_CUP} cup over 13 and 14, without scrubbing. Dry flat.",
        ),
    )


def batch_words(batch: Batch, loads: Loads) -> str:
    """What to mix of a paint that has no row of its own."""
    first, *then = batch.cups
    told = f"{counted(batch.full, loads)} of full puddle, thinned to {first}"
    return told + "".join(f"; half of that thinned again to {cup}" for cup in then)


def cups_needed(every: Sequence[Batch]) -> int:
    """How many cups: those kept to the end, four that are washed between, one for mixtures."""
    return sum(len(b.cups) if not b.row else 2 for b in every) + 5
