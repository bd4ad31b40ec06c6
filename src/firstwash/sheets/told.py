"""What the worksheet says of a plan and its paints, for print in the same words.

Everything of the worksheet that printed sheets repeat comes in here and nowhere else.
"""

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
    "paint_strip",
    "puddle_strip",
    "share_words",
]
