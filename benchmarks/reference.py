"""The reference set `tests/sets/backlit_slab.toml` for our tracer, as the peer knows it, and its *dark* variant.

Like is compared with like: a pinhole, lamps of luminance 1, and the peer's rough boundary, which loses what meets a
second facet (`stage.skins[:] = 0`). The dark variant has the lamps at ±50° from the line behind the subject instead of
±65°, which is behind the plane of the backdrop; nothing else is moved.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from benchmarks.turns import Trial, trial
from throughlight.setup import Setup, loads
from throughlight.stage.build import build
from throughlight.trace.driver import Outcome, Target, run
from throughlight.trace.expose import FILM, FRONT
from throughlight.trace.tables import Stage

ROOT = Path(__file__).resolve().parent.parent
COLUMNS, ROWS = 512, 384
EVERYTHING = 15  # all regions
LIT_ANGLE, DARK_ANGLE = 65, 50  # of the lamps from the line behind the subject, degrees
REPLICATES = 64
_FRAME, _DISTANCE = (0.2, 0.15), 0.8  # the frame in the plane of focus, and how far that is from the lens, m
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709


class Area(NamedTuple):
    """Rows and columns of pixels, from the first to one past the last.

    `step` is the side of the square of pixels that our tracer keeps one sum for: a reading needs no finer ones.
    """

    rows: tuple[int, int]
    columns: tuple[int, int]
    step: int

    @property
    def pixels(self) -> int:
        """Return how many pixels it has."""
        return (self.rows[1] - self.rows[0]) * (self.columns[1] - self.columns[0])


SUBJECT = Area((142, 242), (206, 306), 2)  # the middle of the slab
PATCH = Area((16, 80), (16, 80), 16)  # backdrop alone
PICTURE = Area((0, ROWS), (0, COLUMNS), 1)


def reference_text(angle: int = LIT_ANGLE) -> str:
    """Return the set's text with its lamps at an angle from the line behind the subject, degrees."""
    text = (ROOT / "tests" / "sets" / "backlit_slab.toml").read_text(encoding="utf-8")
    return text.replace("115 deg", f"{180 - angle} deg")


def like_the_peer(setup: Setup, luminance: float = 1.0) -> Stage:
    """Return a set's stage with a pinhole, lamps of this luminance × time, and the peer's rough boundary."""
    stage, _ = build(setup)
    stage.lens["pupil"] = 0.0
    stage.skins[:] = 0
    for band in ("red", "green", "blue"):
        stage.heads[band] = luminance
    return stage


def reference_stage(angle: int = LIT_ANGLE) -> Stage:
    """Return the stage of the reference set, or of its dark variant."""
    return like_the_peer(loads(reference_text(angle)))


def film_target(area: Area) -> Target:
    """Return what looks at an area of the film."""
    columns, rows = COLUMNS // area.step, ROWS // area.step
    down, across = (np.arange(*edges)[:: area.step] // area.step for edges in (area.rows, area.columns))
    cells = (down[:, None] * columns + across[None, :]).ravel()
    return Target(FILM, columns, rows, cells.astype(np.int64), EVERYTHING)


def front_target() -> Target:
    """Return what gathers light from outside the picture angle on the front element."""
    return Target(FRONT, 1, 1, np.zeros(1, np.int64), EVERYTHING)


def trace(stage: Stage, target: Target, paths: int, seed: int, threads: int | None = None) -> Outcome:
    """Trace a target with at least so many paths for each of 64 replicates."""
    return run(
        stage, {"it": target}, lambda tallies: {"it"} if tallies["it"].rays < paths else set(),
        seed=seed, threads=threads, replicates=REPLICATES,
    )  # fmt: skip


def _weights(target: Target) -> NDArray[np.float64]:
    """Return by what each cell's luminance is counted: without the natural falloff, which the peer's film lacks."""
    if target.mode != FILM:
        return np.ones(1)
    x = ((target.cells % target.columns + 0.5) / target.columns - 0.5) * _FRAME[0]
    y = ((target.cells // target.columns + 0.5) / target.rows - 0.5) * _FRAME[1]
    weights: NDArray[np.float64] = (1.0 + (x * x + y * y) / _DISTANCE**2) ** 2
    return weights


def ours(stage: Stage, target: Target, paths: int) -> Callable[[int], Trial]:
    """Return a function that estimates a target's mean luminance (at the lens lx·s), a new seed each turn."""
    weights = _weights(target)

    def estimate(seed: int) -> tuple[NDArray[np.float64], int]:
        tally = trace(stage, target, paths, seed).tallies["it"]
        means: NDArray[np.float64] = tally.cells.sum(axis=2) @ _LUMINANCE @ weights / tally.rays
        return means, tally.rays

    return lambda seed: trial(lambda: estimate(seed))
