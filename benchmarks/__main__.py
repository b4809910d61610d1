"""`python -m benchmarks`: each speed target, ours, the peer's figure from the same run, the ratio, met or not.

    python -m benchmarks                    everything, about half an hour
    python -m benchmarks --only P5,P6       some of it
    python -m benchmarks --quick            a look in little time; figures are not worth keeping
    python -m benchmarks --json             the same as JSON
    python -m benchmarks --record           also written to benchmarks/records/YYYY-MM-DD.json

Ours and the peer's are measured in turns and told as medians of five. Run it on an idle machine; no timing is asserted
in tests. The peers come with `pip install -e '.[bench]'`.
"""

from __future__ import annotations

import argparse
import datetime
import importlib
import json
import sys

from benchmarks import record, table
from benchmarks.found import FULL, QUICK, Effort, Found, Row

MEASUREMENTS = {
    "P1": "efficiency.lit",
    "P1b": "efficiency.dark",
    "P2": "picture.measure",
    "P3": "commands.all_readings",
    "P4": "commands.first_run",
    "P5": "rays.measure",
    "P6": "big_mesh.measure",
    "P7": "threads.measure",
    "P8": "study.measure",
    "P9": "commands.light_commands",
    "P10": "commands.same_bits",
    "compile": "compiling.measure",
    "start": "commands.starts",
    "memory": "commands.memory",
    "triangles": "growth.triangles",
    "heads": "growth.heads",
    "thickness": "growth.thickness",
    "resolution": "growth.resolution",
    "threads": "threads.growth",
}
"""Every measurement by name, in the order of the table: the module in this package, and its function."""


def measured(name: str, effort: Effort) -> Found:
    """Return what a measurement finds; one that fails is a row that says why, and the others go on."""
    module, function = MEASUREMENTS[name].split(".")
    try:
        found: Found = getattr(importlib.import_module(f"benchmarks.{module}"), function)(effort)
    except Exception as trouble:
        return Found((Row(name, "failed", note=f"{type(trouble).__name__}: {trouble}"),))
    return found


def names(only: str | None) -> list[str]:
    """Return the measurements asked for, in the table's order.

    Raises
    ------
    ValueError
        For a name that there is none of.
    """
    if only is None:
        return list(MEASUREMENTS)
    asked = {name.strip().lower(): name.strip() for name in only.split(",") if name.strip()}
    known = {name.lower(): name for name in MEASUREMENTS}
    unknown = [name for low, name in asked.items() if low not in known]
    if unknown:
        raise ValueError(f"no measurement is called {', '.join(unknown)}; there are {', '.join(MEASUREMENTS)}")
    return [name for low, name in known.items() if low in asked]


def _arguments(given: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser("python -m benchmarks", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--only", metavar="NAMES", help=f"some of {', '.join(MEASUREMENTS)}, with commas between")
    parser.add_argument("--quick", action="store_true", help="less work and two turns: a look, no result")
    parser.add_argument("--json", action="store_true", help="print JSON in place of the table")
    parser.add_argument("--record", action="store_true", help="keep the figures in benchmarks/records/")
    asked = parser.parse_args(given)
    if asked.quick and asked.record:
        parser.error("figures of a quick run are not worth keeping; leave out --quick or --record")
    try:
        asked.names = names(asked.only)
    except ValueError as trouble:
        parser.error(str(trouble))
    return asked


def main(given: list[str] | None = None) -> int:
    """Measure, print, keep; return 1 when a measurement failed."""
    asked = _arguments(given)
    effort = QUICK if asked.quick else FULL
    before, found = record.load(), Found()
    for name in asked.names:
        print(f"measuring {name} …", file=sys.stderr, flush=True)
        found += measured(name, effort)
    moment = datetime.datetime.now(datetime.UTC)
    run = record.told(found, effort, (before, record.load()), moment)
    print(json.dumps(run, indent=2, ensure_ascii=False) if asked.json else table.text(found))
    if not asked.json:
        machine = run["machine"]
        if asked.quick:
            print("\nA quick run: so little work that starting it weighs in the figures.")
        print(f"\n{machine['processor']}, {machine['cores']} cores, load {run['load_before']} → {run['load_after']}")
    if asked.record:
        print(f"kept in {record.keep(run).name}", file=sys.stderr)
    return int(any(row.what == "failed" for row in found.rows))


if __name__ == "__main__":
    sys.exit(main())
