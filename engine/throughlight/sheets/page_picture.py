"""The picture of a page: linear layers, finished, packed, and made smaller where they would not fit.

Grain decides how well layers pack. Where they don't fit, the picture is made smaller, in linear light and by a filter
without negative weights, and the page says so; what is shown stays right to a hundredth of a stop.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry.exposure import mid_grey
from throughlight.sheets import layer_codes
from throughlight.sheets.finished import framed
from throughlight.sheets.shot import Shot

Floats = NDArray[np.float32]

_STILL = 900  # pixels along the longer side of the still picture that stands until the layers are unpacked
_MOST_PIXELS = 4_000_000  # a layer of which takes 48 MB while it is packed
_SAFE = 0.99


class Packed(NamedTuple):
    """Layers as a page carries them.

    Attributes
    ----------
    width, height
        Pixels of the page's picture.
    full
        Width and height of the finished picture in its files.
    layers
        For each light of the set: base64 text of its low and its high bytes, a full stop between, and the light,
        lx·s by band, that its code 0 is dark against; None for one that adds nothing.
    veil
        (layers, 3) lx·s.
    """

    width: int
    height: int
    full: tuple[int, int]
    layers: tuple[tuple[str, tuple[float, float, float]] | None, ...]
    veil: NDArray[np.float64]

    @property
    def size(self) -> int:
        """Return the bytes that the layers take in a page."""
        return sum(len(layer[0]) for layer in self.layers if layer is not None)

    @property
    def smaller(self) -> bool:
        """Return whether the page shows the picture smaller than it was exposed."""
        return (self.width, self.height) != self.full


def finished_layers(shot: Shot) -> Iterator[Floats]:
    """Yield the layers turned and cropped as the picture is, (h, w, 3) lx·s each, without veil."""
    for layer in shot.picture.layers:
        yield framed(shot.setup, layer).astype(np.float32, copy=False)


def pack(shot: Shot, most: int) -> Packed:
    """Return a shot's layers in at most so many bytes of base64 text.

    Raises
    ------
    ValueError
        When not even a picture of few pixels would fit.
    """
    full, layers = _of_a_screen(finished_layers(shot))
    veil = np.array(list(shot.readings.stray.veil_layers.values()))
    floor = mid_grey(shot.setup.camera.iso) * 2.0**layer_codes.FLOOR_STOPS
    share, (tallest, widest) = 1.0, layers[0].shape[:2]
    while True:
        width, height = max(1, round(share * widest)), max(1, round(share * tallest))
        shown = (layer if share == 1.0 else shrunk(layer, width, height) for layer in layers)
        coded = [_coded(layer, haze, floor) for layer, haze in zip(shown, veil, strict=True)]
        packed = Packed(width, height, full, tuple(coded), veil)
        if packed.size <= most:
            return packed
        if width * height < 64:
            raise ValueError(f"a page of {most} bytes can't hold {len(layers)} layers of light")
        share *= _SAFE * math.cbrt(most / packed.size)  # fewer pixels, and less grain in each


def _of_a_screen(layers: Iterator[Floats]) -> tuple[tuple[int, int], list[Floats]]:
    """Return width and height of the layers, and the layers with no more pixels than any page could hold."""
    full, small = (0, 0), []
    for layer in layers:
        full = (layer.shape[1], layer.shape[0])
        share = min(1.0, math.sqrt(_MOST_PIXELS / (full[0] * full[1])))
        small.append(layer if share == 1.0 else shrunk(layer, *(max(1, round(share * side)) for side in full)))
    return full, small


def _coded(layer: Floats, veil: NDArray[np.float64], floor: float) -> tuple[str, tuple[float, float, float]] | None:
    if not layer.any() and not veil.any():
        return None
    coded = layer_codes.encode(layer, veil, floor)
    low, high = (base64.b64encode(part).decode("ascii") for part in (coded.low, coded.high))
    return f"{low}.{high}", coded.offset


def shrunk(H: Floats, width: int, height: int) -> Floats:
    """Return exposures with fewer pixels, (height, width, 3) lx·s: weighted means, no light lost and none negative."""
    from PIL import Image

    bands = [
        np.asarray(
            Image.fromarray(np.ascontiguousarray(H[:, :, band])).resize((width, height), Image.Resampling.BILINEAR)
        )
        for band in range(3)
    ]
    return np.stack(bands, axis=2)


def still_size(width: int, height: int) -> tuple[int, int]:
    """Return the size of the still picture, pixels."""
    share = min(1.0, _STILL / max(width, height))
    return max(1, round(share * width)), max(1, round(share * height))
