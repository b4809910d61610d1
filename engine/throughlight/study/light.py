"""What of a set is traced, and what only scales its light.

Light adds, and each light is a layer of its own: a set that differs from another only in how strong its lights are has
the same layers, each multiplied by the ratio of the powers. That is so for energy, stops, a meter reading, a guide
number, watts, lux and efficiency of a head; for the luminance of a window and the illuminance of the room; for the
shutter time, which lamps, windows and room grow with and flashes don't; and for the ISO speed, which only moves the
stops. Colours are not scaled but traced: each band has a strength of its own.
"""

from __future__ import annotations

import dataclasses
import enum
import hashlib
import math
from collections.abc import Collection, Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

from throughlight.setup import LampFile, Setup
from throughlight.stage.output import head_output_of

_NAMES = frozenset({"name", "like", "title"})
_OF_CAMERA = frozenset({"iso", "body", "sync", "shutter", "pixels"})
_OF_HEAD = frozenset(
    {"energy", "efficacy", "meter", "guide_number", "power", "illuminance", "output", "stops", "range"}
    | {"efficiency", "modifier"}
)
_WITHOUT: Mapping[str, frozenset[str]] = {
    "camera": _NAMES | _OF_CAMERA,
    "heads": _NAMES | _OF_HEAD,
    "windows": _NAMES | {"luminance"},
    "ambient": frozenset({"illuminance"}),
}
_NOTHING: Mapping[int, bytes] = MappingProxyType({})


def powers(setup: Setup) -> NDArray[np.float64]:
    """Return how strong each light is.

    Returns
    -------
    ndarray
        (layers,) in the order of `Setup.lights`, the room last: lm·s of a head in one frame, cd·s/m² of a window,
        lx·s of the room. Of two sets with the same `geometry_key`, layers of the one are layers of the other times
        the ratio of these; where the one's power is 0, so is the other's.
    """
    shutter = setup.camera.shutter
    heads = [head_output_of(head, shutter).luminous_energy for head in setup.heads]
    windows = [window.luminance * shutter for window in setup.windows]
    room = 0.0 if setup.ambient is None else setup.ambient.illuminance * shutter
    return np.array([*heads, *windows, room])


def joules(setup: Setup) -> float | None:
    """Return the energy asked of all flash heads together, J; None when one is given without."""
    flashes = [head for head in setup.heads if not head.continuous]
    asked = [head.energy * math.exp2(head.stops) for head in flashes if head.energy is not None]
    return math.fsum(asked) if len(asked) == len(flashes) else None


def geometry_key(setup: Setup, told: Mapping[int, bytes] = _NOTHING) -> str:
    """Return a hash of everything that a trace depends on but the powers of the lights.

    Sets with equal keys are traced once. Names don't count; files count by what is in them, so that the key is the
    same on another machine.

    Parameters
    ----------
    setup
        The set.
    told
        What `bytes_of_parts` said of a set that shares parts with this one.
    """
    digest = hashlib.sha256()
    for part in _of_setup(setup, told):
        digest.update(part)
    return digest.hexdigest()


def whole_key(setup: Setup) -> str:
    """Return a hash of everything that a set says, names and powers included; files count by what is in them."""
    digest = hashlib.sha256()
    for part in _encoded(setup, frozenset()):
        digest.update(part)
    return digest.hexdigest()


def content_key(part: object) -> str:
    """Return a hash of all that a part of a set says; files count by what is in them, not by where they stand."""
    digest = hashlib.sha256()
    for piece in _encoded(part, frozenset()):
        digest.update(piece)
    return digest.hexdigest()


def bytes_of_parts(setup: Setup) -> Mapping[int, bytes]:
    """Return by the identity of its parts (heads, cards, subjects, …) what a set's key is made from.

    It holds as long as the set is there.
    """
    told: dict[int, bytes] = {}
    for name in type(setup).model_fields:
        value = getattr(setup, name)
        for part in value if isinstance(value, tuple) else (value,):
            if isinstance(part, BaseModel):
                told[id(part)] = b"".join(_encoded(part, _WITHOUT.get(name, _NAMES)))
    return told


def _of_setup(setup: Setup, told: Mapping[int, bytes]) -> Iterator[bytes]:
    for name in type(setup).model_fields:
        value = getattr(setup, name)
        yield f"/{name}".encode()
        if name == "heads":
            for head in setup.heads:
                yield b"flash" if not head.continuous else b"lamp"
                yield from _encoded(head, _WITHOUT[name], told)
        elif name == "windows":
            for window in setup.windows:
                yield b"bright" if window.luminance > 0.0 else b"dark"
                yield from _encoded(window, _WITHOUT[name], told)
        elif name == "ambient":
            if setup.ambient is not None and setup.ambient.illuminance > 0.0:
                yield from _encoded(setup.ambient, _WITHOUT[name], told)
        elif name not in ("title", "seed", "mark_height", "wanted", "finish", "pitch"):
            yield from _encoded(value, _WITHOUT.get(name, _NAMES), told)


def _encoded(value: Any, without: Collection[str], told: Mapping[int, bytes] = _NOTHING) -> Iterator[bytes]:  # noqa: ANN401 - all that a set is made of
    """Return a value as bytes that no other value has; keys of tables in `without` are left out at any depth."""
    if isinstance(value, BaseModel):
        if id(value) in told:
            yield told[id(value)]
            return
        yield f"{{{type(value).__name__}".encode()
        for name in type(value).model_fields:
            if name not in without:
                yield f"{name}=".encode()
                yield from _encoded(getattr(value, name), without)
        yield b"}"
    elif isinstance(value, LampFile):
        yield from _encoded(value.lamp, ())
    elif dataclasses.is_dataclass(value):
        yield type(value).__name__.encode()
        yield from _encoded([getattr(value, field.name) for field in dataclasses.fields(value)], without)
    elif isinstance(value, list | tuple):
        yield f"[{len(value)}:".encode()
        for one in value:
            yield from _encoded(one, without, told)
    elif isinstance(value, np.ndarray):
        yield f"<{value.dtype.str}{value.shape}:".encode()
        yield np.ascontiguousarray(value).tobytes()
    elif isinstance(value, Path):
        yield content_digest(value).encode()
    elif isinstance(value, enum.Enum):
        yield from _encoded(value.value, without)
    elif value is None or isinstance(value, bool | int | float | str):
        yield f"{type(value).__name__}:{value!r};".encode()
    else:  # a new kind of value must not go unnoticed
        raise TypeError(f"a set holds a {type(value).__name__}, which no key counts")


def content_digest(path: Path) -> str:
    """Return a hash of what is in a file (cached by path, size and time)."""
    state = path.stat()
    return _content_digest(path, state.st_size, state.st_mtime_ns)


@lru_cache(maxsize=256)
def _content_digest(path: Path, size: int, changed: int) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
