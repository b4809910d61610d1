"""From a head to its records: its face as a shape, its light, its angular profile."""

from __future__ import annotations

import numpy as np

from throughlight.photometry.colour import temperature_bands
from throughlight.setup import Disc, Head, Rectangle
from throughlight.stage.frames import facing
from throughlight.stage.output import head_output_of
from throughlight.stage.rows import Rows, frame_fields
from throughlight.trace.tables import Region, ShapeKind


def add_head(rows: Rows, head: Head, balance: float) -> None:
    """Add a head, its face and its light, seen with a white balance of `balance` kelvin."""
    output = head_output_of(head)
    frame = facing(head.at, head.aim, head.roll)
    face = head.face
    if isinstance(face, Disc):
        kind, sizes = ShapeKind.DISC, (face.diameter / 2.0, 0.0, 0.0)
        area = np.pi * sizes[0] ** 2
    elif isinstance(face, Rectangle):
        kind, sizes = ShapeKind.RECTANGLE, (face.width / 2.0, face.height / 2.0, 0.0)
        area = face.width * face.height
    else:
        kind, sizes = ShapeKind.TUBE, (face.diameter / 2.0, 0.0, face.length / 2.0)
        area = np.pi * face.diameter * face.length
        # A tube lies along the frame's x axis, as it is seen from the place it is aimed at.
        frame = np.stack([frame[:, 1], frame[:, 2], frame[:, 0]], axis=1)
    index = len(rows.heads)
    part = rows.face(f"{head.name}, face", Region.OTHER, None)
    rows.face(f"{head.name}, back", Region.OTHER, None)
    shape = rows.shape(kind, head.at, frame, sizes, part=part, head=index)
    light = np.multiply(temperature_bands(head.temperature, balance), output.axial_luminance)
    rows.heads.append(
        {
            "kind": kind,
            "shape": shape,
            **frame_fields(head.at, frame),
            **dict(zip(("sa", "sb", "sc"), sizes, strict=True)),
            **dict(zip(("red", "green", "blue"), light, strict=True)),
            "area": area,
            "exponent": output.exponent,
            "intensity": output.axial_intensity,
        }
    )
