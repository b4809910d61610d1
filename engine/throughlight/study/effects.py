"""What each varied key does by itself: main effects of its levels on a reading, with intervals.

The reading y of a candidate is taken as a mean plus what each key's level adds, whatever the other keys are at,

    y = μ + Σ_k α_k(level of key k) + e,    Σ_levels α_k = 0,

fitted by least squares, so that candidates that failed, or were sampled instead of laid out as a grid, bias nothing.
What is left over, e, is the noise of tracing and the interplay of keys. Its mean square over the degrees of freedom
left gives Student t intervals (Montgomery, "Design and Analysis of Experiments", two-level and general factorials; from
memory). Where no freedom is left, the intervals are those of the tracing alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.intervals import student_t
from throughlight.study.results import Figure, Results, Row, reading_of
from throughlight.study.said import UNCHANGED, numbers_said

Array = NDArray[np.float64]

MOST_LEVELS = 12
"""A number that takes more different values than this is put into classes of about equally many candidates."""
_CLASSES = 8
_ROUNDING = 1e-24  # of a sum of squares
_RATIOS = ("lx·s", "J")  # units of what multiplies; its effects are told in stops


class Level(NamedTuple):
    """One level of a key.

    `place` is where a plot puts it, in `Effect.unit`, or its place in the row when it is no number; `effect` is how far
    it moves the reading from the mean of all levels, `mean` where it brings it, `candidates` how
    many have it.
    """

    said: str
    place: float
    effect: Figure
    mean: Figure
    candidates: int


class Effect(NamedTuple):
    """One key's main effect on one reading.

    `unit` is that of the places, None when they are no numbers; `span` is between the highest and the lowest level;
    `share` is the part of the readings' sum of squares that is lost when the key is left out of the fit.
    """

    key: str
    unit: str | None
    levels: tuple[Level, ...]
    span: float
    share: float


class Effects(NamedTuple):
    """All keys' main effects on one reading.

    `unit` is "stops", or the reading's where effects are no stops; `explained` is the part of the sum of squares that
    the keys one by one make, the rest being interplay and noise; `left_over` is the latter's standard deviation;
    `freedom` its degrees of freedom; `untold` are keys whose effects these candidates do not tell apart.
    """

    reading: str
    label: str
    unit: str
    keys: tuple[Effect, ...]
    explained: float
    left_over: float
    freedom: int
    candidates: int
    untold: tuple[str, ...]


class _Factor(NamedTuple):
    """A key with its levels: which one each candidate has."""

    key: str
    unit: str | None
    said: tuple[str, ...]
    places: tuple[float, ...]
    member: NDArray[np.int64]


def main_effects(results: Results, reading: str) -> Effects | None:
    """Return what each key does to a reading ("loss" is one), or None where fewer than three candidates have it.

    Candidates without any light in the reading, or only bounds of it, are left out.
    """
    as_ratio = reading_of(reading).unit in _RATIOS
    rows, figures = _finite(results.ranked, reading, positive=as_ratio)
    if len(rows) < 3:
        return None
    y, error = _in_stops(figures) if as_ratio else (figures[:, 0], (figures[:, 2] - figures[:, 1]) / 2.0)
    error = error / student_t(max(1, results.made.replicates - 1))
    factors = [factor for key in results.keys if (factor := _factor(key, rows)) is not None]
    label = "loss" if reading == "loss" else reading_of(reading).label
    unit = "share" if reading_of(reading).unit == "share" else "stops"
    return _Fit(factors, y, error).effects(reading, label, unit)


def _finite(rows: Sequence[Row], reading: str, *, positive: bool) -> tuple[list[Row], Array]:
    """Return the rows whose figure is finite, and (n, 3) value, low, high."""
    pairs = [(row, figure) for row in rows if (figure := row.figure(reading)) is not None]
    pairs = [(row, figure) for row, figure in pairs if np.all(np.isfinite(figure))]
    if positive:
        pairs = [(row, figure) for row, figure in pairs if figure.low > 0.0]
    return [row for row, _ in pairs], np.array([figure for _, figure in pairs], dtype=np.float64).reshape(-1, 3)


def _in_stops(figures: Array) -> tuple[Array, Array]:
    """Return log₂ of amounts, and half of its intervals."""
    logs = np.log2(figures)
    return logs[:, 0], (logs[:, 2] - logs[:, 1]) / 2.0


def _factor(key: str, rows: Sequence[Row]) -> _Factor | None:
    """Return a key's levels among the rows; None when it has one only."""
    said = [row.changes.get(key, UNCHANGED) for row in rows]
    axis = numbers_said(rows, key)
    if axis is None:
        labels = tuple(dict.fromkeys(said))
        member = np.array([labels.index(words) for words in said], dtype=np.int64)
        return None if len(labels) < 2 else _Factor(key, None, labels, tuple(map(float, range(len(labels)))), member)
    unit, numbers = axis.unit, np.array(axis.numbers)
    values = np.unique(numbers)
    if len(values) > MOST_LEVELS:
        return _classes(key, unit, numbers)
    member = np.searchsorted(values, numbers)
    labels = tuple(said[int(np.flatnonzero(member == level)[0])] for level in range(len(values)))
    return None if len(values) < 2 else _Factor(key, unit, labels, tuple(map(float, values)), member)


def _classes(key: str, unit: str, numbers: Array) -> _Factor:
    """Return a number's values in classes of about equally many candidates, each placed at its mean."""
    cuts = np.unique(np.quantile(numbers, np.arange(1, _CLASSES) / _CLASSES))
    _, member = np.unique(np.searchsorted(cuts, numbers, side="right"), return_inverse=True)
    groups = [numbers[member == level] for level in range(int(member.max()) + 1)]
    said = tuple(f"{group.min():.4g} … {group.max():.4g} {unit}".strip() for group in groups)
    return _Factor(key, unit, said, tuple(float(group.mean()) for group in groups), member.astype(np.int64))


class _Fit:
    """The additive model fitted to one reading; levels are coded to sum to nought."""

    def __init__(self, factors: Sequence[_Factor], y: Array, error: Array) -> None:
        self.factors, self.y = factors, y
        self.design = _design(factors, len(y))
        self.inverse = np.linalg.pinv(self.design)
        self.beta = self.inverse @ y
        left = y - self.design @ self.beta
        self.freedom = len(y) - int(np.linalg.matrix_rank(self.design))
        self.squares = float(left @ left)
        if self.freedom > 0:
            variance = self.squares / self.freedom
            self.covariance = variance * self.inverse @ self.inverse.T
            self.sigmas = student_t(self.freedom)
        else:
            self.covariance = (self.inverse * error**2) @ self.inverse.T
            self.sigmas = student_t(10**4)
        # What the candidates cannot tell apart moves freely along the null space of the design.
        self.free = np.eye(self.design.shape[1]) - self.inverse @ self.design

    def effects(self, reading: str, label: str, unit: str) -> Effects:
        """Return the main effects of all keys, the strongest first."""
        whole = float(np.sum((self.y - self.y.mean()) ** 2))
        if whole <= _ROUNDING * float(self.y @ self.y):  # all alike
            whole = self.squares = 0.0
        told = [effect for at in range(len(self.factors)) if (effect := self._effect(at, whole)) is not None]
        named = {effect.key for effect in told}
        return Effects(
            reading, label, unit, tuple(sorted(told, key=lambda effect: -effect.span)),
            1.0 if whole == 0.0 else 1.0 - self.squares / whole,
            0.0 if self.freedom == 0 else float(np.sqrt(self.squares / self.freedom)), self.freedom, len(self.y),
            tuple(factor.key for factor in self.factors if factor.key not in named),
        )  # fmt: skip

    def _effect(self, at: int, whole: float) -> Effect | None:
        """Return one key's effect; None when other keys do the same in all candidates."""
        factor = self.factors[at]
        first = 1 + sum(len(other.said) - 1 for other in self.factors[:at])
        coding = _coding(len(factor.said))
        contrasts = np.zeros((len(factor.said), self.design.shape[1]))
        contrasts[:, first : first + coding.shape[1]] = coding
        if np.max(np.abs(contrasts @ self.free)) > 1e-6:
            return None
        moved = self._figures(contrasts)
        contrasts[:, 0] = 1.0
        means = self._figures(contrasts)
        counts = np.bincount(factor.member, minlength=len(factor.said))
        levels = tuple(map(Level, factor.said, factor.places, moved, means, map(int, counts)))
        values = [level.effect.value for level in levels]
        without = np.delete(self.design, np.s_[first : first + coding.shape[1]], axis=1)
        lost = self.y - without @ (np.linalg.pinv(without) @ self.y)
        share = 0.0 if whole == 0.0 else max(0.0, float(lost @ lost) - self.squares) / whole
        return Effect(factor.key, factor.unit, levels, max(values) - min(values), share)

    def _figures(self, contrasts: Array) -> list[Figure]:
        """Return each contrast's value with its 95 % interval."""
        values = contrasts @ self.beta
        spread = np.einsum("ij,jk,ik->i", contrasts, self.covariance, contrasts)
        half = self.sigmas * np.sqrt(np.maximum(spread, 0.0))
        return [Figure(float(v), float(v - h), float(v + h)) for v, h in zip(values, half, strict=True)]


def _coding(levels: int) -> Array:
    """Return (levels, levels − 1): each level but the last by itself, the last as what makes the sum nought."""
    return np.vstack([np.eye(levels - 1), -np.ones((1, levels - 1))])


def _design(factors: Sequence[_Factor], count: int) -> Array:
    """Return the design matrix: a column of ones, then each factor's coding."""
    parts = [np.ones((count, 1)), *(_coding(len(factor.said))[factor.member] for factor in factors)]
    return np.hstack(parts)
