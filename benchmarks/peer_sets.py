"""The reference set for Mitsuba, at its best setting: `volpath`, roulette from bounce 50, one rendering a turn.

An area of the film is a cropped rendering; its replicates are the pixels of interleaved lattices, each spread evenly
over the area. For light from outside the picture angle the peer has no estimator of its own that is worth the name: its
irradiance sensor never aims at a lamp and counts what is in the frame. So rays are handed to its integrator one by one:
from the disc of the front element, spread by the cosine, without those that go through the frame (those would be
another reading). The flags hide both lamps from the whole disc, so no lamp needs to be aimed at from there.
"""

from __future__ import annotations

import importlib
import math
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.reference import COLUMNS, LIT_ANGLE, ROOT, ROWS, Area
from benchmarks.turns import Trial, trial

_FRAME = (100.0, 75.0)  # half width and height in the plane of the subject, mm
_DISTANCE = 800.0  # of the lens from it, mm
_FRONT = 20.0  # radius of the front element, mm
_LATTICE = 8
_LAMP = (600.0, 60.0)  # distance from the subject and radius, mm
_BLOCKS = 256
_BANDS = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709


def description(mi: Any, angle: int = LIT_ANGLE) -> dict[str, Any]:  # noqa: ANN401 - untyped
    """Return the reference set with its lamps at an angle from the line behind the subject, degrees."""
    sys.path.insert(0, str(ROOT / "tests" / "validation"))
    try:
        sets = importlib.import_module("mitsuba_peer")
    finally:
        sys.path.pop(0)
    told: dict[str, Any] = sets.backlit_slab(mi)
    away, radius = _LAMP
    for side, name in ((-1, "left"), (1, "right")):
        at = [side * away * math.sin(math.radians(angle)), 0, -away * math.cos(math.radians(angle))]
        told[f"{name}_lamp"] = sets.lamp(mi, "disk", at, [0, 0, 0], radius)
    return told


def cropped(told: dict[str, Any], area: Area) -> dict[str, Any]:
    """Return a description whose film is an area alone."""
    crop = {
        "crop_offset_x": area.columns[0], "crop_offset_y": area.rows[0],
        "crop_width": area.columns[1] - area.columns[0], "crop_height": area.rows[1] - area.rows[0],
    }  # fmt: skip
    film = {**told["sensor"]["film"], "width": COLUMNS, "height": ROWS, **crop}
    return {**told, "sensor": {**told["sensor"], "film": film}}


def lattices(pixels: NDArray[np.float64], step: int = _LATTICE) -> NDArray[np.float64]:
    """Return the means of the step² lattices of a picture (h, w) that take every step-th pixel both ways."""
    return np.array([pixels[i::step, j::step].mean() for i in range(step) for j in range(step)])


def film_turn(mi: Any, angle: int, area: Area, samples: int) -> Callable[[int], Trial]:  # noqa: ANN401 - untyped
    """Return a function that renders an area, `samples` a pixel, with a new seed each turn."""
    scene = mi.load_dict(cropped(description(mi, angle), area))

    def estimate(seed: int) -> tuple[NDArray[np.float64], int]:
        means = lattices(np.array(mi.render(scene, spp=samples, seed=seed)[..., :3], np.float64) @ _BANDS)
        return means, samples * area.pixels // len(means)

    return lambda seed: trial(lambda: estimate(seed))


def front_turn(mi: Any, angle: int, rays: int) -> Callable[[int], Trial]:  # noqa: ANN401 - untyped
    """Return a function that estimates the irradiance on the front element from outside the picture angle.

    Needs a vectorised variant. `rays` is rounded up to a multiple of the 256 blocks that serve as replicates.
    """
    scene = mi.load_dict(description(mi, angle))
    paths = -(-rays // _BLOCKS)
    count = paths * _BLOCKS

    def estimate(seed: int) -> tuple[NDArray[np.float64], int]:
        sampler = mi.load_dict({"type": "independent"})
        sampler.seed(seed, count)
        disc = mi.warp.square_to_uniform_disk_concentric(sampler.next_2d()) * _FRONT
        local = mi.warp.square_to_cosine_hemisphere(sampler.next_2d())
        ray = mi.RayDifferential3f(mi.Point3f(disc.x, disc.y, _DISTANCE), mi.Vector3f(local.x, local.y, -local.z))
        reach = _DISTANCE / local.z
        across, up = disc.x + reach * local.x, disc.y + reach * local.y
        outside = (abs(across) > _FRAME[0]) | (abs(up) > _FRAME[1])
        seen, _, _ = scene.integrator().sample(scene, sampler, ray, active=outside)
        found = np.array(seen, np.float64).reshape(3, -1)
        counted = np.where(np.array(outside), _BANDS @ found, 0.0)
        return math.pi * counted.reshape(_BLOCKS, paths).mean(axis=1), paths

    return lambda seed: trial(lambda: estimate(seed))
