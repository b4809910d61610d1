"""What a study is after: targets and limits on readings, and how many stops a candidate misses them by.

A goal is a band of values that are all as good: a target with what is within, or everything under or over a limit. A
candidate's loss is the weighted sum over goals of the stops between its reading and the nearest end of the band:

    loss = Σ weight · d,     d = how far outside the band, stops.

Readings in stops are taken as they are. Amounts (stray light in lx·s, energy in joules) are taken in log2, so that
twice too much is one stop. A part of the subject past clip has no stops: there each tenth of the subject counts as one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from throughlight.setup import Setup
from throughlight.setup.units import ENERGY, EXPOSURE, PERCENT, STOP_RANGE, STOPS, Quantity
from throughlight.study.results import READINGS, Goal, GoalKind, reading_of

Array = NDArray[np.float64]

MOST_MISSED = 40.0
"""Stops; nothing is missed by more, so that a reading of no light at all is no infinite loss."""
_SHARE_OF_A_STOP = 0.1

_KINDS: Mapping[str, tuple[Quantity, Quantity]] = {
    "stops over mid-grey": (STOPS, STOP_RANGE),
    "stops": (STOPS, STOP_RANGE),
    "lx·s": (EXPOSURE, EXPOSURE),
    "J": (ENERGY, ENERGY),
    "share": (PERCENT, PERCENT),
}
"""By a reading's unit: how its values, and a distance between two of them, are written."""


def quantities_of(reading: str) -> tuple[Quantity, Quantity]:
    """Return how a reading's value, and a distance between two values, are written in a study file."""
    return _KINDS[reading_of(reading).unit]


def goal(reading: str, kind: GoalKind, value: float, slack: float = 0.0, weight: float = 1.0) -> Goal:
    """Return a goal with its words.

    Parameters
    ----------
    reading
        Name of a reading or of a spot.
    kind
        Target or limit.
    value, slack
        What is wanted and how far off is still as good, in the reading's unit.
    weight
        How many stops one stop missed counts for.
    """
    return Goal(reading, kind, value, slack, weight, _said(reading, kind, value, slack))


def _said(reading: str, kind: GoalKind, value: float, slack: float) -> str:
    described = reading_of(reading)
    within = f" within {_amount(slack, described.unit, signed=False)}" if slack > 0.0 else ""
    signed = described.unit == "stops over mid-grey"
    return f"{described.label} {kind} {_amount(value, described.unit, signed=signed)}{within}"


def _amount(value: float, unit: str, *, signed: bool) -> str:
    if unit == "share":
        return f"{100.0 * value:.4g} %"
    if unit in ("J", "lx·s"):
        return f"{value:.4g} {unit}"
    return f"{value:{'+' if signed else ''}.4g} {'stop' if abs(value) == 1.0 else 'stops'}"


def goals_of_set(setup: Setup) -> tuple[Goal, ...]:
    """Return what the set's own [wanted] asks, each of weight 1: used where a study says nothing of its own."""
    wanted, goals = setup.wanted, []
    if wanted.subject is not None:
        goals.append(goal("subject", "at", wanted.subject, wanted.subject_tolerance))
    if wanted.backdrop_under is not None:
        goals.append(goal("worst_under", "at least", wanted.backdrop_under))
    if wanted.veil is not None:
        goals.append(goal("veil", "at most", wanted.veil))
    return tuple(goals)


def band(one: Goal) -> tuple[float, float]:
    """Return the least and the most of a reading that meets a goal, in its unit."""
    low = one.value - one.slack if one.kind != "at most" else -np.inf
    high = one.value + one.slack if one.kind != "at least" else np.inf
    return low, high


def missed(figures: Mapping[str, Array | float], goals: Sequence[Goal]) -> Array:
    """Return by how many stops each goal is missed, before weights.

    Parameters
    ----------
    figures
        Reading → values (…) in the reading's unit (`results.READINGS`); all of one shape, such as one value or one for
        each replicate left out. Minus infinity stops, no light at all, is a value like others.
    goals
        What is wanted.

    Returns
    -------
    ndarray
        (goals, …) stops, 0 where a goal is met, at most `MOST_MISSED`.

    Raises
    ------
    KeyError
        If a goal's reading is not among the figures: the subject is not in the frame, say.
    """
    return np.array([_missed(np.asarray(figures[one.reading], np.float64), one) for one in goals])


def _missed(values: Array, one: Goal) -> Array:
    low, high = band(one)
    unit = reading_of(one.reading).unit
    with np.errstate(divide="ignore", invalid="ignore"):
        if unit in ("J", "lx·s"):
            values, low, high = np.log2(values), np.log2(max(low, 0.0)), np.log2(high)
        outside: Array = np.where(values < low, low - values, np.where(values > high, values - high, 0.0))
    if unit == "share":
        outside = outside / _SHARE_OF_A_STOP
    return np.where(np.isnan(values), MOST_MISSED, np.minimum(outside, MOST_MISSED))


def loss(figures: Mapping[str, Array | float], goals: Sequence[Goal]) -> Array:
    """Return the weighted sum of the stops that goals are missed by: smaller is better, 0 meets all.

    Parameters and errors as `missed`; the result has the shape of the figures (…).
    """
    weights = np.array([one.weight for one in goals])
    return np.tensordot(weights, missed(figures, goals), axes=1)


def names_for_goals(setup: Setup) -> tuple[str, ...]:
    """Return the readings that a goal can name in this set, spots included."""
    spots = tuple(spot.name for spot in setup.spots)
    return (*READINGS, *(name for name in spots if name not in READINGS))
