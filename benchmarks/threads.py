"""P7: how much faster two threads are than one, and how the speed grows with threads up to all cores."""

from __future__ import annotations

from collections.abc import Callable

from benchmarks.found import Effort, Found, Row, Series
from benchmarks.reference import REPLICATES, SUBJECT, film_target, reference_stage, trace
from benchmarks.turns import medians, timed
from throughlight.trace.driver import thread_count

_PATHS = 1 << 12  # of each replicate


def _speeds(counts: list[int], effort: Effort) -> dict[int, float]:
    """Return paths per second, by number of threads."""
    stage, target = reference_stage(), film_target(SUBJECT)
    paths = max(256, effort.of(_PATHS))  # a run has at least 256

    def with_threads(count: int) -> Callable[[int], float]:
        return lambda turn: timed(lambda: trace(stage, target, paths, turn, threads=count))

    seconds = medians({str(count): with_threads(count) for count in counts}, effort.turns)
    return {int(count): paths * REPLICATES / taken for count, taken in seconds.items()}


def measure(effort: Effort) -> Found:
    """Return P7."""
    speed = _speeds([1, 2], effort)
    row = Row("P7", "two threads over one, subject reading", "M/s", speed[2] * 1e-6, speed[1] * 1e-6,
              speed[2] / speed[1], (1.85,), note="the second figure is ours on one thread")  # fmt: skip
    if thread_count() < 2:
        return Found((Row("P7", row.what, note="this machine has one core"),))
    return Found((row,))


def growth(effort: Effort) -> Found:
    """Return the speed on 1, 2, 4 … threads up to all cores."""
    counts = [1]
    while 2 * counts[-1] <= thread_count():
        counts.append(2 * counts[-1])
    if counts[-1] < thread_count():
        counts.append(thread_count())
    points = tuple((float(count), speed * 1e-6) for count, speed in _speeds(counts, effort).items())
    return Found(series=(Series("threads", "paths of the subject reading", "threads", "M/s", points),))
