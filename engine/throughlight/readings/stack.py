"""A focus stack: where to focus so that frame after frame the whole depth of the subject is sharp.

A point is sharp at its film distance D_p, and a frame taken at D draws it d·|D/D_p − 1| wide (pupil d, see
`throughlight.photometry.movements`). Frames are therefore spaced evenly in D, from the subject's nearest point to its
farthest: the sharp ranges of neighbours just touch half way between them when their step is

    Δ = 2·N·c·(1 + m/P),

for the circle of confusion c and the magnification m there, which is smallest at the far end. In the set that is a step
of 2·N·c·(1 + m/P)/m², the depth of field.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from throughlight.photometry import field, movements
from throughlight.readings.camera import camera_reading
from throughlight.readings.figures import length_words
from throughlight.setup import Camera, Setup

FEWEST, MOST = 2, 200
"""Frames of a stack."""
_SAME = 1e-9


@dataclass(frozen=True)
class FocusStack:
    """The frames of a stack, from near to far; lengths in m.

    Attributes
    ----------
    distances
        Where each frame is focused, from the lens along the camera's axis.
    middle
        Where the readings are taken: half way, counted on the film's side.
    covering_step
        The step at the near end that just covers: 2·N·c·(1 + m/P)/m².
    covering_frames
        The fewest frames that leave nothing of the depth unsharp.
    overlap
        The part of a frame's sharp range that the next one holds too; negative where there is a gap.
    circle
        Circle of confusion.
    """

    distances: tuple[float, ...]
    middle: float
    covering_step: float
    covering_frames: int
    overlap: float
    circle: float

    @property
    def covers(self) -> bool:
        """Return whether these frames hold the whole depth."""
        return len(self.distances) >= self.covering_frames

    @property
    def words(self) -> tuple[str, ...]:
        """Return the stack in sentences."""
        count, circle = len(self.distances), f"circle of confusion {1e6 * self.circle:.0f} µm"
        first, last = length_words(self.distances[0]), length_words(self.distances[-1])
        steps = f"{count} frames focused from {first} to {last}"
        step = f"a step of {length_words(self.covering_step)} at the near end covers the depth ({circle})"
        if self.covers:
            held = f"{count} frames cover it, each sharing {100.0 * self.overlap:.0f} % of its depth with the next"
        else:
            held = f"{count} frames leave gaps; {self.covering_frames} frames would cover it"
        return steps, step, held

    def as_json(self) -> dict[str, Any]:
        """Return the stack with units in its keys."""
        return {
            "focus_distances_mm": [1e3 * distance for distance in self.distances],
            "readings_focus_distance_mm": 1e3 * self.middle,
            "covering_step_mm": 1e3 * self.covering_step,
            "covering_frames": self.covering_frames,
            "covers": self.covers,
            "overlap_fraction": self.overlap,
            "circle_of_confusion_um": 1e6 * self.circle,
        }


def focus_stack(setup: Setup, frames: int) -> FocusStack:
    """Return where to focus the frames of a stack.

    Raises
    ------
    ValueError
        If the number of frames is not from 2 to 200, there is no subject, or a part of it cannot be focused on; the
        message is a sentence for the photographer.
    """
    if not FEWEST <= frames <= MOST:
        raise ValueError(f"found a stack of {frames} frames; from {FEWEST} to {MOST} would fit")
    camera = setup.camera
    subject = camera_reading(setup).subject
    if subject is None:
        raise ValueError("a focus stack goes through the depth of the subject, and the set has none")
    film = movements.film(camera.focal, camera.focus, camera.movements)
    outline = subject.outline
    if bool((outline @ film.axis <= camera.focal).any()) or bool((outline[:, 2] <= 0.0).any()):
        raise ValueError("a part of the subject is nearer than the focal length: no lens focuses there")
    sharp = movements.film_distances(film, outline)
    near, far = float(sharp.max()), float(sharp.min())
    circle = field.circle_of_confusion(camera.sensor_width, camera.sensor_height)
    widest = _covering(camera, far, circle)
    step = (near - far) / (frames - 1)
    magnification = near / camera.focal - 1.0
    return FocusStack(
        distances=tuple(_focus(camera, film, float(place)) for place in np.linspace(near, far, frames)),
        middle=_focus(camera, film, 0.5 * (near + far)),
        covering_step=2.0 * circle * _working(camera, near) / magnification**2,
        covering_frames=1 + math.ceil((near - far) / widest - _SAME),
        overlap=1.0 - step / widest,
        circle=circle,
    )


def _working(camera: Camera, distance: float) -> float:
    """Return N·(1 + m/P) at a film distance."""
    return camera.f_number * (1.0 + (distance / camera.focal - 1.0) / camera.pupil_magnification)


def _covering(camera: Camera, far: float, circle: float) -> float:
    """Return the film step whose half-way point before the far end is just sharp: 2·c·N_w there, m."""
    return 2.0 * circle * _working(camera, far) / (
        1.0 - circle * camera.f_number / (camera.focal * camera.pupil_magnification)
    )  # fmt: skip


def _focus(camera: Camera, film: movements.Film, distance: float) -> float:
    """Return the focus along the camera's axis, m, that brings the film to a distance from the lens."""
    image = distance / float(film.film_axes[2, 2])
    ahead = image * float(film.lens_axes[2, 2]) - camera.focal
    if ahead <= 0.0:
        raise ValueError(
            "with these movements the camera's axis meets the subject's plane of focus nowhere; less would fit"
        )
    return image * camera.focal / ahead
