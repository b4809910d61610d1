"""Gels: coloured filters before a head, as transmittance in the three bands.

A gel that shifts the colour temperature is told by its shift in mired (micro reciprocal kelvin: 10⁶/T), which is nearly
the same at whatever temperature it is used:

    10⁶/T′ = 10⁶/T + shift.

Its bands are those of the light at T′ over those at T, as bright as no band passing more than all allows.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from throughlight.photometry.colour import COOLEST, HOTTEST, Band, luminance, temperature_bands

_D65 = 6504.0
"""K; transmittance is of light as it is, with no camera's balance between."""


class Light(NamedTuple):
    """The light behind a gel: its colour as the camera sees it (luminance 1), and the share of light that passes."""

    bands: Band
    passed: float


def mired_shift(before: float, after: float) -> float:
    """Return the shift, mired, from one colour temperature (K) to another: 10⁶/after − 10⁶/before."""
    return 1e6 / after - 1e6 / before


def shifted(kelvin: float, shift: float) -> float:
    """Return the colour temperature, K, behind a gel of that shift, mired.

    Raises
    ------
    ValueError
        If it leaves 1000 to 25000 K, where no colour is published.
    """
    mired = 1e6 / kelvin + shift
    if not 1e6 / HOTTEST * (1.0 - 1e-12) <= mired <= 1e6 / COOLEST * (1.0 + 1e-12):
        reached = "beyond any temperature" if mired <= 0.0 else f"to {1e6 / mired:.0f} K"
        raise ValueError(
            f"a shift of {shift:+.0f} mired takes {kelvin:g} K {reached}, outside {COOLEST:g} to {HOTTEST:g} K"
        )
    return min(max(1e6 / mired, COOLEST), HOTTEST)


def behind_bands(kelvin: float, transmittance: Band, balance: float) -> Light:
    """Return a light of `kelvin` behind a gel of that transmittance by band, seen with a white balance of `balance`."""
    seen = np.multiply(temperature_bands(kelvin, balance), transmittance)
    passed = luminance(_band(np.multiply(temperature_bands(kelvin, _D65), transmittance)))
    return Light(_band(seen / luminance(_band(seen))), passed)


def behind_shift(kelvin: float, shift: float, balance: float, transmittance: float | None = None) -> Light:
    """Return a light of `kelvin` behind a gel of that shift, mired, seen with a white balance of `balance`.

    Parameters
    ----------
    kelvin, shift, balance
        K, mired, K.
    transmittance
        Share of the light that passes, where it is known; otherwise the most that leaves no band over 1.

    Raises
    ------
    ValueError
        If the temperature behind the gel is outside 1000 to 25000 K.
    """
    after = shifted(kelvin, shift)
    passed = most_that_passes(kelvin, after) if transmittance is None else transmittance
    return Light(temperature_bands(after, balance), passed)


def most_that_passes(before: float, after: float) -> float:
    """Return the largest luminous transmittance of a gel from one temperature (K) to another, no band over 1."""
    source, wanted = temperature_bands(before, _D65), temperature_bands(after, _D65)
    # A light too red to have any blue in the BT.709 primaries tells nothing of that band.
    return 1.0 / max(w / s for w, s in zip(wanted, source, strict=True) if s > 0.0)


def _band(values: np.ndarray) -> Band:
    red, green, blue = (float(value) for value in values)
    return (red, green, blue)
