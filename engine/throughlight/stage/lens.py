"""From the camera to the record of its lens."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from throughlight.photometry.field import image_distance
from throughlight.photometry.movements import film, turned
from throughlight.setup import Camera, Setup
from throughlight.stage.frames import Array, facing
from throughlight.stage.rows import frame_fields


def camera_axes(camera: Camera) -> Array:
    """Return the unmoved camera's right, up and forward in the world, as columns."""
    frame = facing(camera.at, camera.aim, camera.roll)
    axes: Array = np.stack([-frame[:, 0], frame[:, 1], frame[:, 2]], axis=1)
    return axes


def lens_row(setup: Setup) -> dict[str, Any]:
    """Return the fields of the LENS."""
    camera = setup.camera
    axes = camera_axes(camera)
    if camera.movements.any:
        axes = axes @ turned(camera.tilt, camera.swing)
    # The frame of a lens has z backwards, out of the camera's back.
    backward = axes * np.array([1.0, 1.0, -1.0])
    magnification = camera.focal / (camera.focus - camera.focal)
    (_, front), (_, mouth) = camera.rings
    return {
        **frame_fields(camera.at, backward),
        "focus": camera.focus,
        "half_width": camera.sensor_width / 2.0 / magnification,
        "half_height": camera.sensor_height / 2.0 / magnification,
        "pupil": camera.focal / camera.f_number / 2.0,
        "blades": camera.blades,
        "turned": math.remainder(camera.blade_turn / (2.0 * math.pi), 1.0 / max(camera.blades, 1)),
        "front": front,
        "depth": camera.pupil_depth,
        "hood": camera.hood,
        "mouth": mouth,
        "past_supports": int(setup.finish.hide_supports and setup.finish.support_shadows),
        **_moved_film(camera),
    }


def _moved_film(camera: Camera) -> dict[str, float]:
    """Return where a moved film stands in the lens's frame: middle, right half and upper half, upright."""
    if not camera.movements.any:
        return {}
    place = film(camera.focal, camera.focus, camera.movements)
    into_lens = np.diag([1.0, 1.0, -1.0]) @ place.lens_axes.T @ place.film_axes
    sides = (
        ("film", np.array([*place.centre, place.distance])),
        ("wide", np.array([camera.sensor_width / 2.0, 0.0, 0.0])),
        ("high", np.array([0.0, camera.sensor_height / 2.0, 0.0])),
    )
    fields = {
        f"{name}_{axis}": float(value)
        for name, side in sides
        for axis, value in zip("xyz", into_lens @ side, strict=True)
    }
    unmoved = image_distance(camera.focal, camera.focus)
    return {"moved": 1, "focal": camera.focal, "bright": place.distance * unmoved * unmoved, **fields}
