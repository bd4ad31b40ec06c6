"""Where the paintings are kept on the painter's computer."""

import os
from pathlib import Path
from typing import Final

from platformdirs import user_data_path

from firstwash.errors import StoreError

__all__ = ["FOLDER_VARIABLE", "data_folder"]

FOLDER_VARIABLE: Final = "FIRSTWASH_HOME"
ONLY_MINE: Final = 0o700  # a painter's photos are nobody else's on a shared computer


def data_folder(given: Path | None = None) -> Path:
    """The data folder, made if it is missing: the one given, else FIRSTWASH_HOME, else ours.

    Ours is where the operating system keeps the data of programs for this person.
    A folder made here can be entered by its owner only; one that was there keeps its rights.
    Raises StoreError when it cannot be made or is not a folder.
    """
    told = given or os.environ.get(FOLDER_VARIABLE) or user_data_path("firstwash", appauthor=False)
    folder = Path(told).expanduser().absolute()
    try:
        folder.mkdir(mode=ONLY_MINE, parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"The folder {folder} for the paintings cannot be made: choose another one, "
            f"or set {FOLDER_VARIABLE} to a folder you can write in."
        ) from error
    return folder
