"""A tiny set for the tests of report pages, traced once, and the engine's own answer at other powers and settings."""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

import numpy as np

import throughlight as tl
from plain_camera import CAMERA
from throughlight.readings import assemble as engine
from throughlight.readings import meter as meter_room
from throughlight.readings.reading import Readings
from throughlight.setup import Setup
from throughlight.sheets import shot as sheet
from throughlight.sheets.shot import Shot

TEXT = (
    'title = "Sphere before grey paper"\nseed = 3\n'
    + CAMERA.replace('shutter = "1/160 s"', 'shutter = "1/60 s"\nglare = "1 %"\npixels = [48, 32]')
    + """
[subject]
name = "sphere"
shape = { kind = "sphere", diameter = "60 mm" }
surface = { reflectance = [0.5, 0.4, 0.3] }

[backdrop]
distance = "60 cm"
width = "160 cm"
height = "120 cm"
cloth = { reflectance = 0.03 }

[[head]]
name = "key head"
face = { shape = "disc", diameter = "18 cm" }
at = { bearing = "50 deg", distance = "70 cm", height = "30 cm" }
energy = "100 J"
stops = "-1.5 stop"

[[head]]
name = "edge lamp"
face = { shape = "rectangle", width = "20 cm", height = "40 cm" }
at = { bearing = "-130 deg", distance = "60 cm", height = "10 cm" }
power = "800 W"
efficacy = "90 lm/W"

[ambient]
illuminance = "300 lx"

[[spot]]
name = "middle"
x = "50 %"
y = "50 %"

[wanted]
subject = "+0.5 stop"
backdrop_under = "3 stop"
veil = "-5 stop"
"""
)
LIGHTS = ("key head", "edge lamp", "room light")


class Traced(NamedTuple):
    """A shot, and what its readings were assembled from."""

    shot: Shot
    parts: dict[str, Any]


def traced(setup: Setup, *, samples: int = 16) -> Traced:
    """Return a quick shot of a set with the tallies behind its readings."""
    kept: dict[str, Any] = {}
    names = ("setup", "cast", "regions", "looks", "outcome", "worst", "tolerance", "seed")

    def keep(*given: Any) -> Readings:
        kept.update(zip(names, given, strict=True))
        return engine.assemble(*given)

    was, meter_room.assemble = meter_room.assemble, keep
    try:
        shot = sheet.shoot(setup, tolerance=0.3, most_samples=samples, grain=50.0, threads=2)
    finally:
        meter_room.assemble = was
    return Traced(shot, kept)


@cache
def sphere() -> Traced:
    """Return the tiny set, traced."""
    return traced(tl.loads(TEXT))


def readings_at(made: Traced, factors: np.ndarray, **camera: float) -> Readings:
    """Return what the engine reads with each layer's sums times a factor and other settings of the camera.

    The second look at the worst patches is the one that was made at the set's own powers.
    """
    parts = dict(made.parts)
    setup = parts["setup"]
    parts["setup"] = setup.model_copy(update={"camera": setup.camera.model_copy(update=camera)})

    def scaled(outcome: Any) -> Any:
        tallies = {
            name: tally._replace(
                cells=tally.cells * factors[:, None], routes=tally.routes * factors[:, None, None]
            )
            for name, tally in outcome.tallies.items()
        }  # fmt: skip
        return outcome._replace(tallies=tallies)

    parts["outcome"] = scaled(parts["outcome"])
    if parts["worst"] is not None:
        parts["worst"] = (parts["worst"][0], scaled(parts["worst"][1]))
    return engine.assemble(*parts.values())
