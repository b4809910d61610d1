"""From a head or a window to its records: its face as a shape, its light, its angular profile, what hangs before it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from throughlight.photometry.colour import temperature_bands
from throughlight.photometry.profiles import Profile
from throughlight.setup import Disc, Head, Rectangle, Tube, Window
from throughlight.setup.shades import barrel, leaves
from throughlight.stage.frames import Array, facing
from throughlight.stage.output import head_output_of, light_of, profile_of
from throughlight.stage.rows import Rows, frame_fields
from throughlight.trace.tables import Region, ShapeKind


def add_head(rows: Rows, head: Head, balance: float, shutter: float) -> None:
    """Add a head, its face and its light, seen with a white balance of `balance` kelvin over `shutter` seconds."""
    output = head_output_of(head, shutter)
    light = np.multiply(light_of(head, balance).bands, output.luminance)
    # Asking heads in turn needs a lobe as wide as the profile and as strong as all of its light, wherever it goes.
    intensity = output.luminous_energy * (output.exponent + 1.0) / (2.0 * np.pi)
    _add_face(
        rows, head.name, head.at, facing(head.at, head.aim, head.roll), head.opening,
        light=light, profile=profile_of(head),
        intensity=output.axial_intensity if head.profile is None and head.grid is None else intensity,
    )  # fmt: skip


def add_window(rows: Rows, window: Window, balance: float, shutter: float) -> None:
    """Add a window as a Lambertian face that shines for `shutter` seconds."""
    face = Rectangle.model_construct(shape="rectangle", width=window.width, height=window.height)
    light = np.multiply(temperature_bands(window.temperature, balance), window.luminance * shutter)
    frame = facing(window.at, window.aim, window.roll)
    intensity = window.luminance * shutter * window.width * window.height
    _add_face(rows, window.name, window.at, frame, face, light=light, profile=Profile(1.0), intensity=intensity)


def _add_face(
    rows: Rows, name: str, at: ArrayLike, frame: Array, face: Disc | Rectangle | Tube,
    *, light: Array, profile: Profile, intensity: float,
) -> None:  # fmt: skip
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
    part = rows.face(f"{name}, face", Region.OTHER, None)
    rows.face(f"{name}, back", Region.OTHER, None)
    shape = rows.shape(kind, at, frame, sizes, part=part, head=index)
    curve = {}
    if profile.table is not None:
        angles, columns = profile.table.shape
        curve = {"curve": rows.curve(profile.table), "curve_rows": angles, "curve_columns": columns}
    rows.heads.append(
        {
            "kind": kind,
            "shape": shape,
            **frame_fields(at, frame),
            **dict(zip(("sa", "sb", "sc"), sizes, strict=True)),
            **dict(zip(("red", "green", "blue"), light, strict=True)),
            "area": area,
            "exponent": profile.exponent,
            "intensity": intensity,
            **curve,
        }
    )


_CLEAR = 1.0 + 1e-6
"""A snoot stands this much wider than what it leaves of the face, so that the face's rim is not on it."""


def add_shades(rows: Rows, head: Head) -> None:
    """Add a head's snoot and barn doors: black, whichever side is looked at."""
    axes = facing(head.at, head.aim, head.roll)
    if isinstance(head.face, Tube):
        return
    if head.snoot is not None:
        tube = barrel(head.name, head.at, axes, head.face, head.snoot)
        part = rows.face(tube.name, Region.OTHER, None)
        rows.face(f"{tube.name}, inside", Region.OTHER, None)
        sizes = (0.5 * tube.diameter * _CLEAR, 0.0, 0.5 * head.snoot.length)
        rows.shape(ShapeKind.TUBE, 0.5 * (tube.start + tube.end), axes, sizes, part=part)
    if head.barn_doors is not None:
        for door in leaves(head.name, head.at, axes, head.face, head.barn_doors):
            part = rows.face(door.name, Region.OTHER, None)
            rows.face(door.name, Region.OTHER, None)
            sizes = (0.5 * door.width, 0.5 * door.height, 0.0)
            rows.shape(ShapeKind.RECTANGLE, door.middle, door.axes, sizes, part=part)
