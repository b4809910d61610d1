"""The driver: rounds of work on a thread pool, summed in a fixed order, until the figures are good enough.

Work is cut into tasks of one target, one replicate and one stretch of the quasi-random sequence; a task has sums of its
own, and they are added up by replicate in the order of the stretches. A run therefore gives the same bits on any number
of threads. Whether to go on is asked only between rounds.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from typing import NamedTuple

import numpy as np

from throughlight.trace.expose import FILM, FRONT, PICTURE, expose
from throughlight.trace.tables import Stage

REPLICATES = 16
"""Independent randomisations of each target; intervals come from their spread."""

_FIRST_ROUND = 256  # paths of each replicate
_PIECE = 4096  # paths in one task


class Target(NamedTuple):
    """What one sampler looks at.

    Attributes
    ----------
    mode
        FILM, PICTURE or FRONT.
    columns, rows
        The film's grid of cells.
    cells
        (n,) int64, the cells that it looks at.
    mask
        Bit r set: paths whose first face is of region r count.
    """

    mode: int
    columns: int
    rows: int
    cells: np.ndarray
    mask: int


class Tally(NamedTuple):
    """The sums of one target by replicate.

    Attributes
    ----------
    cells
        (replicates, cells, layers, 3) sums of luminance × time × cos⁴; for FRONT lx·s. The last layer is the room.
    routes
        (replicates, layers, routes, 3) the same by route; route 0 is straight from the head.
    counts
        (replicates, cells, 4) rays by the region they met first.
    seen
        (replicates, heads) how often a head's face saw the front element.
    rays
        Paths traced for each replicate.
    status
        Paths cut for length, lost in bodies that are not closed, not a number.
    """

    cells: np.ndarray
    routes: np.ndarray
    counts: np.ndarray
    seen: np.ndarray
    rays: int
    status: tuple[int, int, int]


class Outcome(NamedTuple):
    """How a run ended: the tallies, and why it stopped ("tolerance", "time", "paths" or "interrupted")."""

    tallies: dict[str, Tally]
    reason: str
    seconds: float


class _Task(NamedTuple):
    name: str
    replicate: int
    first: int
    count: int


def empty_tally(stage: Stage, target: Target, replicates: int = REPLICATES) -> Tally:
    """Return a tally of zeros for this target."""
    layers = len(stage.heads) + 1
    cells = 1 if target.mode == FRONT else len(target.cells)
    routes = 0 if target.mode == PICTURE else len(stage.parts) + 1
    return Tally(
        np.zeros((replicates, cells, layers, 3)),
        np.zeros((replicates, layers, routes, 3)),
        np.zeros((replicates, cells, 4), np.int64),
        np.zeros((replicates, len(stage.heads)), np.int64),
        0,
        (0, 0, 0),
    )


def make_ready(stage: Stage) -> None:
    """Have the tracer compiled, or loaded, without tracing a path: no thread and no time limit has to wait for it."""
    nothing = np.zeros(0, np.int64)
    _work(stage, Target(FILM, 1, 1, nothing, 0), _Task("", 0, 0, 0), 0)


def trace(stage: Stage, target: Target, replicates: Sequence[int], first: int, count: int, seed: int) -> Tally:
    """Trace one stretch of the quasi-random sequence, replicate by replicate, on this thread.

    Parameters
    ----------
    stage, target
        What is traced.
    replicates
        Which independent randomisations; the tally has their sums in this order.
    first, count
        Where the stretch begins, and how many paths of each replicate it has.
    seed
        The run's seed.
    """
    tally = empty_tally(stage, target, len(replicates))
    status = np.zeros(3, np.int64)
    for row, replicate in enumerate(replicates):
        status += expose(
            stage, target.mode, target.columns, target.rows, target.cells, first, count, seed, replicate, target.mask,
            tally.cells[row], tally.routes[row], tally.counts[row], tally.seen[row],
        )  # fmt: skip
    cut, leaked, invalid = status.tolist()
    return tally._replace(rays=count, status=(cut, leaked, invalid))


def _work(stage: Stage, target: Target, task: _Task, seed: int) -> tuple[Tally, _Task]:
    """Trace one task into sums of its own."""
    return trace(stage, target, (task.replicate,), task.first, task.count, seed), task


def _add(tally: Tally, part: Tally, replicate: int) -> Tally:
    """Add a task's sums to its replicate's."""
    for total, piece in zip(tally[:4], part[:4], strict=True):
        total[replicate] += piece[0]
    together = tuple(a + b for a, b in zip(tally.status, part.status, strict=True))
    return tally._replace(status=together)


def _pieces(name: str, replicates: int, first: int, count: int) -> Iterable[_Task]:
    for start in range(first, first + count, _PIECE):
        for replicate in range(replicates):
            yield _Task(name, replicate, start, min(_PIECE, first + count - start))


def thread_count(threads: int | None = None) -> int:
    """Return the number of threads to use: what was asked, else what this process may use."""
    if threads is not None:
        return threads
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def run(
    stage: Stage,
    targets: Mapping[str, Target],
    judge: Callable[[Mapping[str, Tally]], set[str]],
    *,
    seed: int,
    threads: int | None = None,
    deadline: float | None = None,
    most_paths: int = 1 << 24,
    replicates: int = REPLICATES,
    progress: Callable[[Mapping[str, Tally], float], None] | None = None,
) -> Outcome:
    """Trace all targets in rounds that double, until the judge is content with each.

    Parameters
    ----------
    stage, targets
        What is traced; targets by name.
    judge
        Called between rounds with the tallies; returns the names that need more.
    seed
        The run's seed.
    threads
        How many threads; the figures don't depend on it.
    deadline
        A `time.monotonic()` time after which no further round is begun.
    most_paths
        The most paths of each replicate and target.
    progress
        Called after each task with the tallies of the last full round and the share of the present round done.

    Returns
    -------
    Outcome
        Full rounds only, so that all replicates of a target have equally many paths.
    """
    begun = time.monotonic()
    tallies = {name: empty_tally(stage, target, replicates) for name, target in targets.items()}
    wanting = set(targets)
    reason = "tolerance"
    with ThreadPoolExecutor(thread_count(threads)) as pool:
        while wanting:
            more = {name: max(_FIRST_ROUND, tallies[name].rays) for name in targets if name in wanting}
            tasks = [
                task for name, count in more.items() for task in _pieces(name, replicates, tallies[name].rays, count)
            ]
            futures = [pool.submit(_work, stage, targets[task.name], task, seed) for task in tasks]
            stopped = _await(futures, tallies, deadline, progress)
            if stopped:
                reason = stopped
                break
            for future in futures:
                part, task = future.result()
                tallies[task.name] = _add(tallies[task.name], part, task.replicate)
            for name, count in more.items():
                tallies[name] = tallies[name]._replace(rays=tallies[name].rays + count)
            unmet = judge(tallies) & set(targets)
            wanting = {name for name in unmet if 2 * tallies[name].rays <= most_paths}
            if unmet and not wanting:
                reason = "paths"
            if wanting and deadline is not None and time.monotonic() > deadline:
                reason = "time"
                break
    return Outcome(tallies, reason, time.monotonic() - begun)


def _await(
    futures: list[Future[tuple[Tally, _Task]]],
    tallies: Mapping[str, Tally],
    deadline: float | None,
    progress: Callable[[Mapping[str, Tally], float], None] | None,
) -> str:
    """Wait for a round; return why it was given up, or nothing when it is complete."""
    try:
        for done, _ in enumerate(as_completed(futures), 1):
            if progress is not None:
                progress(tallies, done / len(futures))
            # A first round always ends: without it there is nothing to say.
            started = any(tally.rays for tally in tallies.values())
            if deadline is not None and started and time.monotonic() > deadline and done < len(futures):
                _cancel(futures)
                return "time"
    except KeyboardInterrupt:
        _cancel(futures)
        return "interrupted"
    return ""


def _cancel(futures: list[Future[tuple[Tally, _Task]]]) -> None:
    for future in futures:
        future.cancel()
