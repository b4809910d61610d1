"""How long a study will take, from a short measurement: a few of its sets are given their first answer."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from throughlight.study.batch import Job, stretches, trace_job
from throughlight.study.cases import Case
from throughlight.study.figures import told
from throughlight.study.goals import loss
from throughlight.study.racing import WIDE
from throughlight.study.results import Goal
from throughlight.study.spread import error_of, losses_of
from throughlight.study.staging import Stager
from throughlight.study.workers import Threads

_MEASURED = 3
_APART = 5.0
"""Standard errors that comparisons of a study must reach or stay within, about."""
_LONGEST = 100 * 365.25 * 86400.0  # s


class Expected(NamedTuple):
    """What a measurement says.

    Attributes
    ----------
    first_look
        Seconds until every set has a first answer.
    decided
        Seconds until the sets that are alike are known to within the resolution, very roughly: a quarter to four times.
    measured
        How many sets were measured.
    """

    first_look: float
    decided: float
    measured: int


def measure(
    traced: Sequence[Case], goals: tuple[Goal, ...], resolution: float, threads: int | None, seed: int
) -> Expected:
    """Give a few sets their first answer and say how long all will take.

    Parameters
    ----------
    traced
        One candidate for each set that is traced.
    goals
        What is wanted.
    resolution
        Differences of loss, stops, that need not be told apart.
    threads
        How many threads; all by default.
    seed
        Start of the random numbers.
    """
    places = np.unique(np.linspace(0, len(traced) - 1, _MEASURED).round().astype(int))
    crew, stager = Threads(threads), Stager()
    seconds, errors = [], []
    first, count = stretches(1)[0]
    try:
        for number, place in enumerate((places[0], *places)):
            case, begun = traced[place], time.monotonic()
            staged = stager.staged(case.geometry, case.setup)
            if number == 0:  # compiles, if need be, and stands for nothing
                trace_job(Job(case.geometry, 0, staged.stage, staged.looks, first, 1, seed))
                continue
            job = Job(case.geometry, 0, staged.stage, staged.looks, first, count, seed)
            figures = told(crew.submit(job).result().sums, case.scale, case.setup)
            seconds.append(time.monotonic() - begun)
            if all(goal.reading in figures.figures for goal in goals):
                errors.append(float(error_of(losses_of(figures, lambda moved: loss(moved, goals)))))
    finally:
        crew.close()
    each = float(np.mean(seconds))
    longer = max(1.0, (_APART * float(np.median(errors)) / resolution) ** 2) if errors else 1.0
    looks = len(traced) * each
    return Expected(looks, min(2.0 * looks + min(WIDE, len(traced)) * each * longer, _LONGEST), len(places))
