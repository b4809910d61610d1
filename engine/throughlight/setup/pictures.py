"""Pictures that a set is made of: found beside the setup file, of a size to handle, read as linear light.

8-bit files are decoded as sRGB (IEC 61966-2-1: linear = code/12.92 up to 0.04045, else ((code + 0.055)/1.055)^2.4)
unless they are said to be linear. A colour profile inside the file is not looked at. A TIFF keeps its 16 bits or its
floating-point numbers, a grey PNG its 16 bits; a colour PNG of 16 bits is read with 8. Finer pictures than
`MOST_ACROSS` are averaged down in linear light, so that what a region passes stays what it is.
"""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic_core import PydanticCustomError

from throughlight.setup.kind import found, misfit

Light = NDArray[np.float32]
Encoding = Literal["sRGB", "linear"]

KINDS = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp", ".bmp")
MOST_BYTES = 500_000_000
MOST_PIXELS = 40_000_000
MOST_ACROSS = 1024
"""Pixels along the longer side that are kept."""
_FORMATS = ("PNG", "JPEG", "TIFF", "WEBP", "BMP")


def locate_picture(value: object, folder: Path, kinds: tuple[str, ...] = KINDS) -> Path:
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
    if size > MOST_BYTES:
        raise misfit(value, f"it has {size / 1e6:.0f} MB; a picture of up to {MOST_BYTES / 1e6:.0f} MB would fit")
    return path


def decoded(code: ArrayLike, encoding: Encoding) -> NDArray[np.float64]:
    """Return the linear light, white being 1, of code values from 0 to 1."""
    value = np.clip(np.nan_to_num(np.asarray(code, np.float64)), 0.0, 1.0)
    if encoding == "linear":
        return value
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


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
        light = _averaged(_codes(path), encoding)
    except PydanticCustomError:
        raise
    except Exception as trouble:  # a broken picture breaks a decoder in any way there is
        reason = " ".join(str(trouble).split())[:80]
        raise misfit(path.name, f"the picture cannot be read ({reason}); a whole picture would fit") from None
    light.setflags(write=False)
    return light


def _codes(path: Path) -> NDArray[Any]:
    """Return the code values of a file, (rows, columns, 1 or 3), in its own numbers."""
    if path.suffix.lower() in (".tif", ".tiff"):
        values = _tiff(path)
        if values is not None:
            return values
    return _picture(path)


def _refuse_size(name: str, pixels: int) -> None:
    if pixels > MOST_PIXELS:
        raise misfit(name, f"it has {pixels / 1e6:.0f} million pixels; up to {MOST_PIXELS // 10**6} million would fit")


def _frames(name: str) -> PydanticCustomError:
    return misfit(name, "it holds several frames or pages; a single picture would fit")


def _tiff(path: Path) -> NDArray[Any] | None:
    """Return the values of a TIFF with 16 bits or floating-point numbers; None for others, which Pillow reads."""
    import tifffile

    with tifffile.TiffFile(path) as file:
        page: Any = file.pages[0]
        if page.dtype is None or page.dtype == np.uint8 or page.dtype.kind not in "uf":
            return None
        _refuse_size(path.name, page.imagewidth * page.imagelength)
        if len(file.pages) > 1:
            raise _frames(path.name)
        if page.axes not in ("YX", "YXS", "SYX") or page.samplesperpixel not in (1, 3):
            raise misfit(path.name, "its channels are not grey or red, green and blue; such a picture would fit")
        values = np.asarray(page.asarray())
    if values.ndim == 2:
        return values[..., None]
    return np.moveaxis(values, 0, -1) if page.axes == "SYX" else values


def _picture(path: Path) -> NDArray[Any]:
    from PIL import Image, ImageOps

    try:
        with Image.open(path, formats=_FORMATS) as image:
            _refuse_size(path.name, image.width * image.height)
            if image.format != "MPO" and getattr(image, "n_frames", 1) > 1:
                raise _frames(path.name)
            upright = ImageOps.exif_transpose(image)
            if upright.has_transparency_data:
                opaque = upright.convert("RGBA")
                if np.asarray(opaque.getchannel("A")).min() < 255:
                    raise misfit(path.name, "it has transparent parts; a picture without them would fit")
                upright = opaque.convert("RGB")
            if not upright.mode.startswith(("I", "F", "L", "RGB")) or upright.mode in ("LA", "La", "LAB"):
                upright = upright.convert("RGB")
            values = np.asarray(upright)
    except Image.DecompressionBombError:
        raise misfit(path.name, f"it has more than {MOST_PIXELS // 10**6} million pixels; fewer would fit") from None
    if values.dtype == np.int32:  # Pillow's wide form of grey with 16 bits
        values = np.clip(values, 0, 65535).astype(np.uint16)
    return values[..., None] if values.ndim == 2 else values


def _averaged(codes: NDArray[Any], encoding: Encoding) -> Light:
    """Return the linear light of code values, averaged to the pixels kept, one channel at a time."""
    from PIL import Image

    rows, columns, channels = codes.shape
    shrink = min(1.0, MOST_ACROSS / max(rows, columns))
    size = (max(1, math.ceil(columns * shrink)), max(1, math.ceil(rows * shrink)))
    light = np.empty((size[1], size[0], channels), np.float32)
    for channel in range(channels):
        whole = _linear_channel(codes[..., channel], encoding)
        if size != (columns, rows):
            whole = np.asarray(Image.fromarray(whole).resize(size, Image.Resampling.BOX))
        light[..., channel] = whole
    return np.broadcast_to(light, (*light.shape[:2], 3)).copy()


def _linear_channel(codes: NDArray[Any], encoding: Encoding) -> Light:
    if codes.dtype.kind == "u" and codes.dtype.itemsize <= 2:
        most = np.iinfo(codes.dtype).max
        return np.take(decoded(np.arange(most + 1) / most, encoding).astype(np.float32), codes)
    if codes.dtype.kind == "u":
        return decoded(codes / np.iinfo(codes.dtype).max, encoding).astype(np.float32)
    return decoded(np.asarray(codes, np.float64), encoding).astype(np.float32)
