"""Candidates whose losses are known and whose noise is normal, to try races and rankings without tracing."""

from __future__ import annotations

import numpy as np

from throughlight.readings.intervals import Stops
from throughlight.study.figures import Told
from throughlight.study.racing import next_round
from throughlight.study.spread import losses_of

REPLICATES = 32


class Bench:
    """Replicate means of candidates by level: own noise, and noise that all of them share."""

    def __init__(self, truth, seed, own=0.3, shared=0.6):
        self.truth, self.levels = np.asarray(truth, float), np.zeros(len(truth), int)
        self.own, self.shared = np.broadcast_to(own, len(truth)), shared
        self.random = np.random.default_rng(seed)
        self.common = []  # noise that all candidates have in the stretch of each level, (replicates,)
        self.sums = np.zeros((len(truth), REPLICATES))
        self._kept = {}  # losses of who was not raised since

    def raise_(self, row):
        """Double what is known of a candidate."""
        level = self.levels[row] + 1
        count = 1 if level == 1 else 2 ** (level - 2)
        while len(self.common) < level:
            step = len(self.common) + 1
            size = 1 if step == 1 else 2 ** (step - 2)
            self.common.append(self.shared * np.sqrt(size) * self.random.standard_normal(REPLICATES))
        noise = self.own[row] * np.sqrt(count) * self.random.standard_normal(REPLICATES)
        self.sums[row] += count * self.truth[row] + noise + self.common[level - 1]
        self.levels[row] = level
        self._kept.pop(row, None)

    def paths(self):
        """Return how much has been spent, in units of the first level."""
        return int((2 ** (self.levels - 1)).sum())

    def losses(self, loss=None):
        """Return all candidates' losses as a ranking takes them; what was read by default."""
        loss = as_it_is if loss is None else loss
        for row in range(len(self.truth)):
            if row not in self._kept or self._kept[row][0] is not loss:
                self._kept[row] = loss, self._losses_of(row, loss)
        return np.array([self._kept[row][1] for row in range(len(self.truth))])

    def _losses_of(self, row, loss):
        means = self.sums[row] / 2.0 ** (self.levels[row] - 1)
        value = float(means.mean())
        left = (means.sum() - means) / (REPLICATES - 1)
        return losses_of(Told({"it": Stops(value, value, value)}, {"it": left}), loss)


def as_it_is(readings):
    """Return the reading itself as the loss."""
    return readings["it"]


def race(
    bench,
    most_levels=12,
    resolution=0.02,
    most_rounds=400,
    loss=None,
    each=None,
    places=None,
):
    """Run a race to its end; `each` sees losses and levels after every round."""
    for row in range(len(bench.truth)):
        bench.raise_(row)
    groups = np.arange(len(bench.truth))
    for _ in range(most_rounds):
        losses = bench.losses(loss)
        if each is not None:
            each(losses, bench.levels)
        chosen = next_round(losses, bench.levels, groups, most_levels=most_levels, resolution=resolution, places=places)
        if not chosen:
            break
        for row in chosen:
            bench.raise_(row)
    return bench.losses(loss)
