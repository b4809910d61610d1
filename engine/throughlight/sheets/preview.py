"""A preview: a picture file that soon shows something and is replaced by a better one again and again.

No readings are made, so there is no veil in it. What is exposed of the picture is enlarged smoothly to all of it; a
file is always whole. What stands in it is said in words, in the file too.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import throughlight
from throughlight.darkroom import denoiser, files, tone
from throughlight.readings.finishing import finish_words
from throughlight.readings.lattice import enlarged
from throughlight.readings.picture import Picture, Progress, expose_picture
from throughlight.setup import Setup
from throughlight.sheets.finished import finished
from throughlight.sheets.shot import credit

SCHEMA = "throughlight.preview/1"
NAME = "preview.png"

Floats = NDArray[np.floating]
Told = Callable[[str], None]
"""Called with what now stands in the file."""


@dataclass(frozen=True)
class Preview:
    """How a preview ended: the picture, its file, and whether that is denoised."""

    setup: Setup
    picture: Picture
    path: Path
    denoised: bool
    grain: float
    seed: int

    def as_json(self) -> dict[str, Any]:
        """Return everything as plain JSON data, units in the keys."""
        picture = self.picture
        ended = "interrupted" if picture.interrupted else "grain" if picture.finished else "samples or time"
        return {
            "schema": SCHEMA,
            "engine_version": throughlight.__version__,
            "title": self.setup.title,
            "words": standing(picture, denoised=self.denoised),
            "exposed_every_nth_pixel": picture.stride,
            "mean_samples_per_pixel": round(float(picture.samples.mean()), 3),
            "worst_grain_code_values": None if picture.worst_grain is None else round(picture.worst_grain, 3),
            "asked_grain_code_values": self.grain,
            "stopped_by": ended,
            "denoised": self.denoised,
            "readings_made": False,
            "veil_included": False,
            "seed": self.seed,
            "files": {"preview": str(self.path)},
        }


def preview(
    setup: Setup,
    folder: Path,
    *,
    grain: float = 3.0,
    most_samples: int = 512,
    time_limit: float | None = None,
    seed: int | None = None,
    threads: int | None = None,
    denoise: bool = False,
    progress: Progress | None = None,
    told: Told | None = None,
) -> Preview:
    """Write a preview into a folder and refine it in place until it is fine enough, or time is up, or Ctrl-C.

    Parameters
    ----------
    setup, grain, most_samples, time_limit, seed, threads, progress
        As for `throughlight.readings.picture.expose_picture`.
    folder
        Where to put the file; made when it is missing.
    denoise
        Whether to take the grain out of what is shown.
    told
        Called after each writing with what stands in the file.

    Returns
    -------
    Preview
        With the picture as it stands in the file.

    Raises
    ------
    ValueError
        When the picture is too large to be held in memory.
    OSError
        When the file cannot be written.
    RuntimeError
        When no denoiser is there, or it fails.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / NAME

    written = (0, 0)

    def write(picture: Picture) -> None:
        nonlocal written
        if picture.stride == 0:
            return  # there is nothing to show yet
        # Of a finer lattice that is under way nothing is shown, unless it is the last one.
        step = 1 if picture.stride <= 2 and not denoise else picture.stride
        state = (picture.stride, int(picture.samples[::step, ::step].sum()))
        if state == written:
            return
        write_preview(path, setup, picture, denoised=denoise)
        written = state
        if told is not None:
            told(standing(picture, denoised=denoise))

    picture = expose_picture(
        setup, grain=grain, most_samples=most_samples, time_limit=time_limit, seed=seed, threads=threads,
        guided=denoise, progress=progress, watch=write,
    )  # fmt: skip
    write(picture)
    return Preview(setup, picture, path, denoise, grain, setup.seed if seed is None else seed)


def standing(picture: Picture, *, denoised: bool) -> str:
    """Return what stands in the file, in words."""
    if picture.stride == 0:
        return "nothing is exposed yet"
    what = "every pixel" if picture.stride == 1 else f"every {_ordinal(picture.stride)} pixel each way, enlarged"
    taken = picture.samples[:: picture.stride, :: picture.stride]
    fewest, most = int(taken.min()), int(taken.max())
    samples = f"{fewest} samples" if fewest == most else f"{fewest} to {most} samples"
    grain = "" if picture.worst_grain is None else f", grain up to {picture.worst_grain:.1f} code values"
    return f"{what}, {samples}{grain}{', denoised' if denoised else ''}; no veil"


def _ordinal(number: int) -> str:
    return {2: "2nd"}.get(number, f"{number}th" if number % 10 != 2 or number == 12 else f"{number}nd")


def write_preview(path: Path, setup: Setup, picture: Picture, *, denoised: bool) -> None:
    """Develop what is exposed so far, enlarged to the whole picture, and put it in the file's place.

    Raises
    ------
    OSError
        When the file cannot be written.
    RuntimeError
        When no denoiser is there, or it fails.
    """
    shown = finished(setup, whole(picture, denoised=denoised))
    words = "; ".join(filter(None, (f"Preview: {standing(picture, denoised=denoised)}", finish_words(setup))))
    told = {**credit(setup), "description": words, **({"Denoised": denoiser.MARK} if denoised else {})}
    files.write_png(path, tone.develop(shown, setup.camera.iso), told, small=False)


def whole(picture: Picture, *, denoised: bool) -> Floats:
    """Return exposures of the whole picture, (h, w, 3) lx·s, from the pixels that are exposed.

    What a finer lattice has begun is shown where all four pixels of a place are there, but not denoised, since a
    denoiser wants an even grain.
    """
    exposure, step = picture.exposure, picture.stride
    height, width = exposure.shape[:2]
    coarse = exposure[::step, ::step]
    if denoised and picture.guides is not None:
        albedo, normal = (guide[::step, ::step] for guide in picture.guides)
        coarse = denoiser.denoised(coarse, albedo, normal)
    full = enlarged(coarse, step, width, height)
    if step == 1 or denoised:
        return full
    known = picture.samples > 0
    even = known[: height // 2 * 2, : width // 2 * 2].reshape(height // 2, 2, width // 2, 2).all(axis=(1, 3))
    there = np.zeros_like(known)
    there[: height // 2 * 2, : width // 2 * 2] = even.repeat(2, axis=0).repeat(2, axis=1)
    return np.where(there[:, :, None], exposure, full)
