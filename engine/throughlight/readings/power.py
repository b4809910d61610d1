"""The power reading: what is asked of each head, and whether it has it.

A head given by its energy has that many joules at full, one given by a guide number has that rating at full; stops turn
them down from there, as far as their range goes. A meter reading tells nothing of full power: there, stops count from
the setting that was read, and whether the head has them cannot be said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from throughlight.photometry.flash import HeadOutput
from throughlight.readings.figures import significant
from throughlight.setup import Head, Setup
from throughlight.stage.output import head_output_of

_SLACK = 1e-9  # stops; the last bit of a unit's conversion is no complaint


@dataclass(frozen=True)
class HeadPower:
    """What is asked of one head.

    `given` is energy, guide number or meter reading; `asked` and `full` are joules, None where the head is given
    without; `stops` count from full (or from what was read); `range` is how far it can be turned down from full, stops;
    `output` is the light of one flash.
    """

    name: str
    given: str
    asked: float | None
    full: float | None
    stops: float
    range: float
    output: HeadOutput

    @property
    def full_known(self) -> bool:
        """Return whether the description tells what the head gives at full."""
        return self.given != "meter reading"

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
                asked = f" ({significant(self.asked, 3)} J of {significant(self.full, 3)} J)"
            return f"{self.name} is asked for {self.too_much:.1f} stops more than it has{asked}"
        if self.too_little > 0.0:
            reach = significant(self.range, 2)
            return f"{self.name} is asked to go {self.too_little:.1f} stops lower than its range of {reach} stops"
        return None

    def as_json(self) -> dict[str, Any]:
        """Return the head with units in its keys."""
        return {
            "name": self.name,
            "given_by": self.given,
            "asked_J": self.asked,
            "full_J": self.full,
            "full_known": self.full_known,
            "stops_from_given": self.stops,
            "range_stops": self.range,
            "has_it": self.has_it,
            "luminous_energy_lm_s": self.output.luminous_energy,
            "axial_intensity_cd_s": self.output.axial_intensity,
            "meter_f_number_at_1_m_iso_100": self.output.meter_f_number_at_1m,
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
    return PowerReading(tuple(_head_power(head) for head in setup.heads))


def _head_power(head: Head) -> HeadPower:
    given = "meter reading" if head.meter is not None else "guide number" if head.energy is None else "energy"
    asked = None if head.energy is None else head.energy * math.exp2(head.stops)
    return HeadPower(head.name, given, asked, head.energy, head.stops, head.range, head_output_of(head))


def power_lines(reading: PowerReading) -> list[tuple[str, str]]:
    """Return the reading as pairs of a head's name and a photographer's words."""
    return [(head.name, _words(head)) for head in reading.heads]


def _words(head: HeadPower) -> str:
    setting = _turned(head.stops, "full" if head.full_known else "the meter reading")
    if head.asked is not None:
        setting = f"{significant(head.asked, 3)} J, {setting}"
    energy, f_number = significant(head.output.luminous_energy, 3), significant(head.output.meter_f_number_at_1m, 3)
    said = f"{setting}; {energy} lm·s, a meter at 1 m shows f/{f_number} (ISO 100)"
    if head.too_much > 0.0:
        return f"{said}: {head.too_much:.1f} stops more than it has"
    if head.too_little > 0.0:
        return f"{said}: {head.too_little:.1f} stops lower than it goes"
    return said


def _turned(stops: float, base: str) -> str:
    if abs(stops) <= _SLACK:
        return f"at {base}"
    count = significant(abs(stops), 3)
    return f"{count} {'stop' if count == '1' else 'stops'} {'over' if stops > 0.0 else 'under'} {base}"
