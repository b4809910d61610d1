"""The difference of two pictures as colour: where the photo is brighter than the prediction, and where darker.

The scale runs from −2 to +2 stops through OKLab: from a light grey at 0 to deep blue where the photo is darker and to
deep orange where it is brighter, lightness falling alike to both sides, so that size reads as depth and sign as hue.
Blue against orange is a difference that every common colour vision keeps. What can't be compared is dark grey.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import oklab
from throughlight.photometry.exposure import srgb_encode

if TYPE_CHECKING:
    from PIL import ImageDraw

Floats = NDArray[np.float64]
Colours = NDArray[np.uint8]

MOST = 2.0
"""Stops at either end of the scale."""
_EVEN, _DEEP = 0.93, 0.42  # lightness at 0 and at the ends
_DARKER_HUE, _BRIGHTER_HUE, _CHROMA = 255.0, 50.0, 0.13
_NOT_COMPARED = (62, 62, 64)
_PAPER, _INK = (30, 31, 32), (225, 226, 227)


def colours(stops: Floats) -> Colours:
    """Return the scale's colours, (..., 3) sRGB code values, of differences in stops; NaN is not compared."""
    value = np.clip(np.nan_to_num(stops), -MOST, MOST) / MOST
    size = np.abs(value)[..., None]
    hues = [np.array(oklab.from_hue(0.0, 1.0, hue)) for hue in (_DARKER_HUE, _BRIGHTER_HUE)]
    hue = np.where(value[..., None] < 0.0, hues[0], hues[1])
    lab = hue * _CHROMA * size**0.75
    lab[..., 0] = (_EVEN + (_DEEP - _EVEN) * size)[..., 0]
    picture = np.rint(255.0 * srgb_encode(oklab.to_linear(lab))).astype(np.uint8)
    picture[~np.isfinite(stops)] = _NOT_COMPARED
    return picture


def difference_picture(stops: Floats, magnified: int = 1) -> Colours:
    """Return a picture of differences with its legend at the right.

    Parameters
    ----------
    stops
        (h, w) photo less prediction; NaN where they can't be compared.
    magnified
        How many pixels, along a side, each value gets.

    Returns
    -------
    array (h', w', 3) of uint8
        sRGB code values.

    Raises
    ------
    ValueError
        When the shape is not (h, w).
    """
    if stops.ndim != 2 or 0 in stops.shape:
        raise ValueError(f"differences need the shape (h, w); found {stops.shape}")
    from PIL import Image, ImageDraw, ImageFont

    picture = np.kron(colours(stops), np.ones((magnified, magnified, 1), np.uint8))
    size = int(np.clip(picture.shape[0] / 36, 11, 22))
    height = max(picture.shape[0], 22 * size)
    sheet = Image.new("RGB", (picture.shape[1] + 13 * size, height), _PAPER)
    sheet.paste(Image.fromarray(picture), (0, 0))
    draw = ImageDraw.Draw(sheet)
    draw.font = ImageFont.load_default(size=size)
    left = picture.shape[1] + size
    for line, text in enumerate(("photo against", "prediction, stops")):
        draw.text((left, (1.0 + 1.2 * line) * size), text, fill=_INK, anchor="lm")
    top, bottom = 4 * size, height - 5 * size
    values = np.linspace(MOST, -MOST, bottom - top)
    sheet.paste(Image.fromarray(np.repeat(colours(values)[:, None], 2 * size, axis=1)), (left, top))
    draw.rectangle((left - 1, top - 1, left + 2 * size, bottom), outline=_INK)
    _marks(draw, left, top, bottom, size)
    draw.rectangle((left, height - 3 * size, left + 2 * size, height - 2 * size), fill=_NOT_COMPARED, outline=_INK)
    draw.text((left + 2.6 * size, height - 2.5 * size), "not compared", fill=_INK, anchor="lm")
    return np.asarray(sheet)


def _marks(draw: ImageDraw.ImageDraw, left: int, top: int, bottom: int, size: int) -> None:
    """Write the numbers and what they mean beside the strip."""
    right = left + 2 * size
    for number in range(-int(MOST), int(MOST) + 1):
        row = top + (MOST - number) / (2.0 * MOST) * (bottom - top)
        draw.line((right, row, right + size // 4, row), fill=_INK)
        words = {2: "and more", -2: "and more", 1: "photo brighter", -1: "photo darker", 0: "alike"}[number]
        if number < 0:  # the font has no true minus
            draw.line((right + 0.7 * size, row, right + 1.1 * size, row), fill=_INK, width=max(1, size // 11))
        draw.text((right + 0.6 * size, row), "+" if number > 0 else "", fill=_INK, anchor="lm")
        draw.text((right + 1.2 * size, row), f"{abs(number)}  {words}", fill=_INK, anchor="lm")
