"""The outline of a thing in a picture: where its silhouette crosses a threshold, between the pixels.

The picture is first blurred by less than a pixel, so that hard stairs become slopes. The rim is the level line of the
bilinear field through the pixels' middles, simplified (Douglas and Peucker 1973) to about a third of a pixel. The
biggest connected parts are kept; specks, of less than a hundredth of the biggest, and holes of fewer than 16 pixels
are noise.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from pydantic_core import PydanticCustomError

from throughlight.setup.islands import Islands, islands_of, polygons_in
from throughlight.setup.kind import misfit

if TYPE_CHECKING:
    from PIL.Image import Image
    from shapely.geometry.base import BaseGeometry

KINDS = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp", ".bmp")
MOST_BYTES = 200_000_000
MOST_PIXELS = 40_000_000
_FORMATS = ("PNG", "JPEG", "TIFF", "WEBP", "BMP")
_LONGEST = 3000
"""Pixels along the longer side; a finer picture is averaged down to this."""
_MOST_CROSSINGS = 500_000
_PIXEL_SHARE = 0.3
_SPECK = 0.01
_PINHOLE = 16.0

Grey = NDArray[np.float32]


def silhouette(path: Path, width: float, threshold: float, dark: bool | None, tolerance: float | None) -> Islands:
    """Return the outline of the thing in a picture (cached by path, size and time).

    Parameters
    ----------
    path
        PNG, JPEG, TIFF, WebP or BMP.
    width
        Of the thing itself from its left to its right end, m.
    threshold
        Part of the way from black to white (or of opacity) at which the thing begins.
    dark
        Whether it is dark on light; None: seen from the picture's border, or from its transparency.
    tolerance
        How far the outline may be simplified, m; None: three tenths of a pixel.

    Raises
    ------
    PydanticCustomError
        When the picture cannot be used.
    """
    state = path.stat()
    grey, opaque = _grey(path, state.st_size, state.st_mtime_ns)
    light = grey
    if dark is None:
        dark = not opaque and bool(np.median(_border(grey)) > threshold)
    if dark:
        light, threshold = 1.0 - grey, 1.0 - threshold
    thing = light > threshold
    if thing.all() or not thing.any():
        raise misfit(path.name, "nothing in it stands out from its ground; a picture of a thing on a plain ground, "
                                "or another threshold, would fit")  # fmt: skip
    if np.count_nonzero(thing[1:] != thing[:-1]) + np.count_nonzero(thing[:, 1:] != thing[:, :-1]) > _MOST_CROSSINGS:
        raise misfit(path.name, "its silhouette is all specks; a picture of a thing on a plain ground would fit")
    parts = _kept(_level_polygons(light, threshold))
    try:
        x = [bound for part in parts for bound in part.bounds[::2]]
        allowed = _PIXEL_SHARE if tolerance is None else tolerance / width * (max(x) - min(x))
        return islands_of(_simplified(parts, allowed), width)
    except ValueError as trouble:
        raise misfit(path.name, str(trouble)) from None


def _border(grey: Grey) -> Grey:
    return np.concatenate([grey[0], grey[-1], grey[:, 0], grey[:, -1]])


@lru_cache(maxsize=2)
def _grey(path: Path, size: int, changed: int) -> tuple[Grey, bool]:
    """Return a picture as (rows, columns) from 0 black to 1 white, or its opacity and True if it has transparent parts.

    Raises
    ------
    PydanticCustomError
        When it has too many pixels, which is seen before any is decoded, several frames, or cannot be read.
    """
    import warnings

    from PIL import Image, ImageOps, UnidentifiedImageError

    too_many = misfit(path.name, f"it has more than {MOST_PIXELS // 10**6} million pixels; a smaller one would fit")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path, formats=_FORMATS) as image:
                if image.width * image.height > MOST_PIXELS:
                    raise too_many
                if image.format != "MPO" and getattr(image, "n_frames", 1) > 1:
                    raise misfit(path.name, "it holds several frames or pages; a single picture would fit")
                upright = ImageOps.exif_transpose(image)
                return _levels(_reduced(upright))
    except Image.DecompressionBombError:
        raise too_many from None
    except UnidentifiedImageError:
        raise misfit(path.name, "it is no picture that can be read; PNG, JPEG, TIFF, WebP or BMP would fit") from None
    except PydanticCustomError:
        raise
    except Exception as trouble:  # a broken picture breaks a decoder in any way there is
        reason = " ".join(str(trouble).split())[:80]
        raise misfit(path.name, f"the picture cannot be read ({reason}); a whole picture would fit") from None


def _reduced(image: Image) -> Image:
    if image.mode in ("P", "PA", "LA", "La", "RGBa", "1") or "transparency" in image.info:
        image = image.convert("L" if image.mode == "1" else "RGBA")
    elif image.mode in ("CMYK", "YCbCr", "LAB", "HSV"):
        image = image.convert("RGB")
    step = -(-max(image.size) // _LONGEST)
    return image.reduce(step) if step > 1 and not image.mode.startswith("I") else image


def _levels(image: Image) -> tuple[Grey, bool]:
    if image.mode == "RGBA":
        opacity = np.asarray(image.getchannel("A"), np.float32) / 255.0
        if opacity.min() < 1.0:
            return opacity, True
        image = image.convert("RGB")
    if image.mode == "RGB":
        image = image.convert("L")
    values = np.asarray(image)
    if values.dtype == np.uint8:
        return np.asarray(values, np.float32) / np.float32(255.0), False
    if values.dtype.kind in "iu":
        return np.clip(np.asarray(values, np.float32) / np.float32(65535.0), 0.0, 1.0), False
    return np.clip(np.nan_to_num(np.asarray(values, np.float32)), 0.0, 1.0), False


def _level_polygons(light: Grey, threshold: float) -> list[BaseGeometry]:
    """Return what is lighter than the threshold, in pixels, y up; the picture goes on dark beyond its border."""
    from contourpy import FillType, contour_generator
    from shapely.geometry import Polygon

    generator = contour_generator(z=_blurred(np.pad(light[::-1], 2)), fill_type=FillType.OuterOffset)
    filled: Any = generator.filled(threshold, 2.0)
    polygons = []
    for points, offsets in zip(*filled, strict=True):
        rings = [points[a:b] for a, b in pairwise(offsets) if b - a > 3]
        if rings:
            polygons.append(Polygon(rings[0], rings[1:]))
    return polygons


def _blurred(field: Grey) -> Grey:
    """Return the field with a quarter of each neighbour mixed in, along both axes (a blur of 0.7 pixel)."""
    for axis in (0, 1):
        field = 0.5 * field + 0.25 * (np.roll(field, 1, axis) + np.roll(field, -1, axis))
    return field


def _kept(polygons: list[BaseGeometry]) -> list[BaseGeometry]:
    """Return the biggest parts without their pinholes."""
    from shapely.geometry import Polygon

    most = max((part.area for part in polygons), default=0.0)
    return [
        Polygon(part.exterior, [hole for hole in part.interiors if Polygon(hole).area >= _PINHOLE])
        for part in polygons
        if part.area >= _SPECK * most
    ]


def _simplified(parts: list[BaseGeometry], allowed: float) -> list[BaseGeometry]:
    import shapely

    whole = shapely.make_valid(shapely.MultiPolygon(parts).simplify(allowed, preserve_topology=True))
    found = [part for part in polygons_in(whole) if part.area > 0.0]
    most = max((part.area for part in found), default=0.0)
    if most == 0.0:
        raise ValueError("the thing in it is too small; a larger picture, or a finer tolerance, would fit")
    return [part for part in found if part.area >= _SPECK * most]
