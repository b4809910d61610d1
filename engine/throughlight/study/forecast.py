"""How much a study has still to trace, foreseen from what is in doubt.

The error of a difference falls with the root of the paths, or faster; so a pair that needs an error r times smaller
needs both its sets traced r² times as far. Those who seem apart by chance come closer with time, so one standard error
is taken off. What noise will decide can't be known: at the beginning it may come out three times as much or as little.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from throughlight.study.batch import paths_at
from throughlight.study.ranking import held_against, in_order, thresholds
from throughlight.study.spread import freedom_of

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


_SELDOM = 50.0
"""Times as long as foreseeing takes lie between one time and the next."""


class Speed:
    """How fast this run traces since its clock runs, and when it will be through at that pace."""

    def __init__(self) -> None:
        self._begun, self._paths = time.monotonic(), 0
        self._next, self._through = 0.0, math.inf

    def count(self, paths: int) -> None:
        """Count a batch that was traced."""
        self._paths += paths

    def foresees(self, left: Callable[[], int]) -> bool:
        """Foresee the end from the paths that are left, if anything was traced and it is time to ask again."""
        now = time.monotonic()
        if self._paths == 0 or now < self._next:
            return False
        self._through = time.time() + left() * (now - self._begun) / self._paths
        self._next = time.monotonic() + _SELDOM * (time.monotonic() - now)
        return True

    def earlier(self, ends: float | None) -> float | None:
        """Return when the run will be through, or over by the clock before that; None when nobody knows."""
        if math.isinf(self._through):
            return ends
        return self._through if ends is None else min(ends, self._through)


def still_to_trace(
    losses: Array, levels: Ints, groups: Ints, *, most_levels: int, resolution: float, places: int | None = None
) -> int:
    """Return the paths of each replicate, of all sets together, until each pair is told apart or known to be as good.

    Parameters
    ----------
    losses, levels, groups, most_levels, resolution, places
        As of `racing.next_round`.
    """
    order = in_order(losses)
    further = np.zeros(len(losses), np.int64)  # how often data have to double
    for rank, one in enumerate(order[:places]):
        rest = order[rank + 1 :]
        delta, error, needed = held_against(losses, levels, int(one), rest, first=rank == 0)
        open_ = (np.abs(delta) <= needed * error) & (needed * error > resolution)
        short = error / np.maximum(np.abs(delta) - error, resolution)
        looks = levels[rest] + levels[one] - 1 + 2 * _doublings(short * needed)
        later = thresholds(len(losses), rank == 0, looks, freedom_of(losses))
        doublings = np.where(open_, np.maximum(1, _doublings(short * later)), 0)
        further[rest] = np.maximum(further[rest], doublings)
        further[one] = max(further[one], doublings.max(initial=0))
    total = 0
    for group in np.unique(groups):
        own = groups == group
        now = int(levels[own].max())
        total += paths_at(max(now, min(int((levels + further)[own].max()), most_levels))) - paths_at(now)
    return total


def _doublings(short: Array) -> Ints:
    """Return how often data have to double for errors that are so many times what is asked for."""
    return np.ceil(2.0 * np.log2(np.maximum(short, 1.0))).astype(np.int64)
