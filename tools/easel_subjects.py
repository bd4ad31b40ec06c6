"""Six pictures to paint and their plans, with measured paints alone.

    plan, aims = planned("coffee")

Three are photos of scikit-image, three are drawn. The paints are those of which
`card_pigments` knows its own curves, so that what is planned with the planner's optics can be
painted with others.
"""

import io
import tempfile
from functools import cache
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from skimage import data

from board_trials import bare_still_life
from firstwash.optics.observer import xyz_to_lab
from firstwash.picture.reference import Reference
from firstwash.plan.problem import Limits
from firstwash.plan.result import Plan
from firstwash.usecases import PhotoPlan, Wishes, plan_photo

__all__ = ["PAINTS", "SUBJECTS", "SubjectPlan", "planned", "subject_pixels", "subject_reference"]

Bytes = NDArray[np.uint8]
SubjectPlan = tuple[Plan, NDArray[np.float64]]

SUBJECTS: Final = ("coffee", "chelsea", "rocket", "bare", "hills", "jug")
PAINTS: Final = (
    "lemon-yellow", "PY35", "PR108", "PR83", "PBr7-burnt", "PBr7-raw", "PB29", "PB28", "PB27",
    "sap-green",
)  # fmt: skip
SHEET: Final = "32x24cm"
LIMITS: Final = Limits(shapes=60, puddles=8, washes=20, layers=3)


def _hills() -> Bytes:
    """Three ranges of hills below an evening sky, a lake and a dark wood."""
    rows, cols = np.mgrid[0:360, 0:480].astype(np.float32)
    down = (rows / 360)[..., None]
    sky = np.array([120, 160, 210]) + down * np.array([240, 90, -60])
    picture = np.clip(sky, 0, 255)
    ranges = (
        (150, 22, 61.0, (128, 140, 176)),
        (185, 28, 47.0, (92, 116, 120)),
        (225, 18, 83.0, (74, 98, 58)),
    )
    for at, high, wide, colour in ranges:
        line = at - high * np.sin(cols / wide + at) - 0.4 * high * np.sin(cols / (0.37 * wide))
        picture[rows > line] = colour
    picture[(rows > 255) & (rows < 315)] = (150, 178, 196)
    picture[rows > 312 + 9 * np.sin(cols / 40)] = (96, 78, 44)
    out = picture.astype(np.uint8)
    for x, y, size in ((60, 270, 34), (100, 282, 26), (420, 276, 38)):
        cv2.ellipse(out, (x, y), (size, 2 * size), 0, 0, 360, (38, 54, 40), -1, cv2.LINE_AA)
    return np.asarray(out)


def _jug() -> Bytes:
    """A blue jug, two lemons and a red cloth before a warm wall."""
    out = np.full((360, 480, 3), (214, 190, 150), np.uint8)
    out[:, 300:] = (188, 158, 118)
    out[250:] = (152, 44, 40)
    cv2.ellipse(out, (180, 190), (72, 100), 0, 0, 360, (62, 92, 156), -1, cv2.LINE_AA)
    cv2.ellipse(out, (205, 205), (44, 82), 0, 0, 360, (40, 58, 112), -1, cv2.LINE_AA)
    cv2.ellipse(out, (150, 150), (16, 40), 15, 0, 360, (190, 208, 232), -1, cv2.LINE_AA)
    cv2.rectangle(out, (146, 60), (214, 110), (62, 92, 156), -1)
    cv2.ellipse(out, (325, 268), (62, 44), -12, 0, 360, (236, 204, 60), -1, cv2.LINE_AA)
    cv2.ellipse(out, (338, 284), (42, 24), -12, 0, 360, (186, 140, 40), -1, cv2.LINE_AA)
    cv2.ellipse(out, (410, 290), (52, 38), 20, 0, 360, (244, 220, 96), -1, cv2.LINE_AA)
    cv2.ellipse(out, (330, 322), (70, 14), 0, 0, 360, (86, 26, 34), -1, cv2.LINE_AA)
    return out


def subject_pixels(subject: str) -> Bytes:
    """(rows, cols, 3) sRGB of one of the subjects."""
    drawn = {"bare": bare_still_life, "hills": _hills, "jug": _jug}
    if subject in drawn:
        return np.asarray(drawn[subject]())
    return np.asarray(getattr(data, subject)(), np.uint8)


@cache
def _made(subject: str) -> PhotoPlan:
    file = io.BytesIO()
    Image.fromarray(subject_pixels(subject)).save(file, "png")
    with tempfile.TemporaryDirectory() as folder:
        paints = Path(folder) / "paints.txt"
        paints.write_text("\n".join(PAINTS) + "\n", encoding="utf-8")
        return plan_photo(file.getvalue(), Wishes(SHEET, str(paints), LIMITS))


def planned(subject: str) -> SubjectPlan:
    """A small plan of one of the subjects, and what it aims at.

    The second is the tone-mapped picture as CIELAB (rows, cols, 3) in the size of the plan's cells.
    """
    found = _made(subject)
    return found.plan, found.plan.tone(xyz_to_lab(found.reference.xyz))


def subject_reference(subject: str) -> Reference:
    """The picture that the plan was made from."""
    return _made(subject).reference
