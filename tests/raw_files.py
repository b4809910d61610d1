"""Raw files for tests: the plainest uncompressed DNG, a colour mosaic in a TIFF with the tags that DNG 1.4 asks for."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import tifffile

BLACK, WHITE = 512, 15872
_SIGNED, _RATIONAL, _SHORT, _LONG, _BYTE, _ASCII = 10, 5, 3, 4, 1, 2
# XYZ to the camera's bands: sRGB's own primaries (IEC 61966-2-1, inverse matrix), so that bands need no mixing.
_COLOUR_MATRIX = (3.2404542, -1.5371385, -0.4985314, -0.9692660, 1.8760108, 0.0415560, 0.0556434, -0.2040259, 1.0572252)


def mosaic_of(light, noise=0.0, seed=1, red=0.5, blue=0.7, black=(BLACK,) * 4):
    """Return sensor values of a red-green/green-blue mosaic: light (h, w, 3) with full at 1, h and w even.

    The sensor answers `red` and `blue` times as strongly in those bands as in green. `black` is that of the four places
    of a tile, row by row.
    """
    bands = np.asarray(light, float) * (red, 1.0, blue)
    sensor = bands[..., 1].copy()
    sensor[0::2, 0::2], sensor[1::2, 1::2] = bands[0::2, 0::2, 0], bands[1::2, 1::2, 2]
    dark = np.tile(np.reshape(black, (2, 2)), (sensor.shape[0] // 2, sensor.shape[1] // 2))
    values = dark + (WHITE - dark) * sensor + np.random.default_rng(seed).normal(0.0, noise, sensor.shape)
    return np.clip(np.rint(values), 0, WHITE).astype(np.uint16)


def write_dng(path, mosaic, shutter=Fraction(1, 125), f_number=Fraction(11), iso=100, focal=Fraction(100), turned=1,
              red=0.5, blue=0.7, black=(BLACK,), matrix=_COLOUR_MATRIX, active=None):  # fmt: skip
    """Write a mosaic as a DNG, or as a linear one where the picture has three bands.

    Parameters
    ----------
    black
        One level, or those of the four places of a tile.
    matrix
        From XYZ to the camera's bands before they are weakened by `red` and `blue`, nine numbers.
    active
        (top, left, bottom, right) of what the sensor shows; all of it when left out.
    """
    rational = [n for one in matrix for n in (round(one * 10000), 10000)]
    neutral = [n for one in (red, 1.0, blue) for n in (round(one * 1000), 1000)]
    linear = mosaic.ndim == 3
    colours = [] if linear else [
        (33421, _SHORT, 2, (2, 2), True),  # CFARepeatPatternDim
        (33422, _BYTE, 4, bytes((0, 1, 1, 2)), True),  # CFAPattern: red, green / green, blue
    ]  # fmt: skip
    blacks = [(50714, _LONG, 1, black[0], True)] if len(black) == 1 else [
        (50713, _SHORT, 2, (2, 2), True),  # BlackLevelRepeatDim
        (50714, _LONG, 4, tuple(black), True),
    ]  # fmt: skip
    tags = [
        (274, _SHORT, 1, turned, True),
        (271, _ASCII, 0, "Test", True),
        (272, _ASCII, 0, "Test", True),
        *colours,
        (50706, _BYTE, 4, bytes((1, 4, 0, 0)), True),  # DNGVersion
        (50708, _ASCII, 0, "Test", True),  # UniqueCameraModel
        *blacks,
        (50717, _LONG, 3 if linear else 1, (WHITE,) * 3 if linear else WHITE, True),
        (50721, _SIGNED, 9, rational, True),  # ColorMatrix1
        (50728, _RATIONAL, 3, neutral, True),  # AsShotNeutral
        (50778, _SHORT, 1, 21, True),  # CalibrationIlluminant1: D65
        (33434, _RATIONAL, 1, (shutter.numerator, shutter.denominator), True),
        (33437, _RATIONAL, 1, (f_number.numerator, f_number.denominator), True),
        (34855, _SHORT, 1, iso, True),
        (37386, _RATIONAL, 1, (focal.numerator, focal.denominator), True),
        *([] if active is None else [(50829, _LONG, 4, active, True)]),
    ]
    photometric = 34892 if linear else 32803
    tifffile.imwrite(
        path, mosaic, photometric=photometric, planarconfig=1, extratags=tags, metadata=None, software=False
    )
