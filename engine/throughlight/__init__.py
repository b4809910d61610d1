"""Throughlight: a Monte Carlo light tracer that answers a photographer in stops with error bars.

    import throughlight as tl

    setup = tl.load("scenes/agate/set.toml")
    readings = tl.meter(setup)
    shot = tl.shoot(setup)

The commands are thin callers of these three.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

__version__ = "0.2.0"

if TYPE_CHECKING:
    from throughlight.readings.meter import meter
    from throughlight.setup import Setup, SetupError, load, loads
    from throughlight.sheets.shot import shoot

__all__ = ["Setup", "SetupError", "__version__", "load", "loads", "meter", "shoot"]

_HOMES = {
    "Setup": "throughlight.setup",
    "SetupError": "throughlight.setup",
    "load": "throughlight.setup",
    "loads": "throughlight.setup",
    "meter": "throughlight.readings.meter",
    "shoot": "throughlight.sheets.shot",
}


def __getattr__(name: str) -> object:
    """Import what is asked for, so that nothing costs start-up time before it is used."""
    if name not in _HOMES:
        raise AttributeError(f"module 'throughlight' has no attribute {name!r}")
    import importlib

    found: object = getattr(importlib.import_module(_HOMES[name]), name)
    return found
