"""Why a candidate is where it is, in words: what its goals cost it, and which changes did it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from throughlight.study.compare import difference
from throughlight.study.neighbours import Steps, differing, nearest, steps
from throughlight.study.results import Figure, Goal, Results, Row, reading_of
from throughlight.study.said import UNCHANGED, amounts, numbers, said

_NOTHING = 0.005
"""Stops of loss that are told as none."""


def explain(results: Results, number: int) -> list[str]:
    """Return sentences on why candidate `number` is where it is.

    Raises
    ------
    KeyError
        When there is no such candidate.
    """
    row = results.row(number)
    if row is None:
        raise KeyError(number)
    if row.status == "failed":
        return [f"No. {number} ({said(row)}) could not be computed: {row.reason}."]
    if not row.good or row.loss is None:
        return [f"No. {number} ({said(row)}) has not been traced yet."]
    lines = [_place(results, row), *_goals(results, row)]
    best = results.best
    if best is not None and best.number != number:
        lines += _against(results, row, best, f"The best so far is No. {best.number}")
    neighbour = nearest(results, row, results.ranked)
    if neighbour is not None and (best is None or neighbour.number != best.number or best.number == number):
        lines += _against(results, row, neighbour, f"The nearest candidate is No. {neighbour.number}")
    return lines


def _place(results: Results, row: Row) -> str:
    """Say which candidate it is, its place, and how sure that is."""
    loss = amounts(row.loss)
    which = f"No. {row.number} ({said(row)})"
    place = f"{which} is {_ordinal(results, row)} of {len(results.ranked)}, with a loss of {loss} stops"
    if row.settled:
        return f"{place}; its place is settled at 95 %."
    ties = [number for number in row.tie_with if number != row.number]
    if ties:
        return f"{place}; at 95 % it can't be told from {numbers(ties)}."
    return f"{place}; its place is not settled yet."


def _ordinal(results: Results, row: Row) -> str:
    place = next(at for at, other in enumerate(results.ranked, 1) if other.number == row.number)
    if place == 1:
        return "the best"
    if place == len(results.ranked):
        return "the last"
    ending = "th" if place % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    return f"{place}{ending}"


def _goals(results: Results, row: Row) -> list[str]:
    """Say of each goal what is read and what it costs, the dearest first; those met in one sentence."""
    if len(row.costs) != len(results.goals):
        return []
    priced = sorted(zip(results.goals, row.costs, strict=True), key=lambda pair: -pair[1].value)
    lines = [_missed(goal, cost, row) for goal, cost in priced if cost.value >= _NOTHING]
    met = [goal.said for goal, cost in priced if cost.value < _NOTHING]
    if met:
        lines.append(f"As wanted: {'; '.join(met)}.")
    return lines


def _missed(goal: Goal, cost: Figure, row: Row) -> str:
    reading = reading_of(goal.reading)
    figure = row.figure(goal.reading)
    read = "" if figure is None else f"; it reads {amounts(figure, reading.unit)} {reading.unit}"
    way = "" if figure is None else _way(goal, figure.value)
    return f"Wanted {goal.said}{read}{way}. That costs {amounts(cost)} of its loss."


def _way(goal: Goal, value: float) -> str:
    if not math.isfinite(value):
        return ""
    return ", too much" if value > goal.value else ", too little"


def _against(results: Results, row: Row, other: Row, who: str) -> list[str]:
    """Say how another candidate differs, what that makes of the loss, and which change and which goal did it."""
    keys = differing(row, other)
    what = ", ".join(
        f"{key} {other.changes.get(key, UNCHANGED)} instead of {row.changes.get(key, UNCHANGED)}" for key in keys
    )
    apart = difference(other, row, "loss")
    if apart is None:
        return [f"{who}: {what}."]
    lines = [f"{who}: {what}. {_apart(apart)}"]
    if len(keys) > 1:
        lines += _steps(steps(results, row, other))
    goals = _goals_between(results.goals, row, other)
    return lines + ([goals] if goals else [])


def _apart(apart: Figure) -> str:
    half = apart.half
    if apart.low <= 0.0 <= apart.high:
        return f"Their losses can't be told apart: {amounts(apart, sign=True)} stops."
    way = "less" if apart.value < 0.0 else "more"
    plain = Figure(abs(apart.value), abs(apart.value) - half, abs(apart.value) + half)
    return f"Its loss is {amounts(plain)} stops {way}."


def _steps(made: Steps) -> list[str]:
    """Say what each change does by itself."""
    told = [step for step in made.steps if abs(step.loss) >= _NOTHING]
    if not told:
        return []
    how = "step by step over all orders of making them" if made.exact else "by the means over all candidates"
    parts = [f"{step.key} {step.before} → {step.after} {amounts(_exactly(step.loss), sign=True)}" for step in told]
    return [f"What each change does to the loss, {how}: {'; '.join(parts)}."]


def _goals_between(goals: Sequence[Goal], row: Row, other: Row) -> str:
    """Say which goals make the difference."""
    if len(row.costs) != len(goals) or len(other.costs) != len(goals):
        return ""
    moved = [
        (there.value - here.value, goal)
        for goal, here, there in zip(goals, row.costs, other.costs, strict=True)
        if math.isfinite(there.value - here.value) and abs(there.value - here.value) >= _NOTHING
    ]
    moved.sort(key=lambda pair: -abs(pair[0]))
    if not moved:
        return ""
    parts = [f"{goal.said} {amounts(_exactly(by), sign=True)}" for by, goal in moved]
    return f"The difference by goal: {'; '.join(parts)}."


def _exactly(value: float) -> Figure:
    return Figure(value, value, value)
