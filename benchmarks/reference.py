"""The subject reading on the reference set: relative variance of a path × time of a path, ours and Mitsuba's.

Both trace the same region of the same set (`tests/sets/backlit_slab.toml`) on all cores, in turns. The product is what
counts: halving the variance or the time of a path both halve the time to a given error.
"""

from __future__ import annotations

import math
import os
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Trial = tuple[NDArray[np.float64], int, float]
"""Replicate means, paths of each replicate, seconds."""

Turn = Callable[[int], Trial]

ROOT = Path(__file__).resolve().parent.parent
ROWS, COLUMNS = (142, 242), (206, 306)  # of 384 × 512 pixels: the middle of the slab
_TURNS = 5
_PATHS = 1 << 12  # of each of 16 replicates
_SAMPLES = 8  # of the peer, a pixel, for each of 16 seeds


def _ours() -> Turn:
    """Return a function that traces the region once."""
    import throughlight as tl
    from throughlight.stage.build import build
    from throughlight.trace.driver import Target, run
    from throughlight.trace.expose import FILM

    stage, _ = build(tl.load(ROOT / "tests" / "sets" / "backlit_slab.toml"))
    stage.lens["pupil"] = 0.0
    stage.skins[:] = 0  # the peer's rough boundary loses what meets a second facet: like is compared with like
    for band in ("red", "green", "blue"):
        stage.heads[band] = 1.0
    cells = np.array([row * 512 + column for row in range(*ROWS) for column in range(*COLUMNS)], np.int64)
    target = {"it": Target(FILM, 512, 384, cells, 15)}

    def turn(seed: int) -> Trial:
        begun = time.perf_counter()
        outcome = run(stage, target, lambda tallies: {"it"} if tallies["it"].rays < _PATHS else set(), seed=seed)
        tally = outcome.tallies["it"]
        means = tally.cells.sum(axis=(1, 2)) @ np.array([0.2126, 0.7152, 0.0722]) / tally.rays
        return means, tally.rays, time.perf_counter() - begun

    return turn


def _peer() -> tuple[Turn, str]:
    """Return the same for Mitsuba, and the name of its variant."""
    import mitsuba as mi

    sys.path.insert(0, str(ROOT / "tests"))
    from validation.mitsuba_peer import backlit_slab

    # With an unsuitable libLLVM the faster variant ends the whole process, so it is used only when one is named.
    variant = "llvm_ad_rgb" if "DRJIT_LIBLLVM_PATH" in os.environ else "scalar_rgb"
    mi.set_variant(variant)
    description = backlit_slab(mi)
    crop = {
        "crop_offset_x": COLUMNS[0], "crop_offset_y": ROWS[0],
        "crop_width": COLUMNS[1] - COLUMNS[0], "crop_height": ROWS[1] - ROWS[0],
    }  # fmt: skip
    sensor = {**description["sensor"], "film": {**description["sensor"]["film"], **crop}}
    scene = mi.load_dict({**description, "sensor": sensor})
    pixels = (COLUMNS[1] - COLUMNS[0]) * (ROWS[1] - ROWS[0])

    def turn(seed: int) -> Trial:
        begun = time.perf_counter()
        means = [np.mean(np.array(mi.render(scene, spp=_SAMPLES, seed=100 * seed + i))[..., :3]) for i in range(16)]
        return np.array(means), _SAMPLES * pixels, time.perf_counter() - begun

    return turn, variant


def subject_efficiency() -> dict[str, Any]:
    """Return P1 as a dictionary: both products, their ratio, and what they are made of."""
    ours, (peer, variant) = _ours(), _peer()
    ours(0), peer(0)
    times, spreads = {"ours": [], "peer": []}, {"ours": [], "peer": []}
    for seed in range(1, _TURNS + 1):
        for name, turn in (("ours", ours), ("peer", peer)):
            means, paths, seconds = turn(seed)
            times[name].append(seconds / (paths * len(means)) * 1e6)
            spreads[name].append(float(np.var(means, ddof=1) / np.mean(means) ** 2 * paths))
    told = {"peer_variant": variant}
    for name in times:
        told[f"{name}_us_per_path"] = statistics.median(times[name])
        told[f"{name}_relative_variance"] = statistics.mean(spreads[name])
        told[f"{name}_us"] = told[f"{name}_us_per_path"] * told[f"{name}_relative_variance"]
    told["ratio"] = told["peer_us"] / told["ours_us"]
    # Each variance comes from 5 × 15 degrees of freedom, so the ratio of two is known to about this factor.
    told["ratio_error_factor"] = math.exp(math.sqrt(2 * 2 / (_TURNS * 15)))
    return told
