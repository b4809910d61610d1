"""The candidates of a study: which values each varied thing has in them, and the sets that they are.

A grid is every combination, the thing named last changing first. A sample spreads its candidates evenly over the space
(`even.py`); lists and ranges with steps are cut into as many equal parts as they have values. Combinations that come to
the same set, because what differs stands in something that is left out, are one candidate.
"""

from __future__ import annotations

import itertools
from collections.abc import Hashable, Iterable, Iterator
from typing import Any, NamedTuple

from throughlight.study.even import even_points
from throughlight.study.keys import OUT, Edit, changed
from throughlight.study.light import geometry_key, joules, powers, whole_key
from throughlight.study.question import Study
from throughlight.study.varied import Level

__all__ = [
    "Candidate",
    "Change",
    "candidates",
    "geometry_key",
    "joules",
    "powers",
    "raw_of",
    "whole_key",
]

_TRIES = 20
"""Points tried for each candidate of a sample, where many come to the same set."""
_NOT_THERE = "–"


class Change(NamedTuple):
    """What one varied thing is in a candidate.

    Attributes
    ----------
    name
        Of the varied thing.
    said
        Its value as a person reads it: "135 deg", "in", "out"; "–" where it stands in something that is left out.
    value
        The value in SI, when it is a number.
    edits
        What it changes in the set's tables.
    """

    name: str
    said: str
    value: float | None
    edits: tuple[Edit, ...]


class Candidate(NamedTuple):
    """One set of a study: its number, from 1, and what is changed in it."""

    number: int
    changes: tuple[Change, ...]

    @property
    def edits(self) -> tuple[Edit, ...]:
        """Return everything that is changed in the set's tables."""
        return tuple(edit for change in self.changes for edit in change.edits)


def candidates(study: Study) -> tuple[Candidate, ...]:
    """Return the candidates of a study, always the same ones in the same order."""
    names = [one.name for one in study.varied]
    unlike: dict[Hashable, tuple[Change, ...]] = {}
    for levels in _combinations(study):
        changes = _changes(names, levels)
        unlike.setdefault(_identity(changes), changes)
        if study.count is not None and len(unlike) == study.count:
            break
    return tuple(Candidate(number, changes) for number, changes in enumerate(unlike.values(), 1))


def _combinations(study: Study) -> Iterator[tuple[Level, ...]]:
    if study.how == "listed":
        yield from study.listed
    elif study.how == "grid" or study.count is None:
        yield from itertools.product(*(one.levels for one in study.varied))
    else:
        for begin in range(0, _TRIES * study.count, study.count):
            for point in even_points(begin, study.count, len(study.varied)):
                yield tuple(one.at(float(share)) for one, share in zip(study.varied, point, strict=True))


def _changes(names: Iterable[str], levels: tuple[Level, ...]) -> tuple[Change, ...]:
    """Return the changes of a candidate, without those inside of what is left out."""
    gone = [path for level in levels for path, value in level.edits if value is OUT]

    def counts(edit: Edit) -> bool:
        return not any(edit[0] != path and edit[0][: len(path)] == path for path in gone)

    changes = []
    for name, level in zip(names, levels, strict=True):
        edits = tuple(edit for edit in level.edits if counts(edit))
        if level.edits and not edits:
            changes.append(Change(name, _NOT_THERE, None, ()))
        else:
            changes.append(Change(name, level.said, level.value, edits))
    return tuple(changes)


def _identity(changes: tuple[Change, ...]) -> Hashable:
    return tuple((path, repr(value)) for change in changes for path, value in change.edits)


def raw_of(study: Study, candidate: Candidate) -> dict[str, Any]:
    """Return the tables of a candidate's set, with a name for each thing as in the study's set."""
    return changed(study.the_set.raw, candidate.edits)
