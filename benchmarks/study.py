"""P8: what a study costs for each candidate beyond tracing.

The demo study's first answers, on one thread. Beyond tracing is all the processor's time that is not spent in the
compiled traces: reading and checking a candidate's set, laying it out, sorting the film, putting sums together, keeping
them, figures and loss.
"""

from __future__ import annotations

import shutil
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from benchmarks.child import ROOT
from benchmarks.found import Effort, Found, Row

AGATE = ROOT / "scenes" / "agate"


def measure(effort: Effort) -> Found:
    """Return P8: milliseconds for each candidate, and sets traced for candidates that differ in power alone."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        for file in AGATE.iterdir():
            shutil.copy(file, home)
        _first_answers(home, "warm")
        turns = [_first_answers(home, str(turn)) for turn in range(effort.of(3))]
    beyond = statistics.median(1e3 * seconds / candidates for seconds, candidates, _ in turns)
    _, candidates, sets = turns[0]
    goals: dict[str, Any] = {"goals": (20.0,), "judged": "ours", "most": True}
    note = f"{candidates} candidates, {sets} sets traced: power alone costs no tracing"
    return Found((Row("P8", "study, each candidate beyond tracing", "ms", beyond, note=note, **goals),))


def _first_answers(home: Path, name: str) -> tuple[float, int, int]:
    """Give each candidate of a part of the demo study its first answer.

    Returns
    -------
    tuple
        Seconds of the processor beyond tracing, candidates read, sets traced.
    """
    from throughlight.study import workers
    from throughlight.study.file import load_study
    from throughlight.study.limits import Limits
    from throughlight.study.runner import run

    text = (AGATE / "study.toml").read_text(encoding="utf-8")
    (home / "study.toml").write_text(text.replace('step = "4 deg"', 'step = "11 deg"'), encoding="utf-8")
    study = load_study(home / "study.toml")
    tracing, real = [0.0], workers.work

    def timed(job: workers.Job, piece: workers.Piece) -> workers.Tally:
        begun = time.thread_time()
        tally = real(job, piece)
        tracing[0] += time.thread_time() - begun
        return tally

    workers.work = timed
    try:
        begun = time.process_time()
        outcome = run(study, limits=Limits(most_levels=1), threads=1, path=home / f"{name}.db")
        whole = time.process_time() - begun
    finally:
        workers.work = real
    return whole - tracing[0], len(outcome.standing.known), outcome.traced
