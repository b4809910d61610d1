"""Thirds of a stop as cameras write them: f-numbers, shutter times and ISO speeds.

A page's controls step through these and reckon with them as they are written, as a setup file does: f/11 is 11, not
11.31. So what is read there is what the set would read with the copied line. Rounded values of the three series as
engraved on cameras: common practice, no source.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from throughlight.readings.figures import significant, time_words

_F_NUMBERS = (
    1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 13, 14, 16, 18, 20,
    22, 25, 29, 32, 36, 40, 45, 51, 57, 64,
)  # fmt: skip
_LONG_TIMES = (30, 25, 20, 15, 13, 10, 8, 6, 5, 4, 3.2, 2.5, 2, 1.6, 1.3, 1, 0.8, 0.6, 0.5, 0.4, 0.3)
_PARTS_OF_A_SECOND = (
    4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250,
    1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000,
)  # fmt: skip
_ISO_SPEEDS = (
    25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000,
    5000, 6400, 8000, 10000, 12800, 16000, 20000, 25600,
)  # fmt: skip
_REACH = 16  # thirds each way
_SAME = 0.01  # of the value: 1/160 s and 0.00625 s are one


class Step(NamedTuple):
    """A setting: its value, how it is said, and how a setup file writes it (without quotation marks)."""

    value: float
    said: str
    line: str


class Steps(NamedTuple):
    """Settings from the one that lets the least light act to the one that lets the most; `at` is the set's own."""

    steps: tuple[Step, ...]
    at: int


def f_numbers(own: float) -> Steps:
    """Return f-numbers about a set's own, which is among them, from the smallest opening to the widest."""
    return _around(
        own, sorted((_f_number(value) for value in _F_NUMBERS), reverse=True), _f_number(own), math.sqrt(2.0)
    )


def shutters(own: float) -> Steps:
    """Return shutter times, s, about a set's own, the shortest first."""
    parts = [Step(1.0 / n, f"1/{n} s", f"1/{n} s") for n in reversed(_PARTS_OF_A_SECOND)]
    longer = [Step(float(t), f"{significant(t, 3)} s", f"{significant(t, 3)} s") for t in reversed(_LONG_TIMES)]
    return _around(own, parts + longer, Step(own, time_words(own), f"{own:.6g} s"), 2.0)


def iso_speeds(own: float) -> Steps:
    """Return ISO speeds about a set's own, the lowest first."""
    return _around(own, [_iso(value) for value in _ISO_SPEEDS], _iso(own), 2.0)


def _f_number(value: float) -> Step:
    return Step(float(value), f"f/{significant(value, 3)}", f"{value:.6g}")


def _iso(value: float) -> Step:
    return Step(float(value), f"ISO {significant(value, 5)}", f"{value:.6g}")


def _around(own: float, series: list[Step], mine: Step, a_stop: float) -> Steps:
    """Return the part of a series that lies near enough to a set's own value, with that value in its place."""
    farthest = a_stop ** (_REACH / 3.0 + _SAME)
    near = [step for step in series if own / farthest <= step.value <= own * farthest]
    others = [step for step in near if abs(step.value / own - 1.0) > _SAME]
    falling = len(series) > 1 and series[0].value > series[-1].value
    steps = sorted([*others, mine], key=lambda step: step.value, reverse=falling)
    return Steps(tuple(steps), steps.index(mine))
