"""How a head's light falls off with the angle, as a setup file says it: pairs of angle and intensity, or a file."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, ValidationInfo
from pydantic_core import PydanticCustomError, core_schema

from throughlight.photometry.lamps import behind, flux
from throughlight.photometry.lm63 import MOST_BYTES, Lamp, LampFileError, parse, tilt_file_named
from throughlight.setup.base import folder_of
from throughlight.setup.kind import Kind, found, misfit, refusal
from throughlight.setup.units import ANGLE

MOST_PAIRS = 1000
_FITS = (
    'pairs of angle and relative intensity would fit, such as [["0 deg", 1.0], ["30 deg", 0.7], ["90 deg", 0.0]], '
    'or the name of an LM-63 file, such as "lamp.ies"'
)


@dataclass(frozen=True)
class Curve:
    """Relative intensities at angles from the axis (radians, ascending from 0), linear between; the same all round."""

    angles: tuple[float, ...]
    intensities: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class LampFile:
    """A lamp's own file."""

    path: Path
    lamp: Lamp

    @property
    def behind(self) -> float:
        """Return the share of the lamp's light that goes behind its face, and is left out."""
        return behind(self.lamp)


@dataclass(frozen=True)
class ProfileKind(Kind):
    """Reads a profile in either way of writing it."""

    def parse(self, value: object, folder: Path = Path()) -> Curve | LampFile:
        """Return the profile.

        Raises
        ------
        PydanticCustomError
            When it is neither pairs nor a lamp file that can be read.
        """
        if isinstance(value, str):
            return lamp_file(value, folder)
        if isinstance(value, list | tuple):
            return _curve(value)
        raise misfit(value, _FITS)

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        """Read with `parse`, files beside the setup file."""

        def read(value: object, info: ValidationInfo) -> Curve | LampFile:
            return self.parse(value, folder_of(info))

        return core_schema.with_info_plain_validator_function(read)

    def describe(self) -> dict[str, Any]:
        """Describe both ways of writing it."""
        pair = {
            "type": "array",
            "prefixItems": [{"type": "string", "examples": ["30 deg"]}, {"type": "number"}],
            "minItems": 2,
            "maxItems": 2,
        }
        pairs = {"type": "array", "items": pair, "minItems": 2}
        return {
            "anyOf": [pairs, {"type": "string", "examples": ["lamp.ies"]}],
            "description": "relative intensity by angle from the axis, linear between; or an LM-63 file",
        }


def _curve(value: list[Any] | tuple[Any, ...]) -> Curve:
    if not 2 <= len(value) <= MOST_PAIRS or not all(isinstance(one, list | tuple) and len(one) == 2 for one in value):
        raise misfit(value, _FITS)
    angles = tuple(ANGLE.parse(angle) for angle, _ in value)
    for _, one in value:
        if isinstance(one, bool) or not isinstance(one, int | float) or not 0.0 <= one < 1e30:
            raise misfit(one, "a relative intensity, zero or more, would fit, such as 0.7")
    if any(b <= a for a, b in itertools.pairwise(angles)):
        raise refusal("the angles do not ascend; each larger than the one before would fit")
    right = 0.5 * math.pi * (1.0 + 1e-9)
    if angles[0] != 0.0 or angles[-1] > right:
        said = f"{math.degrees(angles[0]):g} to {math.degrees(angles[-1]):g}"
        raise refusal(f"found angles from {said} degrees; from 0 deg on the axis up to at most 90 deg would fit")
    intensities = tuple(float(one) for _, one in value)
    if max(intensities) <= 0.0:
        raise refusal("every intensity is zero; at least one above zero would fit")
    if intensities[-1] > 0.0 and angles[-1] < 0.5 * math.pi * (1.0 - 1e-9):
        end = f"{math.degrees(angles[-1]):g} deg with {intensities[-1]:g}"
        raise refusal(f"the profile breaks off at {end}; one that goes on to 90 deg or ends in 0 would fit")
    return Curve(angles, intensities)


def lamp_file(name: str, folder: Path) -> LampFile:
    """Return what the lamp file of that name, beside the setup file, says.

    Raises
    ------
    PydanticCustomError
        When there is none, or it cannot be used.
    """
    if not name or len(name) > 1000 or not name.isprintable() or not name.lower().endswith(".ies"):
        raise misfit(name, _FITS)
    path = folder / name
    try:
        state = path.stat() if path.is_file() else None
    except OSError as trouble:
        raise misfit(name, f"it cannot be read ({trouble.strerror}); a file would fit") from None
    if state is None:
        place = found(str(folder.absolute()))
        raise misfit(name, f"no such file stands in {place}; a file beside the setup file would fit")
    return _read(path, state.st_size, state.st_mtime_ns)


@lru_cache(maxsize=16)
def _read(path: Path, size: int, changed: int) -> LampFile:
    text = _text(path)
    beside = tilt_file_named(text)
    # Old files name folders of the machine they were written on: only the name counts.
    tilt = None if beside is None else path.parent / Path(beside.replace("\\", "/")).name
    try:
        lamp = parse(text, _text(tilt) if tilt is not None and tilt.is_file() else None)
    except LampFileError as trouble:
        raise misfit(path.name, f"{trouble}; a whole LM-63 file of type C would fit") from None
    except OSError as trouble:
        raise misfit(path.name, f"it cannot be read ({trouble.strerror}); a file would fit") from None
    if flux(lamp, last=0.5 * math.pi) <= 0.0:
        words = "all of its light goes behind the face (above 90 degrees); a lamp that shines ahead would fit"
        raise misfit(path.name, words)
    return LampFile(path, lamp)


def _text(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            content = stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as trouble:
        reason = trouble.strerror if isinstance(trouble, OSError) else str(trouble)
        raise misfit(path.name, f"it cannot be read ({reason}); a file would fit") from None
    if len(content) > MOST_BYTES:
        raise misfit(path.name, f"it has more than {MOST_BYTES // 10**6} MB; a smaller file would fit")
    return content.decode("utf-8-sig", errors="replace")


def opening_named(name: object, folder: Path) -> tuple[str, float, float] | None:
    """Return the luminous opening of a lamp file, as `photometry.lamps.opening`; None where it cannot be read."""
    from throughlight.photometry.lamps import opening

    try:
        return opening(lamp_file(name, folder).lamp) if isinstance(name, str) else None
    except PydanticCustomError:
        return None


AngularProfile = Annotated[Curve | LampFile, ProfileKind()]
