"""A picture's code values, out of JPEG, PNG, WebP, BMP or TIFF, and the light they stand for.

A picture is upright, a single one, of a size to handle. Photos and the pictures that a set is made of are read here.

A TIFF keeps its 16 bits or its floating-point numbers, a grey PNG its 16 bits; a colour PNG of 16 bits is read with 8.
"""

from __future__ import annotations

import warnings as python_warnings
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import icc
from throughlight.darkroom.capture_data import ExposureData, Unfit, from_tags
from throughlight.photometry.exposure import srgb_decode

KINDS = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp", ".bmp")
"""Endings of the pictures that are read."""
MOST_PIXELS = 170_000_000
"""Of a photo; Pillow gives up soon after."""
_FORMATS = ("PNG", "JPEG", "TIFF", "WEBP", "BMP")
_EXIF_TABLE, _PROFILE, _ORIENTATION = 34665, 34675, 274
_SIXTEEN_BIT_COLOUR = (16, 2), (16, 6)  # depth and colour type in a PNG's header


class Codes(NamedTuple):
    """values: (h, w, 1 or 3) in the file's own numbers. data: its settings. profile: its ICC profile."""

    values: NDArray[Any]
    data: ExposureData
    profile: bytes | None
    warnings: tuple[str, ...] = ()

    @property
    def levels(self) -> int:
        """Code values from black to white; 0 for floating-point numbers."""
        return levels_of(self.values)


def levels_of(values: NDArray[Any]) -> int:
    """Return how many code values there are from black to white; 0 for floating-point numbers."""
    return int(np.iinfo(values.dtype).max) if values.dtype.kind == "u" else 0


def read_codes(path: Path, most_pixels: int = MOST_PIXELS) -> Codes:
    """Return the code values of a developed picture.

    Raises
    ------
    Unfit
        When it holds several frames, is too large, transparent, or of other channels.
    Exception
        Whatever a decoder does with a broken file.
    """
    if path.suffix.lower() in (".tif", ".tiff"):
        found = _tiff(path, most_pixels)
        if found is not None:
            return found
    return _picture(path, most_pixels)


def light_of(
    values: NDArray[Any], *, linear: bool, profile: icc.Profile | None = None, channel: int = 0
) -> NDArray[np.float64]:
    """Return the light that one channel's code values stand for, white 1.

    Parameters
    ----------
    values
        In the file's own numbers, of any shape.
    linear
        Whether they are proportional to light; else they are decoded as sRGB (IEC 61966-2-1).
    profile
        Whose curve of band `channel` counts instead, where there is one.
    """
    levels = levels_of(values)
    if levels == 0:
        value = np.nan_to_num(np.asarray(values, np.float64), posinf=1.0, neginf=0.0)
        return value if linear else srgb_decode(np.clip(value, 0.0, 1.0))
    # A table for 16 bits is quicker than the curve itself for millions of pixels.
    signal = np.arange(min(levels, 65535) + 1) / min(levels, 65535)
    if profile is not None:
        table = np.interp(signal, np.linspace(0.0, 1.0, profile.curves.shape[1]), profile.curves[channel])
    else:
        table = signal if linear else srgb_decode(signal)
    return np.take(table, values if levels <= 65535 else values // (levels // 65535))


def refuse_size(pixels: int, most: int = MOST_PIXELS) -> None:
    """Refuse a picture of more pixels than fit, before they are read."""
    if pixels > most:
        raise Unfit(f"it has {pixels / 1e6:.0f} million pixels; up to {most // 10**6} million would fit")


def _frames() -> Unfit:
    return Unfit("it holds several frames or pages; a single picture would fit")


def _tiff(path: Path, most_pixels: int) -> Codes | None:
    """Return what a TIFF with 16 bits or floating-point numbers holds; None for others, which Pillow reads."""
    import tifffile

    with tifffile.TiffFile(path) as file:
        page: Any = file.pages[0]
        if page.dtype is None or page.dtype == np.uint8 or page.dtype.kind not in "uf":
            return None
        refuse_size(page.imagewidth * page.imagelength, most_pixels)
        if len(file.pages) > 1:
            raise _frames()
        if page.axes not in ("YX", "YXS", "SYX") or page.samplesperpixel not in (1, 3):
            raise Unfit("its channels are not grey or red, green and blue; such a picture would fit")
        values = np.asarray(page.asarray())
        tags = {tag.code: tag.value for tag in page.tags.values()}
    if values.ndim == 2:
        values = values[..., None]
    elif page.axes == "SYX":
        values = np.moveaxis(values, 0, -1)
    data = from_tags({**tags, **exif_of(tags)})
    return Codes(upright(values, tags.get(_ORIENTATION, 1)), data, tags.get(_PROFILE))


def exif_of(tags: Mapping[int, object]) -> dict[int, object]:
    """Return the settings in a TIFF's Exif table, which its reader gives by name, by the numbers of their tags."""
    import tifffile

    settings = tags.get(_EXIF_TABLE)
    if not isinstance(settings, Mapping):
        return {}
    numbers = ((tifffile.TIFF.EXIF_TAGS.get(name), value) for name, value in settings.items())
    return {number: value for number, value in numbers if isinstance(number, int)}


def upright(values: NDArray[Any], orientation: object) -> NDArray[Any]:
    """Return a picture turned as its tag Orientation (TIFF 6.0, 274) asks."""
    if orientation in (2, 4, 5, 7):
        values = values[:, ::-1]
    turns = {3: 2, 4: 2, 5: 1, 6: 3, 7: 3, 8: 1}.get(orientation, 0) if isinstance(orientation, int) else 0
    return np.ascontiguousarray(np.rot90(values, turns))


def _picture(path: Path, most_pixels: int) -> Codes:
    from PIL import Image, ImageOps

    try:
        with python_warnings.catch_warnings():
            python_warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(path, formats=_FORMATS) as image:
                refuse_size(image.width * image.height, most_pixels)
                if image.format != "MPO" and getattr(image, "n_frames", 1) > 1:
                    raise _frames()
                exif = image.getexif()
                data = from_tags({**dict(exif), **exif.get_ifd(_EXIF_TABLE)})
                profile = image.info.get("icc_profile")
                whole = ImageOps.exif_transpose(image)
                values = _values(whole)
    except Image.DecompressionBombError:
        raise Unfit(f"it has more than {most_pixels // 10**6} million pixels; fewer would fit") from None
    return Codes(values, data, profile if isinstance(profile, bytes) else None, _lost_bits(path))


def _values(image: Any) -> NDArray[Any]:  # noqa: ANN401 - a picture of Pillow's, imported only when used
    if image.has_transparency_data:
        opaque = image.convert("RGBA")
        if np.asarray(opaque.getchannel("A")).min() < 255:
            raise Unfit("it has transparent parts; a picture without them would fit")
        image = opaque.convert("RGB")
    if not image.mode.startswith(("I", "F", "L", "RGB")) or image.mode in ("LA", "La", "LAB"):
        image = image.convert("RGB")
    values = np.asarray(image)
    if values.dtype == np.int32:  # Pillow's wide form of grey with 16 bits
        values = np.clip(values, 0, 65535).astype(np.uint16)
    return values[..., None] if values.ndim == 2 else values


def _lost_bits(path: Path) -> tuple[str, ...]:
    """Return a warning where a PNG has more bits than are read."""
    with path.open("rb") as stream:
        head = stream.read(26)
    if head[:4] == b"\x89PNG" and tuple(head[24:26]) in _SIXTEEN_BIT_COLOUR:
        return ("a colour PNG of 16 bits is read with 8; a TIFF keeps all 16",)
    return ()
