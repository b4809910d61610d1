"""How light or dark a face is, told apart by drawing alone: black, grey, white, mirror."""

from __future__ import annotations

from enum import Enum

import numpy as np

from throughlight.photometry.colour import LUMINANCE_WEIGHTS
from throughlight.setup import Surface

_DARKEST_GREY, _LIGHTEST_GREY = 0.12, 0.5
"""Reflectances between which a face is neither black nor white on a sheet (common practice, no source)."""


class Tone(Enum):
    """What a face does with light, as a sheet says it."""

    BLACK = "black"
    GREY = "grey"
    WHITE = "white"
    MIRROR = "mirror"


def tone_of(surface: Surface) -> Tone:
    """Return the tone of a finish; a print counts by its paper."""
    if surface.kind in ("mirror", "metal"):
        return Tone.MIRROR
    if surface.pattern is not None:
        return Tone.WHITE if surface.pattern.white > _LIGHTEST_GREY else Tone.GREY
    share = float(np.dot(LUMINANCE_WEIGHTS, surface.reflectance))
    return Tone.BLACK if share < _DARKEST_GREY else Tone.GREY if share < _LIGHTEST_GREY else Tone.WHITE
