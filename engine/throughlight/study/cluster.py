"""Many machines: batches go to the workers of a `dask.distributed` scheduler that somebody has started.

Workers need this engine and nothing else, no file of the set: a set is sent as the tables that a trace reads. What many
sets share, the triangles and trees of their meshes, is sent once. What a worker takes with it when it is lost is traced
again by another; sums come out the same wherever they are traced, so the results are those of one machine.
"""

from __future__ import annotations

import contextlib
import hashlib
import time
import warnings
from collections.abc import Sequence
from concurrent.futures import Future
from typing import Any

import numpy as np
from numpy.typing import NDArray

from throughlight.study.batch import Job, packed, trace_job, unpacked
from throughlight.study.identity import engine_hash
from throughlight.study.workers import Done, WorkersTrouble
from throughlight.trace.driver import make_ready
from throughlight.trace.tables import Stage
from throughlight.trace.tree import aligned

_SHARED = ("triangles", "boxes", "links", "normals", "texels")
_LINED_UP = ("triangles", "boxes", "links")
_AHEAD = 2  # jobs for each thread of the cluster, so that none waits for the next
_PATIENCE = 20.0  # s, for a scheduler to answer
_COMPILING = 300.0  # s, for the workers to compile
_RETRIES = 3  # of a batch whose worker was lost
_KEPT_DIGESTS = 16
_LOST = "the scheduler is lost; what came back from it is kept, and the same command goes on from there"

Tables = tuple[NDArray[Any], ...]


def cluster(address: str) -> Cluster:
    """Join a scheduler.

    Parameters
    ----------
    address
        Where it listens, such as "tcp://192.168.1.20:8786".

    Raises
    ------
    WorkersTrouble
        When `dask.distributed` is not there, or the scheduler does not answer, or a worker has another engine.
    """
    try:
        from distributed import Client
    except ImportError as trouble:
        raise WorkersTrouble(
            'dask.distributed is not installed; pip install "throughlight[cluster]" helps'
        ) from trouble
    join: Any = Client  # dask.distributed has no types
    try:
        client = join(address, timeout=_PATIENCE, set_as_default=False)
        hashes = client.run(engine_hash)
    except (OSError, ValueError, TimeoutError) as trouble:
        raise WorkersTrouble(f"no scheduler answers at {address} ({trouble or type(trouble).__name__})") from trouble
    strangers = [worker for worker, found in hashes.items() if found != engine_hash()]
    if strangers:
        client.close()
        raise WorkersTrouble(f"{strangers[0]} has another engine than this machine; the same version there would fit")
    return Cluster(client)


class Cluster:
    """The workers of a scheduler."""

    def __init__(self, client: Any) -> None:  # noqa: ANN401 - dask.distributed has no types
        self.name, self._client = "cluster", client
        self._shared: dict[str, Any] = {}
        self._digests: dict[int, tuple[NDArray[Any], str]] = {}

    @property
    def capacity(self) -> int:
        """Return how many jobs keep the workers busy; they may come and go."""
        known = self._client.scheduler_info(n_workers=-1)
        if "workers" not in known or self._client.status in ("closing", "closed"):
            raise WorkersTrouble(_LOST)
        return max(2, _AHEAD * sum(int(worker["nthreads"]) for worker in known["workers"].values()))

    def make_ready(self, stage: Stage) -> None:
        """Have every worker that is there compile, or load, what a trace needs; one that fails says so later."""
        from distributed import wait

        everyone = list(self._client.scheduler_info(n_workers=-1).get("workers", ()))
        rest, tables, now = _without_shared(stage), self._tables(stage), time.time_ns()
        asked = [
            self._client.submit(
                _compiled, rest, tables, pure=False, workers=[worker], allow_other_workers=True,
                key=f"ready-{place}-{now}",
            )
            for place, worker in enumerate(everyone)
        ]  # fmt: skip
        with contextlib.suppress(TimeoutError):
            wait(asked, timeout=_COMPILING)

    def submit(self, job: Job) -> Future[Done]:
        """Take a job; its sums, or why there are none, come later."""
        rest = job._replace(stage=_without_shared(job.stage))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # a mesh is large, and sent once
            sent = self._client.submit(
                _trace, rest, self._tables(job.stage), engine_hash(), pure=False, retries=_RETRIES,
                key=f"batch-{job.geometry[:16]}-{job.batch}-{time.time_ns()}",
            )  # fmt: skip
        result = Future[Done]()
        sent.add_done_callback(lambda future: _hand_over(future, result))
        return result

    def _tables(self, stage: Stage) -> Any:  # noqa: ANN401 - a future of dask's
        """Return the tables that many sets share, as something the workers have or can be given again."""
        tables = tuple(getattr(stage, name) for name in _SHARED)
        name = "-".join(self._digest(table) for table in tables)
        if name not in self._shared:
            self._shared[name] = self._client.submit(_laid, tables, key=f"tables-{name}", pure=True)
        return self._shared[name]

    def _digest(self, table: NDArray[Any]) -> str:
        known = self._digests.get(id(table))
        if known is None or known[0] is not table:
            digest = hashlib.sha256(np.ascontiguousarray(table).tobytes()).hexdigest()[:12]
            while len(self._digests) >= _KEPT_DIGESTS:
                del self._digests[next(iter(self._digests))]
            known = self._digests[id(table)] = table, digest
        return known[1]

    def close(self) -> None:
        """Drop what is not finished, and leave the scheduler."""
        self._client.close()


def _without_shared(stage: Stage) -> Stage:
    return stage._replace(**{name: np.zeros(0) for name in _SHARED})


def _hand_over(future: Any, result: Future[Done]) -> None:  # noqa: ANN401 - a future of dask's
    """Put what came of a task into a future that knows nothing of dask."""
    if result.done():
        return
    try:
        if future.status == "finished":
            content, seconds = future.result(timeout=_PATIENCE)
            result.set_result(Done(unpacked(content), seconds))
        elif future.status == "error":
            result.set_exception(future.exception(timeout=_PATIENCE))
        else:
            result.set_exception(WorkersTrouble(_LOST))
    except Exception as trouble:
        result.set_exception(WorkersTrouble(f"{_LOST} ({trouble})"))


def _laid(tables: Sequence[NDArray[Any]]) -> Tables:
    """Keep tables as a trace wants them; runs on a worker."""
    return tuple(
        aligned(table) if name in _LINED_UP else np.array(table) for name, table in zip(_SHARED, tables, strict=True)
    )


def _whole(rest: Stage, tables: Tables) -> Stage:
    """Put a stage together again; runs on a worker.

    Tables come over the wire read-only, for which everything would be compiled a second time.
    """
    own = {name: np.array(getattr(rest, name)) for name in Stage._fields if name not in _SHARED}
    shared = {
        name: table if table.flags.writeable else _laid(tables)[place]
        for place, (name, table) in enumerate(zip(_SHARED, tables, strict=True))
    }
    return Stage(**own, **shared)


def _compiled(rest: Stage, tables: Tables) -> None:
    """Compile what a trace needs; runs on a worker."""
    make_ready(_whole(rest, tables))


def _trace(job: Job, tables: Tables, engine: str) -> tuple[bytes, float]:
    """Trace a batch; runs on a worker."""
    if engine != engine_hash():
        raise WorkersTrouble("a worker has another engine than the machine that runs the study; the same would fit")
    begun = time.monotonic()
    looks = {name: look._replace(cells=np.array(look.cells)) for name, look in job.looks.items()}
    sums = trace_job(job._replace(stage=_whole(job.stage, tables), looks=looks))
    assert sums is not None  # nobody interrupts a worker
    return packed(sums), time.monotonic() - begun
