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
        When the study is expected to end at the latest, as of `time.time()`; None when that is unknown.
    """

    candidates: int
    read: int
    failed: int
    in_doubt: int
    best: Best | None
    round: int
    share: float
    ends: float | None


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
    """

    ends: float | None = None
    resolution: float = TOLERANCE
    most_levels: int = MOST_LEVELS


def limits_of(study: Study, now: float) -> Limits:
    """Return when a study that is begun `now`, as of `time.time()`, ends by what its file says."""
    budget = study.budget
    ends = [] if budget.time_limit is None else [now + budget.time_limit]
    if budget.until is not None:
        ends.append(next_time(budget.until.hour, budget.until.minute, now))
    return Limits(min(ends, default=None), TOLERANCE if budget.tolerance is None else budget.tolerance)


def next_time(hour: int, minute: int, now: float) -> float:
    """Return when the clock shows this time next, as of `time.time()`."""
    here = time.localtime(now)
    then = time.mktime((here.tm_year, here.tm_mon, here.tm_mday, hour, minute, 0, 0, 0, -1))
    if then <= now:
        then = time.mktime((here.tm_year, here.tm_mon, here.tm_mday + 1, hour, minute, 0, 0, 0, -1))
    return then
