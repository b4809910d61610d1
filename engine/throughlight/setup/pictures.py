"""Pictures that a set is made of: found beside the setup file, of a size to handle, read as linear light.

Code values are decoded as sRGB (IEC 61966-2-1) unless they are said to be linear; a colour profile inside the file is
not looked at. Finer pictures than `MOST_ACROSS` are averaged down in linear light, so that what a region passes stays
what it is, and to their very edges, so that they lie as large as they are said to.
"""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from throughlight.darkroom.capture_codes import KINDS, Codes, light_of, read_codes
from throughlight.darkroom.capture_data import Unfit
from throughlight.photometry.exposure import srgb_decode
from throughlight.setup.kind import found, misfit

Light = NDArray[np.float32]
Encoding = Literal["sRGB", "linear"]

MOST_BYTES = 500_000_000
MOST_PIXELS = 40_000_000
MOST_ACROSS = 1024
"""Pixels along the longer side that are kept."""


def locate_picture(value: object, folder: Path, kinds: tuple[str, ...] = KINDS, most_bytes: int = MOST_BYTES) -> Path:
    """Return the path of a picture named in a file of `folder`, with one of some endings.

    Raises
    ------
    PydanticCustomError
        When it is no file that can be read, has another ending, or is too big.
    """
    if not isinstance(value, str) or not value or len(value) > 1000 or not value.isprintable():
        raise misfit(value, "the name of a PNG, JPEG, TIFF, WebP or BMP file would fit")
    path = folder / value
    if path.suffix.lower() not in kinds:
        raise misfit(value, f"a picture that ends in {', '.join(kinds)} would fit")
    try:
        size = path.stat().st_size if path.is_file() else -1
    except OSError as trouble:
        raise misfit(value, f"it cannot be read ({trouble.strerror}); a picture would fit") from None
    if size < 0:
        where = found(str(folder.absolute()))
        raise misfit(value, f"no such file stands in {where}; a picture beside the setup file would fit")
    if size > most_bytes:
        raise misfit(value, f"it has {size / 1e6:.0f} MB; a picture of up to {most_bytes / 1e6:.0f} MB would fit")
    return path


def decoded(code: ArrayLike, encoding: Encoding) -> NDArray[np.float64]:
    """Return the linear light, white being 1, of code values from 0 to 1."""
    value = np.clip(np.nan_to_num(np.asarray(code, np.float64)), 0.0, 1.0)
    return value if encoding == "linear" else srgb_decode(value)


def linear_picture(path: Path, encoding: Encoding) -> Light:
    """Return a picture as linear light (cached by path, size and time).

    Parameters
    ----------
    path
        PNG, JPEG, TIFF, WebP or BMP.
    encoding
        How its code values stand for light.

    Returns
    -------
    ndarray
        (rows, columns, 3) float32, white is 1, row 0 at the top; at most `MOST_ACROSS` along the longer side.

    Raises
    ------
    PydanticCustomError
        When the picture cannot be used: unreadable, too large, animated, with transparent parts.
    """
    state = path.stat()
    return _linear(path, encoding, state.st_size, state.st_mtime_ns)


@lru_cache(maxsize=2)
def _linear(path: Path, encoding: Encoding, size: int, changed: int) -> Light:
    try:
        light = _averaged(read_codes(path, MOST_PIXELS), encoding)
    except Unfit as trouble:
        raise misfit(path.name, str(trouble)) from None
    except Exception as trouble:  # a broken picture breaks a decoder in any way there is
        reason = " ".join(str(trouble).split())[:80]
        raise misfit(path.name, f"the picture cannot be read ({reason}); a whole picture would fit") from None
    light.setflags(write=False)
    return light


def _averaged(codes: Codes, encoding: Encoding) -> Light:
    """Return the linear light of code values, averaged to the pixels kept, one channel at a time."""
    from PIL import Image

    rows, columns, channels = codes.values.shape
    shrink = min(1.0, MOST_ACROSS / max(rows, columns))
    size = (max(1, math.ceil(columns * shrink)), max(1, math.ceil(rows * shrink)))
    light = np.empty((size[1], size[0], channels), np.float32)
    for channel in range(channels):
        value = light_of(codes.values[..., channel], linear=encoding == "linear")
        whole = np.clip(value, 0.0, 1.0).astype(np.float32)
        if size != (columns, rows):
            whole = np.asarray(Image.fromarray(whole).resize(size, Image.Resampling.BOX))
        light[..., channel] = whole
    return np.broadcast_to(light, (*light.shape[:2], 3)).copy()
