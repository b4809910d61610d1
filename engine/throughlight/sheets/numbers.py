"""Figures as a person reads them: stops with their interval, amounts with their unit."""

from __future__ import annotations

import math

from throughlight.readings.intervals import Stops

MINUS = "−"


def signed(value: float, digits: int = 1) -> str:
    """Return a number with its sign, always shown, and a true minus."""
    text = f"{value:+.{digits}f}"
    if float(text) == 0.0:
        text = f"{0.0:.{digits}f}"
    return text.replace("-", MINUS)


def stops(figure: Stops | None, *, sign: bool = True) -> str:
    """Return a figure in stops with its 95 % interval.

    A narrow one reads "−0.42 ± 0.05"; a wide one "−8.1 (−8.9 … −7.6)"; one with no lower end "darker than −12.0", one
    with no upper end "brighter than −12.0". Without `sign` it is a number of stops between two exposures, whose open
    ends read "less than 3.0" and "more than 3.0".
    """
    if figure is None:
        return "not in the frame"
    if figure.high == -math.inf:
        return "no light found"
    show, less, more = (signed, "darker", "brighter") if sign else (_plain, "less", "more")
    closed_below, closed_above = math.isfinite(figure.low), math.isfinite(figure.high)
    if not closed_below:
        return f"{less} than {show(figure.high, 1)}" if closed_above else "not known yet"
    if not closed_above:
        return f"{more} than {show(figure.low, 1)}"
    if figure.half <= 0.3:
        return f"{show(figure.value, 2)} ± {max(figure.half, 0.005):.2f}"
    return f"{show(figure.value, 1)} ({show(figure.low, 1)} … {show(figure.high, 1)})"


def _plain(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    return (text.removeprefix("-") if float(text) == 0.0 else text).replace("-", MINUS)


def amount(value: float, unit: str) -> str:
    """Return an amount to three significant digits with its unit."""
    if value == 0.0:
        return f"0 {unit}"
    if 1e-3 <= abs(value) < 1e4:
        digits = max(0, 2 - math.floor(math.log10(abs(value))))
        return f"{value:.{digits}f} {unit}"
    power = math.floor(math.log10(abs(value)))
    raised = str(power).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))
    return f"{value / 10**power:.2f}·10{raised} {unit}"


def share(part: float) -> str:
    """Return a fraction as a percentage."""
    percent = 100.0 * part
    if percent == 0.0:
        return "0 %"
    return f"{percent:.0f} %" if percent >= 9.95 else f"{percent:.1f} %" if percent >= 0.095 else "under 0.1 %"
