"""What every shell can do with swatch cards: print one, read a photo or measurements of it."""

import os
import secrets
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.card.by_hand import by_hand_page, frame_box
from firstwash.card.layout import ROWS
from firstwash.card.measured import teach_measured
from firstwash.card.pdf import card_pdf
from firstwash.card.reading import read_card
from firstwash.card.recipe import CardRow, rows_for
from firstwash.card.sheet import read_rows, write_rows
from firstwash.card.teach import Taught, teach
from firstwash.errors import OutputError, PaintError, RequestError
from firstwash.handout.card_report import card_report
from firstwash.paints.box import Box, load_box, parse_box, write_box
from firstwash.paints.catalogue import Paint, load_set, paint
from firstwash.paints.instrument.read import read_measurements
from firstwash.paints.own import OwnPaints, merged, own_file, read_own, write_own
from firstwash.picture.load import Photo, load_photo
from firstwash.plan.problem import Progress, no_progress

__all__ = ["Learnt", "learn_from_measurements", "learn_from_photo", "print_card"]

LARGEST_SIDE: Final = 5200  # pixels; more tells nothing more of a swatch
PageSize = Literal["A4", "Letter"]
Loads = Literal["drops", "brush-loads"]
BY_HAND: Final = "card-by-hand.html"
