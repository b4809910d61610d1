"""P3, P4, P9, P10 and memory: whole commands in processes of their own, on the shipped demo set.

"Cached" means that kernels were compiled before and are loaded from the user's cache; a first run has an empty cache.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
from collections.abc import Callable

from benchmarks.child import ROOT, Ended, python, run, throughlight
from benchmarks.found import Effort, Found, Row

SET = str(ROOT / "scenes" / "agate" / "set.toml")
ROUGHLY = ("--tolerance", "1 stop")


def _median(turns: int, do: Callable[[], Ended]) -> tuple[float, float]:
    """Return median seconds and median peak memory of a command that has been run once before."""
    do()
    ended = [do() for _ in range(turns)]
    return statistics.median(one.seconds for one in ended), statistics.median(one.peak_mb for one in ended)


def _seconds(target: str, what: str, seconds: float, *goals: float, note: str = "") -> Row:
    return Row(target, what, "s", seconds, goals=goals, judged="ours", most=True, note=note)


def all_readings(effort: Effort) -> Found:
    """Return P3: all readings of the demo set to ±0.05 stop, kernels cached."""
    seconds, peak = _median(effort.turns, lambda: throughlight("meter", SET, "--json"))
    row = _seconds("P3", "all readings of the demo set, ±0.05 stop", seconds, 2.5, 1.5, note=f"peak {peak:.0f} MB")
    return Found((row,))


def first_run(effort: Effort) -> Found:
    """Return P4: the first run on a fresh install, once."""
    with tempfile.TemporaryDirectory() as cache:
        seconds = throughlight("meter", SET, "--json", *ROUGHLY, cache=cache).seconds
    return Found((_seconds("P4", "first run, everything compiled", seconds, 45.0, 20.0, note="to ±1 stop; once"),))


def light_commands(effort: Effort) -> Found:
    """Return P9: commands that trace nothing."""
    helped, _ = _median(effort.turns, lambda: throughlight("--help"))
    checked, _ = _median(effort.turns, lambda: throughlight("check", SET))
    return Found(
        (_seconds("P9", "throughlight --help", helped, 0.3), _seconds("P9", "throughlight check", checked, 1.0))
    )


def same_bits(effort: Effort) -> Found:
    """Return P10: the same seed on 1, 2 and 3 threads."""
    told = []
    for threads in ("1", "2", "3"):
        readings = json.loads(throughlight("meter", SET, "--json", "--threads", threads).output)
        readings["made"].pop("tracing_seconds")
        told.append(readings)
    same = told[0] == told[1] == told[2]
    row = Row("P10", "same readings on 1, 2, 3 threads (1: yes)", "", float(same), goals=(1.0,), judged="ours")
    return Found((row,))


def starts(effort: Effort) -> Found:
    """Return what a start costs: Python alone, numba, the library, a first rough reading with kernels cached."""
    steps = {
        "Python alone": lambda: python(""),
        "import numba": lambda: python("import numba"),
        "import of all that traces": lambda: python("import throughlight.readings.meter"),
        "warm start to a ±1 stop reading": lambda: throughlight("meter", SET, "--json", *ROUGHLY),
    }
    return Found(tuple(_seconds("start", what, _median(effort.turns, do)[0]) for what, do in steps.items()))


def memory(effort: Effort) -> Found:
    """Return the peak memory of the main commands, once each."""
    with tempfile.TemporaryDirectory() as folder:
        commands = {
            "check": ("check", SET),
            "meter, demo set": ("meter", SET, "--json", *ROUGHLY),
            "shoot, demo set, 8 samples": ("shoot", SET, "--samples", "8", "--out", f"{folder}/one.shot"),
        }
        rows = [
            Row("memory", f"peak, {what}", "MB", run(sys.executable, "-m", "throughlight.cli", *command).peak_mb)
            for what, command in commands.items()
        ]
    return Found(tuple(rows))
