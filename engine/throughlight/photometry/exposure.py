"""Luminous exposure and stops: what a luminance does to the sensor, and what a meter says of it.

The image of a uniform field of luminance L behind an aplanatic lens receives

    H = (π/4) · T · L · t · cos⁴θ / N_w²,      N_w = N · (1 + m/P),

with T the lens's transmittance, t the shutter time, m the magnification and P the pupil magnification. Mid-grey and
clip follow ISO 12232: H = 10/S (standard output sensitivity) and H = 78/S (saturation), 2.96 stops apart. Meters
follow ISO 2720: N²/t = L·S/K for reflected light, N²/t = E·S/C for light falling on a flat receptor.
"""

from __future__ import annotations

import math
from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

MID_GREY_CONSTANT = 10.0
"""lx·s · ISO: exposure of mid-grey (ISO 12232:2006, standard output sensitivity)."""
CLIP_CONSTANT = 78.0
"""lx·s · ISO: exposure at which the sensor saturates (ISO 12232:2006, saturation-based speed)."""
REFLECTED_METER_CONSTANT = 12.5
"""K, cd·s/m² · ISO: reflected-light meters (ISO 2720:1974 allows 10.6 to 13.4)."""
INCIDENT_METER_CONSTANT = 250.0
"""C, lx·s · ISO: incident-light meters with a flat receptor (ISO 2720:1974 allows 240 to 400)."""
MID_GREY_CODE = 118
"""8-bit sRGB value of mid-grey (ISO 12232:2006: 0.461 of full scale)."""

Floats = NDArray[np.float64]


def mid_grey(iso: float) -> float:
    """Return the exposure of mid-grey, lx·s, at ISO speed `iso` (ISO 12232:2006)."""
    return MID_GREY_CONSTANT / iso


def clip(iso: float) -> float:
    """Return the exposure that saturates the sensor, lx·s, at ISO speed `iso` (ISO 12232:2006)."""
    return CLIP_CONSTANT / iso


@overload
def stops(exposure: float, iso: float) -> float: ...
@overload
def stops(exposure: NDArray[np.floating], iso: float) -> Floats: ...
def stops(exposure: float | NDArray[np.floating], iso: float) -> float | Floats:
    """Return how many stops an exposure stands over mid-grey.

    Parameters
    ----------
    exposure : float or array
        Luminous exposure, lx·s. No light at all gives minus infinity, a negative value NaN.
    iso : float
        ISO speed.

    Returns
    -------
    float or array
        log2(H / mid-grey), of the argument's shape.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        result = np.log2(np.asarray(exposure, dtype=np.float64) / mid_grey(iso))
    return result if isinstance(exposure, np.ndarray) else float(result)


@overload
def from_stops(over_mid_grey: float, iso: float) -> float: ...
@overload
def from_stops(over_mid_grey: NDArray[np.floating], iso: float) -> Floats: ...
def from_stops(over_mid_grey: float | NDArray[np.floating], iso: float) -> float | Floats:
    """Return the exposure, lx·s, that stands so many stops over mid-grey at ISO speed `iso`."""
    result = mid_grey(iso) * np.exp2(np.asarray(over_mid_grey, dtype=np.float64))
    return result if isinstance(over_mid_grey, np.ndarray) else float(result)


def working_f_number(f_number: float, magnification: float, pupil_magnification: float = 1.0) -> float:
    """Return the f-number that the image really gets: N_w = N·(1 + m/P).

    Parameters
    ----------
    f_number : float
        Engraved f-number N, at infinity focus.
    magnification : float
        Image size over subject size, m.
    pupil_magnification : float
        Exit pupil diameter over entrance pupil diameter, P; 1 for a symmetric lens.
    """
    return f_number * (1.0 + magnification / pupil_magnification)


def close_up_loss(magnification: float, pupil_magnification: float = 1.0) -> float:
    """Return the stops of light lost to the lens's extension: 2·log2(1 + m/P)."""
    return 2.0 * math.log2(1.0 + magnification / pupil_magnification)


def off_axis(field_angle: float) -> float:
    """Return the factor cos⁴θ by which the image of a uniform field dims at field angle θ, radians."""
    return math.cos(field_angle) ** 4


def image_exposure(
    luminance: float,
    shutter: float,
    f_number: float,
    magnification: float,
    pupil_magnification: float = 1.0,
    transmittance: float = 1.0,
    field_angle: float = 0.0,
) -> float:
    """Return the exposure H, lx·s, of the image of a uniform field behind an aplanatic lens.

    With transmittance 0.9, vignetting 0.98, field angle 10° and magnification 0 this is the standard's
    H = 0.65·L·t/N² (ISO 2720, ISO 12232). Flash: give its luminance-time, cd·s/m², with a shutter of 1 s.

    Parameters
    ----------
    luminance : float
        Luminance L, cd/m².
    shutter : float
        Exposure time t, s.
    f_number : float
        Engraved f-number N.
    magnification, pupil_magnification : float
        m and P of `working_f_number`.
    transmittance : float
        Share of light that the lens lets through, vignetting included.
    field_angle : float
        Angle θ from the axis, radians.
    """
    working = working_f_number(f_number, magnification, pupil_magnification)
    return 0.25 * math.pi * transmittance * luminance * shutter * off_axis(field_angle) / working**2


def exposure_value(f_number: float, shutter: float, iso: float = 100.0) -> float:
    """Return EV at ISO 100 of the settings: log2(N²/t) − log2(S/100)."""
    return math.log2(f_number**2 / shutter) - math.log2(iso / 100.0)


def luminance_metered(value: float, constant: float = REFLECTED_METER_CONSTANT) -> float:
    """Return the luminance, cd/m², for which a reflected-light meter shows `value` (EV at ISO 100): L = K·2^EV/100."""
    return constant * math.exp2(value) / 100.0


def illuminance_metered(value: float, constant: float = INCIDENT_METER_CONSTANT) -> float:
    """Return the illuminance, lx, for which a flat-receptor meter shows `value` (EV at ISO 100): E = C·2^EV/100."""
    return constant * math.exp2(value) / 100.0


def exposure_value_of_luminance(luminance: float, constant: float = REFLECTED_METER_CONSTANT) -> float:
    """Return what a reflected-light meter shows for a luminance in cd/m²: EV at ISO 100."""
    return math.log2(100.0 * luminance / constant)


def exposure_value_of_illuminance(illuminance: float, constant: float = INCIDENT_METER_CONSTANT) -> float:
    """Return what a flat-receptor meter shows for an illuminance in lx: EV at ISO 100."""
    return math.log2(100.0 * illuminance / constant)


def flash_meter_f_number(exposure: float, iso: float = 100.0, constant: float = INCIDENT_METER_CONSTANT) -> float:
    """Return the f-number a flat-receptor flash meter shows for `exposure`, lx·s: N = √(H·S/C)."""
    return math.sqrt(exposure * iso / constant)


def flash_meter_exposure(f_number: float, iso: float = 100.0, constant: float = INCIDENT_METER_CONSTANT) -> float:
    """Return the exposure on the receptor, lx·s, for which a flash meter shows `f_number`: H = C·N²/S."""
    return constant * f_number**2 / iso


def srgb_encode(linear: ArrayLike) -> Floats:
    """Return the sRGB signal in 0..1 of linear light in 0..1 (IEC 61966-2-1); values outside are clipped."""
    light = np.clip(np.asarray(linear, dtype=np.float64), 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1.0 / 2.4) - 0.055)


def srgb_decode(signal: ArrayLike) -> Floats:
    """Return linear light in 0..1 of an sRGB signal in 0..1 (IEC 61966-2-1)."""
    coded = np.asarray(signal, dtype=np.float64)
    # The base is kept positive so that the branch not taken stays silent below zero.
    power = (np.maximum(coded, 0.0) + 0.055) / 1.055
    return np.where(coded <= 0.04045, coded / 12.92, power**2.4)


MID_GREY_LINEAR = float(srgb_decode(MID_GREY_CODE / 255.0))
"""Linear sRGB value of mid-grey, 0.18116."""


def code_value(exposure: float, iso: float) -> int:
    """Return the 8-bit sRGB value of an exposure, straight: 118 at mid-grey, 255 from 2.46 stops over it.

    The picture's own tone curve bends only above mid-grey, so for dark readings this is the value in the file too.
    NaN raises ValueError.
    """
    linear = MID_GREY_LINEAR * exposure / mid_grey(iso)
    return round(255.0 * float(srgb_encode(linear)))
