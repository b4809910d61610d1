"""A set as a plan: what stands on it, where, and what is told beside the drawing. Nothing is traced."""

from __future__ import annotations

from typing import NamedTuple

from throughlight.readings.camera import CameraReading, camera_reading
from throughlight.readings.power import PowerReading, power_reading
from throughlight.setup import Setup
from throughlight.sheets.plan_pieces import Piece, pieces_of
from throughlight.sheets.plan_places import Place, place_of
from throughlight.sheets.plan_sight import Sight, sight_of


class Plan(NamedTuple):
    """A set, ready to be drawn: pieces by number, their places, the camera's lines, what is read without tracing."""

    setup: Setup
    pieces: tuple[Piece, ...]
    places: tuple[Place, ...]
    sight: Sight
    camera: CameraReading
    power: PowerReading

    def place(self, number: int) -> Place:
        """Return where the piece of that number stands."""
        return self.places[number - 1]


def plan_of(setup: Setup) -> Plan:
    """Return the plan of a set.

    Raises
    ------
    OSError
        If the file of a subject's mesh cannot be opened.
    """
    pieces, camera = pieces_of(setup), camera_reading(setup)
    return Plan(
        setup=setup,
        pieces=pieces,
        places=tuple(place_of(piece, setup.camera.at, setup.mark_height) for piece in pieces),
        sight=sight_of(setup.camera, camera),
        camera=camera,
        power=power_reading(setup),
    )
