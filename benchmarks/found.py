"""What a measurement finds: rows of the table of targets, and series that show how a cost grows."""

from __future__ import annotations

import math
import statistics
from dataclasses import asdict, dataclass, field
from typing import Any


@dataclass(frozen=True)
class Effort:
    """How much work a measurement does.

    Attributes
    ----------
    turns
        How often ours and the peer's are measured in turns; figures are medians over turns.
    share
        Of the full amount of work in one turn.
    """

    turns: int = 5
    share: float = 1.0

    @property
    def quick(self) -> bool:
        """Return whether this is less than the full work."""
        return self.share < 1.0

    def of(self, count: int) -> int:
        """Return this effort's share of a count, at least 1."""
        return max(1, round(count * self.share))


FULL, QUICK = Effort(), Effort(turns=2, share=1.0 / 32.0)


@dataclass(frozen=True)
class Row:
    """One line of the table.

    Attributes
    ----------
    target, what, unit
        The target's name, what is measured, and the unit of both figures.
    ours, peer
        The figures; None where there is none.
    ratio
        How many times better ours is: peer ÷ ours for costs, ours ÷ peer for rates; None without a peer.
    goals
        What to reach, first goal first; empty for a figure that is only told.
    judged
        Which number the goals are for: "ratio" or "ours".
    most
        Whether the goals are upper limits rather than lower ones.
    note
        What a reader must know.
    """

    target: str
    what: str
    unit: str = ""
    ours: float | None = None
    peer: float | None = None
    ratio: float | None = None
    goals: tuple[float, ...] = ()
    judged: str = "ratio"
    most: bool = False
    note: str = ""

    @property
    def value(self) -> float | None:
        """Return the number that the goals are for."""
        return self.ratio if self.judged == "ratio" else self.ours

    @property
    def met(self) -> tuple[bool, ...] | None:
        """Return for each goal whether it is met; None when there is no goal or no number."""
        if not self.goals or self.value is None:
            return None
        return tuple(self.value <= goal if self.most else self.value >= goal for goal in self.goals)

    def told(self) -> dict[str, Any]:
        """Return the row as JSON data."""
        met = self.met
        return asdict(self) | {"goals": list(self.goals), "met": None if met is None else list(met)}


@dataclass(frozen=True)
class Series:
    """How one cost grows with one thing.

    Attributes
    ----------
    name, what, axis, unit
        The measurement's name, what the cost is of, what grows, and the unit of the cost.
    points
        Pairs of the thing that grows and the cost.
    """

    name: str
    what: str
    axis: str
    unit: str
    points: tuple[tuple[float, float], ...]

    @property
    def exponent(self) -> float | None:
        """Return the slope of the least-squares line through the points' logarithms: cost ∝ axis to this power."""
        logs = [(math.log(x), math.log(y)) for x, y in self.points if x > 0.0 and y > 0.0]
        if len(logs) < 2 or len({x for x, _ in logs}) < 2:
            return None
        return statistics.linear_regression([x for x, _ in logs], [y for _, y in logs]).slope

    def told(self) -> dict[str, Any]:
        """Return the series as JSON data."""
        return asdict(self) | {"points": [list(point) for point in self.points], "exponent": self.exponent}


@dataclass(frozen=True)
class Found:
    """What one measurement found; `details` are the parts of its figures, for the record only."""

    rows: tuple[Row, ...] = ()
    series: tuple[Series, ...] = ()
    details: dict[str, Any] = field(default_factory=dict)

    def __add__(self, other: Found) -> Found:
        """Return both, one after the other."""
        return Found(self.rows + other.rows, self.series + other.series, self.details | other.details)

    def told(self) -> dict[str, Any]:
        """Return everything as JSON data."""
        return {
            "rows": [row.told() for row in self.rows],
            "series": [series.told() for series in self.series],
            "details": self.details,
        }
