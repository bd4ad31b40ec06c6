"""What the worksheet says of a plan and its paints, for print in the same words.

Everything of the worksheet that printed sheets repeat comes in here and nowhere else.
"""

from typing import Final

from firstwash.language import tr
from firstwash.worksheet.board_words import HABITS, chief_paints
from firstwash.worksheet.print_words import share_words
from firstwash.worksheet.strips import paint_strip, puddle_strip
from firstwash.worksheet.view import layer_inside, layer_title
from firstwash.worksheet.words import apart_words

__all__ = [
    "HABITS",
    "apart_words",
    "chief_paints",
    "layer_inside",
    "layer_title",
    "of_the_sheet",
    "paint_strip",
    "puddle_strip",
    "share_words",
]

LITTLE: Final = 0.015  # of the sheet (0-1), below which it is told in hundredths


def of_the_sheet(share: float) -> str:
    """A share (0-1) of the sheet: "a tenth of the sheet", "a hundredth of the sheet"."""
    if share < LITTLE / 2.0:
        return tr("less than a hundredth of the sheet")
    if share < LITTLE:
        return tr("a hundredth of the sheet")
    return tr("{share} of the sheet", share=share_words(share))
