"""The Pareto front: the candidates that no other one beats in everything that counts.

Four things count, less of each being better: how far the subject is off what is wanted, the backdrop's exposure, the
stray light on the front element, the energy of all heads. A candidate is dropped only when another one is better at
95 %. That it is so in one thing is a one-sided test; that it is so in every thing at once needs each of these tests
at that level and no more (the intersection–union test: Berger 1982, "Multiparameter hypothesis testing and acceptance
sampling"; from memory). As every other candidate has its try, the level is Šidák's for that many. What is known
exactly, such as joules, may also be equal.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.intervals import student_t
from throughlight.study.compare import jackknife_error, one_sided
from throughlight.study.results import Results, Row, reading_of

Array = NDArray[np.float64]
Truths = NDArray[np.bool_]


@dataclass(frozen=True)
class Objective:
    """One thing that counts, less being better, for each candidate that has all of them.

    Attributes
    ----------
    name, label, unit
        Reading, what a plot writes beside it, and its unit.
    value, low, high
        (n,) figures with their 95 % intervals.
    sure_low, sure_high
        (n,) ends of the intervals that hold for as many comparisons as are made.
    left_out
        (n, r) values with one replicate left out; NaN where there are none, or where they'd tell too little noise.
    """

    name: str
    label: str
    unit: str
    value: Array
    low: Array
    high: Array
    sure_low: Array
    sure_high: Array
    left_out: Array


class Front(NamedTuple):
    """Which candidates are left.

    `rows` are those that have all figures, best loss first; `by_value` is true for those that no other one beats as the
    figures stand, `left` for all that are not beaten at 95 %, so that these hold those.
    """

    objectives: tuple[Objective, ...]
    rows: tuple[Row, ...]
    by_value: Truths
    left: Truths


def pareto_front(results: Results) -> Front:
    """Return the candidates that are not beaten in everything."""
    wanted = next((goal for goal in results.goals if goal.reading == "subject" and goal.kind == "at"), None)
    names = [] if wanted is None else ["subject"]
    names = [name for name in (*names, "backdrop", "stray_light", "energy") if _is_read(results, name)]
    rows = tuple(row for row in results.ranked if all(row.figure(name) is not None for name in names))
    freedom = max(1, results.made.replicates - 1)
    sigmas = one_sided(freedom, among=max(1, len(rows) - 1))
    objectives = [_objective(rows, name, sigmas / student_t(freedom)) for name in names]
    if wanted is not None and "subject" in names:
        objectives[0] = _off(objectives[0], wanted.value, wanted.slack)
    by_value = ~_beaten(objectives, len(rows))
    return Front(tuple(objectives), rows, by_value, ~_surely_beaten(objectives, len(rows), sigmas))


def _is_read(results: Results, name: str) -> bool:
    return any(row.figure(name) is not None for row in results.ranked)


def _objective(rows: tuple[Row, ...], name: str, wider: float) -> Objective:
    """Return a reading of all rows, which all have it; sure intervals are `wider` times the 95 % ones."""
    figures = [figure for row in rows if (figure := row.figure(name)) is not None]
    value, low, high = np.array(figures, dtype=np.float64).reshape(-1, 3).T
    closed = np.isfinite(value) & np.isfinite(low), np.isfinite(value) & np.isfinite(high)
    with np.errstate(invalid="ignore"):
        sure_low = np.where(closed[0], value - wider * (value - low), low)
        sure_high = np.where(closed[1], value + wider * (high - value), high)
    reading = reading_of(name)
    return Objective(
        name, reading.label, reading.unit, value, low, high, sure_low, sure_high, _left_out(rows, name)
    )  # fmt: skip


def _left_out(rows: tuple[Row, ...], name: str) -> Array:
    """Return (n, r) values with one replicate left out, NaN where a row has none or one without light."""
    count = max((len(row.left_out.get(name, ())) for row in rows), default=0)
    table = np.full((len(rows), count), np.nan)
    for at, row in enumerate(rows):
        values = row.left_out.get(name, ())
        if len(values) == count and np.all(np.isfinite(values)):
            table[at] = values
    return table


def _off(subject: Objective, wanted: float, slack: float) -> Objective:
    """Return how far the subject is off what is wanted, beyond the slack.

    Leaving one replicate out tells the noise of that only where the sure interval lies on one side, beyond the slack.
    """

    def ends(low: Array, high: Array) -> tuple[Array, Array]:
        sides = np.abs(low - wanted), np.abs(high - wanted)
        nearest = np.where((low <= wanted) & (high >= wanted), 0.0, np.minimum(*sides))
        return np.maximum(nearest - slack, 0.0), np.maximum(np.maximum(*sides) - slack, 0.0)

    value = np.maximum(np.abs(subject.value - wanted) - slack, 0.0)
    sure = ends(subject.sure_low, subject.sure_high)
    left_out = np.where(sure[0][:, None] > 0.0, np.abs(subject.left_out - wanted) - slack, np.nan)
    return Objective(
        subject.name, "subject off what is wanted", "stops", value, *ends(subject.low, subject.high), *sure, left_out
    )  # fmt: skip


def _beaten(objectives: list[Objective], count: int) -> Truths:
    """Return (n,) whether another one is nowhere worse and somewhere better, as the figures stand."""
    values = np.array([objective.value for objective in objectives]).reshape(len(objectives), count).T
    beaten = np.zeros(count, dtype=np.bool_)
    for at in range(count):
        nowhere_worse = np.all(values <= values[at], axis=1)
        beaten[at] = bool(np.any(nowhere_worse & np.any(values < values[at], axis=1)))
    return beaten


def _surely_beaten(objectives: list[Objective], count: int, sigmas: float) -> Truths:
    """Return (n,) whether another one is better in everything at 95 %."""
    beaten = np.zeros(count, dtype=np.bool_)
    for at in range(count):
        nowhere_worse, better = np.ones(count, dtype=np.bool_), np.zeros(count, dtype=np.bool_)
        for objective in objectives:
            less, no_more = _surely(objective, at, sigmas)
            nowhere_worse &= no_more
            better |= less
        beaten[at] = bool(np.any(nowhere_worse & better))
    return beaten


def _surely(objective: Objective, at: int, sigmas: float) -> tuple[Truths, Truths]:
    """Return (n,) who is less than row `at`, and who is no more: by pairs of replicates, else by intervals.

    No more than another is also what is exactly as much: intervals that at most touch, pairs without any noise.
    """
    apart = objective.sure_high < objective.sure_low[at]
    touching = objective.sure_high <= objective.sure_low[at]
    if objective.left_out.shape[1] < 2:
        return apart, touching
    error = jackknife_error(objective.left_out[at] - objective.left_out)
    paired = np.isfinite(error)
    with np.errstate(invalid="ignore"):
        gap = objective.value[at] - objective.value
        less = np.where(paired, (gap > sigmas * error) & (gap > 0.0), apart)
        return less, np.where(paired, gap >= sigmas * error, touching)
