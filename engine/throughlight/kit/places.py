"""Where a user's own kit files lie: `kit.toml` beside the set, and `kit.toml` in the user's configuration folder.

The configuration folder is the system's usual one: on Linux after the XDG Base Directory Specification 0.8, which also
says that a relative $XDG_CONFIG_HOME is to be ignored; on macOS and Windows where programs keep what a user sets.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Mapping
from pathlib import Path

NAME = "kit.toml"
_FOLDER = "throughlight"


def configuration_folder(system: str, environment: Mapping[str, str], home: Path) -> Path:
    """Return the folder in which a user's settings for this program lie, whether or not it exists.

    Parameters
    ----------
    system
        As `sys.platform` says it: "darwin", "win32"; anything else keeps to the XDG specification.
    environment
        The variables of the process.
    home
        The user's home folder.
    """
    if system == "darwin":
        return home / "Library" / "Application Support" / _FOLDER
    variable, usual = ("APPDATA", ("AppData", "Roaming")) if system == "win32" else ("XDG_CONFIG_HOME", (".config",))
    said = Path(environment.get(variable, ""))
    return (said if said.is_absolute() else home.joinpath(*usual)) / _FOLDER


def own_files(folder: Path) -> list[Path]:
    """Return the kit files for a set in `folder` that exist: the one beside it, which wins, and the user's.

    A folder that cannot be looked into holds none.
    """
    places = [folder / NAME]
    with contextlib.suppress(RuntimeError):  # a user without a home
        places.append(configuration_folder(sys.platform, os.environ, Path.home()) / NAME)
    return [place for place in places if os.path.exists(place)]
