"""Candidates near one another: in how many keys they differ, by how much, and what each of these changes does.

What a change does depends on what else is changed. Where all candidates on the ways from one to the other are there,
each change is told as its mean step over all orders of making the changes (Shapley 1953, "A value for n-person games";
from memory), so that the steps add up to the whole difference. Where some are missing the main effects stand in.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

from throughlight.study.effects import Effects, main_effects
from throughlight.study.results import Results, Row
from throughlight.study.said import UNCHANGED

_MOST_CHANGES = 6
"""Changes up to which all ways are walked: 64 candidates."""


class Step(NamedTuple):
    """What one change does to the loss: from one value to another, in stops of loss."""

    key: str
    before: str
    after: str
    loss: float


class Steps(NamedTuple):
    """What all changes between two candidates do; `exact` when they add up to the difference."""

    steps: tuple[Step, ...]
    exact: bool


def differing(a: Row, b: Row) -> tuple[str, ...]:
    """Return the keys in which two candidates differ."""
    return tuple(key for key in {**a.changes, **b.changes} if a.changes.get(key) != b.changes.get(key))


def nearest(results: Results, row: Row, among: Sequence[Row]) -> Row | None:
    """Return the candidate that differs least: in the fewest keys, then by the smallest step; the better of equals."""
    spans = _spans(results)
    others = [other for other in among if other.number != row.number and len(differing(row, other)) > 0]
    return min(others, key=lambda other: _distance(row, other, spans), default=None)


def _spans(results: Results) -> dict[str, float]:
    """Return for each key how far its numbers reach."""
    spans = {}
    for key in results.keys:
        numbers = [value for row in results.rows if (value := row.values.get(key)) is not None]
        spans[key] = max(numbers) - min(numbers) if numbers else 0.0
    return spans


def _distance(a: Row, b: Row, spans: Mapping[str, float]) -> tuple[int, float, float, int]:
    keys = differing(a, b)
    total = 0.0
    for key in keys:
        here, there = a.values.get(key), b.values.get(key)
        known = here is not None and there is not None and spans.get(key, 0.0) > 0.0
        total += abs(here - there) / spans[key] if known and here is not None and there is not None else 1.0
    return len(keys), round(total, 9), math.inf if b.loss is None else b.loss.value, b.number


def steps(results: Results, start: Row, end: Row) -> Steps:
    """Return what each change from `start` to `end` does to the loss, the largest first."""
    keys = differing(start, end)
    walked = _walk(results, start, end, keys) if len(keys) <= _MOST_CHANGES else None
    losses = _by_effects(results, start, end, keys) if walked is None else walked
    told = [
        Step(key, start.changes.get(key, UNCHANGED), end.changes.get(key, UNCHANGED), losses[key])
        for key in keys
        if key in losses
    ]
    return Steps(tuple(sorted(told, key=lambda step: -abs(step.loss))), walked is not None)


def _walk(results: Results, start: Row, end: Row, keys: Sequence[str]) -> dict[str, float] | None:
    """Return each change's mean step over all orders, or None where a candidate on the way is missing."""
    by_changes = {tuple(sorted(row.changes.items())): row for row in results.ranked}
    loss = {}
    for size in range(len(keys) + 1):
        for chosen in combinations(keys, size):
            mixed = {**start.changes, **{key: end.changes[key] for key in chosen if key in end.changes}}
            row = by_changes.get(tuple(sorted(mixed.items())))
            if row is None or row.loss is None or not math.isfinite(row.loss.value):
                return None
            loss[frozenset(chosen)] = row.loss.value
    count = len(keys)
    result = {}
    for key in keys:
        others = [other for other in keys if other != key]
        result[key] = sum(
            (loss[frozenset((*chosen, key))] - loss[frozenset(chosen)])
            * math.factorial(size) * math.factorial(count - size - 1) / math.factorial(count)
            for size in range(count)
            for chosen in combinations(others, size)
        )  # fmt: skip
    return result


def _by_effects(results: Results, start: Row, end: Row, keys: Sequence[str]) -> dict[str, float]:
    """Return each change's step by the main effects, for the keys that have one."""
    effects = main_effects(results, "loss")
    if effects is None:
        return {}
    told = {}
    for key in keys:
        here, there = _at(effects, key, start), _at(effects, key, end)
        if here is not None and there is not None:
            told[key] = there - here
    return told


def _at(effects: Effects, key: str, row: Row) -> float | None:
    """Return the effect of a row's own level; None where the level has none of its own."""
    effect = next((effect for effect in effects.keys if effect.key == key), None)
    if effect is None:
        return None
    said = row.changes.get(key, UNCHANGED)
    return next((level.effect.value for level in effect.levels if level.said == said), None)
