"""The power reading: what is asked of each head, what light that is, and whether the head has it.

A head given by its energy has that many joules at full, a lamp its watts, one given by a guide number or a lamp file
has that rating at full; stops turn them down from there, as far as their range goes. A meter reading tells nothing of
full power: there, stops count from the setting that was read, and whether the head has them cannot be said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from throughlight.photometry.flash import HeadOutput
from throughlight.readings.figures import significant
from throughlight.setup import Head, Setup
from throughlight.stage.output import grid_passes, head_output_of, light_of

_WAYS = {
    "energy": "energy",
    "meter": "meter reading",
    "guide_number": "guide number",
    "power": "power",
    "illuminance": "illuminance",
    "output": "lamp file",
}
"""Keys of a setup file that give an output, and what a sheet calls them."""
_READ = ("meter reading", "illuminance")
_SLACK = 1e-9  # stops; the last bit of a unit's conversion is no complaint


@dataclass(frozen=True)
class HeadPower:
    """What is asked of one head.

    `given` is energy, guide number, meter reading, power, illuminance or lamp file; `asked` and `full` are joules, of a
    continuous lamp watts, None where the head is given without; `stops` count from full (or from what was read);
    `range` is how far it can be turned down from full, stops; `output` is the light of one frame, what a gel and a grid
    take away left out. `seconds`: how long a continuous lamp shines in it, None for a flash. `gel` and `grid`: name and
    share of the light that passes, None without one.
    """

    name: str
    given: str
    asked: float | None
    full: float | None
    stops: float
    range: float
    output: HeadOutput
    seconds: float | None = None
    gel: tuple[str, float] | None = None
    grid: float | None = None

    @property
    def full_known(self) -> bool:
        """Return whether the description tells what the head gives at full."""
        return self.given not in _READ

    @property
    def unit(self) -> str:
        """Return the unit of `asked` and `full`."""
        return "J" if self.seconds is None else "W"

    @property
    def too_much(self) -> float:
        """Return how many stops more than the head has are asked."""
        return self.stops if self.full_known and self.stops > _SLACK else 0.0

    @property
    def too_little(self) -> float:
        """Return how many stops lower than the head goes are asked."""
        short = -self.range - self.stops
        return short if self.full_known and short > _SLACK else 0.0

    @property
    def has_it(self) -> bool | None:
        """Return whether the head can do what is asked; None where full power is not told."""
        return self.too_much == 0.0 and self.too_little == 0.0 if self.full_known else None

    @property
    def complaint(self) -> str | None:
        """Return what is wrong, in words, or None."""
        if self.too_much > 0.0:
            asked = ""
            if self.asked is not None and self.full is not None:
                asked = f" ({significant(self.asked, 3)} {self.unit} of {significant(self.full, 3)} {self.unit})"
            return f"{self.name} is asked for {self.too_much:.1f} stops more than it has{asked}"
        if self.too_little > 0.0:
            reach = significant(self.range, 2)
            return f"{self.name} is asked to go {self.too_little:.1f} stops lower than its range of {reach} stops"
        return None

    def as_json(self) -> dict[str, Any]:
        """Return the head with units in its keys."""
        flash = self.seconds is None
        return {
            "name": self.name,
            "kind": "flash" if flash else "continuous",
            "given_by": self.given,
            "asked_J": self.asked if flash else None,
            "full_J": self.full if flash else None,
            "asked_W": None if flash else self.asked,
            "full_W": None if flash else self.full,
            "full_known": self.full_known,
            "stops_from_given": self.stops,
            "range_stops": self.range,
            "has_it": self.has_it,
            "gel": None if self.gel is None else self.gel[0],
            "gel_transmittance": None if self.gel is None else self.gel[1],
            "grid_transmittance": self.grid,
            "luminous_energy_lm_s": self.output.luminous_energy,
            "axial_intensity_cd_s": self.output.axial_intensity,
            "luminous_flux_lm": None if self.seconds is None else self.output.luminous_energy / self.seconds,
            "axial_intensity_cd": None if self.seconds is None else self.output.axial_intensity / self.seconds,
            "illuminance_at_1_m_lx": None if self.seconds is None else self.output.exposure_at_1m / self.seconds,
            "exposure_at_1_m_lx_s": self.output.exposure_at_1m,
            "meter_f_number_at_1_m_iso_100": self.output.meter_f_number_at_1m,
            "shutter_s": self.seconds,
        }


@dataclass(frozen=True)
class PowerReading:
    """What is asked of all heads, in the order of the set."""

    heads: tuple[HeadPower, ...]

    @property
    def complaints(self) -> tuple[str, ...]:
        """Return a sentence for each head that cannot do what is asked."""
        return tuple(head.complaint for head in self.heads if head.complaint is not None)

    def as_json(self) -> dict[str, Any]:
        """Return the reading with units in its keys."""
        return {"heads": [head.as_json() for head in self.heads]}


def power_reading(setup: Setup) -> PowerReading:
    """Return what is asked of each head of a set."""
    return PowerReading(tuple(_head_power(head, setup.camera.shutter) for head in setup.heads))


def _head_power(head: Head, shutter: float) -> HeadPower:
    given = next(words for key, words in _WAYS.items() if getattr(head, key) is not None)
    full = head.energy if head.energy is not None else head.power
    return HeadPower(
        name=head.name,
        given=given,
        asked=None if full is None else full * math.exp2(head.stops),
        full=full,
        stops=head.stops,
        range=head.range,
        output=head_output_of(head, shutter),
        seconds=shutter if head.continuous else None,
        gel=None if head.gel is None else (head.gel.name, light_of(head, head.temperature).passed),
        grid=None if head.grid is None else grid_passes(head),
    )


def power_lines(reading: PowerReading) -> list[tuple[str, str]]:
    """Return the reading as pairs of a head's name and a photographer's words."""
    return [(head.name, _words(head)) for head in reading.heads]


def _words(head: HeadPower) -> str:
    setting = _turned(head.stops, "full" if head.full_known else f"the {head.given}")
    if head.asked is not None:
        setting = f"{significant(head.asked, 3)} {head.unit}, {setting}"
    before = [] if head.gel is None else [f"behind {head.gel[0]} ({100.0 * head.gel[1]:.0f} % passes)"]
    before += [] if head.grid is None else [f"grid ({100.0 * head.grid:.2g} % passes)"]
    said = f"{', '.join([setting, *before])}; {_light(head)}"
    if head.too_much > 0.0:
        return f"{said}: {head.too_much:.1f} stops more than it has"
    if head.too_little > 0.0:
        return f"{said}: {head.too_little:.1f} stops lower than it goes"
    return said


def _light(head: HeadPower) -> str:
    """Return the light in words: all of it, along the axis, and on a meter."""
    seconds = 1.0 if head.seconds is None else head.seconds
    energy = significant(head.output.luminous_energy / seconds, 3)
    axial = significant(head.output.axial_intensity / seconds, 3)
    meter = f"a meter at 1 m shows f/{significant(head.output.meter_f_number_at_1m, 3)} (ISO 100)"
    if head.seconds is None:
        return f"{energy} lm·s, {axial} cd·s on the axis, {meter}"
    return f"{energy} lm, {axial} cd on the axis; over the shutter time {meter}"


def _turned(stops: float, base: str) -> str:
    if abs(stops) <= _SLACK:
        return f"at {base}"
    count = significant(abs(stops), 3)
    return f"{count} {'stop' if count == '1' else 'stops'} {'over' if stops > 0.0 else 'under'} {base}"
