"""Who does the work: anything that takes a job and gives its sums later. Here the threads of this process.

A job's pieces are spread over the threads, so that a batch takes all of them and little is in flight at a time.
"""

from __future__ import annotations

import threading
import time
from concurrent.futures import Future, ThreadPoolExecutor
from typing import NamedTuple, Protocol

from throughlight.study.batch import Job, Piece, Sums, pieces, reduce, work
from throughlight.trace.driver import Tally, make_ready, thread_count
from throughlight.trace.tables import Stage


class WorkersTrouble(Exception):
    """Those who trace are not there any more, or no good; no fault of the set that was to be traced."""


class Done(NamedTuple):
    """What came of a job, and the seconds that threads spent on it."""

    sums: Sums
    seconds: float


class Workers(Protocol):
    """What a study needs of those that trace for it.

    Attributes
    ----------
    name
        What they are called in the results; empty for this process.
    """

    name: str

    @property
    def capacity(self) -> int:
        """Return how many jobs keep them busy."""
        ...

    def make_ready(self, stage: Stage) -> None:
        """Have compiled what a trace needs, so that no time limit has to wait for it."""
        ...

    def submit(self, job: Job) -> Future[Done]:
        """Take a job; its sums, or why there are none, come later."""
        ...

    def close(self) -> None:
        """Drop what is not finished, and end."""
        ...


class _Half:
    """A job of which some pieces are done."""

    def __init__(self, job: Job) -> None:
        self.job, self.result = job, Future[Done]()
        self.done: dict[Piece, Tally] = {}
        self.seconds = 0.0
        self.pieces = list(pieces(job))
        self.lock = threading.Lock()


class Threads:
    """The threads of this process."""

    def __init__(self, threads: int | None = None) -> None:
        count = thread_count(threads)
        self.name, self._count = "", count
        self._ended = threading.Event()
        self._pool = ThreadPoolExecutor(count, thread_name_prefix="study")

    @property
    def capacity(self) -> int:
        """Return how many jobs keep the threads busy."""
        return 2 + self._count // 4

    def make_ready(self, stage: Stage) -> None:
        """Have compiled what a trace needs, so that no time limit has to wait for it."""
        make_ready(stage)

    def submit(self, job: Job) -> Future[Done]:
        """Take a job; its sums, or why there are none, come later."""
        half = _Half(job)
        for piece in half.pieces:
            self._pool.submit(self._trace, half, piece)
        return half.result

    def _trace(self, half: _Half, piece: Piece) -> None:
        if self._ended.is_set() or half.result.done():
            return
        begun = time.monotonic()
        try:
            tally = work(half.job, piece)
            with half.lock:
                half.done[piece] = tally
                half.seconds += time.monotonic() - begun
                complete = len(half.done) == len(half.pieces)
            if complete:
                half.result.set_result(Done(reduce(half.job, half.done), half.seconds))
        except BaseException as trouble:
            if not half.result.done():
                half.result.set_exception(trouble)

    def close(self) -> None:
        """Drop what is not finished, and end."""
        self._ended.set()
        self._pool.shutdown(wait=True, cancel_futures=True)
