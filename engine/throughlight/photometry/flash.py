"""What a head gives: joules, watts, meter readings, guide numbers and lux, all turned into one luminance.

A face radiates so that a flat one of area A has the intensity I = L·A·R(θ, φ), with R the profile's relative intensity,
and sends out

    Q = L · A · ∫ R dω        (R = cosᵏθ: 2π·L·A/(k + 1); k = 1 is Lambertian: Q = π·L·A).

k follows from the beam's full angle at half the axial intensity. A tube radiates so about its lateral surface and is
seen side-on. "Per frame" throughout, one flash or the shutter time of a continuous lamp: Q in lm·s, I in cd·s, L in
cd·s/m², exposure in lx·s.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from throughlight.photometry.exposure import flash_meter_exposure, flash_meter_f_number
from throughlight.photometry.near_field import (
    disc_illuminance,
    profiled_disc_illuminance,
    profiled_rectangle_illuminance,
    rectangle_illuminance,
    side_on_factor,
    tube_illuminance,
)
from throughlight.photometry.profiles import Profile

LAMBERTIAN_BEAM = 2.0 * math.pi / 3.0
"""Full angle, radians, at which cosθ has fallen to one half: the widest beam a flat face can have."""
REFERENCE_DISTANCE = 1.0
REFERENCE_ISO = 100.0


class MeterReading(NamedTuple):
    """What a flat-receptor flash meter showed on the head's axis: f-number, distance m, ISO speed."""

    f_number: float
    distance: float
    iso: float


class Lux(NamedTuple):
    """What a flat receptor showed of a continuous lamp on its axis: lx, and the distance, m."""

    illuminance: float
    distance: float


class Given(NamedTuple):
    """How a head's output is told: exactly one of energy, meter, guide_number, power, illuminance and intensity.

    energy: J. efficacy: lm·s/J, which is lm/W. efficiency: share of the lamp's light that leaves the modifier. meter:
    a reading of the head as it stands, grid and gel included. guide_number: m at ISO 100, without them. power: W.
    illuminance: a reading as it stands. intensity: cd where the profile is 1, without gel. seconds: the shutter time,
    over which the last three shine.
    """

    energy: float | None = None
    efficacy: float = 35.0
    efficiency: float = 1.0
    meter: MeterReading | tuple[float, float, float] | None = None
    guide_number: float | None = None
    power: float | None = None
    illuminance: Lux | tuple[float, float] | None = None
    intensity: float | None = None
    seconds: float = 1.0

    @property
    def ways(self) -> int:
        """Return in how many ways the output is told."""
        told = (self.energy, self.meter, self.guide_number, self.power, self.illuminance, self.intensity)
        return sum(one is not None for one in told)


class HeadOutput(NamedTuple):
    """What a head gives in one frame.

    luminous_energy: everything it sends out, lm·s. axial_luminance: of its face along the normal, cd·s/m².
    exponent: k of I = I₀·cos^kθ, or the one nearest to its profile. axial_intensity: I₀ from far away, cd·s.
    meter_f_number_at_1m: what a flat-receptor meter (C = 250) shows on the axis, 1 m away, at ISO 100, near field
    included. luminance: of its face where the profile is 1, cd·s/m². exposure_at_1m: on that meter, lx·s.
    """

    luminous_energy: float
    axial_luminance: float
    exponent: float
    axial_intensity: float
    meter_f_number_at_1m: float
    luminance: float
    exposure_at_1m: float


class Face(NamedTuple):
    """A face for luminance 1 where its profile is 1.

    energy: lm·s. intensity: on the axis, cd·s. illuminance: exposure, lx·s, on the axis at a distance in m. axial: the
    profile on the axis. exponent: k, or the one nearest to the profile. area: of a flat face, m².
    """

    energy: float
    intensity: float
    illuminance: Callable[[float], float]
    axial: float = 1.0
    exponent: float = 1.0
    area: float = 0.0


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


def face_of(face_kind: str, size_a: float, size_b: float, profile: Profile | float) -> Face:
    """Return what a face of luminance 1 gives.

    Parameters
    ----------
    face_kind : str
        "disc" (size_a its diameter), "rectangle" (size_a by size_b) or "tube" (size_a its length, size_b its diameter).
    size_a, size_b : float
        m.
    profile : Profile or float
        How its light falls off; a number is k of I = I₀·cos^kθ. A tube takes only the latter.

    Raises
    ------
    ValueError
        If the kind is none of the three, or a tube has a table.
    """
    exponent = profile.exponent if isinstance(profile, Profile) else profile
    if isinstance(profile, Profile) and profile.table is not None:
        return _profiled(face_kind, size_a, size_b, profile)
    per_area = 2.0 * math.pi / (exponent + 1.0)
    by: Callable[[float], float]
    if face_kind == "disc":
        area = 0.25 * math.pi * size_a**2
        energy, by = area * per_area, functools.partial(disc_illuminance, 1.0, size_a, exponent=exponent)
        return Face(energy, area, by, 1.0, exponent, area)
    if face_kind == "rectangle":
        area = size_a * size_b
        energy, by = area * per_area, functools.partial(rectangle_illuminance, 1.0, size_a, size_b, exponent=exponent)
        return Face(energy, area, by, 1.0, exponent, area)
    if face_kind == "tube":
        skin, seen = math.pi * size_a * size_b, side_on_factor(exponent) * size_a * size_b
        by = functools.partial(tube_illuminance, 1.0, size_a, size_b, exponent=exponent)
        return Face(skin * per_area, seen, by, 1.0, exponent)
    raise ValueError(f"a face is a disc, a rectangle or a tube, not {face_kind!r}")


def _profiled(face_kind: str, size_a: float, size_b: float, profile: Profile) -> Face:
    axial, per_area, exponent = profile.axial, profile.flux, profile.exponent
    by: Callable[[float], float]
    if face_kind == "disc":
        area = 0.25 * math.pi * size_a**2
        by = functools.partial(profiled_disc_illuminance, profile, size_a)
    elif face_kind == "rectangle":
        area = size_a * size_b
        by = functools.partial(profiled_rectangle_illuminance, profile, size_a, size_b)
    else:
        raise ValueError("a table of intensities is of a flat face, a disc or a rectangle")
    return Face(area * per_area, area * axial, by, axial, exponent, area)


def head_output(
    face_kind: str,
    size_a: float,
    size_b: float,
    beam: float,
    *,
    stops: float = 0.0,
    **given: Any,  # noqa: ANN401 - the fields of Given
) -> HeadOutput:
    """Return what a plain head gives, without grid and gel.

    Parameters
    ----------
    face_kind, size_a, size_b
        The face, as in `face_of`.
    beam : float
        Full angle at half the axial intensity, radians, at most 120 degrees.
    stops : float
        Turned up or down from what is given.
    **given
        The fields of `Given`.

    Raises
    ------
    ValueError
        If the output is given in no or in several ways, or the face or the beam is not possible.
    """
    face = face_of(face_kind, size_a, size_b, beam_exponent(beam))
    return output(face, face, Given(**given), stops)


def output(lamp: Face, head: Face, given: Given, stops: float = 0.0, passed: float = 1.0) -> HeadOutput:
    """Return what a head gives.

    Parameters
    ----------
    lamp : Face
        Its face as it is filled with light: whole, without a grid.
    head : Face
        Its face as it shines into the set: what an opening leaves of it, behind the grid. Its luminance is the same.
    given : Given
        How the output is told. A reading's distance is from the face (of a tube: from its axis); the face's size is
        taken into account, so that a reading close to a big face is right.
    stops : float
        Turned up or down from that.
    passed : float
        Share of the light that a gel lets through; readings are taken behind it.

    Raises
    ------
    ValueError
        If the output is told in no or in several ways, or by its axis while no light goes there.
    """
    if given.ways != 1:
        raise ValueError("a head is given by exactly one of its energy, meter reading, guide number and so on")
    on_axis = (given.meter, given.illuminance, given.guide_number)
    if lamp.axial <= 0.0 and any(one is not None for one in on_axis):
        raise ValueError("no light goes along the axis, where a meter reading or a guide number is taken")
    luminance = _luminance(lamp, head, given, passed) * float(np.exp2(stops))
    at_1m = luminance * head.illuminance(REFERENCE_DISTANCE)
    return HeadOutput(
        luminous_energy=luminance * head.energy,
        axial_luminance=luminance * head.axial,
        exponent=head.exponent,
        axial_intensity=luminance * head.intensity,
        meter_f_number_at_1m=flash_meter_f_number(at_1m, REFERENCE_ISO),
        luminance=luminance,
        exposure_at_1m=at_1m,
    )


def _luminance(lamp: Face, head: Face, given: Given, passed: float) -> float:
    """Return the luminance, cd·s/m², where the profile is 1."""
    filled = given.efficacy * given.efficiency / lamp.energy * passed
    if given.energy is not None:
        return given.energy * filled
    if given.power is not None:
        return given.power * given.seconds * filled
    if given.meter is not None:
        reading = MeterReading(*given.meter)
        return flash_meter_exposure(reading.f_number, reading.iso) / head.illuminance(reading.distance)
    if given.illuminance is not None:
        lux = Lux(*given.illuminance)
        return lux.illuminance * given.seconds / head.illuminance(lux.distance)
    if given.intensity is not None:
        return given.intensity * given.seconds / lamp.area * passed
    assert given.guide_number is not None  # one of them is told
    return intensity_from_guide_number(given.guide_number) / lamp.intensity * passed
