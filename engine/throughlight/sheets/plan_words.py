"""Lengths and angles as one sets them out with a tape: centimetres, or feet and inches with eighths.

Places are told by side: right and left as the camera sees them, back away from it, front toward it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from throughlight.sheets.numbers import MINUS

INCH = 0.0254
FOOT = 12.0 * INCH
_PARTS = 8
"""An inch of a tape is read in eighths."""
_FRACTIONS = {
    Fraction(1, 8): "⅛", Fraction(1, 4): "¼", Fraction(3, 8): "⅜", Fraction(1, 2): "½", Fraction(5, 8): "⅝",
    Fraction(3, 4): "¾", Fraction(7, 8): "⅞",
}  # fmt: skip


@dataclass(frozen=True)
class Tape:
    """How lengths are said: in centimetres, or in feet and inches."""

    feet: bool = False

    def length(self, length: float) -> str:
        """Return a length in m, never negative: 55 cm, 18.4 cm, 4 mm, 3.10 m; or 1′ 9⅝″, 7¼″."""
        if not self.feet:
            return _metric(length)
        eighths = round(length / INCH * _PARTS)
        feet, rest = divmod(eighths, 12 * _PARTS)
        whole, part = divmod(rest, _PARTS)
        shown = _FRACTIONS[Fraction(part, _PARTS)] if part else ""
        inches = f"{whole if whole or not shown else ''}{shown}″"
        return f"{feet}′ {inches}" if feet else inches

    def signed(self, length: float) -> str:
        """Return a length in m with its sign: +5 cm, −3.5 cm, 0 cm."""
        said = self.length(abs(length))
        if not any(sign in said for sign in "123456789⅛¼⅜½⅝¾⅞"):
            return said
        return f"{'+' if length > 0.0 else MINUS}{said}"

    def sides(self, width: float, height: float) -> str:
        """Return two sides: 20 × 40 cm."""
        one, other = self.length(width), self.length(height)
        unit = one.rpartition(" ")[2]
        if not self.feet and unit == other.rpartition(" ")[2]:
            one = one.removesuffix(f" {unit}")
        return f"{one} × {other}"

    def beside(self, x: float) -> str:
        """Return how far right or left of the mark: 12 cm right."""
        return self._to(x, "right", "left")

    def before(self, z: float) -> str:
        """Return how far in front of the mark, toward the camera, or back of it: 30 cm back."""
        return self._to(z, "front", "back")

    def over(self, y: float) -> str:
        """Return how far above or below the mark: 5 cm up."""
        return self._to(y, "up", "down")

    def point(self, place: tuple[float, float, float]) -> str:
        """Return a place by its three offsets, or "the mark"."""
        if math.hypot(*place) < 0.5e-3:
            return "the mark"
        x, y, z = place
        told = ((x, self.beside(x)), (z, self.before(z)), (y, self.over(y)))
        return ", ".join(said for value, said in told if abs(value) >= 0.5e-3)

    def _to(self, value: float, positive: str, negative: str) -> str:
        said = self.length(abs(value))
        zero = said == self.length(0.0)
        return said if zero else f"{said} {positive if value > 0.0 else negative}"


def _metric(length: float) -> str:
    if length >= 3.0:
        return f"{length:.2f} m" if length < 10.0 else f"{length:.1f} m"
    millimetres = round(1e3 * length)
    if 0 < millimetres < 20:
        return f"{millimetres} mm"
    return f"{millimetres // 10} cm" if millimetres % 10 == 0 else f"{millimetres / 10:.1f} cm"


def bearing_words(bearing: float) -> str:
    """Return a plan angle round the mark, degrees from −180 to 180: 0°, 140° left, 180°."""
    size = round(abs(bearing))
    if size in (0, 180):
        return f"{size}°"
    return f"{size}° {'right' if bearing > 0.0 else 'left'}"


def tilt_words(tilt: float) -> str:
    """Return how far an axis points up or down, degrees: level, 5° down."""
    size = round(abs(tilt))
    return "level" if size == 0 else f"{size}° {'up' if tilt > 0.0 else 'down'}"
