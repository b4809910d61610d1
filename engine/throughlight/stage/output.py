"""What a head of the set gives: its description handed to photometry."""

from __future__ import annotations

import math

from throughlight.photometry import gel, lamps, profiles
from throughlight.photometry.colour import temperature_bands
from throughlight.photometry.flash import Given, HeadOutput, Lux, MeterReading, beam_exponent, face_of, output
from throughlight.photometry.profiles import Profile
from throughlight.setup import Disc, Head, LampFile, Rectangle, Tube, Vec3


def face_sizes(face: Disc | Rectangle | Tube) -> tuple[str, float, float]:
    """Return a face as photometry names it: kind and two sizes, m (a disc's second is 0)."""
    if isinstance(face, Disc):
        return "disc", face.diameter, 0.0
    if isinstance(face, Rectangle):
        return "rectangle", face.width, face.height
    return "tube", face.length, face.diameter


def bare_profile_of(head: Head) -> Profile:
    """Return how a head's light falls off without its grid."""
    if head.profile is None:
        return Profile(beam_exponent(head.beam))
    if isinstance(head.profile, LampFile):
        return lamps.profile_of(head.profile.lamp)
    return profiles.from_pairs(head.profile.angles, head.profile.intensities)


def profile_of(head: Head) -> Profile:
    """Return how a head's light falls off, behind its grid if it has one."""
    bare = bare_profile_of(head)
    return bare if head.grid is None else profiles.honeycomb(bare, 0.5 * head.grid)


def light_of(head: Head, balance: float) -> gel.Light:
    """Return the colour of a head's light, seen with a white balance of `balance` kelvin, and what its gel passes."""
    if head.gel is None:
        return gel.Light(temperature_bands(head.temperature, balance), 1.0)
    if head.gel.mired is None:
        return gel.behind_bands(head.temperature, head.gel.bands, balance)
    share = None if head.gel.transmittance is None else head.gel.transmittance[0]
    return gel.behind_shift(head.temperature, head.gel.mired, balance, share)


def grid_passes(head: Head) -> float:
    """Return the share of its light that a head's grid lets through; 1 without one."""
    return 1.0 if head.grid is None else profile_of(head).flux / bare_profile_of(head).flux


def head_output_of(head: Head, shutter: float) -> HeadOutput:
    """Return the light of a head in one frame, its stops, gel and grid included: lm·s, cd·s/m², cd·s.

    Parameters
    ----------
    head
        The head. What a snoot leaves open counts as its face; what the snoot and barn doors keep off is left to a
        trace.
    shutter
        The time, s, over which a continuous lamp shines.

    Raises
    ------
    ValueError
        If the head is given in no or in several ways (a checked set has one).
    """
    profile = profile_of(head)
    lamp = face_of(*face_sizes(head.face), bare_profile_of(head) if head.grid is not None else profile)
    shining = face_of(*face_sizes(head.opening), profile)
    return output(lamp, shining, _given(head, shutter), head.stops, light_of(head, head.temperature).passed)


def _given(head: Head, shutter: float) -> Given:
    meter = lux = intensity = None
    if head.meter is not None:
        meter = MeterReading(head.meter.f_number, head.meter.distance, head.meter.iso)
    if head.illuminance is not None:
        lux = Lux(head.illuminance.illuminance, head.illuminance.distance)
    if head.output is not None and isinstance(head.profile, LampFile):
        lamp = head.profile.lamp
        intensity = lamps.reference_intensity(lamp)
        if lamp.tilt is not None:
            intensity *= lamp.tilt.at(off_nadir(head.at, head.aim))
    return Given(
        energy=head.energy,
        efficacy=head.efficacy,
        efficiency=head.efficiency,
        meter=meter,
        guide_number=head.guide_number,
        power=head.power,
        illuminance=lux,
        intensity=intensity,
        seconds=shutter,
    )


def off_nadir(at: Vec3, aim: Vec3) -> float:
    """Return how far a head is tilted from pointing straight down, degrees."""
    return math.degrees(math.acos(max(-1.0, min(1.0, (at[1] - aim[1]) / math.dist(at, aim)))))
