"""Colour of light: from a temperature in kelvin to three multipliers in linear BT.709 bands.

Up to 4000 K a light is a glowing body (Planckian locus, rational fit of Krystek 1985, Color Research & Application
10:38); from 5000 K on it is a phase of daylight (CIE 15:2004, section 3.1); between them the two are mixed
at equal luminance, in proportion to temperature, as the reference light of CIE 224:2017 is. The camera's balance turns
the light it is set for into neutral: a von Kries adaptation in Bradford's sharpened cones (ICC.1:2022, annex E) to D65,
then the BT.709 primaries (Rec. ITU-R BT.709-6).
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Band: TypeAlias = tuple[float, float, float]

COOLEST, HOTTEST = 1000.0, 25000.0
"""Kelvin between which the two fits are published."""
MIX_FROM, MIX_TO = 4000.0, 5000.0
LUMINANCE_WEIGHTS: Band = (0.2126, 0.7152, 0.0722)
"""Rec. ITU-R BT.709-6, item 3.2."""

_D65 = (0.3127, 0.3290)
_PRIMARIES = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))
_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])


def luminance(band: Band) -> float:
    """Return the luminance of three linear bands: 0.2126·R + 0.7152·G + 0.0722·B."""
    return sum(weight * value for weight, value in zip(LUMINANCE_WEIGHTS, band, strict=True))


def planckian_chromaticity(kelvin: float) -> tuple[float, float]:
    """Return CIE 1931 (x, y) of a black body at `kelvin`, 1000 to 15000 K (Krystek 1985)."""
    t = kelvin
    u = (0.860117757 + 1.54118254e-4 * t + 1.28641212e-7 * t * t) / (1.0 + 8.42420235e-4 * t + 7.08145163e-7 * t * t)
    v = (0.317398726 + 4.22806245e-5 * t + 4.20481691e-8 * t * t) / (1.0 - 2.89741816e-5 * t + 1.61456053e-7 * t * t)
    scale = 2.0 * u - 8.0 * v + 4.0  # CIE 1960 UCS back to 1931 (CIE 15:2004, section 8)
    return 3.0 * u / scale, 2.0 * v / scale


def daylight_chromaticity(kelvin: float) -> tuple[float, float]:
    """Return CIE 1931 (x, y) of the daylight phase at `kelvin`, 4000 to 25000 K (CIE 15:2004, section 3.1)."""
    r = 1000.0 / kelvin
    if kelvin <= 7000.0:
        x = 0.244063 + r * (0.09911 + r * (2.9678 - 4.6070 * r))
    else:
        x = 0.237040 + r * (0.24748 + r * (1.9018 - 2.0064 * r))
    return x, -3.000 * x * x + 2.870 * x - 0.275


def chromaticity(kelvin: float) -> tuple[float, float]:
    """Return CIE 1931 (x, y) of a photographic light of that temperature.

    Raises
    ------
    ValueError
        Outside 1000 to 25000 K, where no fit is published.
    """
    if not COOLEST <= kelvin <= HOTTEST:
        raise ValueError(f"{kelvin:g} K is outside {COOLEST:g} to {HOTTEST:g} K")
    if kelvin <= MIX_FROM:
        return planckian_chromaticity(kelvin)
    if kelvin >= MIX_TO:
        return daylight_chromaticity(kelvin)
    share = (kelvin - MIX_FROM) / (MIX_TO - MIX_FROM)
    body, daylight = _xyz(planckian_chromaticity(kelvin)), _xyz(daylight_chromaticity(kelvin))
    mixed = (1.0 - share) * body + share * daylight
    return float(mixed[0] / mixed.sum()), float(mixed[1] / mixed.sum())


def temperature_bands(kelvin: float, balance: float) -> Band:
    """Return the BT.709 multipliers of a light seen by a camera balanced for another.

    Parameters
    ----------
    kelvin : float
        The light's colour temperature, 1000 to 25000 K.
    balance : float
        The temperature the camera is set to, K. Equal temperatures give (1, 1, 1).

    Returns
    -------
    Band
        Linear R, G, B of luminance 1, none below zero: a light outside the primaries' triangle (candle-like, under a
        daylight balance) loses the negative band, and the rest is scaled back to luminance 1.

    Raises
    ------
    ValueError
        If either temperature is outside 1000 to 25000 K.
    """
    cones = _BRADFORD @ _xyz(chromaticity(kelvin))
    white = _BRADFORD @ _xyz(chromaticity(balance))
    neutral = _BRADFORD @ _xyz(_D65)
    seen = np.linalg.solve(_BRADFORD, cones / white * neutral)
    bands = np.maximum(np.linalg.solve(_BT709_TO_XYZ, seen), 0.0)
    bands /= np.dot(LUMINANCE_WEIGHTS, bands)
    return float(bands[0]), float(bands[1]), float(bands[2])


def _xyz(xy: tuple[float, float]) -> NDArray[np.float64]:
    """Return tristimulus values of luminance 1."""
    x, y = xy
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


def _primaries_matrix() -> NDArray[np.float64]:
    """Return the matrix from linear BT.709 to XYZ: its columns sum to D65 (SMPTE RP 177:1993)."""
    columns = np.column_stack([_xyz(primary) for primary in _PRIMARIES])
    return columns * np.linalg.solve(columns, _xyz(_D65))


_BT709_TO_XYZ = _primaries_matrix()
