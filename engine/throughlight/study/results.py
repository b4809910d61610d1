"""The results of a study as they stand: what was asked, and for each candidate its figures, its loss and its rank.

Everything that a person reads of a study is made from this description alone; how it was computed and kept is not its
business. It may be taken at any moment of a running study.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, NamedTuple

from throughlight.readings.intervals import Stops

Figure = Stops
"""Any figure with its 95 % interval, `value, low, high`; in the unit of its reading."""

Status = Literal["good", "failed", "waiting"]
GoalKind = Literal["at", "at most", "at least"]


class Reading(NamedTuple):
    """A figure that a study knows by name.

    `label` is what a sheet calls it, `short` what the head of a column has room for; `unit` is "stops over mid-grey",
    "stops", "lx·s", "J" or "share".
    """

    name: str
    label: str
    short: str
    unit: str


READINGS: Mapping[str, Reading] = {
    reading.name: reading
    for reading in (
        Reading("subject", "subject", "subject", "stops over mid-grey"),
        Reading("backdrop", "backdrop", "backdrop", "stops over mid-grey"),
        Reading("backdrop_under", "backdrop under the subject", "backdrop under", "stops"),
        Reading("worst_patch", "worst patch of the backdrop", "worst patch", "stops over mid-grey"),
        Reading("worst_under", "worst patch under the subject", "worst under", "stops"),
        Reading("veil", "veil", "veil", "stops over mid-grey"),
        Reading("stray_light", "stray light on the front element", "stray light", "lx·s"),
        Reading("energy", "energy of all heads", "energy", "J"),
        Reading("clipped", "part of the subject past clip", "clipped", "share"),
    )
}
"""The readings of a study by name."""


def reading_of(name: str) -> Reading:
    """Return what a reading is; a name that is not in the list is a spot, in stops over mid-grey."""
    known = READINGS.get(name)
    return Reading(name, f"spot “{name}”", name, "stops over mid-grey") if known is None else known


@dataclass(frozen=True)
class Goal:
    """One thing that is wanted.

    Attributes
    ----------
    reading
        Name of a reading, or of a spot.
    kind
        Whether the value is to be hit, or a limit from above or below.
    value, slack
        What is wanted, and how far off it is still as good; in the reading's unit.
    weight
        How many stops of loss one stop missed counts.
    said
        The goal as a person reads it: "subject at +0.5 stop".
    """

    reading: str
    kind: GoalKind
    value: float
    slack: float
    weight: float
    said: str


@dataclass(frozen=True)
class Row:
    """One candidate and what is known of it.

    Attributes
    ----------
    number
        The candidate's own, from 1.
    changes
        What was varied → its value as a person reads it ("135 deg", "in"); in the order of the study file.
    values
        What was varied → the value in SI, or None where it is no number.
    figures
        Reading → figure with interval; only what was read.
    loss
        Weighted stops missed; None while nothing is read.
    rank
        Place among the good candidates, from 1; None for others.
    settled
        Whether its place is settled at 95 %: nobody is left that it can't be told from.
    tie_with
        Numbers of the candidates that it can't be told from at 95 %.
    energy_joules
        Of all heads together, as set.
    status
        "good" has figures, "failed" cannot be computed, "waiting" has no figures yet.
    reason
        Why it failed.
    paths
        Paths traced for it; 0 when it is another one's light rescaled.
    costs
        Part of the loss that each goal makes, in the order of the goals; weighted stops.
    left_out
        Reading → (r,) values with one replicate left out, same replicates for all candidates; so that differences
        between candidates can be told more sharply than the figures themselves. "loss" is one of the names. May be
        empty.
    """

    number: int
    changes: Mapping[str, str]
    values: Mapping[str, float | None]
    figures: Mapping[str, Figure] = field(default_factory=dict)
    loss: Figure | None = None
    rank: int | None = None
    settled: bool = False
    tie_with: tuple[int, ...] = ()
    energy_joules: float | None = None
    status: Status = "good"
    reason: str = ""
    paths: int = 0
    costs: tuple[Figure, ...] = ()
    left_out: Mapping[str, tuple[float, ...]] = field(default_factory=dict)

    @property
    def good(self) -> bool:
        """Return whether it has figures to be compared by."""
        return self.status == "good" and self.loss is not None

    def figure(self, name: str) -> Figure | None:
        """Return a figure by its reading's name, "loss" and "energy" included; None where there is none."""
        if name == "loss":
            return self.loss
        if name == "energy" and name not in self.figures and self.energy_joules is not None:
            return Figure(self.energy_joules, self.energy_joules, self.energy_joules)
        return self.figures.get(name)


@dataclass(frozen=True)
class Made:
    """How the results were made.

    Attributes
    ----------
    seed, replicates, paths
        Start of the random numbers, independent randomisations of each figure, paths traced in all.
    tracing_seconds
        Time spent tracing, of all workers together.
    engine_version, engine_hash, set_hash, study_hash
        What the rows were made with and from.
    running
        Whether a process is at it now.
    started, updated
        First and last row, as ISO 8601 times; empty when there is none.
    ends
        When it is expected to end, as a person reads it; empty when unknown.
    settling
        The rule by which places are settled, as a sentence.
    """

    seed: int
    replicates: int
    paths: int
    tracing_seconds: float
    engine_version: str
    engine_hash: str = ""
    set_hash: str = ""
    study_hash: str = ""
    running: bool = False
    started: str = ""
    updated: str = ""
    ends: str = ""
    settling: str = ""


@dataclass(frozen=True)
class Results:
    """Everything that is known of a study, rows in the order of the candidates' numbers."""

    title: str
    set_title: str
    goals: tuple[Goal, ...]
    rows: tuple[Row, ...]
    made: Made

    @cached_property
    def keys(self) -> tuple[str, ...]:
        """Return the names of what was varied, in the order of the study file."""
        return tuple(dict.fromkeys(name for row in self.rows for name in row.changes))

    @cached_property
    def ranked(self) -> tuple[Row, ...]:
        """Return the good rows, best first."""
        return tuple(sorted((row for row in self.rows if row.good), key=_order))

    @cached_property
    def failed(self) -> tuple[Row, ...]:
        """Return the rows that could not be computed."""
        return tuple(row for row in self.rows if row.status == "failed")

    @cached_property
    def waiting(self) -> tuple[Row, ...]:
        """Return the rows that have no figures yet."""
        return tuple(row for row in self.rows if row.status != "failed" and not row.good)

    @cached_property
    def in_doubt(self) -> tuple[Row, ...]:
        """Return the good rows whose place is not settled, best first."""
        return tuple(row for row in self.ranked if not row.settled)

    @property
    def best(self) -> Row | None:
        """Return the best row so far."""
        return self.ranked[0] if self.ranked else None

    @cached_property
    def readings(self) -> tuple[str, ...]:
        """Return the names of all readings that any row has, the known ones first, then the spots."""
        seen = dict.fromkeys(name for row in self.ranked for name in row.figures)
        if any(row.figure("energy") is not None for row in self.ranked):
            seen["energy"] = None
        return (*(name for name in READINGS if name in seen), *(name for name in seen if name not in READINGS))

    def row(self, number: int) -> Row | None:
        """Return a candidate's row by its number."""
        return next((row for row in self.rows if row.number == number), None)


def _order(row: Row) -> tuple[float, int]:
    """Return what rows are sorted by: rank, or loss where no rank was given."""
    if row.rank is not None:
        return float(row.rank), row.number
    return (math.inf if row.loss is None else 1e6 + row.loss.value), row.number
