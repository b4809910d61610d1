"""`python -m benchmarks`: the speed targets, ours, the peer's figure from the same run, and whether they are met.

No timing is asserted in tests; run this on an idle machine.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.reference import subject_efficiency

ROOT = Path(__file__).resolve().parent.parent
SET = str(ROOT / "scenes" / "agate" / "set.toml")


def _seconds(*arguments: str, cache: str | None = None) -> tuple[float, str]:
    """Return the wall time of one whole command, and what it printed."""
    environment = dict(os.environ)
    if cache is not None:
        environment["XDG_CACHE_HOME"] = cache
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "throughlight.cli", *arguments],
        capture_output=True, text=True, check=True, env=environment,
    )  # fmt: skip
    return time.perf_counter() - begun, done.stdout


def _median(*arguments: str) -> float:
    _seconds(*arguments)
    return statistics.median(_seconds(*arguments)[0] for _ in range(5))


def _first_run() -> float:
    with tempfile.TemporaryDirectory() as cache:
        return _seconds("meter", SET, "--json", cache=cache)[0]


def _same_on_any_threads() -> bool:
    readings = []
    for threads in ("1", "2", "3"):
        told = json.loads(_seconds("meter", SET, "--json", "--threads", threads)[1])
        told["made"].pop("tracing_seconds")
        readings.append(told)
    return readings[0] == readings[1] == readings[2]


def main() -> None:
    """Measure and print."""
    p1 = subject_efficiency()
    rows = [
        ("P1", "subject: variance × time, peer ÷ ours", p1["ratio"], "×", 20.0, p1["ratio"] >= 20.0),
        ("P3", "all readings of the demo set, cached", p3 := _median("meter", SET, "--json"), "s", 2.5, p3 <= 2.5),
        ("P4", "first run on a fresh install", p4 := _first_run(), "s", 45.0, p4 <= 45.0),
        ("P9", "--help", helped := _median("--help"), "s", 0.3, helped <= 0.3),
        ("P9", "check", checked := _median("check", SET), "s", 1.0, checked <= 1.0),
    ]
    same = _same_on_any_threads()
    if "--json" in sys.argv:
        told = [dict(zip(("target", "what", "value", "unit", "goal", "met"), row, strict=True)) for row in rows]
        print(json.dumps({"rows": told, "p1": p1, "p10_same_on_any_threads": same}, indent=2))
        return
    for name, what, value, unit, goal, met in rows:
        print(f"{name:4} {what:42} {value:8.2f} {unit:2} goal {goal:6.1f}  {'met' if met else 'not met'}")
    print(f"P10  same seed, 1, 2 and 3 threads: {'the same bits' if same else 'DIFFERENT'}")
    print(
        f"P1 in parts: ours V {p1['ours_relative_variance']:.2f} × {p1['ours_us_per_path']:.2f} µs; peer "
        f"({p1['peer_variant']}) V {p1['peer_relative_variance']:.1f} × {p1['peer_us_per_path']:.2f} µs; "
        f"ratio known to a factor {p1['ratio_error_factor']:.2f}"
    )


if __name__ == "__main__":
    main()
