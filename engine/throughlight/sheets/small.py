"""Small pictures of candidates, exposed quickly: for the eye and for telling candidates apart, read from nothing."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import files, finish, tone
from throughlight.photometry.exposure import mid_grey
from throughlight.readings.picture import Progress, expose_picture
from throughlight.setup import Setup

Colours = NDArray[np.uint8]

LONGEST = 480
"""Pixels of the longer side."""
_GRAIN = 6.0  # 8-bit code values
_MOST_SAMPLES = 128
_QUALITY = 88


def small_picture(
    setup: Setup,
    veil: float,
    *,
    longest: int = LONGEST,
    time_limit: float | None = None,
    seed: int | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Colours | None:
    """Return a set's picture, developed and finished as `shoot` does it, but small.

    Parameters
    ----------
    setup
        The checked description.
    veil
        The veil as it was read, stops over mid-grey, laid over the frame without colour; −inf for none.
    longest
        Pixels of the longer side before turning and cropping; no more than the set's own.
    time_limit, seed, threads, progress
        As for `throughlight.readings.picture.expose_picture`.

    Returns
    -------
    (h, w, 3) array of uint8, or None
        sRGB code values; None when Ctrl-C ended it before every pixel was exposed.
    """
    picture = expose_picture(
        _smaller(setup, longest), grain=_GRAIN, most_samples=_MOST_SAMPLES, time_limit=time_limit, seed=seed,
        threads=threads, progress=progress,
    )  # fmt: skip
    if picture.stride != 1:
        return None
    iso = setup.camera.iso
    exposure = picture.exposure + np.float32(mid_grey(iso) * 2.0**veil)
    return tone.develop(finish.apply(exposure, setup.finish.turn, setup.finish.crop), iso)


def _smaller(setup: Setup, longest: int) -> Setup:
    """Return the set with fewer pixels on the same film."""
    width, height = setup.camera.pixels
    share = min(1.0, longest / max(width, height))
    pixels = max(1, round(share * width)), max(1, round(share * height))
    return setup.model_copy(update={"camera": setup.camera.model_copy(update={"pixels": pixels})})


def read_png(path: Path) -> Colours | None:
    """Return an 8-bit picture from a PNG file, or None where there is no sound one."""
    from PIL import Image

    try:
        with Image.open(path) as image:
            return np.asarray(image.convert("RGB"))
    except (OSError, ValueError, SyntaxError):
        return None


def jpeg(picture: Colours) -> bytes:
    """Return a picture as JPEG for a page, with its sRGB profile."""
    from PIL import Image

    file = io.BytesIO()
    Image.fromarray(picture).save(
        file, format="JPEG", quality=_QUALITY, subsampling=0, optimize=True, icc_profile=files.srgb_profile()
    )
    return file.getvalue()
