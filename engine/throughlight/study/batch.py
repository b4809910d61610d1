"""What is traced at a time: one stretch of the quasi-random sequence for one set, reduced to sums that add up.

All sets of a study are looked at with the same random numbers (common random numbers: Heikes, Montgomery and Rardin
1976, Simulation 27; from memory), so that what two of them have in common cancels in their difference. Paths double
from level to level, which is where a Sobol sequence is at its best; long levels are cut into batches that can be lost
without grief.

    level 1: paths 0 … F − 1 of each replicate;  level k: paths F·2ᵏ⁻² … F·2ᵏ⁻¹ − 1.
"""

from __future__ import annotations

import json
import math
import zlib
from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.trace.driver import Tally, Target, trace
from throughlight.trace.tables import Region, Stage

Array = NDArray[np.float64]

REPLICATES = 32
"""Independent randomisations; twice those of a reading, because many comparisons that hold together reach far out
into the tails of Student's t."""
FIRST = 128
"""Paths of each replicate in the first level."""
LONGEST = 2048
"""Paths of each replicate in one batch at most."""
MOST_LEVELS = 14

_TIMES = {"backdrop": 4, "front": 4}
"""How many paths of these for one of the subject: they are cheap, and the worst of many patches needs them."""
_TOGETHER = 1 << 13  # paths that a thread traces before it looks up
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709

Sums = dict[str, Array]
"""Sums by name; those of two batches of one set add up.

`paths NAME` () of each replicate, `share NAME` () of the frame that the target's squares fill, `light NAME`
(r, layers, 3) sums of luminance × time × falloff (for "front" lx·s), `met NAME` (r,) rays that met the region first;
`patch light` (r, patches, layers) luminance and `patch met` (r, patches) of the backdrop's squares, `patch cells`
(patches,) where they are and `patch columns` () of how many; `square light`, `square met` the same of the subject's
fine squares where asked for; `status` (3,) paths cut, lost, not a number.
"""
_STEADY = ("share ", "patch cells", "patch columns")
"""What begins so is the same in every batch."""


class Job(NamedTuple):
    """One batch of one set: plain data that can be sent to another machine.

    `first`, `paths`: the stretch of each replicate. `squares`: whether the subject's squares are kept apart, for the
    part of it that is past clip.
    """

    geometry: str
    batch: int
    stage: Stage
    looks: dict[str, Target]
    first: int
    paths: int
    seed: int
    squares: bool = False
    replicates: int = REPLICATES


class Piece(NamedTuple):
    """What a thread does of a job in one go."""

    name: str
    replicates: tuple[int, ...]


def paths_at(level: int) -> int:
    """Return the paths of each replicate after so many levels."""
    return FIRST << (level - 1) if level > 0 else 0


def stretches(level: int) -> list[tuple[int, int]]:
    """Return the batches (first path, count) that a level consists of."""
    start, end = paths_at(level - 1), paths_at(level)
    return [(first, min(LONGEST, end - first)) for first in range(start, end, LONGEST)]


def batches_at(level: int) -> int:
    """Return how many batches all levels up to this one have together."""
    return sum(len(stretches(below)) for below in range(1, level + 1))


def stretch_of(batch: int) -> tuple[int, int]:
    """Return the first path and the number of paths of a batch."""
    level = 1
    while batches_at(level) <= batch:
        level += 1
    return stretches(level)[batch - batches_at(level - 1)]


def pieces(job: Job) -> Iterator[Piece]:
    """Cut a job into pieces that take some tenths of a second at most."""
    for name in job.looks:
        together = max(1, _TOGETHER // (job.paths * _TIMES.get(name, 1)))
        for start in range(0, job.replicates, together):
            yield Piece(name, tuple(range(start, min(start + together, job.replicates))))


def work(job: Job, piece: Piece) -> Tally:
    """Trace a piece."""
    times = _TIMES.get(piece.name, 1)
    return trace(job.stage, job.looks[piece.name], piece.replicates, job.first * times, job.paths * times, job.seed)


def reduce(job: Job, done: Mapping[Piece, Tally]) -> Sums:
    """Put the tallies of all pieces together as the job's sums."""
    sums: Sums = {"status": np.zeros(3)}
    for name, target in job.looks.items():
        tallies = [done[piece] for piece in pieces(job) if piece.name == name]
        sums["status"] = sums["status"] + np.sum([tally.status for tally in tallies], axis=0)
        sums[f"paths {name}"] = np.array(float(tallies[0].rays))
        sums[f"share {name}"] = np.array(len(target.cells) / (target.columns * target.rows))
        sums[f"light {name}"] = np.concatenate([tally.cells.sum(axis=1) for tally in tallies])
        if name == "subject":
            sums["met subject"] = _met(tallies, Region.SUBJECT).sum(axis=1)
            if job.squares:
                sums["square light"] = np.concatenate([tally.cells @ _LUMINANCE for tally in tallies])
                sums["square met"] = _met(tallies, Region.SUBJECT)
        if name == "backdrop":
            sums["patch light"] = np.concatenate([tally.cells @ _LUMINANCE for tally in tallies])
            sums["patch met"] = _met(tallies, Region.BACKDROP)
            sums["met backdrop"] = sums["patch met"].sum(axis=1)
            sums["patch cells"] = target.cells.astype(np.float64)
            sums["patch columns"] = np.array(float(target.columns))
    return kept(sums)


def _met(tallies: list[Tally], region: Region) -> Array:
    """Return the rays that met a region first, (r, cells)."""
    return np.concatenate([tally.counts[:, :, region] for tally in tallies]).astype(np.float64)


def trace_job(job: Job, interrupted: Callable[[], bool] = lambda: False) -> Sums | None:
    """Trace a whole job on this thread; None when it was interrupted between two pieces."""
    done = {}
    for piece in pieces(job):
        if interrupted():
            return None
        done[piece] = work(job, piece)
    return reduce(job, done)


def add(a: Sums, b: Sums) -> Sums:
    """Return the sums of two stretches together."""
    return {name: value if name.startswith(_STEADY) else value + b[name] for name, value in a.items()}


def paths_of(sums: Sums) -> int:
    """Return the paths behind sums, of all replicates and readings together."""
    each = sum(float(value) for name, value in sums.items() if name.startswith("paths "))
    return round(each) * len(sums["light front"])


def kept(sums: Sums) -> Sums:
    """Return sums as they are after they were kept: squares and patches in single precision."""
    return {name: value.astype(_KEPT_AS.get(name, "<f8")).astype(np.float64) for name, value in sums.items()}


_KEPT_AS = {"patch light": "<f4", "square light": "<f4", "patch met": "<u2", "square met": "<u2"}


def packed(sums: Sums) -> bytes:
    """Return sums as bytes: the length of a list of names, types and shapes, the list as JSON, the tables; deflated."""
    listed, content = [], []
    for name, value in sums.items():
        table = value.astype(_KEPT_AS.get(name, "<f8"))
        listed.append((name, table.dtype.str, table.shape))
        content.append(table.tobytes())
    head = json.dumps(listed).encode()
    # Runs of noughts are all that can be pressed out of noise, and looking for more takes longer than a small trace.
    press = zlib.compressobj(1, zlib.DEFLATED, zlib.MAX_WBITS, zlib.DEF_MEM_LEVEL, zlib.Z_RLE)
    return press.compress(b"".join((len(head).to_bytes(4, "little"), head, *content))) + press.flush()


def unpacked(content: bytes) -> Sums:
    """Return the sums that `packed` made bytes of.

    Raises
    ------
    ValueError
        When the bytes are not such sums.
    """
    try:
        data = zlib.decompress(content)
        place = 4 + int.from_bytes(data[:4], "little")
        sums: Sums = {}
        for name, kind, shape in json.loads(data[4:place]):
            table = np.frombuffer(data, kind, math.prod(shape), place).reshape(shape)
            sums[name] = table.astype(np.float64)
            place += table.nbytes
    except (zlib.error, ValueError, TypeError) as trouble:
        raise ValueError(f"what is kept of a batch cannot be read: {trouble}") from trouble
    return sums
