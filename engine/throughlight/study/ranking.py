"""Which candidate is better, and which places are settled at 95 %.

A study makes many comparisons, looks at them again and again, and must not be wrong about any. Its promise of 95 % is
for all that it ever calls settled, and is spent like this (α = 5 %):

- Half of α goes to the first place. Whichever candidate is truly the best, it is wrongly beaten only in one of its
  N − 1 comparisons (multiple comparisons with the best: Hsu 1984, Annals of Statistics 12; from memory), so these
  share α/2 (Bonferroni).
- Half goes to all N·(N − 1)/2 pairs, for the other places (confidence sets for ranks from all pairs: Mogstad, Romano,
  Shaikh and Wilhelm 2023, Review of Economic Studies, doi:10.1093/restud/rdad006).
- Data grow in levels that double. A pair at levels a and b is looked at for at most the (a + b − 1)-th time, and the
  j-th look may spend 1/(j·(j + 1)) of the pair's share; these add up to one however long the study runs (a union bound
  over looks as in Darling and Robbins 1967, PNAS 58; from memory).

Errors of differences come from shared replicates (`spread.difference`), with Student's t.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.intervals import LEVEL, student_t
from throughlight.study.spread import difference, freedom_of

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

RULE = (
    "A place is settled when its candidate differs from every other one at 95 %, all comparisons and all looks at them "
    "together (Bonferroni; half of the 5 % for the first place, a share of 1/(j(j+1)) for the j-th look)."
)
"""The rule in one sentence."""


class Ranking(NamedTuple):
    """Candidates in order.

    Attributes
    ----------
    order
        (N,) rows of the candidates, the smallest loss first.
    place
        (N,) place of each, from 0.
    settled
        (N,) whether it can be told from every other one.
    ties
        For each the rows that it cannot be told from.
    """

    order: Ints
    place: Ints
    settled: NDArray[np.bool_]
    ties: tuple[tuple[int, ...], ...]

    @property
    def best_settled(self) -> bool:
        """Return whether the first place is settled."""
        return len(self.order) > 0 and bool(self.settled[self.order[0]])


@lru_cache(maxsize=4096)
def _threshold(comparisons: int, looks: int, freedom: int) -> float:
    share = 0.5 * (1.0 - LEVEL) / max(comparisons, 1) / (looks * (looks + 1))
    return student_t(freedom, level=1.0 - share)


def thresholds(candidates: int, first: bool, looks: Ints, freedom: int) -> Array:
    """Return how many standard errors a difference must have to count.

    Parameters
    ----------
    candidates
        How many there are.
    first
        Whether it is the leader's difference from the others, or that of any pair.
    looks
        (k,) the how-manieth look at each pair this can be.
    freedom
        Degrees of freedom.
    """
    comparisons = candidates - 1 if first else candidates * (candidates - 1) // 2
    return np.array([_threshold(comparisons, int(look), freedom) for look in looks])


def in_order(losses: Array) -> Ints:
    """Return the rows of (N, …) losses, the smallest first; equal ones as they come."""
    order: Ints = np.argsort(losses[:, 0], kind="stable")
    return order


def held_against(losses: Array, levels: Ints, one: int, rows: Ints, first: bool) -> tuple[Array, Array, Array]:
    """Return differences of rows from one candidate, their errors, and how many errors make a difference."""
    freedom = freedom_of(losses)
    delta, error = difference(losses[rows], losses[one])
    return delta, error, thresholds(len(losses), first, levels[rows] + levels[one] - 1, freedom)


def ranking(losses: Array, levels: Ints) -> Ranking:
    """Rank candidates.

    Parameters
    ----------
    losses
        (N, 1 + 2·(n − 1)·reaches) as they are, and with figures moved (`spread.losses_of`).
    levels
        (N,) how often the data of each have doubled, from 1.
    """
    count = len(losses)
    order = in_order(losses)
    place = np.empty(count, np.int64)
    place[order] = np.arange(count)
    alike = np.zeros((count, count), np.bool_)
    for rank, one in enumerate(order):
        rest = order[rank + 1 :]
        delta, error, needed = held_against(losses, levels, int(one), rest, first=False)
        tied = np.abs(delta) <= needed * error
        if rank == 0 and len(rest):
            _, _, enough = held_against(losses, levels, int(one), rest, first=True)
            if (np.abs(delta) > enough * error).all():
                tied[:] = False
        alike[one, rest[tied]] = alike[rest[tied], one] = True
    ties = tuple(tuple(int(row) for row in np.flatnonzero(row_alike)) for row_alike in alike)
    told: NDArray[np.bool_] = np.logical_not(alike.any(axis=1))
    return Ranking(order, place, told, ties)
