"""The sets that ship with the project, examples too, laid out and traced on a coarse grid, to compare modes.

Run as a program this file traces them and writes what it found: `python shipped_sets.py FOLDER`, into `figures.json` in
the folder. Sets that have been laid out in the folder before are taken from there: an interpreter would take minutes
for the tree of a large mesh.
"""

from __future__ import annotations

import json
import pickle
import sys
import warnings
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tiny_sets import Grid, trace

from throughlight.setup import load
from throughlight.stage.build import build
from throughlight.trace.expose import FRONT, PICTURE
from throughlight.trace.tables import Stage

SCENES = Path(__file__).resolve().parents[2] / "scenes"
FILES = sorted([*SCENES.glob("**/set.toml"), *SCENES.glob("examples/*.toml")])
NAMES = [file.relative_to(SCENES).as_posix() for file in FILES]
FIGURES = "figures.json"
WHOLE_FRAME = Grid(6, 4, tuple(range(24)), {PICTURE: 2, FRONT: 8})


def laid_out(folder: Path, name: str) -> Stage:
    """Return the stage of a set, from the folder or, where it is not there, made and kept there."""
    file = folder / f"{name.replace('/', ' ')}.pickle"
    if not file.exists():
        file.write_bytes(pickle.dumps(tuple(build(load(SCENES / name))[0])))
    return Stage(*pickle.loads(file.read_bytes()))


def traced(folder: Path) -> dict[str, dict[str, list[float]]]:
    """Return what each set shows in this mode."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # products modulo 2⁶⁴, which hashing wants
        return {name: trace(laid_out(folder, name), WHOLE_FRAME) for name in NAMES}


if __name__ == "__main__":
    place = Path(sys.argv[1])
    (place / FIGURES).write_text(json.dumps(traced(place)))
