"""When a run of a study ends, and how far it is until then."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import NamedTuple

from throughlight.readings.intervals import Stops
from throughlight.readings.meter import TOLERANCE
from throughlight.study.batch import MOST_LEVELS
from throughlight.study.question import Study


class Best(NamedTuple):
    """The best candidate so far: its number, what it changes in words, its loss."""

    number: int
    said: str
    loss: Stops


class Progress(NamedTuple):
    """How far a study is.

    Attributes
    ----------
    candidates, read, failed
        How many there are, how many of them have figures, how many cannot be computed.
    in_doubt
        How many may still be better than the best so far.
    best
        The best so far; None before the first answer.
    round, share
        The round that is being traced, from 1, and how much of it is done.
    ends
        When the study, or the round of first answers while nothing is known yet, is expected to end, as of
        `time.time()`; None when that is unknown.
    about
        Whether that is foreseen from what is in doubt, and not the time set.
    """

    candidates: int
    read: int
    failed: int
    in_doubt: int
    best: Best | None
    round: int
    share: float
    ends: float | None
    about: bool = False


@dataclass(frozen=True)
class Limits:
    """When a run ends.

    Attributes
    ----------
    ends
        No batch is begun after this, as of `time.time()`.
    resolution
        Differences of loss, stops, that need not be told apart.
    most_levels
        How often the data of a set double at most.
    lasts
        Nor so many seconds after tracing could begin; compiling and reading the sets don't count.
    places
        How many places, from the best on, are raced for; all when None.
    """

    ends: float | None = None
    resolution: float = TOLERANCE
    most_levels: int = MOST_LEVELS
    lasts: float | None = None
    places: int | None = None

    def over(self, ready: float) -> float | None:
        """Return when a run is over in which tracing could begin at `ready`, both as of `time.time()`."""
        if self.lasts is None:
            return self.ends
        return ready + self.lasts if self.ends is None else min(self.ends, ready + self.lasts)


def limits_of(study: Study, now: float) -> Limits:
    """Return when a study that is begun `now`, as of `time.time()`, ends by what its file says."""
    budget = study.budget
    ends = None if budget.until is None else next_time(budget.until.hour, budget.until.minute, now)
    resolution = TOLERANCE if budget.tolerance is None else budget.tolerance
    return Limits(ends, resolution, lasts=budget.time_limit, places=budget.places)


def next_time(hour: int, minute: int, now: float) -> float:
    """Return when the clock shows this time next, as of `time.time()`."""
    here = time.localtime(now)
    then = time.mktime((here.tm_year, here.tm_mon, here.tm_mday, hour, minute, 0, 0, 0, -1))
    if then <= now:
        then = time.mktime((here.tm_year, here.tm_mon, here.tm_mday + 1, hour, minute, 0, 0, 0, -1))
    return then
