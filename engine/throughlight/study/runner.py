"""A study from its first batch to its end, and on again after whatever cut it short.

First every set gets a rough answer. Then rounds follow: what is kept decides which sets' data are doubled, the decision
is written down, the batches that it takes are traced in any order by whoever is there, and so on. Since a decision
depends on whole rounds alone, and a batch comes out the same wherever it is traced, the results do not depend on the
number of threads, machines and interruptions.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, wait
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.setup import SetupError
from throughlight.study.batch import Job, stretch_of, stretches
from throughlight.study.cases import Cases, cases_of, reason_of
from throughlight.study.forecast import Speed, still_to_trace
from throughlight.study.identity import identity_of
from throughlight.study.limits import Best, Limits, Progress, limits_of
from throughlight.study.question import Study
from throughlight.study.racing import in_doubt, next_round
from throughlight.study.ranking import in_order
from throughlight.study.results_file import store_path
from throughlight.study.spread import loss_figure
from throughlight.study.staging import Stager
from throughlight.study.standing import Standing, by_geometry
from throughlight.study.store import Key, Store, keys_of
from throughlight.study.workers import Done, Threads, Workers, WorkersTrouble

Reason = Literal["decided", "time", "interrupted"]

_LOOK_UP = 0.2  # s, how often it is asked whether to stop
_SHORTEST_LEASE = 10.0  # s
_LEASE = 5.0  # times what a batch takes on average


_NOBODY: Best | None = None


class Outcome(NamedTuple):
    """How a run ended: everything decided, time over, or interrupted; what is known; batches traced by this run."""

    reason: Reason
    standing: Standing
    rounds: int
    traced: int
    seconds: float


def run(
    study: Study,
    *,
    limits: Limits | None = None,
    threads: int | None = None,
    seed: int | None = None,
    progress: Callable[[Progress], None] | None = None,
    stopped: Callable[[], bool] = lambda: False,
    workers: Workers | None = None,
    path: Path | None = None,
    most_pages: int | None = None,
) -> Outcome:
    """Run a study, or go on with it.

    Parameters
    ----------
    study
        What is asked.
    limits
        When the run ends; what the study's file says about it when left out.
    threads
        How many threads of this process; all by default. The results don't depend on it.
    seed
        Start of the random numbers; the set's by default.
    progress
        Called now and then.
    stopped
        Asked some times a second whether to leave off.
    workers
        Who traces; the threads of this process by default.
    path
        Where the results are kept; beside the study file by default.
    most_pages
        The most pages of 4 kB that the file of results may have.

    Raises
    ------
    SetupError
        When the file of results cannot be written, or holds those of a changed set, study or engine.
    WorkersTrouble
        When the workers are lost.
    """
    seed = study.the_set.setup.seed if seed is None else seed
    limits = limits_of(study, time.time()) if limits is None else limits
    with Store(
        store_path(study.path) if path is None else path, identity_of(study, seed), most_pages=most_pages
    ) as store:
        cases = cases_of(study)
        store.forget_failures()
        store.fail(cases.failed)
        crew = Threads(threads) if workers is None else workers
        try:
            return _Run(study, cases, store, crew, limits, seed, progress, stopped).to_the_end()
        finally:
            crew.close()


class _Run:
    """One run of a study."""

    def __init__(
        self, study: Study, cases: Cases, store: Store, workers: Workers, limits: Limits, seed: int,
        progress: Callable[[Progress], None] | None, stopped: Callable[[], bool],
    ) -> None:  # fmt: skip
        self.study, self.cases, self.store, self.workers = study, cases, store, workers
        self.limits, self.seed, self.progress, self.stopped = limits, seed, progress, stopped
        self.stager, self.together = Stager(), by_geometry(cases)
        self.standing = Standing(failed=dict(cases.failed))
        self.squares = any(goal.reading == "clipped" for goal in study.goals)
        self.broken: dict[str, str] = {}  # why a geometry cannot be traced
        self.begun, self.traced, self.seconds, self.number = time.monotonic(), 0, 0.0, 1
        self.doubt, self.best = 0, _NOBODY
        self.speed, self.is_ready, self.ends = Speed(), False, limits.ends
        self._note_end()

    def to_the_end(self) -> Outcome:
        """Go through the rounds."""
        levels = dict.fromkeys(self.together, 0)
        doubled = list(self.together)
        while doubled:
            keys = [key for geometry in doubled for key in keys_of(geometry, levels[geometry] + 1)]
            reason = self._trace(keys)
            if reason is not None:
                return self._outcome(reason)
            for geometry in doubled:
                levels[geometry] += 1
                self._read(geometry, levels[geometry])
            self._judge()
            doubled = self._next(self.number + 1)
            self.number += 1
        return self._outcome("decided")

    def _outcome(self, reason: Reason) -> Outcome:
        return Outcome(reason, self.standing, self.number, self.traced, time.monotonic() - self.begun)

    def _read(self, geometry: str, level: int) -> None:
        """Read the candidates of a geometry anew."""
        good = [case for case in self.together[geometry] if case.number not in self.standing.failed]
        if geometry in self.broken or not good:
            return
        before = set(self.standing.failed)
        self.standing.read(self.store, good, self.study.goals, level)
        self.store.fail({number: self.standing.failed[number] for number in set(self.standing.failed) - before})

    def _judge(self) -> None:
        """Work out who leads, and how many may still do."""
        losses, levels, geometries = self.standing.tables()
        if len(losses):
            known = self.standing.order()[int(in_order(losses)[0])]
            said = ", ".join(f"{change.name} {change.said}" for change in known.case.candidate.changes)
            self.best = Best(known.case.number, said, loss_figure(known.losses))
            self.doubt = in_doubt(losses, levels)
            if self.speed.foresees(
                lambda: still_to_trace(
                    losses, levels, _grouped(geometries)[1], most_levels=self.limits.most_levels,
                    resolution=self.limits.resolution, places=self.limits.places,
                )
            ):  # fmt: skip
                self._note_end()

    def _note_end(self) -> None:
        """Write down for those who read the results when the study is expected to end."""
        ends = self.speed.earlier(self.ends)
        self.store.note("ends", "" if ends is None else time.strftime("%a %H:%M", time.localtime(ends)))

    def _next(self, number: int) -> list[str]:
        """Return the geometries of a round: as written down, or as decided now."""
        decided = self.store.round(number)
        if decided is not None:
            return decided
        losses, levels, geometries = self.standing.tables()
        if len(losses) < 2:
            return []
        names, groups = _grouped(geometries)
        chosen = next_round(
            losses,
            levels,
            groups,
            most_levels=self.limits.most_levels,
            resolution=self.limits.resolution,
            places=self.limits.places,
        )
        return self.store.decide(number, [names[group] for group in chosen]) if chosen else []

    def _trace(self, keys: list[Key]) -> Reason | None:
        """See to it that these batches are kept; return why they are not, or nothing."""
        kept = self.store.kept()
        missing = [key for key in keys if key not in kept and key[0] not in self.broken]
        flying: dict[Future[Done], Key] = {}
        total, pause = len(keys), 0.0
        if missing and not self.is_ready:
            self._get_ready(missing[0][0])
        while missing or flying:
            self._tell(len(missing) + len(flying), total)
            over = self.ends is not None and time.time() > self.ends
            if self.stopped():
                return "interrupted"
            if over and not flying:
                return "time"
            if not over:
                missing = self._launch(missing, flying)
            if flying:
                done, _ = wait(flying, timeout=_LOOK_UP, return_when=FIRST_COMPLETED)
                for future in done:
                    self._keep(flying.pop(future), future)
            elif missing:  # another process is at them
                pause = min(_LOOK_UP, pause + 0.02)
                time.sleep(pause)
            missing = [key for key in missing if key[0] not in self.broken]
        return None

    def _get_ready(self, geometry: str) -> None:
        """Have everything compiled: the clock runs only from then on."""
        with contextlib.suppress(SetupError, ValueError, OSError):  # said when the set's turn comes
            self.workers.make_ready(self.stager.staged(geometry, self.cases.traced[geometry].setup).stage)
        self.is_ready, self.speed = True, Speed()
        self.ends = self.limits.over(time.time())
        self._note_end()

    def _launch(self, missing: list[Key], flying: dict[Future[Done], Key]) -> list[Key]:
        """Give the workers something to do; return which batches are still to be given or waited for."""
        lease = max(_SHORTEST_LEASE, _LEASE * self.seconds / max(self.traced, 1))
        left: list[Key] = []
        for place, key in enumerate(missing):
            if len(flying) >= self.workers.capacity:
                return left + missing[place:]
            claim = self.store.claim(key, lease)
            if claim == "taken":
                left.append(key)
            elif claim == "mine" and key[0] not in self.broken:
                job = self._job(key)
                if job is not None:
                    flying[self.workers.submit(job)] = key
        return left

    def _job(self, key: Key) -> Job | None:
        """Return the job of a batch, or None when its set cannot be laid out."""
        geometry, batch = key
        try:
            staged = self.stager.staged(geometry, self.cases.traced[geometry].setup)
        except (SetupError, ValueError, OSError) as trouble:
            self.store.release(key)
            self._give_up(geometry, reason_of(trouble) if isinstance(trouble, SetupError) else str(trouble))
            return None
        first, count = stretch_of(batch)
        return Job(geometry, batch, staged.stage, staged.looks, first, count, self.seed, self.squares)

    def _keep(self, key: Key, future: Future[Done]) -> None:
        trouble = future.exception()
        if trouble is not None:
            if not isinstance(trouble, Exception) or isinstance(trouble, MemoryError | WorkersTrouble):
                raise trouble
            self.store.release(key)
            self._give_up(key[0], f"it could not be traced: {trouble}")
            return
        done = future.result()
        self.traced += 1
        self.seconds += done.seconds
        self.speed.count(stretch_of(key[1])[1])
        self.store.put(key, done.sums, done.seconds, self.workers.name)

    def _give_up(self, geometry: str, reason: str) -> None:
        """Write down that a geometry's candidates cannot be computed."""
        self.broken[geometry] = reason
        for case in self.together[geometry]:
            self.standing.failed[case.number] = reason
            self.standing.known.pop(case.number, None)
        self.store.fail({case.number: reason for case in self.together[geometry]})

    def _tell(self, left: int, total: int) -> None:
        if self.progress is None:
            return
        if self.number == 1:
            self.speed.foresees(lambda: left * stretches(1)[0][1])
        ends = self.speed.earlier(self.ends)
        self.progress(
            Progress(
                len(self.cases.all), len(self.standing.known), len(self.standing.failed), self.doubt, self.best,
                self.number, 1.0 - left / max(total, 1), ends, about=ends is not None and ends != self.ends,
            )
        )  # fmt: skip


def _grouped(geometries: list[str]) -> tuple[list[str], NDArray[np.int64]]:
    """Return the geometries, each once, and which of them each candidate has."""
    names = list(dict.fromkeys(geometries))
    return names, np.array([names.index(geometry) for geometry in geometries])
