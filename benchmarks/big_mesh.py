"""P6: a subject of 1.3 million triangles: the tree's build beside Embree's, a whole command's time, its peak memory."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np

from benchmarks import peers
from benchmarks.blobs import Floats, Ints, blob, write_ply
from benchmarks.child import TO_MB, python
from benchmarks.found import Effort, Found, Row
from benchmarks.reference import reference_text
from benchmarks.turns import medians, timed
from throughlight.stage.meshes import mesh_tables

TRIANGLES = 1_300_000
_OUTLINE = 'outline = { shape = "rectangle", width = "80 mm", height = "80 mm" }'
_SLAB = f'shape = {{ kind = "slab", {_OUTLINE}, thickness = "5 mm" }}'
_STEPS = """
import json, resource, sys, time
import numpy as np
import trimesh
from throughlight.readings.meter import meter
from throughlight.setup import load
from throughlight.stage.build import build
from throughlight.stage.meshes import mesh_tables
mesh_tables([(np.eye(3), np.array([[0, 1, 2]]))])  # the kernel is loaded
moments, peaks = [time.perf_counter()], []
def passed():
    moments.append(time.perf_counter())
    peaks.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
setup = load(sys.argv[1])
passed()
build(setup)
passed()
meter(setup, tolerance=1.0, time_limit=1.0)
passed()
seconds = [after - before for before, after in zip(moments, moments[1:])]
print(json.dumps({"seconds": dict(zip(("load", "build", "meter"), seconds)), "peaks": peaks}))
"""
"""The steps of a short reading, and the peak memory until the end of each, in the system's unit."""


def mesh_text(file: str) -> str:
    """Return the reference set with a mesh file, mm, in place of the slab."""
    text = reference_text()
    if _SLAB not in text:
        raise ValueError("the reference set has no slab where one is expected")
    return text.replace(_SLAB, f'shape = {{ kind = "mesh", file = "{file}", unit = "mm" }}')


def write_set(folder: Path, corners: Floats, faces: Ints) -> Path:
    """Write a set with a body of triangles into a folder and return its file."""
    write_ply(folder / "blob.ply", corners, faces)
    (folder / "set.toml").write_text(mesh_text("blob.ply"), encoding="utf-8")
    return folder / "set.toml"


def build_seconds(corners: Floats, faces: Ints, turns: int) -> dict[str, float]:
    """Return median seconds of building the tree and laying out its triangles, and of the peer's where there is one."""
    doers: dict[str, Callable[[int], float]] = {"ours": lambda _: timed(lambda: mesh_tables([(corners, faces)]))}
    make = peers.embree()
    if make is not None:
        vertices, rows = np.asarray(corners, np.float32), np.asarray(faces, np.int32)
        doers["peer"] = lambda _: timed(lambda: make(vertices, rows))
    return medians(doers, turns)


class Whole(NamedTuple):
    """A short reading in a process of its own: seconds of its steps, peak memory until the end of each, MB."""

    seconds: dict[str, float]
    peaks: dict[str, float]

    @property
    def laying_out(self) -> float:
        """Return the seconds of reading the file and laying out the set."""
        return self.seconds["load"] + self.seconds["build"]


def whole(file: Path) -> Whole:
    """Return how a short reading of a set goes in a process of its own."""
    ended = python(_STEPS, str(file))
    told = json.loads(ended.output)
    peaks = dict(zip(told["seconds"], told["peaks"], strict=True))
    return Whole(told["seconds"], {step: peak * TO_MB for step, peak in peaks.items()} | {"end": ended.peak_mb})


def _told(figures: dict[str, float], unit: str, digits: int) -> str:
    return ", ".join(f"{step} {value:.{digits}f} {unit}" for step, value in figures.items())


def measure(effort: Effort) -> Found:
    """Return P6; the quick effort takes a smaller mesh."""
    corners, faces = blob(effort.of(TRIANGLES))
    seconds = build_seconds(corners, faces, effort.turns)
    with tempfile.TemporaryDirectory() as folder:
        end = whole(write_set(Path(folder), corners, faces))
    note = f"{len(faces)} triangles"
    steps = _told(end.seconds, "s", 1)
    peer = seconds.get("peer")
    return Found(
        (
            Row("P6", "build of the tree, 1.3 M triangles", "s", seconds["ours"], peer,
                peer / seconds["ours"] if peer else None, (2.0,), "ours", most=True,
                note=note if peer else f"{note}; {peers.MISSING}"),
            Row("P6", "reading the file and laying out the set", "s", end.laying_out, note=f"{note}; {steps}"),
            Row("P6", "peak memory of the process that reads it", "MB", end.peaks["end"], goals=(600.0,), judged="ours",
                most=True, note=f"{note}; until the end of each step: {_told(end.peaks, 'MB', 0)}"),
        ),
        details={"P6": {"triangles": len(faces), "steps": end._asdict()}},
    )  # fmt: skip
