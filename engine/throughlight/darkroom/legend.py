"""The legend of a stops picture: the scale as a strip with a number a stop, mid-grey and clip by name."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import scale

Picture = NDArray[np.uint8]

_PAPER, _INK = (30, 31, 32), (225, 226, 227)


def beside(picture: Picture) -> Picture:
    """Return a picture with the legend at its right, (h', w', 3); pictures lower than the legend get a margin below."""
    from PIL import Image, ImageDraw, ImageFont

    size = int(np.clip(picture.shape[0] / 34, 11, 30))
    font = ImageFont.load_default(size=size)
    height = max(picture.shape[0], 16 * size)
    sheet = Image.new("RGB", (picture.shape[1] + 8 * size, height), _PAPER)
    sheet.paste(Image.fromarray(picture), (0, 0))
    draw = ImageDraw.Draw(sheet)

    left, width = picture.shape[1] + size, 2 * size
    top, bottom = int(1.5 * size), height - int(1.5 * size)
    span = scale.TOP - (scale.DARKEST - 1.0)
    rows = np.arange(top, bottom)
    at = scale.TOP - span * (rows - top + 0.5) / (bottom - top)
    strip = np.round(255.0 * scale.colour(at)).astype(np.uint8)
    sheet.paste(Image.fromarray(np.repeat(strip[:, None], width, axis=1)), (left, top))
    draw.rectangle((left - 1, top - 1, left + width, bottom), outline=_INK)

    def row(value: float) -> float:
        return top + (scale.TOP - value) / span * (bottom - top)

    every = next(n for n in (1, 2, 4) if n * (bottom - top) / span > 1.1 * size or n == 4)
    labels = {float(n): f"{n:+d}".replace("-", "−") for n in range(-12, 3) if n % every == 0}
    labels |= {0.0: "mid-grey", scale.CLIP_STOPS: "clip"}
    for value, text in labels.items():
        y = row(value)
        draw.line((left + width, y, left + width + size // 3, y), fill=_INK)
        draw.text((left + width + size // 2, y), text, font=font, fill=_INK, anchor="lm")
    y = row(scale.CLIP_STOPS)
    draw.line((left, y, left + width, y), fill=(0, 0, 0), width=2)
    return np.asarray(sheet)
