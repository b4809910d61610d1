"""What is known of each candidate at a moment: its figures, its loss, and how often its data have doubled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.study.batch import batches_at, paths_of
from throughlight.study.cases import Case, Cases
from throughlight.study.figures import Told, told
from throughlight.study.goals import loss
from throughlight.study.results import Goal, reading_of
from throughlight.study.spread import losses_of
from throughlight.study.store import Key, Store

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


class Known(NamedTuple):
    """A candidate that has been read.

    Attributes
    ----------
    case
        The candidate.
    told
        Its figures.
    losses
        Its loss as it is and with its figures moved (`spread.losses_of`).
    level
        How often its data have doubled, from 1.
    paths
        Paths traced for it, or for the set in its stead, of all replicates and readings together.
    """

    case: Case
    told: Told
    losses: Array
    level: int
    paths: int


@dataclass
class Standing:
    """Everything that is known, by candidate's number.

    Attributes
    ----------
    known
        The candidates that have been read.
    failed
        Why others cannot be computed.
    """

    known: dict[int, Known] = field(default_factory=dict)
    failed: dict[int, str] = field(default_factory=dict)

    def read(self, store: Store, cases: list[Case], goals: tuple[Goal, ...], level: int) -> None:
        """Read candidates of one geometry from its first levels."""
        sums = store.sums(cases[0].geometry, batches_at(level))
        for case in cases:
            figures = told(sums, case.scale, case.setup)
            unread = next((one.reading for one in goals if one.reading not in figures.figures), None)
            if unread is not None:
                self.failed[case.number] = f"{reading_of(unread).label} cannot be read: it is not in the frame"
                continue
            losses = losses_of(figures, lambda moved: loss(moved, goals))
            self.known[case.number] = Known(case, figures, losses, level, paths_of(sums))

    def order(self) -> list[Known]:
        """Return who is known, by number."""
        return [self.known[number] for number in sorted(self.known)]

    def tables(self) -> tuple[Array, Ints, list[str]]:
        """Return losses (N, …), levels (N,) and geometries of who is known, by number."""
        known = self.order()
        losses = np.array([one.losses for one in known]) if known else np.empty((0, 1))
        return losses, np.array([one.level for one in known], np.int64), [one.case.geometry for one in known]


def by_geometry(cases: Cases) -> dict[str, list[Case]]:
    """Return the candidates of each geometry."""
    together: dict[str, list[Case]] = {}
    for case in cases.good:
        together.setdefault(case.geometry, []).append(case)
    return together


def whole_levels(kept: set[Key]) -> Mapping[str, int]:
    """Return how many levels of each geometry are there without a gap."""
    batches: dict[str, set[int]] = {}
    for geometry, batch in kept:
        batches.setdefault(geometry, set()).add(batch)
    levels = {}
    for geometry, there in batches.items():
        level = 0
        while all(batch in there for batch in range(batches_at(level), batches_at(level + 1))):
            level += 1
        levels[geometry] = level
    return levels


def standing_of(store: Store, cases: Cases, goals: tuple[Goal, ...]) -> Standing:
    """Return what is known from all that is kept, also while a study runs."""
    standing = Standing(failed={**store.failures(), **cases.failed})
    levels = whole_levels(store.kept())
    for geometry, together in by_geometry(cases).items():
        if levels.get(geometry, 0) > 0:
            good = [case for case in together if case.number not in standing.failed]
            if good:
                standing.read(store, good, goals, levels[geometry])
    return standing
