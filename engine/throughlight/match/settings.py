"""What the file says of the exposure against what the set says, and the set with the photo's settings.

A contradiction is said and then taken over, so that what is left between photo and prediction is not just a turned
dial: exposures go with t/N² and ISO speed, whatever the light does.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace
from typing import NamedTuple

from throughlight.darkroom.capture import ExposureData
from throughlight.readings.figures import significant, time_words
from throughlight.setup import Camera, Setup

_SLACK = 0.15  # stops; engraved f-numbers and times are rounded by up to a tenth
_FOCAL_SLACK = 0.03
_COULD_BE = {
    "f_number": (0.5, 256.0, "f-number"),
    "shutter": (1e-6, 1e5, "shutter time"),
    "iso": (0.5, 1e7, "ISO speed"),
    "focal": (1e-3, 10.0, "focal length"),
}
"""From where to where settings make sense: no lens is faster than f/0.5, the limit of an aplanatic one in air."""
_SENSITIVITY_UNSAID = 65535.0  # Exif (CIPA DC-008): what stands for any higher ISO speed


class Settings(NamedTuple):
    """The set as the photo was taken, what contradicted it, and what the file left unsaid or doubtful."""

    setup: Setup
    contradictions: tuple[str, ...]
    notes: tuple[str, ...]


def as_taken(setup: Setup, data: ExposureData) -> Settings:
    """Return a set with the settings of a photo, and where they contradict its own."""
    camera, (data, senseless) = setup.camera, _sensible(data)
    said: list[str] = []
    update: dict[str, float] = {}
    if data.f_number is not None and _off(2.0 * math.log2(data.f_number / camera.f_number)):
        stops = 2.0 * math.log2(camera.f_number / data.f_number)
        said.append(_words("f/" + significant(data.f_number, 3), "f/" + significant(camera.f_number, 3), stops))
        update["f_number"] = data.f_number
    if data.shutter is not None and _off(math.log2(data.shutter / camera.shutter)):
        what = "for light that isn't flash" if any(setup.flashes) else ""
        stops = math.log2(data.shutter / camera.shutter)
        said.append(_words(time_words(data.shutter), time_words(camera.shutter), stops, what))
        update["shutter"] = data.shutter
    if data.iso is not None and _off(math.log2(data.iso / camera.iso)):
        stops = math.log2(data.iso / camera.iso)
        said.append(_words(f"ISO {data.iso:g}", f"ISO {camera.iso:g}", stops))
        update["iso"] = data.iso
    if data.focal is not None and abs(data.focal / camera.focal - 1.0) > _FOCAL_SLACK:
        photo, here = (f"{significant(1000.0 * one, 3)} mm" for one in (data.focal, camera.focal))
        said.append(f"the photo was taken with a focal length of {photo}, the set has {here}; the set's is kept")
    return Settings(_with(setup, camera, update), tuple(said), (*senseless.values(), *_notes(setup, data, senseless)))


def _sensible(data: ExposureData) -> tuple[ExposureData, dict[str, str]]:
    """Return the settings that can be, and what is said of those that can't."""
    nonsense = {}
    for key, (low, high, name) in _COULD_BE.items():
        value = getattr(data, key)
        if value is not None and (not low <= value <= high or (key == "iso" and value == _SENSITIVITY_UNSAID)):
            nonsense[key] = f"the file's {name} makes no sense and is left out; the set's is taken"
    return replace(data, **dict.fromkeys(nonsense)), nonsense


def _off(stops: float) -> bool:
    return abs(stops) > _SLACK


def _words(photo: str, here: str, stops: float, what: str = "") -> str:
    way = "brighter" if stops > 0.0 else "darker"
    tail = f" {what}" if what else ""
    return (
        f"the photo was taken at {photo}, the set has {here}: {abs(stops):.1f} stops {way}{tail}; the photo's is taken"
    )


def _with(setup: Setup, camera: Camera, update: dict[str, float]) -> Setup:
    if not update:
        return setup
    pupil = camera.focal / update.get("f_number", camera.f_number)
    wide = {key: max(getattr(camera, key), pupil) for key in ("front_element", "hood_diameter")}
    return setup.model_copy(update={"camera": camera.model_copy(update={**update, **wide})})


def _notes(setup: Setup, data: ExposureData, senseless: Collection[str]) -> list[str]:
    unsaid = [
        _COULD_BE[key][2]
        for key in ("f_number", "shutter", "iso")
        if getattr(data, key) is None and key not in senseless
    ]
    notes = []
    if unsaid:
        listed = unsaid[0] if len(unsaid) == 1 else f"{', '.join(unsaid[:-1])} and {unsaid[-1]}"
        notes.append(f"the file says nothing of {listed}; the set's is taken" if len(unsaid) == 1 else
                     f"the file says nothing of {listed}; the set's are taken")  # fmt: skip
    if data.flash is False and any(setup.flashes):
        notes.append(
            "the camera noticed no flash; heads on a radio or cable often go unnoticed, else check the trigger"
        )
    return notes
