"""Draw the still lifes to .cache/still_lifes/NAME.npz, with a NAME.png to look at.

Run: python tools/render_still_lifes.py [NAME ...] [--width 320]
"""

import argparse
import time

import cv2
import numpy as np

from firstwash.optics.observer import srgb_encode
from still_lifes.gallery import NAMES, STORE, WIDTH, rendered


def main() -> None:
    """Draw those named, or all."""
    ask = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    ask.add_argument("names", nargs="*", metavar="NAME")
    ask.add_argument("--width", type=int, default=WIDTH)
    told = ask.parse_args()
    for name in told.names or NAMES:
        start = time.perf_counter()
        picture = rendered(name, told.width)
        signal = srgb_encode(np.clip(picture.rgb, 0.0, 1.0))
        tail = "" if told.width == WIDTH else f"-{told.width}"
        cv2.imwrite(
            str(STORE / f"{name}{tail}.png"), np.round(255 * signal[..., ::-1]).astype(np.uint8)
        )
        print(f"{name}: {time.perf_counter() - start:.1f} s")


if __name__ == "__main__":
    main()
