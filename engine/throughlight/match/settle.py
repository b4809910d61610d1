"""Which changes to calibrate by: the likeliest one, and what the photo needs besides."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from throughlight.match.causes import Verdict
from throughlight.match.fit import LEVEL, Data, Fit, Interval, Weights, interval, solve
from throughlight.match.model import Model

Array = NDArray[np.float64]

_NEEDED = 12.0  # of cost: what a further change has to bring to be written; nor less than
_SHARE = 0.01  # of what the changes explain: no model of them is better


def settled(
    model: Model, data: Data, weights: Weights, fit: Fit, changes: dict[int, Interval], verdict: Verdict
) -> dict[int, Interval]:
    """Return the fewest changes that make the photo, with intervals, to calibrate by.

    Those are the likeliest single change and any that, with all let loose, are surely not nothing; refitted, everything
    else as described. Where everything alike is the likeliest, all heads are so much stronger: a set has no other place
    for it. Intervals hold the change with all let loose, and what it would be by any single cause that the photo can't
    tell from the likeliest. Nothing where photo and prediction agree.
    """
    if verdict.agrees:
        return {}
    best = verdict.causes[0].place if verdict.causes else model.level
    free, x = _fewest(model, data, weights, best, fit, _surely(model, fit, list(changes)))
    heads = [place for place, one in enumerate(model.templates.changes) if one.kind == "head"]
    alike = model.level in free
    found = {}
    for place in sorted({*free, *heads} - {model.level}) if alike else free:
        value = float(x[place] + (x[model.level] if alike and place in heads else 0.0))
        could = [changes[place], Interval(value, value, value)]
        for cause in verdict.causes[: verdict.alike + 1]:
            if cause.place == place or (cause.place == model.level and place in heads):
                could.append(cause.change)
        found[place] = Interval(value, min(one.low for one in could), max(one.high for one in could))
    return found


def _fewest(
    model: Model, data: Data, weights: Weights, best: int, fit: Fit, sure: list[int]
) -> tuple[list[int], Array]:
    """Return the likeliest place with those of the sure ones that the photo needs besides, and the changes."""

    def solved(places: list[int]) -> Fit:
        return solve(model, data, weights, [*places, *model.fields_free])

    needed = max(_NEEDED, _SHARE * (solved([]).cost - fit.cost))
    free = [best]
    now = solved(free)
    while True:
        trials = {one: solved([*free, one]) for one in sure if one not in free}
        one = min(trials, key=lambda place: trials[place].cost, default=best)
        if one in free or trials[one].cost > now.cost - needed:
            break
        free, now = [*free, one], trials[one]
    while len(free) > 1:  # what was likeliest alone may not be needed beside the others
        trials = {one: solved([place for place in free if place != one]) for one in free}
        one = min(trials, key=lambda place: trials[place].cost)
        if trials[one].cost > now.cost + needed:
            break
        free.remove(one)
        now = trials[one]
    return sorted(free), now.x


def _surely(model: Model, fit: Fit, places: list[int]) -> list[int]:
    """Return the causes whose interval leaves out nothing, at 95 % for all of them together (Bonferroni)."""
    causes = [place for place in places if place < model.level]
    level = 1.0 - (1.0 - LEVEL) / max(1, len(causes))
    wide = {place: interval(model, fit, place, level) for place in causes}
    return [place for place, one in wide.items() if not one.low <= 0.0 <= one.high]
