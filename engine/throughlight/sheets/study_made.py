"""How a study was made, as its page tells it: paths, seed, times, versions, and the rule that settles places."""

from __future__ import annotations

import math
from datetime import datetime

from throughlight.study.results import Results


def made_lines(results: Results) -> list[tuple[str, str]]:
    """Return what was used, by name."""
    made = results.made
    told = [
        ("tracing", f"{made.paths:,} paths in {_hours(made.tracing_seconds)}".replace(",", " ")),
        ("replicates", f"{made.replicates}, the same random numbers for every candidate"),
        ("seed", str(made.seed)),
        ("first and last result", " to ".join(local_time(time) for time in (made.started, made.updated) if time)),
        ("engine", " ".join(part for part in (made.engine_version, made.engine_hash) if part)),
        ("set and study", " ".join(part for part in (made.set_hash, made.study_hash) if part)),
    ]
    return [(name, said) for name, said in told if said]


def local_time(iso: str) -> str:
    """Return a time of ISO 8601 to the minute, in the time of the place where the page is made."""
    if not iso:
        return ""
    time = datetime.fromisoformat(iso)
    return f"{time if time.tzinfo is None else time.astimezone():%Y-%m-%d %H:%M}"


def _hours(seconds: float) -> str:
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"


def made_notes(results: Results) -> list[str]:
    """Return sentences on how to read the results."""
    notes = [results.made.settling] if results.made.settling else []
    if any(row.loss is not None and not math.isfinite(row.loss.value) for row in results.ranked):
        notes.append("A candidate without any light where some is wanted has no finite loss; it stands last.")
    return notes
