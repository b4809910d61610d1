"""A whole command in a process of its own: its wall time, its peak memory and what it printed.

`python -m benchmarks.child COMMAND …` runs the command and prints its figures as JSON. It is a small process between
the benchmark and the command, because the peak that the system tells of a child (`ru_maxrss`) begins with the size of
the process that started it. Needs `os.wait4`: Linux, macOS and other Unix.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
TO_MB = 1e-6 * (1 if sys.platform == "darwin" else 1024)  # macOS tells bytes, others kilobytes


class Ended(NamedTuple):
    """How a command ended: wall time s, peak resident memory MB (10⁶ bytes), what it printed."""

    seconds: float
    peak_mb: float
    output: str


def run(*command: str, cache: str | None = None) -> Ended:
    """Run a command to its end.

    Parameters
    ----------
    command
        The program and its arguments.
    cache
        A folder to use as the user's cache instead of the usual one; an empty one means that all kernels are compiled.

    Raises
    ------
    RuntimeError
        When the command fails; with the end of what it complained of.
    """
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])}
    if cache is not None:
        environment["XDG_CACHE_HOME"] = cache
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.child", *command], capture_output=True, text=True, env=environment
    )
    if done.returncode:
        raise RuntimeError(f"{command[0]} ended with {done.returncode}: {done.stderr.strip()[-400:]}")
    told = json.loads(done.stdout)
    return Ended(told["seconds"], told["peak_mb"], told["output"])


def throughlight(*arguments: str, cache: str | None = None) -> Ended:
    """Run the command `throughlight`."""
    return run(sys.executable, "-m", "throughlight.cli", *arguments, cache=cache)


def python(code: str, *arguments: str, cache: str | None = None) -> Ended:
    """Run a few lines of Python."""
    return run(sys.executable, "-c", code, *arguments, cache=cache)


def _measure(command: list[str]) -> int:
    with tempfile.TemporaryFile() as output:
        begun = time.perf_counter()
        process = subprocess.Popen(command, stdout=output)
        _, status, used = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - begun
        output.seek(0)
        text = output.read().decode()
    print(json.dumps({"seconds": seconds, "peak_mb": used.ru_maxrss * TO_MB, "output": text}))
    return os.waitstatus_to_exitcode(status)


if __name__ == "__main__":
    sys.exit(_measure(sys.argv[1:]))
