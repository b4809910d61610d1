"""From the camera to the record of its lens."""

from __future__ import annotations

from typing import Any

import numpy as np

from throughlight.setup import Setup
from throughlight.stage.frames import facing
from throughlight.stage.rows import frame_fields


def lens_row(setup: Setup) -> dict[str, Any]:
    """Return the fields of the LENS."""
    camera = setup.camera
    frame = facing(camera.at, camera.aim, camera.roll)
    # The frame of a lens has z backwards, out of the camera's back, and x to the camera's right.
    backward = np.stack([-frame[:, 0], frame[:, 1], -frame[:, 2]], axis=1)
    magnification = camera.focal / (camera.focus - camera.focal)
    return {
        **frame_fields(camera.at, backward),
        "focus": camera.focus,
        "half_width": camera.sensor_width / 2.0 / magnification,
        "half_height": camera.sensor_height / 2.0 / magnification,
        "pupil": camera.focal / camera.f_number / 2.0,
        "blades": camera.blades,
        "front": camera.front_element / 2.0,
        "hood": camera.hood,
    }
