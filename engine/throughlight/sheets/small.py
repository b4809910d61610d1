"""Small pictures of candidates, exposed quickly: for the eye and for telling candidates apart, read from nothing."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import files, tone
from throughlight.photometry.exposure import mid_grey
from throughlight.readings.picture import Progress, expose_picture
from throughlight.setup import Setup
from throughlight.sheets.finished import finished
from throughlight.sheets.shot import quiet

Colours = NDArray[np.uint8]

LONGEST = 480
"""Pixels of the longer side."""
_GRAIN, _GRAIN_TO_DENOISE = 6.0, 15.0  # 8-bit code values
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
    denoise: bool = False,
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
    denoise
        Whether to expose only a little and to take the grain out afterwards.

    Returns
    -------
    (h, w, 3) array of uint8, or None
        sRGB code values; None when Ctrl-C ended it before every pixel was exposed.

    Raises
    ------
    RuntimeError
        When no denoiser is there, or it fails.
    """
    picture = expose_picture(
        _smaller(setup, longest), grain=_GRAIN_TO_DENOISE if denoise else _GRAIN, most_samples=_MOST_SAMPLES,
        time_limit=time_limit, seed=seed, threads=threads, guided=denoise, progress=progress,
    )  # fmt: skip
    if picture.stride != 1:
        return None
    iso, clean = setup.camera.iso, quiet(picture)
    exposure = (picture.exposure if clean is None else clean) + np.float32(mid_grey(iso) * 2.0**veil)
    return tone.develop(finished(setup, exposure), iso)


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
