"""Exposures as colour: a scale for stops over mid-grey, and the picture drawn with it.

The scale runs from −12 stops to clip on one smooth curve through OKLab (a Bézier curve of six control points), walked
at constant speed, so that one stop is the same step to the eye everywhere; lightness only rises. It goes from umber by
rust and mauve to ice blue: brown against blue is the difference that every common colour vision keeps. From clip (2.96
stops) to +4 the scale is lemon, lighter still, a colour that occurs nowhere below; what is darker than −12 is black.
So both ends stand out and the order by lightness is unbroken. Even in black-and-white print it reads.

Whole stops are drawn as fine contour lines, mid-grey as a stronger one. The control points were found by a search for
even steps in CIEDE2000 and CAM16-UCS.
"""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import legend, oklab
from throughlight.photometry.exposure import CLIP_CONSTANT, MID_GREY_CONSTANT, srgb_encode, stops

Floats = NDArray[np.float64]
Colours = NDArray[np.uint8]

DARKEST, BRIGHTEST = -12.0, 4.0
CLIP_STOPS = math.log2(CLIP_CONSTANT / MID_GREY_CONSTANT)
"""Clip, stops over mid-grey: 2.963."""

_CONTROL = (
    oklab.from_hue(0.24, 0.06, 126.0),
    oklab.from_hue(0.41, 0.06, 58.0),
    oklab.from_hue(0.53, 0.16, 43.0),
    oklab.from_hue(0.66, 0.21, 307.0),
    oklab.from_hue(0.80, 0.13, 240.0),
    oklab.from_hue(0.89, 0.07, 218.0),
)
_CLIPPED = (oklab.from_hue(0.94, 0.13, 105.0), oklab.from_hue(0.98, 0.10, 108.0))
_DARKER = (0.10, 0.0, 0.0)
_ENTRIES = 1024
_LINE, _MID_GREY_LINE = 0.055, 0.22  # how far a contour's lightness stands off
BLUR = 1.0 / 300.0  # of the longer side: what is finer is not seen as a slope
_NOTHING = 1e-6  # rounding of the moving averages; an edge longer than the blur is wide still gives 1/span³
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709


class _Tables(NamedTuple):
    """Code values of the scale: [plain, contour, mid-grey contour] × entry × band."""

    graded: Colours
    clipped: Colours
    darker: Colours


def _curve(count: int) -> Floats:
    """Return `count` OKLab colours along the graded part, equal steps apart (de Casteljau, then arc length)."""
    t = np.linspace(0.0, 1.0, 4096)[:, None]
    points = [np.broadcast_to(np.array(control), (t.shape[0], 3)) for control in _CONTROL]
    while len(points) > 1:
        points = [a * (1.0 - t) + b * t for a, b in pairwise(points)]
    path = points[0]
    walked = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    wanted = np.linspace(0.0, walked[-1], count)
    return np.stack([np.interp(wanted, walked, path[:, axis]) for axis in range(3)], axis=1)


def _coded(lab: Floats) -> Colours:
    return np.rint(255.0 * srgb_encode(oklab.to_linear(lab))).astype(np.uint8)


def _with_lines(lab: Floats) -> Colours:
    """Return code values of colours and of both contour lines on them: darker on light colours, lighter on dark."""
    away = np.where(lab[:, :1] > 0.5, -1.0, 1.0) * np.array([1.0, 0.0, 0.0])
    return np.stack([_coded(lab + off * away) for off in (0.0, _LINE, _MID_GREY_LINE)])


@cache
def _tables() -> _Tables:
    share = np.linspace(0.0, 1.0, _ENTRIES // 8)[:, None]
    clipped = np.array(_CLIPPED[0]) * (1.0 - share) + np.array(_CLIPPED[1]) * share
    return _Tables(_with_lines(_curve(_ENTRIES)), _with_lines(clipped), _with_lines(np.array([_DARKER])))


def _entries(part: Floats, first: float, last: float, count: int) -> NDArray[np.int64]:
    """Return which of `count` entries from `first` to `last` stops is nearest."""
    place = (part - first) * ((count - 1) / (last - first))
    return np.clip(np.rint(place), 0, count - 1).astype(np.int64)


def colours(over_mid_grey: NDArray[np.floating], line: NDArray[np.int64] | int = 0) -> Colours:
    """Return the scale's colours.

    Parameters
    ----------
    over_mid_grey : array
        Stops over mid-grey; minus infinity and NaN count as darker than the scale, everything over +4 as +4.
    line : int array of the same shape, or int
        0 for the plain colour, 1 for a contour line on it, 2 for the contour of mid-grey.

    Returns
    -------
    array (..., 3) of uint8
        sRGB code values.
    """
    value = np.asarray(over_mid_grey, dtype=np.float64)
    kind = np.broadcast_to(np.asarray(line, dtype=np.int64), value.shape)
    tables = _tables()
    result = np.empty((*value.shape, 3), np.uint8)
    clipped, graded = value >= CLIP_STOPS, (value >= DARKEST) & (value < CLIP_STOPS)
    darker = ~(clipped | graded)
    result[darker] = tables.darker[kind[darker], 0]
    entry = _entries(value[graded], DARKEST, CLIP_STOPS, tables.graded.shape[1])
    result[graded] = tables.graded[kind[graded], entry]
    entry = _entries(value[clipped], CLIP_STOPS, BRIGHTEST, tables.clipped.shape[1])
    result[clipped] = tables.clipped[kind[clipped], entry]
    return result


def _softened(field: Floats, reach: int) -> Floats:
    """Return a field after three moving averages over 2·reach + 1 pixels each way, nearly a Gaussian blur."""
    span = 2 * reach + 1
    for axis in (0, 1):
        for _ in range(3):
            margins = [(reach + 1, reach) if at == axis else (0, 0) for at in (0, 1)]
            sums = np.moveaxis(np.pad(field, margins, mode="edge").cumsum(axis), axis, 0)
            field = np.moveaxis((sums[span:] - sums[:-span]) / span, 0, axis)
    return field


def contours(over_mid_grey: Floats) -> NDArray[np.int64]:
    """Return where whole stops pass: 0 nowhere, 1 a line, 2 the line of mid-grey; (h, w).

    The field is softened first, so that grain does not fray the lines. Where a stop then takes less than about two
    widths of the blur it is an edge of a thing, and gets no line.
    """
    reach = max(1, round(max(over_mid_grey.shape) * BLUR))
    steepest = 0.5 / math.sqrt(reach * (reach + 1.0))  # 1 over twice the blur's σ: each average has variance r(r + 1)/3
    field = np.clip(np.nan_to_num(over_mid_grey, nan=DARKEST - 1.0), DARKEST - 1.0, BRIGHTEST + 1.0)
    field = _softened(field, reach)
    line, edge = np.zeros(field.shape, np.int64), np.zeros(field.shape)
    for axis in (0, 1):
        here = field[:-1] if axis == 0 else field[:, :-1]
        there = field[1:] if axis == 0 else field[:, 1:]
        low, high = np.floor(here), np.floor(there)
        passed = np.maximum(low, high)
        crossing = (low != high) & (passed >= DARKEST) & (passed <= BRIGHTEST)
        kind = np.where(crossing, np.where(passed == 0.0, 2, 1), 0)
        target = (slice(None, -1), slice(None)) if axis == 0 else (slice(None), slice(None, -1))
        line[target] = np.maximum(line[target], kind)
        edge[target] = np.maximum(edge[target], np.abs(there - here) >= steepest)
    # An edge runs out to both sides as far as the blur reaches, and a line there would stand where no stop passes.
    line[_softened(edge, reach) > _NOTHING] = 0
    return line


def stops_picture(H: NDArray[np.floating], iso: float) -> Colours:
    """Return the picture of exposures in stops over mid-grey, its legend to the right.

    Parameters
    ----------
    H : array (h, w, 3)
        Luminous exposures, lx·s, linear BT.709; the colour shows their luminance.
    iso : float
        ISO speed.

    Returns
    -------
    array (h', w', 3) of uint8
        sRGB code values; wider than the exposures by the legend, and higher where they are too low to hold it.

    Raises
    ------
    ValueError
        When the shape is not (h, w, 3), or the ISO speed is not positive.
    """
    if H.ndim != 3 or H.shape[2] != 3 or 0 in H.shape:
        raise ValueError(f"a picture needs the shape (h, w, 3); found {H.shape}")
    if not (math.isfinite(iso) and iso > 0.0):
        raise ValueError(f"the ISO speed must be positive; found {iso}")
    luminance: Floats = np.maximum(np.nan_to_num(np.asarray(H, dtype=np.float64)), 0.0) @ _LUMINANCE
    field = stops(luminance, iso)
    picture = colours(field, contours(field))
    return legend.beside(picture, colours, DARKEST, BRIGHTEST, CLIP_STOPS)
