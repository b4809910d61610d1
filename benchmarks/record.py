"""The dated record of a run: its figures and the machine, without anything that tells whose machine it is."""

from __future__ import annotations

import datetime
import importlib.metadata
import json
import os
import platform
from pathlib import Path
from typing import Any

from benchmarks.found import Effort, Found

RECORDS = Path(__file__).resolve().parent / "records"
_LIBRARIES = ("numpy", "numba", "llvmlite", "trimesh", "mitsuba", "drjit", "embreex")


def processor() -> str:
    """Return the processor's model."""
    told = Path("/proc/cpuinfo")
    if told.exists():
        for line in told.read_text(encoding="utf-8", errors="replace").splitlines():
            if line.lower().startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()


def memory_gb() -> float | None:
    """Return the machine's memory, 10⁹ bytes, where the system tells."""
    try:
        return round(os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") / 1e9, 1)
    except (AttributeError, ValueError, OSError):
        return None


def load() -> float | None:
    """Return how many processes wanted a core during the last minute, where the system tells."""
    return round(os.getloadavg()[0], 2) if hasattr(os, "getloadavg") else None


def machine() -> dict[str, Any]:
    """Return what figures depend on: processor, cores, memory, system, versions."""
    from throughlight import __version__
    from throughlight.trace.driver import thread_count

    versions = {"python": platform.python_version(), "throughlight": __version__}
    for name in _LIBRARIES:
        try:
            versions[name] = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:
            continue
    return {
        "processor": processor(), "cores": thread_count(), "memory_gb": memory_gb(),
        "system": f"{platform.system()} {platform.machine()}", "versions": versions,
    }  # fmt: skip


def told(
    found: Found, effort: Effort, loads: tuple[float | None, float | None], moment: datetime.datetime
) -> dict[str, Any]:
    """Return a run as JSON data; `loads` are the machine's before and after it."""
    return {
        "date": moment.date().isoformat(), "turns": effort.turns, "quick": effort.quick, "machine": machine(),
        "load_before": loads[0], "load_after": loads[1], **found.told(),
    }  # fmt: skip


def merged(before: dict[str, Any], after: dict[str, Any]) -> dict[str, Any]:
    """Return a record with the figures of a later run of the same day in place of its own for the same names."""
    again = {row["target"] for row in after["rows"]} | {series["name"] for series in after["series"]}
    return after | {
        "rows": [row for row in before["rows"] if row["target"] not in again] + after["rows"],
        "series": [series for series in before["series"] if series["name"] not in again] + after["series"],
        "details": before["details"] | after["details"],
    }


def keep(run: dict[str, Any], folder: Path = RECORDS) -> Path:
    """Write a run into the day's record and return the file; what an earlier run of the day alone has is kept."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / f"{run['date']}.json"
    if file.exists():
        run = merged(json.loads(file.read_text(encoding="utf-8")), run)
    file.write_text(json.dumps(run, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    return file
