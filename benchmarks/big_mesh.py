"""P6: a subject of 1.3 million triangles: the tree's build beside Embree's, a whole command's time, its peak memory."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

from benchmarks import peers
from benchmarks.blobs import Floats, Ints, blob, write_ply
from benchmarks.child import Ended, python
from benchmarks.found import Effort, Found, Row
from benchmarks.reference import reference_text
from benchmarks.turns import medians, timed
from throughlight.trace import tree

TRIANGLES = 1_300_000
_OUTLINE = 'outline = { shape = "rectangle", width = "80 mm", height = "80 mm" }'
_SLAB = f'shape = {{ kind = "slab", {_OUTLINE}, thickness = "5 mm" }}'
_STEPS = """
import json, sys, time
import trimesh
from throughlight.setup import load
from throughlight.readings.meter import meter
from throughlight.stage.build import build
from throughlight.trace import tree
import numpy as np
tree.build(np.arange(9.0).reshape(3, 3), np.arange(3).reshape(1, 3))  # the kernel is loaded
begun = time.perf_counter()
setup = load(sys.argv[1])
loaded = time.perf_counter()
build(setup)
built = time.perf_counter()
meter(setup, tolerance=1.0, time_limit=1.0)
print(json.dumps({"load": loaded - begun, "build": built - loaded, "meter": time.perf_counter() - built}))
"""


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
    """Return median seconds of building the tree: ours, and the peer's where there is one."""
    doers: dict[str, Callable[[int], float]] = {"ours": lambda _: timed(lambda: tree.build(corners, faces))}
    make = peers.embree()
    if make is not None:
        vertices, rows = np.asarray(corners, np.float32), np.asarray(faces, np.int32)
        doers["peer"] = lambda _: timed(lambda: make(vertices, rows))
    return medians(doers, turns)


def whole(file: Path) -> tuple[dict[str, float], Ended]:
    """Return the seconds of the steps of a short reading of a set in a process of its own, and how that ended."""
    ended = python(_STEPS, str(file))
    steps: dict[str, float] = json.loads(ended.output)
    return steps, ended


def measure(effort: Effort) -> Found:
    """Return P6; the quick effort takes a smaller mesh."""
    corners, faces = blob(effort.of(TRIANGLES))
    seconds = build_seconds(corners, faces, effort.turns)
    with tempfile.TemporaryDirectory() as folder:
        steps, ended = whole(write_set(Path(folder), corners, faces))
    note = f"{len(faces)} triangles"
    peer = seconds.get("peer")
    return Found(
        (
            Row("P6", "build of the tree, 1.3 M triangles", "s", seconds["ours"], peer,
                peer / seconds["ours"] if peer else None, (2.0,), "ours", most=True,
                note=note if peer else f"{note}; {peers.MISSING}"),
            Row("P6", "reading the file and laying out the set", "s", steps["load"] + steps["build"], note=note),
            Row("P6", "peak memory of the process that reads it", "MB", ended.peak_mb, goals=(600.0,), judged="ours",
                most=True, note=f"{note}; load, build, and a meter that builds again"),
        ),
        details={"P6": {"triangles": len(faces), "steps": steps}},
    )  # fmt: skip
