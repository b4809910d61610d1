"""Why a set that can be read could still not be built or used: things in one another's way, or in the picture."""

from __future__ import annotations

from collections.abc import Hashable
from typing import NamedTuple

from throughlight.readings.lens import darkest_corner
from throughlight.readings.power import power_reading
from throughlight.readings.standing import standing_in_frame
from throughlight.setup import Setup
from throughlight.setup.checks import standing_in_one_another


class Allowed(NamedTuple):
    """What a candidate may do that the set itself does not: else it fails, with a reason."""

    overlap: bool = False
    show: bool = False
    lack_power: bool = False


def doubts(setup: Setup, allowed: Allowed) -> dict[Hashable, str]:
    """Return why a set could not be built or used as it is: what is in doubt, and a sentence about it."""
    told: dict[Hashable, str] = {}
    if not allowed.overlap:
        told |= standing_in_one_another(setup)
    if not allowed.show:
        for thing in standing_in_frame(setup):
            if thing.kind != "support" and not thing.hidden:
                told[thing.name, "in the frame"] = f"{thing.name} ({thing.kind}) comes into the frame"
    return told | doubts_of_use(setup, allowed)


def doubts_of_use(setup: Setup, allowed: Allowed) -> dict[Hashable, str]:
    """Return those of the doubts that don't follow from where things stand: power, and the corners of the frame."""
    told: dict[Hashable, str] = {}
    if not allowed.lack_power:
        for head in power_reading(setup).heads:
            if head.complaint is not None:
                told[head.name, "power"] = head.complaint
    corner = darkest_corner(setup.camera)
    if corner.complaint:
        told["corner"] = corner.complaint
    return told
