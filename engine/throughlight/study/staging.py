"""Sets laid out for tracing, many that are nearly alike: what is the same in the next one is not worked out again.

Three things cost time beside a trace: the tree over a mesh's triangles, how walks are led to the light in a thick body,
and sorting the film by what it sees. Trees are kept by their corners in the world, ways to the light by the body and
what shines on it. The sorting is kept by all that a camera ray can meet: things whose box lies wholly
outside the view, a head behind the subject moved to another bearing, leave it as it is. The view is taken a little too
wide, all rays from the pupil through the frame: at the distance d before the lens

    |x| ≤ p + (w + p)·d/f,

for the pupil's radius p, half the frame's width w in the plane of focus and the distance f to there.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import Any, Generic, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.regions import Regions, sort_regions, targets
from throughlight.setup import Setup
from throughlight.stage.build import build
from throughlight.stage.meshes import Body, Pools, SmoothBody, mesh_tables
from throughlight.trace.driver import Target
from throughlight.trace.tables import ShapeKind, Stage

V = TypeVar("V")

_MESHES, _SIGHTS, _SETS, _LEADS = 4, 16, 64, 64
_CORNERS = np.array([[(i >> axis) & 1 for axis in range(3)] for i in range(8)], np.bool_)


class Staged(NamedTuple):
    """A set laid out, and the samplers of its readings by name."""

    stage: Stage
    looks: dict[str, Target]


class _Kept(Generic[V]):
    """The last few of what was made, by key."""

    def __init__(self, most: int) -> None:
        self.most, self.made = most, OrderedDict[str, V]()

    def get(self, key: str, make: Callable[[], V]) -> V:
        """Return what was made for a key, made now if it isn't kept; the one longest unused makes room."""
        if key not in self.made:
            self.made[key] = make()
            if len(self.made) > self.most:
                self.made.popitem(last=False)
        self.made.move_to_end(key)
        return self.made[key]


class Stager:
    """Lays sets out one after the other; for one thread."""

    def __init__(self) -> None:
        self._meshes: _Kept[Pools] = _Kept(_MESHES)
        self._sights: _Kept[Regions] = _Kept(_SIGHTS)
        self._sets: _Kept[Staged] = _Kept(_SETS)
        self._leads: _Kept[Any] = _Kept(_LEADS)
        self._bodies = ""

    def staged(self, key: str, setup: Setup) -> Staged:
        """Return a set laid out; `key` stands for all of it that a trace depends on.

        Raises
        ------
        SetupError
            When a mesh file cannot be read any more.
        """
        return self._sets.get(key, lambda: self._stage(setup))

    def _stage(self, setup: Setup) -> Staged:
        self._bodies = ""
        stage, _ = build(setup, lay=self._lay, recall=self._recall)
        sight = hashlib.sha256(repr((setup.camera.sensor_width, setup.camera.sensor_height)).encode())
        sight.update(sight_of(stage, self._bodies))
        regions = self._sights.get(sight.hexdigest(), lambda: sort_regions(stage, setup))
        return Staged(stage, targets(regions, setup.spots))

    def _lay(self, bodies: Sequence[Body | SmoothBody]) -> Pools:
        digest = hashlib.sha256()
        for tables in bodies:
            for part in tables:
                digest.update(b"none" if part is None else np.ascontiguousarray(part).tobytes())
        self._bodies = digest.hexdigest()
        return self._meshes.get(self._bodies, lambda: mesh_tables(bodies))

    def _recall(self, key: bytes, make: Callable[[], Any]) -> Any:  # noqa: ANN401 - whatever the tracer keeps
        return self._leads.get(f"{self._bodies} {key.hex()}", make)


def sight_of(stage: Stage, bodies: str) -> bytes:
    """Return bytes that are the same for two stages whose film sees the same.

    Parameters
    ----------
    stage
        The stage.
    bodies
        What stands for its meshes.
    """
    lens = stage.lens[0]
    seen = np.ones(len(stage.shapes), np.bool_) if lens["moved"] else _in_view(stage)
    shapes = stage.shapes[seen].copy()
    faces = [stage.parts[shapes["part"] + side] for side in (0, 1)]
    shapes["part"] = shapes["head"] = shapes["medium"] = 0
    told = [lens.tobytes(), shapes.tobytes()]
    if (shapes["kind"] == ShapeKind.MESH).any():
        told.append(bodies.encode())
    for face in faces:
        for name in ("region", "surface", "straight_red", "straight_green", "straight_blue"):
            told.append(np.ascontiguousarray(face[name]).tobytes())
    return b"|".join(told)


def _in_view(stage: Stage) -> NDArray[np.bool_]:
    """Return which shapes' boxes are not wholly outside what the lens can see."""
    lens, shapes = stage.lens[0], stage.shapes
    low, high = (np.stack([shapes[f"{end}_{axis}"] for axis in "xyz"], axis=1) for end in ("lo", "hi"))
    corners = np.where(_CORNERS, high[:, None, :], low[:, None, :])
    corners = corners - np.array([lens[f"o{axis}"] for axis in "xyz"])
    right, up, back = (corners @ np.array([lens[f"{letter}{axis}"] for axis in "xyz"]) for letter in "tbn")
    ahead, pupil, focus = -back, float(lens["pupil"]), float(lens["focus"])
    outside: NDArray[np.bool_] = (ahead < 0.0).all(axis=1)
    for across, half in ((right, float(lens["half_width"])), (up, float(lens["half_height"]))):
        reach = pupil + (half + pupil) / focus * ahead
        outside |= (across > reach).all(axis=1) | (-across > reach).all(axis=1)
    return ~outside
