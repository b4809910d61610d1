"""The starter set that `throughlight new` writes: one commented setup file that runs as it is."""

from __future__ import annotations

import errno
import os
from importlib import resources
from pathlib import Path

NAME = "set.toml"


def starter_text() -> str:
    """Return the text of the starter set."""
    return (resources.files("throughlight.kit.starter") / NAME).read_text("utf-8")


def write_starter(folder: Path) -> Path:
    """Write the starter set into a folder, which is made if it does not exist.

    Returns
    -------
    Path
        The setup file.

    Raises
    ------
    OSError
        When the folder cannot be made or written, or already holds a set.
    """
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / NAME
    try:
        with file.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(starter_text())
    except FileExistsError:
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(file)) from None
    return file
