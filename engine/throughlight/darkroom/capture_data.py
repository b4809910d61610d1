"""What a photo's file says of how it was taken, and why a photo is refused.

The tags are those of Exif (CIPA DC-008): ExposureTime 33434, FNumber 33437, PhotographicSensitivity 34855, Flash 37385,
FocalLength 37386. Whatever else a camera writes is not looked at.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from numbers import Real

_EXPOSURE_TIME, _F_NUMBER, _SENSITIVITY, _FLASH, _FOCAL = 33434, 33437, 34855, 37385, 37386
_FIRED = 1  # bit 0 of the tag Flash


class Unfit(ValueError):
    """A file cannot be used; the message says why and what would fit, and leaves the file's name to who caught it."""


class CaptureError(ValueError):
    """A photo cannot be used; the message is one sentence that names the file, `words` the same without its name."""

    def __init__(self, file: str, words: str) -> None:
        """Keep the words."""
        super().__init__(f"{file}: {words}")
        self.words = words


@dataclass(frozen=True)
class ExposureData:
    """Settings of the camera as its file says them; None where it doesn't.

    f_number: engraved. shutter: s. iso: ISO speed. focal: m. flash: whether a flash is said to have fired (heads that
    are triggered by radio or cable often go unnoticed by the camera).
    """

    f_number: float | None = None
    shutter: float | None = None
    iso: float | None = None
    focal: float | None = None
    flash: bool | None = None

    @property
    def told(self) -> bool:
        """Return whether the file says at least one of the three that make the exposure."""
        return any(one is not None for one in (self.f_number, self.shutter, self.iso))


def number(value: object) -> float | None:
    """Return a tag's number, from a rational, a pair or a list of one; None when it is none that is above zero."""
    if isinstance(value, tuple | list):
        if len(value) == 2 and all(isinstance(one, Real) for one in value):
            return number(value[0] / value[1]) if value[1] else None
        return number(value[0]) if len(value) > 0 else None
    if isinstance(value, bool) or not isinstance(value, Real):
        return None
    try:
        plain = float(value)
    except (ArithmeticError, ValueError):
        return None
    return plain if math.isfinite(plain) and plain > 0.0 else None


def from_tags(tags: Mapping[int, object]) -> ExposureData:
    """Return the settings among Exif tags, by their numbers; nonsense counts as not said."""
    focal = number(tags.get(_FOCAL))
    flash = tags.get(_FLASH)
    return ExposureData(
        f_number=number(tags.get(_F_NUMBER)),
        shutter=number(tags.get(_EXPOSURE_TIME)),
        iso=number(tags.get(_SENSITIVITY)),
        focal=None if focal is None else focal / 1000.0,
        flash=bool(flash & _FIRED) if isinstance(flash, int) else None,
    )
