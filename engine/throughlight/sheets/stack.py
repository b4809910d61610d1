"""A focus stack on film: the readings half way through the subject, and a picture for each focus."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from throughlight.readings.meter import TOLERANCE, Progress, meter
from throughlight.readings.picture import Progress as PictureProgress
from throughlight.readings.picture import expose_picture
from throughlight.readings.reading import Readings
from throughlight.readings.stack import FocusStack
from throughlight.setup import Setup
from throughlight.sheets.shot import Shot, quiet, write_pictures, write_readings


def focused(setup: Setup, distance: float) -> Setup:
    """Return the set with its camera focused at a distance, m; the camera stays where it is."""
    return setup.model_copy(update={"camera": setup.camera.model_copy(update={"focus": distance})})


def read_stack(
    setup: Setup,
    stack: FocusStack,
    *,
    tolerance: float = TOLERANCE,
    time_limit: float | None = None,
    seed: int | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Readings:
    """Return the readings of a set focused half way through the stack; arguments as for `throughlight.meter`."""
    return meter(
        focused(setup, stack.middle), tolerance=tolerance, time_limit=time_limit, seed=seed, threads=threads,
        progress=progress,
    )  # fmt: skip


def shoot_frames(
    setup: Setup,
    stack: FocusStack,
    readings: Readings,
    *,
    grain: float = 3.0,
    most_samples: int = 512,
    time_limit: float | None = None,
    seed: int | None = None,
    threads: int | None = None,
    denoise: bool = False,
    progress: Callable[[int], PictureProgress | None] = lambda number: None,
) -> Iterator[Shot]:
    """Yield the stack's frames, from near to far, all under the veil of the readings; none after Ctrl-C.

    Parameters
    ----------
    setup, stack, readings
        The set, where to focus, and the readings half way.
    grain, most_samples, time_limit, seed, threads
        As for `throughlight.readings.picture.expose_picture`; the time limit holds for each frame.
    denoise
        As for `throughlight.shoot`.
    progress
        Returns the progress function of the frame of that number, from 1.

    Raises
    ------
    ValueError
        When a picture is too large to be held in memory.
    RuntimeError
        When no denoiser is there, or it fails.
    """
    for number, distance in enumerate(stack.distances, 1):
        at = focused(setup, distance)
        picture = expose_picture(
            at, grain=grain, most_samples=most_samples, time_limit=time_limit, seed=seed, threads=threads,
            guided=denoise, progress=progress(number),
        )  # fmt: skip
        yield Shot(at, readings, picture, quiet(picture))
        if picture.interrupted:
            return


def frame_mark(number: int, frames: int) -> str:
    """Return what a frame's files end with: -focus-01, counted from 1, with as many digits as the last one."""
    return f"-focus-{number:0{max(2, len(str(frames)))}d}"


def write_frame(shot: Shot, folder: Path, number: int, frames: int) -> dict[str, Path]:
    """Write the pictures of one frame and return what each file is, and where.

    Raises
    ------
    OSError
        When a file cannot be written.
    """
    return write_pictures(shot, folder, frame_mark(number, frames))


def stack_json(readings: Readings, stack: FocusStack) -> dict[str, Any]:
    """Return the readings with the stack, units in the keys."""
    return {**readings.as_json(), "focus_stack": stack.as_json()}


def write_stack_readings(readings: Readings, stack: FocusStack, folder: Path) -> Path:
    """Write the readings with the stack as JSON and return the path.

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    return write_readings(stack_json(readings, stack), folder)
