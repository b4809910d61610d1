"""The sets that ship with the project, laid out and traced on a coarse grid, for a test of both modes of execution.

Run as a program this file lays them out, or takes them from a file where they have been laid out before (which an
interpreter would take minutes for), traces them, and writes what it found: `python shipped_sets.py FOLDER` with
`stages.pickle` and `figures.json` in the folder.
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
from throughlight.trace.expose import FILM, FRONT
from throughlight.trace.tables import Stage

SCENES = Path(__file__).resolve().parents[2] / "scenes"
NAMES = sorted(file.parent.name for file in SCENES.glob("*/set.toml"))
STAGES, FIGURES = "stages.pickle", "figures.json"
WHOLE_FRAME = Grid(6, 4, tuple(range(24)), {FILM: 2, FRONT: 8})


def laid_out(folder: Path) -> dict[str, Stage]:
    """Return the stage of each set, from the folder's file or, where that is missing, made and written there."""
    file = folder / STAGES
    if file.exists():
        return {name: Stage(*fields) for name, fields in pickle.loads(file.read_bytes()).items()}
    stages = {name: build(load(SCENES / name / "set.toml"))[0] for name in NAMES}
    file.write_bytes(pickle.dumps({name: tuple(stage) for name, stage in stages.items()}))
    return stages


def traced(folder: Path) -> dict[str, dict[str, list[float]]]:
    """Return what each set shows in this mode."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # products modulo 2⁶⁴, which hashing wants
        return {name: trace(stage, WHOLE_FRAME) for name, stage in laid_out(folder).items()}


if __name__ == "__main__":
    place = Path(sys.argv[1])
    (place / FIGURES).write_text(json.dumps(traced(place)))
