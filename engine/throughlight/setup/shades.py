"""What is hung before a head to keep its light off: a snoot, barn doors. Black shapes that stand in the set.

Sides are named as seen from the front, by someone the head faces: right is the head's own x. A door's angle is how far
it is opened from straight ahead: 0 deg lies along the axis, 90 deg in the face's plane, below zero over the face.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from throughlight.setup.base import Part
from throughlight.setup.faces import Disc, Rectangle, Tube
from throughlight.setup.place import Vec3
from throughlight.setup.units import Opening, Size

Array = NDArray[np.float64]
SIDES = ("left", "right", "top", "bottom")


class Snoot(Part):
    """A black tube before the face; where it is narrower than the face it covers the rest of it."""

    length: Size = Field(description="from the face to its mouth")
    diameter: Size | None = Field(None, description="inner diameter; round the whole face when left out")


class BarnDoors(Part):
    """Up to four black doors, hinged at the edges of the face (of a disc: of the square round it)."""

    length: Size | None = Field(None, description="from hinge to free edge; the face's larger side when left out")
    left: Opening | None = Field(None, description="0 deg straight ahead, 90 deg wide open, below zero over the face")
    right: Opening | None = Field(None, description="likewise")
    top: Opening | None = Field(None, description="likewise")
    bottom: Opening | None = Field(None, description="likewise")

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say that there is at least one door."""
        if any(side in keys for side in SIDES):
            return None
        return 'there is no door; left, right, top or bottom with its opening would fit, such as left = "30 deg"'


class Leaf(NamedTuple):
    """One door: its middle, its axes (columns: along the hinge, away from it, across), and its sizes, m."""

    name: str
    middle: Array
    axes: Array
    width: float
    height: float


class Barrel(NamedTuple):
    """A snoot's tube: its ends and its diameter, m."""

    name: str
    start: Array
    end: Array
    diameter: float


def across(face: Disc | Rectangle | Tube) -> tuple[float, float]:
    """Return how wide and how high a face is, m."""
    if isinstance(face, Rectangle):
        return face.width, face.height
    return (face.length, face.diameter) if isinstance(face, Tube) else (face.diameter, face.diameter)


def bore(face: Disc | Rectangle, snoot: Snoot) -> float:
    """Return the inner diameter of a snoot, m."""
    if snoot.diameter is not None:
        return snoot.diameter
    return face.diameter if isinstance(face, Disc) else math.hypot(face.width, face.height)


def left_open(face: Disc | Rectangle, snoot: Snoot) -> Disc | Rectangle | None:
    """Return what a snoot leaves of a face, or None where the rest is no plain shape."""
    width = bore(face, snoot)
    if width >= (face.diameter if isinstance(face, Disc) else math.hypot(face.width, face.height)):
        return face
    if isinstance(face, Disc) or width <= min(face.width, face.height):
        return Disc.model_construct(shape="disc", diameter=width)
    return None


def barrel(name: str, at: Vec3, axes: Array, face: Disc | Rectangle, snoot: Snoot) -> Barrel:
    """Return a snoot as it stands in the set, before a head called `name` with the frame `axes` (columns)."""
    start = np.asarray(at, float)
    return Barrel(f"{name}, snoot", start, start + snoot.length * axes[:, 2], bore(face, snoot))


def leaves(name: str, at: Vec3, axes: Array, face: Disc | Rectangle, doors: BarnDoors) -> list[Leaf]:
    """Return the doors as they stand in the set, before a head called `name` with the frame `axes` (columns)."""
    x, y, ahead = axes.T
    width, height = across(face)
    length = max(width, height) if doors.length is None else doors.length
    edges = {"left": (-x, y, width, height), "right": (x, y, width, height)}
    edges |= {"top": (y, x, height, width), "bottom": (-y, x, height, width)}
    found = []
    for side in SIDES:
        angle: float | None = getattr(doors, side)
        if angle is None:
            continue
        outward, hinge, size, along = edges[side]
        away = math.sin(angle) * outward + math.cos(angle) * ahead
        middle = np.asarray(at, float) + 0.5 * size * outward + 0.5 * length * away
        frame = np.stack([hinge, away, np.cross(hinge, away)], axis=1)
        found.append(Leaf(f"{name}, {side} barn door", middle, frame, along, length))
    return found
