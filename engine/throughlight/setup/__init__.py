"""Text in, checked description out: the only place that knows units and file errors.

`load` and `loads` return a frozen `Setup` in metres, seconds, radians, joules and kelvin, or raise a `SetupError`
that lists every mistake of the file at once. `setup_warnings` says what is doubtful, `schema` is for editors.
"""

from __future__ import annotations

from typing import Any

from throughlight.setup.bands import Band
from throughlight.setup.camera import Camera
from throughlight.setup.checks import setup_warnings
from throughlight.setup.faces import Disc, Face, Polygon, Rectangle, Tube
from throughlight.setup.finishes import Pattern, Surface
from throughlight.setup.gels import Gel
from throughlight.setup.heads import Head, Meter
from throughlight.setup.material import Map, Material
from throughlight.setup.mistakes import Mistake, SetupError
from throughlight.setup.outlines import Outline, Picture, Svg
from throughlight.setup.place import Vec3
from throughlight.setup.profile import Curve, LampFile
from throughlight.setup.read import load, loads
from throughlight.setup.shapes import Mesh, Revolve, Shape, Slab, Sphere
from throughlight.setup.sheets import Sheet, Sheeting
from throughlight.setup.subject import Coat, Fill, Subject
from throughlight.setup.surfaces import Backdrop, Card, Flag, Support, Table
from throughlight.setup.whole import Setup
from throughlight.setup.windows import Window
from throughlight.setup.wishes import Ambient, Finish, Pitch, Spot, Wanted

__all__ = [
    "Ambient",
    "Backdrop",
    "Band",
    "Camera",
    "Card",
    "Coat",
    "Curve",
    "Disc",
    "Face",
    "Fill",
    "Finish",
    "Flag",
    "Gel",
    "Head",
    "LampFile",
    "Map",
    "Material",
    "Mesh",
    "Meter",
    "Mistake",
    "Outline",
    "Pattern",
    "Picture",
    "Pitch",
    "Polygon",
    "Rectangle",
    "Revolve",
    "Setup",
    "SetupError",
    "Shape",
    "Sheet",
    "Sheeting",
    "Slab",
    "Sphere",
    "Spot",
    "Subject",
    "Support",
    "Surface",
    "Svg",
    "Table",
    "Tube",
    "Vec3",
    "Wanted",
    "Window",
    "load",
    "loads",
    "schema",
    "setup_warnings",
]


_STANDS_FOR = {
    "Camera": ("body", ("sensor",)),
    "Head": ("modifier", ("face",)),
    "Material": ("like", ("reduced_scattering", "absorption")),
    "Sheeting": ("like", ("transmittance", "diffuse")),
    "Surface": ("like", ("reflectance",)),
}
"""A key that names a kit entry, by table, and the keys that it gives."""


def schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a setup file, for editors that complete and check TOML."""
    described = Setup.model_json_schema(by_alias=True, mode="validation")
    for table, (name, given) in _STANDS_FOR.items():
        definition = described["$defs"][table]
        definition["required"] = [key for key in definition.get("required", []) if key not in given]
        definition["anyOf"] = [{"required": [name]}, {"required": list(given)}]
    lamp_file = {"required": ["profile"], "properties": {"profile": {"type": "string"}}}
    described["$defs"]["Head"]["anyOf"].append(lamp_file)
    described["$defs"]["Material"]["anyOf"].append({"required": ["reduced_scattering", "map"]})
    described["$defs"]["Surface"]["anyOf"] += [{"required": ["pattern"]}, {"required": ["index", "extinction"]}]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **described,
        "title": "Throughlight setup file",
    }
