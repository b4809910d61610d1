"""The legend of a stops picture: the scale as an upright strip, a mark a stop, mid-grey and clip by name."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

Colours = NDArray[np.uint8]
Scale = Callable[[NDArray[np.float64]], Colours]

_PAPER, _INK = (30, 31, 32), (225, 226, 227)
_SHORT_OF_CLIP = 0.5  # stops: a number nearer to a name than this would be printed over it


def beside(picture: Colours, scale: Scale, darkest: float, brightest: float, clip: float) -> Colours:
    """Return a picture with the legend at its right.

    Parameters
    ----------
    picture : (h, w, 3) array of uint8
        sRGB.
    scale
        Gives sRGB code values, (n, 3), of (n,) stops over mid-grey.
    darkest, brightest, clip : float
        Ends of the scale and the exposure that saturates, stops over mid-grey.

    Returns
    -------
    (h', w', 3) array of uint8
        The picture at the upper left, unscaled. One too low for the legend gets a margin below.
    """
    from PIL import Image, ImageDraw, ImageFont

    size = int(np.clip(picture.shape[0] / 36, 11, 30))
    height = max(picture.shape[0], 26 * size)  # a line and a quarter for each number
    sheet = Image.new("RGB", (picture.shape[1] + 9 * size, height), _PAPER)
    sheet.paste(Image.fromarray(picture), (0, 0))
    draw = ImageDraw.Draw(sheet)
    draw.font = ImageFont.load_default(size=size)
    foot = darkest - 1.0  # a stop's length of what is darker than the scale
    box = (picture.shape[1] + size, round(3.3 * size), picture.shape[1] + 3 * size, height - size)
    _strip(sheet, draw, scale, (foot, brightest), box)
    for line, text in enumerate(("stops over", "mid-grey")):
        draw.text((box[0], (0.9 + 1.2 * line) * size), text, fill=_INK, anchor="lm")

    a_stop = (box[3] - box[1]) / (brightest - foot)
    every = next((n for n in (1, 2) if n * a_stop > 1.1 * size), 4)
    for value, text in _marks(darkest, brightest, clip, every).items():
        row = box[3] - (value - foot) * a_stop
        if value >= darkest:
            draw.line((box[2], row, box[2] + size // 3, row), fill=_INK)
        draw.text((box[2] + size // 2, row), text, fill=_INK, anchor="lm")
    return np.asarray(sheet)


def _marks(darkest: float, brightest: float, clip: float, every: int) -> dict[float, str]:
    """Return what is written beside the strip, by stops over mid-grey."""
    whole = range(math.ceil(darkest), math.floor(brightest) + 1)
    numbers = {float(n): f"{n:+d}" for n in whole if n % every == 0 and abs(n - clip) > _SHORT_OF_CLIP}
    return {**numbers, 0.0: "0  mid-grey", clip: f"{clip:+.2f}  clip", darkest - 0.7: "darker still"}


def _strip(
    sheet: Image.Image,
    draw: ImageDraw.ImageDraw,
    scale: Scale,
    ends: tuple[float, float],
    box: tuple[int, int, int, int],
) -> None:
    """Draw the scale into a box: left, top, right, bottom."""
    from PIL import Image

    left, top, right, bottom = box
    share = (np.arange(bottom - top) + 0.5) / (bottom - top)
    shades = scale(ends[1] - (ends[1] - ends[0]) * share)
    sheet.paste(Image.fromarray(np.repeat(shades[:, None], right - left, axis=1)), (left, top))
    draw.rectangle((left - 1, top - 1, right, bottom), outline=_INK)
