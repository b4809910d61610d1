"""Measuring in turns: ours, the peer's, ours, the peer's …, so that a busy moment of the machine meets both alike.

The cost of a reading is its relative variance per path × the time of a path: the time to a given relative error is that
product over the error squared. With replicates of n paths each, V = n · Var(replicate mean) / mean².
"""

from __future__ import annotations

import math
import statistics
import time
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

T = TypeVar("T")


def in_turns(doers: Mapping[str, Callable[[int], T]], turns: int) -> dict[str, list[T]]:
    """Return what each doer gave in each turn; a turn 0 warms each up and is not counted.

    Parameters
    ----------
    doers
        What is done, by name; called with the number of the turn.
    turns
        How often.
    """
    for do in doers.values():
        do(0)
    given: dict[str, list[T]] = {name: [] for name in doers}
    for turn in range(1, turns + 1):
        for name, do in doers.items():
            given[name].append(do(turn))
    return given


def timed(do: Callable[[], object]) -> float:
    """Return the seconds that something takes."""
    begun = time.perf_counter()
    do()
    return time.perf_counter() - begun


def medians(doers: Mapping[str, Callable[[int], float]], turns: int) -> dict[str, float]:
    """Return the median of each doer's figures, measured in turns."""
    return {name: statistics.median(figures) for name, figures in in_turns(doers, turns).items()}


class Trial(NamedTuple):
    """One turn of one estimator: means of its replicates, paths in each, wall and processor seconds for all of them."""

    means: NDArray[np.float64]
    paths: int
    seconds: float
    processor: float


def trial(estimate: Callable[[], tuple[NDArray[np.float64], int]]) -> Trial:
    """Return the trial of what estimates replicate means and tells the paths of each."""
    processor, begun = time.process_time(), time.perf_counter()
    means, paths = estimate()
    return Trial(means, paths, time.perf_counter() - begun, time.process_time() - processor)


@dataclass(frozen=True)
class Cost:
    """What a reading costs an estimator.

    Attributes
    ----------
    mean, error
        The reading and its standard error.
    variance
        Relative variance per path.
    microseconds, processor_microseconds
        Median time of one path by the clock, and summed over processors. The first is what counts; the second suffers
        less where other work takes the processors away.
    freedom
        Degrees of freedom that the variance was found with.
    """

    mean: float
    error: float
    variance: float
    microseconds: float
    processor_microseconds: float
    freedom: int

    @property
    def product(self) -> float:
        """Return variance × time, µs."""
        return self.variance * self.microseconds

    def told(self) -> dict[str, Any]:
        """Return all of it as JSON data."""
        return asdict(self) | {"product_us": self.product}


def cost(trials: list[Trial]) -> Cost:
    """Return the cost of a reading from turns with independent seeds."""
    means = np.concatenate([one.means for one in trials])
    mean = float(means.mean())
    spreads = [float(np.var(one.means, ddof=1)) * one.paths for one in trials]
    return Cost(
        mean,
        float(means.std(ddof=1) / math.sqrt(len(means))),
        statistics.fmean(spreads) / mean**2 if mean else math.inf,
        statistics.median(one.seconds / (one.paths * len(one.means)) * 1e6 for one in trials),
        statistics.median(one.processor / (one.paths * len(one.means)) * 1e6 for one in trials),
        sum(len(one.means) - 1 for one in trials),
    )


def ratio_factor(first: Cost, second: Cost) -> float:
    """Return the factor within which a ratio of two costs is known (one standard error, normal replicate means)."""
    return math.exp(math.sqrt(2.0 / first.freedom + 2.0 / second.freedom))


def apart(first: Cost, second: Cost) -> tuple[float, float]:
    """Return how far two estimators of one reading are apart and the standard error of that, stops."""
    error = math.hypot(first.error / first.mean, second.error / second.mean) / math.log(2.0)
    return math.log2(first.mean / second.mean), error
