"""Denoising of a linear picture, guided by what its pixels look at: for the eye alone, never for a reading.

Open Image Denoise (a trained filter, run through the extra `denoise`) takes linear exposures of any range, with first
albedo and normal beside them. What it makes of noise is likely, not measured: files say so.
"""

from __future__ import annotations

import importlib.util

import numpy as np
from numpy.typing import NDArray

Exposures = NDArray[np.float32]

HOW_TO_GET = "--denoise needs a denoiser; pip install pyoidn adds one (a download of about 90 MB)"
MARK = "the picture is denoised: shown for the eye, read from nothing"


def is_here() -> bool:
    """Return whether a denoiser is installed, without loading it."""
    return importlib.util.find_spec("pyoidn") is not None


def denoised(H: Exposures, albedo: Exposures, normal: Exposures) -> Exposures:
    """Return exposures with their grain taken out.

    Parameters
    ----------
    H : array (h, w, 3)
        Exposures, lx·s, linear BT.709; what is negative or not finite counts as no light.
    albedo : array (h, w, 3)
        Mean albedo of what each pixel looks at, 0..1.
    normal : array (h, w, 3)
        Its mean normal: right, up, toward the camera.

    Returns
    -------
    array (h, w, 3) of float32
        A new array, lx·s, never negative.

    Raises
    ------
    RuntimeError
        When no denoiser is installed, or it fails.
    """
    if not is_here():
        raise RuntimeError(HOW_TO_GET)
    try:
        import pyoidn
    except (ImportError, OSError) as trouble:
        raise RuntimeError(f"the denoiser that is installed cannot be loaded: {trouble}") from trouble
    light, white, facing = (
        np.ascontiguousarray(np.nan_to_num(layer, nan=0.0, posinf=0.0, neginf=0.0), dtype=np.float32)
        for layer in (np.maximum(H, 0.0), albedo, normal)
    )
    quiet: Exposures = pyoidn.denoise(light, white, facing, hdr=True)
    return np.maximum(quiet, np.float32(0.0))
