"""Plan a real photo with the built-in starter set and write the result to out/demo.

The photo is the CC0 still life that ships inside scikit-image (`skimage.data.coffee`).
Run: make demo
"""

import sys
from pathlib import Path

import numpy as np
from PIL import Image
from skimage import data

from firstwash import cli

OUT = Path(__file__).parents[1] / "out"


def main() -> None:
    """Save the photo beside the result, then do what the command line does."""
    OUT.mkdir(exist_ok=True)
    photo = OUT / "coffee.png"
    pixels: np.ndarray = getattr(data, "coffee")()  # noqa: B009 - untyped upstream
    Image.fromarray(pixels).save(photo)
    sys.argv = ["firstwash", "plan", str(photo)]
    sys.argv += ["--sheet", "28x38cm", "--paints", "starter", "--out", str(OUT / "demo")]
    cli.main()


if __name__ == "__main__":
    main()
