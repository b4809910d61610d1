"""Numbers, lengths and times as a photographer writes them: no exponents, no more digits than are meant."""

from __future__ import annotations

import math


def significant(value: float, digits: int) -> str:
    """Return a number rounded to so many digits, never with an exponent: 1230, 14, 0.85, 0.0021."""
    if value == 0.0 or not math.isfinite(value):
        return f"{value:g}"
    after_point = digits - 1 - math.floor(math.log10(abs(value)))
    text = f"{round(value, after_point):.{max(0, after_point)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def length_words(length: float) -> str:
    """Return a length in m as one measures it on a set: 0.8 mm, 14 mm, 49.7 cm, 2.4 m."""
    if not math.isfinite(length):
        return "no end"
    if length < 0.1:
        return f"{significant(1e3 * length, 2)} mm"
    return f"{significant(1e2 * length, 3)} cm" if length < 2.0 else f"{significant(length, 3)} m"


def exact_length_words(length: float) -> str:
    """Return a length in m to the hundredth of a millimetre, as one sets it on a focusing rail: 497.25 mm."""
    return f"{1e3 * length:.2f} mm"


def time_words(time: float) -> str:
    """Return a shutter time in s as it is engraved: 1/125 s, 0.4 s, 2 s."""
    return f"1/{round(1.0 / time)} s" if time < 0.3 else f"{significant(time, 3)} s"
