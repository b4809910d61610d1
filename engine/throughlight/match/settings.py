"""What the file says of the exposure against what the set says, and the set with the photo's settings.

A contradiction is said and then taken over, so that what is left between photo and prediction is not just a turned
dial: exposures go with t/N² and ISO speed, whatever the light does.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from throughlight.darkroom.capture import ExposureData
from throughlight.readings.figures import length_words, significant, time_words
from throughlight.setup import Camera, Setup

_SLACK = 0.15  # stops; engraved f-numbers and times are rounded by up to a tenth
_FOCAL_SLACK = 0.03


class Settings(NamedTuple):
    """The set as the photo was taken, what contradicted it, and what the file left unsaid or doubtful."""

    setup: Setup
    contradictions: tuple[str, ...]
    notes: tuple[str, ...]


def as_taken(setup: Setup, data: ExposureData) -> Settings:
    """Return a set with the settings of a photo, and where they contradict its own."""
    camera = setup.camera
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
        photo, here = length_words(data.focal), length_words(camera.focal)
        said.append(f"the photo was taken with a focal length of {photo}, the set has {here}; the set's is kept")
    return Settings(_with(setup, camera, update), tuple(said), tuple(_notes(setup, data)))


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


def _notes(setup: Setup, data: ExposureData) -> list[str]:
    unsaid = [
        name
        for name, value in (("f-number", data.f_number), ("shutter time", data.shutter), ("ISO speed", data.iso))
        if value is None
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
