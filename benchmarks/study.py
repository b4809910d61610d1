"""P8: what a study costs for each candidate beyond tracing."""

from __future__ import annotations

import importlib.util

from benchmarks.found import Effort, Found, Row


def measure(effort: Effort) -> Found:
    """Return P8, which has nothing to measure yet."""
    built = importlib.util.find_spec("throughlight.study") is not None
    note = "study is built, its measurement is not" if built else "study not built yet"
    return Found(
        (Row("P8", "study, each candidate beyond tracing", "ms", goals=(20.0,), judged="ours", most=True, note=note),)
    )
