"""Who is traced further: time goes where the ranking is undecided.

Places are raced for from the first on. Against the leader for a place every candidate below it is either settled, or
known to be as good (the difference is certain to within the resolution asked for), or open. Open ones get paths in
optimal proportion (optimal computing budget allocation: Chen, Lin, Yücesan and Chick 2000, Discrete Event Dynamic
Systems 10; from memory),

    Nᵢ ∝ (σᵢ/δᵢ)²,      N_b = σ_b · √(Σ Nᵢ²/σᵢ²),

the most starving first; δᵢ is a candidate's distance from the leader b. Random numbers are shared, so σᵢ is that of the
difference (as Fu, Hu, Chen and Xiong 2007, INFORMS Journal on Computing 19, for correlated sampling; from memory),
and the leader keeps up with whom it is held against. What is decided depends on what was traced, and on nothing else.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from throughlight.study.ranking import held_against, in_order
from throughlight.study.spread import error_of

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

RESOLUTION = 0.02
"""Differences of loss, in stops, that nobody asks to tell apart."""
WIDE = 16
"""Sets that a round raises if there are as many to raise, whatever number of workers."""
_STARVING = 0.5  # those at least so starved as this times the worst starved are raised together


def next_round(
    losses: Array, levels: Ints, groups: Ints, *, most_levels: int, resolution: float = RESOLUTION,
    places: int | None = None, wide: int = WIDE,
) -> list[int]:  # fmt: skip
    """Return the groups whose data are to be doubled next; none when everything is decided.

    Parameters
    ----------
    losses
        (N, 1 + 2·(n − 1)·reaches) of all candidates that have figures.
    levels
        (N,) how often their data have doubled, from 1.
    groups
        (N,) which traced set each candidate's figures come from; candidates that differ in power share one.
    most_levels
        Beyond this nothing is doubled.
    resolution
        Half the width that an interval of a difference needs at most, stops.
    places
        How many places, from the best on, are to be decided; all when None.
    wide
        Places are gone through until so many groups are chosen.
    """
    order = in_order(losses)
    chosen: list[int] = []
    for rank, one in enumerate(order[:places]):
        rest = order[rank + 1 :]
        delta, error, needed = held_against(losses, levels, int(one), rest, first=rank == 0)
        undecided = (np.abs(delta) <= needed * error) & (needed * error > resolution)
        growing = undecided & (levels[rest] < most_levels)
        if growing.any():
            distance = np.maximum(np.abs(delta[growing]), resolution)
            wanted = _starving(losses, levels, int(one), rest[growing], distance, error[growing])
        else:
            wanted = [int(one)] if undecided.any() else []
        chosen += [
            group
            for group in dict.fromkeys(int(groups[row]) for row in wanted if levels[row] < most_levels)
            if group not in chosen
        ]
        if len(chosen) >= wide:
            break
    return chosen


def _starving(losses: Array, levels: Ints, leader: int, rows: Ints, distance: Array, error: Array) -> list[int]:
    """Return the contenders, and perhaps the leader, that have the fewest of the paths they should have."""
    paths = np.exp2(levels.astype(np.float64) - 1.0)  # in units of the first level's
    wants = (error / distance) ** 2  # Nᵢ/nᵢ but for a factor common to all
    chosen = rows[wants >= _STARVING * wants.max()]
    own = float(error_of(losses[leader])) / np.sqrt(paths[leader])
    leads = own * float(np.sqrt(np.sum(error**2 * paths[rows] / distance**4)))
    keeps_up = levels[leader] <= levels[chosen].max()
    return [*([leader] if keeps_up or leads >= _STARVING * wants.max() else []), *(int(row) for row in chosen)]


def in_doubt(losses: Array, levels: Ints) -> int:
    """Return how many candidates may still be the best, the leader left out."""
    if len(losses) < 2:
        return 0
    order = in_order(losses)
    delta, error, needed = held_against(losses, levels, int(order[0]), order[1:], first=True)
    return int((np.abs(delta) <= needed * error).sum())
