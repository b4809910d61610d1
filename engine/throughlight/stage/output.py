"""What a head of the set gives: its description handed to photometry."""

from __future__ import annotations

from throughlight.photometry.flash import HeadOutput, MeterReading, head_output
from throughlight.setup import Disc, Head, Rectangle, Tube


def face_sizes(face: Disc | Rectangle | Tube) -> tuple[str, float, float]:
    """Return a face as photometry names it: kind and two sizes, m (a disc's second is 0)."""
    if isinstance(face, Disc):
        return "disc", face.diameter, 0.0
    if isinstance(face, Rectangle):
        return "rectangle", face.width, face.height
    return "tube", face.length, face.diameter


def head_output_of(head: Head) -> HeadOutput:
    """Return the light of a head in one flash, its stops included: lm·s, cd·s/m², cd·s.

    Raises
    ------
    ValueError
        If the head is given by none or several of energy, meter reading and guide number (a checked set has one).
    """
    kind, size_a, size_b = face_sizes(head.face)
    meter = None
    if head.meter is not None:
        meter = MeterReading(head.meter.f_number, head.meter.distance, head.meter.iso)
    return head_output(
        kind,
        size_a,
        size_b,
        head.beam,
        energy=head.energy,
        efficacy=head.efficacy,
        efficiency=head.efficiency,
        meter=meter,
        guide_number=head.guide_number,
        stops=head.stops,
    )
