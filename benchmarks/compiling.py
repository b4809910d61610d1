"""Compile time by kernel: the entries that Python calls, each with all it calls, in a process with an empty cache.

numba announces the start and the end of each compilation; those of callees lie inside their caller's. An entry's time
is what lies between its own two; a callee that two entries share is compiled for the first alone. A kernel's own time
is its time less that of the compilations inside it: typing, lowering, and for an entry the optimisation of the whole.
"""

from __future__ import annotations

import json
import tempfile

from benchmarks.child import python
from benchmarks.commands import SET
from benchmarks.found import Effort, Found, Row

_STEPS = """
import json, sys
from numba.core import event
import throughlight as tl
with event.install_recorder("numba:compile") as recorder:
    tl.meter(tl.load(sys.argv[1]), tolerance=1.0)
stack, told = [], []
for moment, what in recorder.buffer:
    dispatcher = what.data["dispatcher"]
    if what.is_start:
        stack.append([moment, 0.0])
        continue
    begun, inside = stack.pop()
    if stack:
        stack[-1][1] += moment - begun
    function = dispatcher.py_func
    told.append([f"{function.__module__}.{function.__qualname__}", moment - begun, moment - begun - inside, not stack])
print(json.dumps(told))
"""
_SLOWEST = 5


def measure(effort: Effort) -> Found:
    """Return the compile time of each entry that a first reading needs, once, and the slowest of their callees."""
    with tempfile.TemporaryDirectory() as cache:
        told = json.loads(python(_STEPS, SET, cache=cache).output)
    entries = [one for one in told if one[3]]
    callees = sorted((one for one in told if not one[3]), key=lambda one: -one[2])[:_SLOWEST]
    rows = [Row("compile", f"entry {_short(name)}", "s", whole) for name, whole, _, _ in entries]
    rows.append(Row("compile", "all entries", "s", sum(one[1] for one in entries), note=f"{len(told)} compilations"))
    rows += [Row("compile", f"alone, {_short(name)}", "s", own) for name, _, own, _ in callees]
    counts = {name: sum(other[0] == name for other in told) for name, *_ in told}
    twice = {name: count for name, count in counts.items() if count > 1}
    return Found(tuple(rows), details={"compiled more than once": twice})


def _short(name: str) -> str:
    return name.removeprefix("throughlight.")
