"""Tiny sets that between them meet every kind of shape, surface, body, head and sampler.

Run as a program this file traces them and writes their figures beside itself, to be compared with later runs in other
modes of execution: `python tests/execution/tiny_sets.py`, in the ordinary, compiled mode.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from light_sets import bare_lens, curved_heads, finishes, moved
from matter_sets import mapped, nested, smooth
from plain_sets import mesh, opaque, opaque_mesh, polished, rough

from throughlight.trace.driver import Target, empty_tally
from throughlight.trace.expose import FILM, FRONT, PICTURE, expose, sort_film
from throughlight.trace.tables import Region, Stage

FIGURES = Path(__file__).with_name("figures.json")

SETS = {
    "opaque": opaque,
    "polished": polished,
    "rough": rough,
    "mesh": mesh,
    "opaque mesh": opaque_mesh,
    "nested": nested,
    "mapped": mapped,
    "smooth": smooth,
    "finishes": finishes,
    "curved heads": curved_heads,
    "moved": moved,
    "bare lens": bare_lens,
}
SAMPLERS = {FILM: "film", PICTURE: "picture", FRONT: "front"}
_ALL_REGIONS = 15


class Grid(NamedTuple):
    """Which cells of how fine a grid on the film are traced, with how many paths by sampler, a cell or in all.

    In the picture only paths that meet one of the regions in `followed` first are followed.
    """

    columns: int
    rows: int
    cells: tuple[int, ...]
    paths: dict[int, int]
    followed: int = _ALL_REGIONS


MIDDLE = Grid(4, 4, (5, 6, 9, 10), {FILM: 300, PICTURE: 40, FRONT: 300}, 1 << Region.SUBJECT)


def trace(stage: Stage, grid: Grid = MIDDLE) -> dict[str, list[float]]:
    """Return what each sampler finds: sums by layer and band, by route, rays by region, what sees the lens."""
    told: dict[str, list[float]] = {}
    for mode, name in SAMPLERS.items():
        if mode not in grid.paths:
            continue
        cells = np.array((0,) if mode == FRONT else grid.cells, np.int64)
        mask = grid.followed if mode == PICTURE else _ALL_REGIONS
        target = Target(mode, grid.columns, grid.rows, cells, mask)
        tally = empty_tally(stage, target, 1)
        status = expose(
            stage, mode, grid.columns, grid.rows, cells, 3, grid.paths[mode], 11, 2, target.mask,
            tally.cells[0], tally.routes[0], tally.counts[0], tally.seen[0],
        )  # fmt: skip
        told[f"{name} by layer and band"] = tally.cells[0].sum(axis=0).ravel().tolist()
        told[f"{name} by route"] = tally.routes[0].sum(axis=2).ravel().tolist()
        told[f"{name} counts"] = [*tally.counts[0].ravel().tolist(), *tally.seen[0].tolist(), *map(int, status)]
    counts, touched = np.zeros((grid.columns * grid.rows, 4), np.int64), np.zeros(len(stage.parts), np.int64)
    sort_film(stage, grid.columns, grid.rows, 2, counts, touched)
    told["sorted film"] = [*counts.ravel().tolist(), *touched.tolist()]
    return told


def compare(found: dict[str, list[float]], expected: dict[str, list[float]]) -> None:
    """Assert that two modes found the same: counts exactly, sums to 1e-9.

    Modes may differ in the last bits, by fused multiply-adds and another libm.
    """
    assert found.keys() == expected.keys()
    for what, values in found.items():
        if what.endswith("counts") or what == "sorted film":
            assert values == expected[what], what
        else:
            scale = max(map(abs, expected[what]), default=0.0)
            np.testing.assert_allclose(values, expected[what], rtol=1e-9, atol=1e-12 * scale, err_msg=what)


if __name__ == "__main__":
    FIGURES.write_text(json.dumps({name: trace(make()) for name, make in SETS.items()}, indent=1) + "\n")
