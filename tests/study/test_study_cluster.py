"""Two worker processes of a real scheduler, one of them killed: the same figures as on one machine, bit for bit."""

from __future__ import annotations

import json
import subprocess
import sys
import time

import pytest
from small_studies import write
from test_study_interrupted import LIMITS, MANY, kept, readings, same

from throughlight.study.file import load_study
from throughlight.study.runner import run
from throughlight.study.workers import WorkersTrouble

pytest.importorskip("distributed")

from throughlight.study.cluster import cluster

_START = 90.0  # s, on a busy machine


def start(*command):
    # The compiled kernels' cache is shared with this process, which has what it takes compiled by now.
    return subprocess.Popen([sys.executable, "-m", *command], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


@pytest.fixture
def scheduler(tmp_path):
    """A scheduler; yields its address and what starts a worker."""
    file = tmp_path / "scheduler.json"
    begun = [start("distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
                   "--scheduler-file", str(file))]  # fmt: skip
    until = time.monotonic() + _START
    while not file.exists() and time.monotonic() < until:
        time.sleep(0.1)
    while True:
        try:
            address = json.loads(file.read_text())["address"]
            break
        except ValueError:
            time.sleep(0.1)

    def worker():
        process = start("distributed.cli.dask_worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard",
                        "--local-directory", str(tmp_path / f"worker-{len(begun)}"))  # fmt: skip
        begun.append(process)
        return process

    yield address, worker
    for process in reversed(begun):
        process.kill()
        process.wait()


def test_two_workers_one_killed(tmp_path, scheduler):
    alone = write_in(tmp_path / "alone")
    by_itself = run(load_study(alone), limits=LIMITS, threads=2)
    address, worker = scheduler
    first, _second = worker(), worker()
    workers = cluster(address)
    workers._client.wait_for_workers(2, timeout=_START)
    assert workers.capacity == 4
    file = write_in(tmp_path / "together")
    killed = []

    def kill(progress):
        if not killed and progress.round == 1 and progress.share > 0.3:
            first.kill()
            killed.append(progress.share)

    outcome = run(load_study(file), limits=LIMITS, workers=workers, progress=kill)
    assert killed
    assert first.wait(timeout=10.0) != 0
    assert outcome.reason == "decided"
    assert not outcome.standing.failed
    assert same(kept(file), kept(alone))
    assert readings(outcome) == readings(by_itself)


def write_in(folder):
    folder.mkdir()
    return write(folder, MANY)


def test_nobody_answers(monkeypatch):
    monkeypatch.setattr("throughlight.study.cluster._PATIENCE", 1.0)
    with pytest.raises(WorkersTrouble, match="no scheduler answers"):
        cluster("tcp://127.0.0.1:9")


def test_scheduler_lost(tmp_path, scheduler):
    """What is kept stays, and the study goes on without a cluster."""
    address, worker = scheduler
    worker()
    workers = cluster(address)
    workers._client.wait_for_workers(1, timeout=_START)
    file = write_in(tmp_path / "lost")
    seen = []

    def end(progress):
        if progress.share > 0.2 and not seen:
            workers._client.shutdown()
            seen.append(progress.share)

    with pytest.raises(WorkersTrouble, match="the scheduler is lost"):
        run(load_study(file), limits=LIMITS, workers=workers, progress=end)
    assert kept(file)[0]
    assert run(load_study(file), limits=LIMITS, threads=2).reason == "decided"


def test_missing_extra_is_said(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(WorkersTrouble, match=r"throughlight\[cluster\]"):
        cluster("tcp://127.0.0.1:9")
