"""P5: closest hits of rays with a mesh of 80 000 triangles on one thread, against Embree through `embreex`."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from benchmarks import peers
from benchmarks.blobs import Floats, blob, coherent_rays, incoherent_rays, stage_of
from benchmarks.found import Effort, Found, Row
from benchmarks.reference import reference_stage
from benchmarks.turns import medians, timed
from throughlight.optics.kernel import entry
from throughlight.trace.intersect import closest
from throughlight.trace.tables import Stage

TRIANGLES = 80_000
RAYS = 1 << 20
_FAR = 1e3  # m; Embree tells a larger distance for rays that meet nothing


@entry
def _distances(stage, origins, directions, found):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202 - a kernel
    """Fill `found` with the distance of each ray's first hit, inf where there is none."""
    for i in range(len(origins)):
        origin = (origins[i, 0], origins[i, 1], origins[i, 2])
        direction = (directions[i, 0], directions[i, 1], directions[i, 2])
        found[i] = closest(stage, origin, direction, np.inf)[0]


@functools.cache
def empty_stage() -> Stage:
    """Return a stage whose tables serve a body that stands alone."""
    return reference_stage()


def distances(stage: Stage, origins: Floats, directions: Floats) -> NDArray[np.float64]:
    """Return the distance of each ray's first hit, m; inf where there is none."""
    found = np.empty(len(origins))
    _distances(stage, origins, directions, found)
    return found


def _agreement(ours: NDArray[np.float64], peer: NDArray[np.float32]) -> float:
    """Return the share of rays for which both found the same distance to a part in a thousand, or both found none."""
    nothing = (ours > _FAR) & (peer > _FAR)
    return float(np.mean(nothing | (np.abs(ours - peer) < 1e-3 * np.minimum(ours, _FAR))))


class _Scene(Protocol):
    """What is used of the peer's scene; its library is untyped."""

    def run(self, origins: Floats, directions: Floats, *, query: str) -> Floats:
        """Return each ray's distance to its first hit."""


def _row(
    name: str, stage: Stage, scene: _Scene | None, rays: tuple[Floats, Floats], goals: tuple[float, ...], turns: int
) -> Row:
    origins, directions = rays
    single = tuple(np.ascontiguousarray(one, np.float32) for one in rays)

    def us(_: int) -> float:
        return timed(lambda: distances(stage, origins, directions))

    def peer(_: int) -> float:
        return timed(lambda: scene.run(*single, query="DISTANCE"))

    doers: dict[str, Callable[[int], float]] = {"ours": us} if scene is None else {"ours": us, "peer": peer}
    speed = {doer: len(origins) / seconds * 1e-6 for doer, seconds in medians(doers, turns).items()}
    what = f"{name} closest hits, one thread"
    if scene is None:
        return Row("P5", what, "M/s", speed["ours"], goals=goals, note=peers.MISSING)
    same = _agreement(distances(stage, origins, directions), scene.run(*single, query="DISTANCE"))
    return Row("P5", what, "M/s", speed["ours"], speed["peer"], speed["ours"] / speed["peer"], goals,
               note=f"the same hit for {same:.4%} of the rays; ratio is ours ÷ peer")  # fmt: skip


def measure(effort: Effort) -> Found:
    """Return P5, and the same for coherent rays."""
    corners, faces = blob(TRIANGLES)
    stage = stage_of(empty_stage(), corners, faces)
    make = peers.embree()
    scene = None if make is None else make(corners, faces)
    count = effort.of(RAYS)
    return Found(
        (
            _row("incoherent", stage, scene, incoherent_rays(count, 1), (0.6, 0.8), effort.turns),
            _row("coherent", stage, scene, coherent_rays(count), (), effort.turns),
        ),
        details={"P5": {"triangles": len(faces), "rays": count}},
    )
