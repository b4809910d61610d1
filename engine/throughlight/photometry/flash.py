"""Flash output: joules, meter readings and guide numbers, all turned into one luminous energy and one luminance.

A face radiates L(θ) = L₀·cos^(k−1)θ about the normal of each of its points, so a flat face of area A has the intensity
I = I₀·cos^kθ with I₀ = L₀·A, and sends out

    Q = A · 2π·L₀/(k + 1)        (k = 1 is Lambertian: Q = π·L₀·A).

k follows from the beam's full angle at half the axial intensity. A tube radiates so about its lateral surface and is
seen side-on. "Per flash" throughout: Q in lm·s, I in cd·s, L in cd·s/m², exposure in lx·s.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from throughlight.photometry.exposure import flash_meter_exposure, flash_meter_f_number
from throughlight.photometry.near_field import (
    disc_illuminance,
    rectangle_illuminance,
    side_on_factor,
    tube_illuminance,
)

LAMBERTIAN_BEAM = 2.0 * math.pi / 3.0
"""Full angle, radians, at which cosθ has fallen to one half: the widest beam a flat face can have."""
REFERENCE_DISTANCE = 1.0
REFERENCE_ISO = 100.0


class MeterReading(NamedTuple):
    """What a flat-receptor flash meter showed on the head's axis: f-number, distance m, ISO speed."""

    f_number: float
    distance: float
    iso: float


class HeadOutput(NamedTuple):
    """What a head gives in one flash.

    luminous_energy: everything it sends out, lm·s. axial_luminance: of its face along the normal, cd·s/m².
    exponent: k of I = I₀·cos^kθ. axial_intensity: I₀ from far away, cd·s. meter_f_number_at_1m: what a flat-receptor
    meter (C = 250) shows on the axis, 1 m away, at ISO 100, near field included.
    """

    luminous_energy: float
    axial_luminance: float
    exponent: float
    axial_intensity: float
    meter_f_number_at_1m: float


class Face(NamedTuple):
    """A face for luminance 1 on its axis: energy lm·s, intensity cd·s, and exposure lx·s at a distance in m."""

    energy: float
    intensity: float
    illuminance: Callable[[float], float]


def beam_exponent(beam: float) -> float:
    """Return k of I = I₀·cos^kθ for a full angle `beam`, radians, at half the axial intensity: ln ½ / ln cos(beam/2).

    Raises
    ------
    ValueError
        If the beam is not above 0 and at most 120 degrees (Lambertian, k = 1).
    """
    if not 0.0 < beam <= LAMBERTIAN_BEAM * (1.0 + 1e-12):
        raise ValueError(f"a beam of {math.degrees(beam):g} degrees is not between 0 and 120")
    return max(1.0, math.log(0.5) / math.log(math.cos(0.5 * beam)))


def axial_intensity_from_energy(joules: float, efficacy: float, efficiency: float, exponent: float) -> float:
    """Return I₀, cd·s, of a flat face: joules · lm·s/J · share that leaves the modifier · (k + 1)/2π."""
    return joules * efficacy * efficiency * (exponent + 1.0) / (2.0 * math.pi)


def intensity_from_guide_number(guide_number: float, iso: float = REFERENCE_ISO) -> float:
    """Return I₀, cd·s, from a guide number in metres at `iso`: I = C·GN²/S with C = 250 lx·s.

    The classic rule in feet and beam candle-power seconds puts the same number 0.55 stop higher (C = 171): a guide
    number is a rating, good to about half a stop.
    """
    return flash_meter_exposure(guide_number, iso)


def guide_number_from_intensity(intensity: float, iso: float = REFERENCE_ISO) -> float:
    """Return the guide number, m at `iso`, of an axial intensity in cd·s: GN = √(I·S/C) with C = 250 lx·s."""
    return flash_meter_f_number(intensity, iso)


def face_of(face_kind: str, size_a: float, size_b: float, exponent: float) -> Face:
    """Return what a face of axial luminance 1 gives.

    Parameters
    ----------
    face_kind : str
        "disc" (size_a its diameter), "rectangle" (size_a by size_b) or "tube" (size_a its length, size_b its diameter).
    size_a, size_b : float
        m.
    exponent : float
        k of I = I₀·cos^kθ.

    Raises
    ------
    ValueError
        If the kind is none of the three.
    """
    per_area = 2.0 * math.pi / (exponent + 1.0)
    if face_kind == "disc":
        area = 0.25 * math.pi * size_a**2
        return Face(area * per_area, area, lambda d: disc_illuminance(1.0, size_a, d, exponent))
    if face_kind == "rectangle":
        area = size_a * size_b
        return Face(area * per_area, area, lambda d: rectangle_illuminance(1.0, size_a, size_b, d, exponent))
    if face_kind == "tube":
        skin, seen = math.pi * size_a * size_b, side_on_factor(exponent) * size_a * size_b
        return Face(skin * per_area, seen, lambda d: tube_illuminance(1.0, size_a, size_b, d, exponent))
    raise ValueError(f"a face is a disc, a rectangle or a tube, not {face_kind!r}")


def head_output(
    face_kind: str,
    size_a: float,
    size_b: float,
    beam: float,
    *,
    energy: float | None = None,
    efficacy: float = 35.0,
    efficiency: float = 1.0,
    meter: MeterReading | tuple[float, float, float] | None = None,
    guide_number: float | None = None,
    stops: float = 0.0,
) -> HeadOutput:
    """Return what a head gives, from exactly one of its energy, a meter reading or a guide number.

    Parameters
    ----------
    face_kind, size_a, size_b
        The face, as in `face_of`.
    beam : float
        Full angle at half the axial intensity, radians, at most 120 degrees.
    energy : float
        Stored energy, J, of which `efficacy` (lm·s/J) becomes light and `efficiency` leaves the modifier.
    meter : MeterReading
        f-number, distance (m) and ISO of a flat-receptor reading on the axis (C = 250); the face's size is taken
        into account, so that a reading close to a big face is right. For a tube the distance is to its axis.
    guide_number : float
        m, ISO 100 (C = 250), a far-field rating.
    stops : float
        Turned up or down from that, whichever way it was given.

    Raises
    ------
    ValueError
        If none or several of the three are given, or the face or the beam is not possible.
    """
    exponent = beam_exponent(beam)
    face = face_of(face_kind, size_a, size_b, exponent)
    if sum(given is not None for given in (energy, meter, guide_number)) != 1:
        raise ValueError("a head is given by exactly one of energy, meter reading and guide number")
    if energy is not None:
        axial = energy * efficacy * efficiency / face.energy
    elif meter is not None:
        reading = MeterReading(*meter)
        axial = flash_meter_exposure(reading.f_number, reading.iso) / face.illuminance(reading.distance)
    else:
        assert guide_number is not None  # the count above leaves no other
        axial = intensity_from_guide_number(guide_number) / face.intensity
    axial *= float(np.exp2(stops))
    return HeadOutput(
        luminous_energy=axial * face.energy,
        axial_luminance=axial,
        exponent=exponent,
        axial_intensity=axial * face.intensity,
        meter_f_number_at_1m=flash_meter_f_number(axial * face.illuminance(REFERENCE_DISTANCE), REFERENCE_ISO),
    )
