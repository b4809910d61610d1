"""Quantities as a photographer writes them ("38 cm", "1/125 s", "-1 stop") and the SI numbers they stand for.

A quantity is a number, or a fraction of two numbers, and a unit. A bare number where a unit is due is a mistake,
because 10 may be millimetres to one reader and inches to another. This is the only place that knows units:
everything behind it is in metres, seconds, radians, joules, kelvin, lux and lm·s/J.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any

from throughlight.setup.kind import Kind, misfit

NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_QUANTITY = re.compile(rf"\s*({NUMBER})\s*(?:/\s*(\d+\.?\d*)(?=\s|[^\d.]|$))?\s*(.*?)\s*", re.DOTALL)
_LONGEST = 80
"""No quantity needs more characters; a longer text is not tried."""
_SHOWN = 40

INCH = Fraction(254, 10_000)
FOOT = 12 * INCH
FOOT_CANDLE = 1 / FOOT**2


def bare_unit(unit: str) -> str:
    """Return a unit as the tables below spell it: products with a dot, whatever people write for one."""
    tight = re.sub(r"\s*/\s*", "/", unit.strip())
    return re.sub(r"\s*[·*⋅]\s*|\s+", "·", tight).replace("^-1", "⁻¹").replace("µ", "u").replace("μ", "u")


@dataclass(frozen=True, eq=False)
class Quantity(Kind):
    """One kind of quantity: what it is called, which units it takes, and between which bounds it lies.

    name: with its article, "a length". units: SI value of one of each unit, exact where it is a ratio, so that
    "36 mm" is the double nearest to 0.036. examples: texts that fit.
    low, high: bounds in SI; `above` excludes the lower one. bare: whether a plain number counts too (as SI).
    prefix: letters that may stand before the number, as in "f/8".
    """

    name: str
    units: Mapping[str, Fraction]
    examples: tuple[str, ...]
    low: float = -math.inf
    high: float = math.inf
    above: bool = False
    bare: bool = False
    prefix: str = ""

    @property
    def fits(self) -> str:
        """Return the half sentence that says what would fit."""
        shown = ", ".join(f'"{e}"' if _needs_quotes(e) else e for e in self.examples)
        return f"{self.name}{self._range()} would fit, such as {shown}"

    def _range(self) -> str:
        if self.low == 0.0 and not (self.bare and self.high == 1.0):
            return " above zero" if self.above else ", zero or more,"
        if math.isfinite(self.low) and math.isfinite(self.high):
            return f" from {self._said(self.low)} to {self._said(self.high)}"
        return ""

    def _said(self, value: float) -> str:
        """Return a bound in the unit of the first example."""
        unit = _unit_of(self.examples[0])
        if unit == "" or (self.bare and not _needs_quotes(self.examples[0])):
            return f"{value:g}"
        return f"{value / float(self.units[bare_unit(unit)]):.6g} {unit}"

    def parse(self, value: object) -> float:
        """Return the SI number that a value of the setup file stands for.

        Raises
        ------
        PydanticCustomError
            When the value is of the wrong kind, lacks its unit, has another unit, is not finite or lies out of bounds.
        """
        if isinstance(value, int | float) and not isinstance(value, bool):
            if not self.bare:
                raise misfit(value, f"a unit is missing: {self.fits}")
            number = _finite(value)
        elif isinstance(value, str):
            number = self._read(value)
        else:
            raise misfit(value, self.fits)
        in_bounds = self.low < number if self.above else self.low <= number
        if not math.isfinite(number) or not in_bounds:
            raise misfit(value, self.fits)
        if number > self.high:
            raise misfit(value, f"{self.name} of at most {self._said(self.high)} would fit")
        return number

    def _read(self, text: str) -> float:
        if len(text) > _LONGEST:
            raise misfit(text, self.fits)
        stripped = text.strip()
        if self.prefix and stripped.lower().startswith(self.prefix.lower()):
            stripped = stripped[len(self.prefix) :]
        match = _QUANTITY.fullmatch(stripped)
        if match is None:
            raise misfit(text, self.fits)
        number, divisor, unit = match.groups()
        if unit == "" and not self.bare:
            raise misfit(text, f"a unit is missing: {self.fits}")
        if unit != "" and bare_unit(unit) not in self.units:
            raise misfit(text, f'"{unit[:_SHOWN]}" is not a unit of {self.name}: {self.fits}')
        size = _ONE if unit == "" else self.units[bare_unit(unit)]
        below = 1.0 if divisor is None else float(divisor)
        if below == 0.0:
            raise misfit(text, self.fits)
        return float(number) * size.numerator / (size.denominator * below)

    def describe(self) -> dict[str, Any]:
        """Describe the text (or number) for an editor."""
        text = {"type": "string", "examples": list(self.examples)}
        kind: dict[str, Any] = {"anyOf": [{"type": "number"}, text]} if self.bare else text
        return {**kind, "description": f"{self.name}{self._range()}"}


def _needs_quotes(example: str) -> bool:
    return re.fullmatch(NUMBER, example) is None


def _unit_of(example: str) -> str:
    match = _QUANTITY.fullmatch(example)
    return "" if match is None else match.group(3)


def _finite(value: float) -> float:
    try:
        return float(value)
    except OverflowError:
        return math.inf


def write(value: float, unit: str, kind: Quantity) -> str:
    """Return the text that `kind` reads back as `value` (SI): the inverse of `Quantity.parse`.

    Raises
    ------
    KeyError
        If the unit is none of the kind's.
    """
    size = kind.units[bare_unit(unit)]
    return f"{value * size.denominator / size.numerator!r} {unit}"


_ONE = Fraction(1)
_DEGREE = Fraction(math.pi / 180.0)
_THOUSAND = Fraction(1000)

LENGTHS = {
    "m": _ONE,
    "cm": Fraction(1, 100),
    "mm": 1 / _THOUSAND,
    "um": 1 / _THOUSAND**2,
    "in": INCH,
    "ft": FOOT,
}
_PER_LENGTHS = {
    name: 1 / LENGTHS[unit] for unit in ("mm", "cm", "m") for name in (f"1/{unit}", f"/{unit}", f"{unit}⁻¹")
}

PLACE = Quantity("a length", LENGTHS, ("12 cm", "300 mm", "15 in"))
SIZE = Quantity("a length", LENGTHS, ("38 cm", "120 mm", "15 in"), low=0.0, above=True, high=1000.0)
DEPTH = Quantity("a length", LENGTHS, ("0 cm", "40 mm", "2 in"), low=0.0, high=1000.0)
ANGLE = Quantity(
    "an angle",
    {"deg": _DEGREE, "°": _DEGREE, "rad": _ONE},
    ("15 deg", "-90 deg"),
    low=-20.0 * math.pi,
    high=20.0 * math.pi,
)
SMALL_ANGLE = Quantity(
    "a small angle",
    ANGLE.units,
    ("1.5 deg", "-2 deg"),
    low=math.radians(-45.0) * (1 + 1e-12),
    high=math.radians(45.0) * (1 + 1e-12),
)
CUT_OFF = Quantity(
    "a grid's full cut-off angle",
    ANGLE.units,
    ("30 deg", "20 deg"),
    low=math.radians(2.0) * (1 - 1e-12),
    high=math.radians(150.0) * (1 + 1e-12),
)
OPENING = Quantity(
    "a door's opening angle",
    ANGLE.units,
    ("30 deg", "90 deg"),
    low=math.radians(-60.0) * (1 + 1e-12),
    high=math.radians(120.0) * (1 + 1e-12),
)
BEAM = Quantity(
    "a beam's full angle",
    ANGLE.units,
    ("60 deg", "90 deg"),
    low=0.0,
    above=True,
    high=2.0 * math.pi / 3.0 * (1 + 1e-12),
)
TIME = Quantity(
    "a time",
    {"s": _ONE, "ms": 1 / _THOUSAND, "us": 1 / _THOUSAND**2, "min": Fraction(60)},
    ("1/125 s", "0.5 s"),
    low=0.0,
    above=True,
)
DURATION = Quantity("a time", {**TIME.units, "h": Fraction(3600)}, ("8 h", "30 min"), low=0.0, above=True, high=3.2e7)
ENERGY = Quantity(
    "an energy",
    {"J": _ONE, "Ws": _ONE, "W·s": _ONE, "kJ": _THOUSAND},
    ("250 J", "1000 Ws"),
    low=0.0,
    above=True,
)
STOPS = Quantity(
    "a number of stops",
    {"stop": _ONE, "stops": _ONE},
    ("-1 stop", "+0.5 stop", "8 stops"),
    low=-40.0,
    high=40.0,
)
TOLERANCE = Quantity("a number of stops", STOPS.units, ("0.05 stop", "0.2 stop"), low=0.0, above=True, high=40.0)
STOP_RANGE = Quantity("a number of stops", STOPS.units, ("6 stops", "0.5 stop"), low=0.0, high=40.0)
LIFT = Quantity("a lift", STOPS.units, ("+0.3 stop", "-0.5 stop"), low=-10.0, high=10.0)
BLACK_POINT = Quantity("a black point over mid-grey", STOPS.units, ("-7 stop", "-9 stops"), low=-20.0, high=0.0)
TEMPERATURE = Quantity(
    "a colour temperature", {"K": _ONE, "kK": _THOUSAND}, ("5600 K", "3200 K"), low=1000.0, high=25000.0
)
ILLUMINANCE = Quantity(
    "an illuminance",
    {"lx": _ONE, "lux": _ONE, "klx": _THOUSAND, "fc": FOOT_CANDLE},
    ("300 lx", "30 fc"),
    low=0.0,
)
EXPOSURE = Quantity("a luminous exposure", {"lx·s": _ONE, "lux·s": _ONE}, ("5 lx·s", "0.3 lx·s"), low=0.0, above=True)
EFFICACY = Quantity(
    "an efficacy",
    {"lm·s/J": _ONE, "lm/W": _ONE, "lm·s/Ws": _ONE},
    ("35 lm·s/J", "35 lm/W"),
    low=0.0,
    above=True,
    high=683.0,
)
POWER = Quantity("a power", {"W": _ONE, "kW": _THOUSAND}, ("300 W", "1.2 kW"), low=0.0, above=True)
LUMINANCE = Quantity(
    "a luminance",
    {"cd/m2": _ONE, "cd/m²": _ONE, "cd/m^2": _ONE, "kcd/m2": _THOUSAND, "kcd/m²": _THOUSAND},
    ("3000 cd/m2", "5 kcd/m2"),
    low=0.0,
)
MIRED = Quantity("a shift in mired", {"mired": _ONE}, ("67 mired", "-134 mired"), low=-900.0, high=900.0)
PER_LENGTH = Quantity("a coefficient per length", _PER_LENGTHS, ("0.02 1/mm", "3.5 1/cm", "20 1/m"), low=0.0, high=1e7)
PERCENT = Quantity("a share", {"%": Fraction(1, 100)}, ("1 %", "0.5 %"), low=0.0, high=1.0, bare=True)
SATURATION = Quantity("a saturation", {"%": Fraction(1, 100)}, ("90 %", "110 %"), low=0.0, high=2.0)
FRAME_SHARE = Quantity("a share of the frame", {"%": Fraction(1, 100)}, ("50 %", "33.3 %"), low=0.0, high=1.0)
REFLECTANCE = Quantity("a reflectance", {"%": Fraction(1, 100)}, ("0.85", "85 %"), low=0.0, high=1.0, bare=True)
TRANSMITTANCE = Quantity("a transmittance", {"%": Fraction(1, 100)}, ("0.7", "70 %"), low=0.0, high=1.0, bare=True)
F_NUMBER = Quantity("an f-number", {}, ("11", "f/11"), low=0.0, above=True, high=1000.0, bare=True, prefix="f/")
ISO = Quantity("an ISO speed", {}, ("100", "ISO 100"), low=0.0, above=True, high=1e7, bare=True, prefix="ISO")

Size = Annotated[float, SIZE]
Depth = Annotated[float, DEPTH]
Angle = Annotated[float, ANGLE]
SmallAngle = Annotated[float, SMALL_ANGLE]
Beam = Annotated[float, BEAM]
Time = Annotated[float, TIME]
Energy = Annotated[float, ENERGY]
Stops = Annotated[float, STOPS]
StopRange = Annotated[float, STOP_RANGE]
Lift = Annotated[float, LIFT]
BlackPoint = Annotated[float, BLACK_POINT]
Temperature = Annotated[float, TEMPERATURE]
Illuminance = Annotated[float, ILLUMINANCE]
Efficacy = Annotated[float, EFFICACY]
Power = Annotated[float, POWER]
Luminance = Annotated[float, LUMINANCE]
Mired = Annotated[float, MIRED]
CutOff = Annotated[float, CUT_OFF]
Opening = Annotated[float, OPENING]
Share = Annotated[float, PERCENT]
Saturation = Annotated[float, SATURATION]
FrameShare = Annotated[float, FRAME_SHARE]
FNumber = Annotated[float, F_NUMBER]
IsoSpeed = Annotated[float, ISO]


def pure(name: str, low: float, high: float, *examples: str, above: bool = False) -> Quantity:
    """Return the kind of a plain number between bounds."""
    return Quantity(name, {}, examples, low=low, high=high, above=above, bare=True)


@dataclass(frozen=True)
class Whole(Kind):
    """One kind of whole number, between bounds."""

    name: str
    low: int
    high: int
    example: int

    def parse(self, value: object) -> int:
        """Return the number.

        Raises
        ------
        PydanticCustomError
            When the value is no whole number or lies out of bounds.
        """
        if not isinstance(value, int) or isinstance(value, bool) or not self.low <= value <= self.high:
            raise misfit(value, f"{self.name} from {self.low} to {self.high} would fit, such as {self.example}")
        return value

    def describe(self) -> dict[str, Any]:
        """Describe the number for an editor."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high, "description": self.name}
