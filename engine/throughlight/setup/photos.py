"""Photographs that are measured: raw files, TIFF or sRGB pictures, read as linear light with what is doubtful of them.

Raw files are developed to linear BT.709 light, white balance as shot, without brightening; they want the extra `raw`.
A 16-bit or floating-point TIFF is read as linear unless it is said to be sRGB. 8-bit pictures are decoded as sRGB,
which a camera's own JPEG only resembles: its contrast curve is not known.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.kind import misfit
from throughlight.setup.pictures import KINDS, MOST_ACROSS, MOST_PIXELS, Encoding, linear_picture, locate_picture

Light = NDArray[np.float32]

RAW = (".dng", ".nef", ".cr2", ".cr3", ".crw", ".arw", ".sr2", ".raf", ".rw2", ".orf", ".pef", ".srw", ".iiq", ".3fr")
_WIDE = 2.0**-14
_EIGHT_BIT = 4.0 / 255.0 / 12.92


class Photo(NamedTuple):
    """A photograph as light.

    Attributes
    ----------
    light
        (rows, columns, 3) float32, linear, 1 is white; row 0 at the top.
    encoding
        How its code values were taken.
    straight
        Whether they are known to be proportional to the light.
    least
        The least light that its steps can tell.
    doubts
        Sentences about how far it can be trusted.
    """

    light: Light
    encoding: Encoding
    straight: bool
    least: float
    doubts: tuple[str, ...]


def locate_photo(value: object, folder: Path) -> Path:
    """Return the path of a photograph named in a file of `folder`.

    Raises
    ------
    PydanticCustomError
        When it is no file that can be read, has another ending, or is too big.
    """
    return locate_picture(value, folder, (*KINDS, *RAW))


def photo_light(path: Path, encoding: Encoding | None = None) -> Photo:
    """Return a photograph as light, at most 1024 pixels along the longer side (averaged in linear light).

    Parameters
    ----------
    path
        A raw file, TIFF, PNG, JPEG, WebP or BMP.
    encoding
        How code values stand for light; None: as the file's kind usually has it.

    Raises
    ------
    PydanticCustomError
        When it cannot be used: unreadable, too large, animated, with transparent parts, raw without the extra.
    """
    if path.suffix.lower() in RAW:
        return Photo(_developed(path), "linear", True, _WIDE, ())
    deep = path.suffix.lower() in (".tif", ".tiff") and _is_deep(path)
    chosen: Encoding = encoding if encoding is not None else "linear" if deep else "sRGB"
    light = linear_picture(path, chosen)
    if chosen == "linear":
        note = f'{path.name} was read as linear light; encoding = "sRGB" if its converter wrote a tone curve'
        return Photo(light, chosen, True, _WIDE if deep else 3.0 / 255.0, (note,) if encoding is None else ())
    note = (
        f"{path.name} is an sRGB picture: a camera's own contrast curve in it shifts the answer by some tenths of a "
        "stop, more in dark pieces; a raw file, or a linear 16-bit TIFF, is better"
    )
    return Photo(light, chosen, False, _WIDE if deep else _EIGHT_BIT, (note,))


def _is_deep(path: Path) -> bool:
    """Return whether a TIFF has more than 8 bits; a broken one is reported by what reads it."""
    import tifffile

    try:
        with tifffile.TiffFile(path) as file:
            kind = file.pages[0].dtype
    except Exception:  # a broken picture breaks a decoder in any way there is
        return False
    return kind is not None and kind != np.uint8


def _developed(path: Path) -> Light:
    """Return the linear light of a raw file."""
    try:
        import rawpy
    except ImportError:
        words = "raw files want the extra raw (pip install 'throughlight[raw]'); a linear 16-bit TIFF would fit too"
        raise misfit(path.name, words) from None
    try:
        with rawpy.imread(str(path)) as raw:
            pixels = raw.sizes.raw_width * raw.sizes.raw_height
            if pixels > 4 * MOST_PIXELS:
                raise misfit(path.name, f"it has {pixels / 1e6:.0f} million pixels; a smaller raw file would fit")
            codes = raw.postprocess(
                gamma=(1.0, 1.0), no_auto_bright=True, use_camera_wb=True, output_bps=16, half_size=True,
                adjust_maximum_thr=0.0, output_color=rawpy.ColorSpace.sRGB,
            )  # fmt: skip
    except rawpy.LibRawError as trouble:
        reason = " ".join(str(trouble).removeprefix("b'").strip("'").split())[:80]
        raise misfit(path.name, f"the raw file cannot be read ({reason}); a whole raw file would fit") from None
    return _smaller(np.asarray(codes, np.float32) / 65535.0)


def _smaller(light: Light) -> Light:
    from PIL import Image

    rows, columns, _ = light.shape
    shrink = min(1.0, MOST_ACROSS / max(rows, columns))
    if shrink == 1.0:
        return light
    size = (max(1, math.ceil(columns * shrink)), max(1, math.ceil(rows * shrink)))
    bands = [Image.fromarray(np.ascontiguousarray(light[..., i])).resize(size, Image.Resampling.BOX) for i in range(3)]
    return np.stack([np.asarray(one) for one in bands], axis=2)
