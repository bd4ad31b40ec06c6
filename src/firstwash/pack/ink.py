"""A drawn outline as ink to lay over pictures of another size."""

import io
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

__all__ = ["ink_of"]

MOST_PIXELS: Final = 60_000_000  # an A2 sheet at 300 dpi has 35 million


def ink_of(png: bytes, width: int, height: int) -> NDArray[np.uint8]:
    """How dark a drawing is at each pixel, uint8 (height, width): 255 black, 0 paper.

    png: dark lines on white or on nothing, of the whole sheet, whatever its size in pixels.
    Raises ValueError for anything that is no PNG, or one of more than 60 million pixels.
    """
    try:
        with Image.open(io.BytesIO(png), formats=["PNG"]) as image:
            if image.width * image.height > MOST_PIXELS:
                raise ValueError(f"outline: {image.width} × {image.height} pixels are too many")
            drawn = image.convert("RGBA")
    except (UnidentifiedImageError, OSError, SyntaxError, Image.DecompressionBombError) as error:
        raise ValueError("outline: not a PNG that can be read") from error
    white = Image.new("RGBA", drawn.size, (255, 255, 255, 255))
    grey = Image.alpha_composite(white, drawn).convert("L")
    return 255 - np.asarray(grey.resize((width, height), Image.Resampling.LANCZOS), np.uint8)
