"""A calibration beside a set: what test frames found heads, cloth, lens and room to be really like.

`calibration = "set.calibration.toml"` at the top of a setup file takes it in. The setup file goes on saying what was
planned, the calibration how much of it the gear delivers: a head gives so many stops more than its rating, so its power
dial stays what it is. Removing a line, or the key, undoes it.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field, ValidationError

from throughlight.setup.base import Part
from throughlight.setup.finishes import Surface
from throughlight.setup.heads import Head
from throughlight.setup.kind import Kind, found, misfit
from throughlight.setup.mistakes import Mistake, SetupError
from throughlight.setup.text import Finding, parsed, placed, text_of
from throughlight.setup.units import BEAM, ILLUMINANCE, PERCENT, STOPS, Beam, Illuminance, Quantity, Share, Stops
from throughlight.setup.whole import Setup
from throughlight.setup.words import said_key, sentence

_LAMBERTIAN = 2.0943951023931953
_LONGEST_NAME = 1000


class _Between(Kind):
    """Reads the two ends of a 95 % interval, each of one kind of quantity."""

    def __init__(self, quantity: Quantity) -> None:
        self.quantity = quantity

    def parse(self, value: object) -> tuple[float, float]:
        """Return low and high.

        Raises
        ------
        PydanticCustomError
            When it is not two such quantities in order.
        """
        fits = "the two ends of an interval, the lower first, would fit"
        if not isinstance(value, list | tuple) or len(value) != 2:
            raise misfit(value, fits)
        low, high = self.quantity.parse(value[0]), self.quantity.parse(value[1])
        if low > high:
            raise misfit(value, fits)
        return (low, high)

    def describe(self) -> dict[str, Any]:
        """Describe the pair."""
        return {"type": "array", "items": self.quantity.describe(), "minItems": 2, "maxItems": 2}


BetweenStops = Annotated[tuple[float, float], _Between(STOPS)]
BetweenBeams = Annotated[tuple[float, float], _Between(BEAM)]
BetweenShares = Annotated[tuple[float, float], _Between(PERCENT)]
BetweenLux = Annotated[tuple[float, float], _Between(ILLUMINANCE)]


class HeadCalibration(Part):
    """What a head, or a window, was found to be like."""

    name: str = Field(min_length=1, max_length=80, description="the head's or window's name in the set")
    stops: Stops = Field(0.0, description="how much more light it gives than it is said to")
    stops_between: BetweenStops | None = Field(None, description="its 95 % interval")
    beam: Beam | None = Field(None, description="full angle at half the axial intensity, in place of the set's")
    beam_between: BetweenBeams | None = Field(None, description="its 95 % interval")


class BackdropCalibration(Part):
    """What the cloth was found to be like."""

    stops: Stops = Field(description="how much more light it gives back than it is said to")
    stops_between: BetweenStops | None = Field(None, description="its 95 % interval")


class CameraCalibration(Part):
    """What the lens was found to be like."""

    glare: Share = Field(description="veiling-glare index, in place of the set's")
    glare_between: BetweenShares | None = Field(None, description="its 95 % interval")


class AmbientCalibration(Part):
    """What the room's light was found to be."""

    illuminance: Illuminance = Field(description="at the subject, in place of the set's")
    illuminance_between: BetweenLux | None = Field(None, description="its 95 % interval")


class Calibration(Part):
    """A calibration file."""

    photo: str = Field("", max_length=300, description="the test frame that it was found with")
    heads: tuple[HeadCalibration, ...] = Field((), alias="head", max_length=1000)
    backdrop: BackdropCalibration | None = None
    camera: CameraCalibration | None = None
    ambient: AmbientCalibration | None = None


def read_calibration(name: str, folder: Path) -> tuple[Calibration, str]:
    """Return a calibration file beside a set, and its text.

    Raises
    ------
    SetupError
        When the file cannot be used; lists every mistake in it.
    """
    file = folder / name
    text = text_of(file, "calibration file")
    raw = parsed(text, str(file))
    try:
        return Calibration.model_validate(raw), text
    except ValidationError as trouble:
        said = (sentence(error, raw, Calibration) for error in trouble.errors(include_url=False))
        raise SetupError(placed([one for one in said if one is not None], str(file), text)) from None


def calibrated(setup: Setup, folder: Path, set_name: str) -> Setup:
    """Return a set with its calibration taken in, or the set itself when it names none.

    Parameters
    ----------
    setup
        The set as its own file describes it.
    folder
        Where the calibration file is looked for.
    set_name
        What mistakes call the setup file.

    Raises
    ------
    SetupError
        When the file cannot be used, or calibrates what the set doesn't have.
    """
    name = setup.calibration
    if name is None:
        return setup
    if len(name) > _LONGEST_NAME or not name.isprintable() or not name.endswith(".toml"):
        words = f'found {found(name)}; the name of a calibration file, such as "set.calibration.toml", would fit'
        raise SetupError([Mistake(set_name, 0, 0, "calibration", words)])
    calibration, text = read_calibration(name, folder)
    strangers = list(_strangers(setup, calibration))
    if strangers:
        raise SetupError(placed(strangers, str(folder / name), text))
    return _applied(setup, calibration)


def _strangers(setup: Setup, calibration: Calibration) -> Iterator[Finding]:
    """Say what is calibrated that the set doesn't have."""
    seen: set[str] = set()
    for number, one in enumerate(calibration.heads):
        path = ("head", number, "name")
        if one.name in seen:
            yield path, said_key(path), f"found {found(one.name)} a second time; each head once would fit"
        elif one.name not in setup.lights:
            listed = ", ".join(found(name) for name in setup.lights[:8])
            words = f"the set has no head or window {found(one.name)}"
            yield path, said_key(path), f"{words}; {listed} would fit" if listed else words
        seen.add(one.name)
        flat = {head.name: head for head in setup.heads if head.profile is None}
        if one.beam is not None and one.name in setup.lights and one.name not in flat:
            path = ("head", number, "beam")
            yield path, said_key(path), f"{found(one.name)} has a profile and no beam; stops alone would fit"
    if calibration.backdrop is not None and setup.backdrop is None:
        yield ("backdrop",), "backdrop", "the set has no backdrop; a calibration without this table would fit"


def _applied(setup: Setup, calibration: Calibration) -> Setup:
    by_name = {one.name: one for one in calibration.heads}
    update: dict[str, object] = {
        "heads": tuple(_head(head, by_name[head.name]) if head.name in by_name else head for head in setup.heads),
        "windows": tuple(
            window.model_copy(update={"luminance": window.luminance * 2.0 ** by_name[window.name].stops})
            if window.name in by_name
            else window
            for window in setup.windows
        ),
    }
    if calibration.backdrop is not None and setup.backdrop is not None:
        surface = scaled(setup.backdrop.surface, 2.0**calibration.backdrop.stops)
        update["backdrop"] = setup.backdrop.model_copy(update={"surface": surface})
    if calibration.camera is not None:
        update["camera"] = setup.camera.model_copy(update={"glare": calibration.camera.glare})
    if calibration.ambient is not None:
        from throughlight.setup.wishes import Ambient

        room = {"illuminance": calibration.ambient.illuminance}
        update["ambient"] = (
            Ambient.model_construct(illuminance=calibration.ambient.illuminance)
            if setup.ambient is None
            else setup.ambient.model_copy(update=room)
        )
    return setup.model_copy(update=update)


def _head(head: Head, one: HeadCalibration) -> Head:
    """Return a head that gives what it was found to give; its dial, `stops`, stays."""
    factor = 2.0**one.stops
    update: dict[str, object] = {} if one.beam is None else {"beam": min(one.beam, _LAMBERTIAN)}
    if head.energy is not None or head.power is not None:
        update["efficacy"] = head.efficacy * factor
    elif head.meter is not None:
        update["meter"] = head.meter.model_copy(update={"f_number": head.meter.f_number * factor**0.5})
    elif head.guide_number is not None:
        update["guide_number"] = head.guide_number * factor**0.5
    elif head.illuminance is not None:
        lux = head.illuminance.illuminance * factor
        update["illuminance"] = head.illuminance.model_copy(update={"illuminance": lux})
    else:
        update["stops"] = head.stops + one.stops  # a lamp as strong as its file says has nothing else to turn
    return head.model_copy(update=update)


def scaled(surface: Surface, factor: float) -> Surface:
    """Return a finish that gives back `factor` times as much, pile and ground alike, at most all of it."""
    bands = {
        key: tuple(min(1.0, factor * value) for value in getattr(surface, key)) for key in ("reflectance", "sheen")
    }
    return surface.model_copy(update=bands)
