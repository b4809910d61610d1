"""What number a text such as "38 cm" or "f/11" stands for, whichever key it stands at.

Units mean the same at every key of a setup file, so that a quantity can be read without knowing what it is for: a
range can be stepped through, a value drawn on an axis. Whether it fits its key is the key's business.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from throughlight.setup import units
from throughlight.setup.units import NUMBER, Quantity, bare_unit

_AMOUNT = re.compile(rf"\s*(f/|ISO\s*)?({NUMBER})\s*(?:/\s*(\d+\.?\d*)(?=\s|[^\d.]|$))?\s*(.*?)\s*", re.IGNORECASE)
_LONGEST = 80
_LARGEST = 1e12


class Amount(NamedTuple):
    """A number and the unit it is written in, with the letters that may stand before it ("f/", "ISO ")."""

    number: float
    unit: str = ""
    prefix: str = ""

    @property
    def si(self) -> float:
        """Return the number in SI units."""
        size = _sizes().get(bare_unit(self.unit), Fraction(1))
        return self.number * size.numerator / size.denominator

    @property
    def kind(self) -> tuple[str, str]:
        """Return what two amounts must have in common to be the ends of a range: unit and letters before."""
        return bare_unit(self.unit), self.prefix.strip().lower()

    def written(self, number: float) -> str | float:
        """Return another number as this amount is written: a text, or a bare number for a bare number."""
        if not self.unit and not self.prefix:
            return number
        return f"{self.prefix}{number:.10g} {self.unit}".strip()


@cache
def _sizes() -> dict[str, Fraction]:
    """Return the SI value of one of each unit that any key knows."""
    kinds = [kind for kind in vars(units).values() if isinstance(kind, Quantity)]
    return {name: size for kind in kinds for name, size in kind.units.items()}


def amount_of(value: object) -> Amount | None:
    """Return the amount that a value of a setup file is, or None when it is none (a name, a table, true or false)."""
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return Amount(float(value)) if abs(value) <= _LARGEST else None
    if not isinstance(value, str) or len(value) > _LONGEST:
        return None
    match = _AMOUNT.fullmatch(value)
    if match is None:
        return None
    prefix, number, divisor, unit = match.groups()
    below = 1.0 if divisor is None else float(divisor)
    if (unit and bare_unit(unit) not in _sizes()) or below == 0.0:
        return None
    amount = float(number) / below
    if not math.isfinite(amount) or abs(amount) > _LARGEST:
        return None
    return Amount(amount, unit, "" if prefix is None else prefix)
