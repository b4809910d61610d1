"""The loss laid out over two keys like ground on a plan: where it is low, how wide that place is, where nothing stands.

The two keys are those that move the loss most among those with three values or more. What the others are at makes a
sheet each where these are few; else each square shows the best that the others make of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.study.effects import main_effects
from throughlight.study.results import Results, Row
from throughlight.study.said import UNCHANGED, numbers_said

_FEWEST, _MOST = 3, 40  # values of a key
_MOST_SHEETS = 4
_FILLED = 0.5  # part of the squares that must be known, else the ground is too thin to be drawn


class Line(NamedTuple):
    """One of the two keys: its values in order, as said without the unit, which is None where they are no numbers."""

    key: str
    unit: str | None
    said: tuple[str, ...]


class Sheet(NamedTuple):
    """One sheet of ground.

    `said` is what the other keys are at, empty where each square shows the best of all; `losses` is (upright, across)
    stops, NaN where nothing is read; `numbers` are the candidates, 0 for none; `failed` is true where all failed.
    """

    said: str
    losses: NDArray[np.float64]
    numbers: NDArray[np.int64]
    failed: NDArray[np.bool_]


class Ground(NamedTuple):
    """The loss over two keys."""

    across: Line
    upright: Line
    sheets: tuple[Sheet, ...]


def loss_ground(results: Results) -> Ground | None:
    """Return the loss over the two keys that move it most; None where the candidates don't lie on a grid."""
    effects = main_effects(results, "loss")
    if effects is None:
        return None
    lines = [line for effect in effects.keys if (line := _line(results, effect.key)) is not None]
    if len(lines) < 2:
        return None
    across, upright = lines[:2]
    others = [key for key in results.keys if key not in (across.key, upright.key)]
    settings = [tuple(dict.fromkeys(_said(row, key) for row in results.rows)) for key in others]
    apart = list(product(*settings))
    if len(apart) > _MOST_SHEETS:
        apart, others = [()], []
    sheets = tuple(_sheet(results, across, upright, others, setting) for setting in apart)
    filled = np.mean([np.isfinite(sheet.losses) | sheet.failed for sheet in sheets])
    return Ground(across, upright, sheets) if filled >= _FILLED else None


def _said(row: Row, key: str) -> str:
    return row.changes.get(key, UNCHANGED)


def _line(results: Results, key: str) -> Line | None:
    """Return a key's values in order, or None where they are too few or too many."""
    axis = numbers_said(results.rows, key)
    if axis is None:
        said = tuple(dict.fromkeys(_said(row, key) for row in results.rows))
        return Line(key, None, said) if _FEWEST <= len(said) <= _MOST else None
    values = sorted(set(axis.numbers))
    return Line(key, axis.unit, tuple(f"{value:g}" for value in values)) if _FEWEST <= len(values) <= _MOST else None


def _place(results: Results, line: Line) -> dict[int, int]:
    """Return each candidate's place on a line, by its number."""
    axis = numbers_said(results.rows, line.key)
    said = [_said(row, line.key) for row in results.rows] if axis is None else [f"{value:g}" for value in axis.numbers]
    return {row.number: line.said.index(words) for row, words in zip(results.rows, said, strict=True)}


def _sheet(results: Results, across: Line, upright: Line, others: Sequence[str], setting: Sequence[str]) -> Sheet:
    shape = (len(upright.said), len(across.said))
    losses, numbers = np.full(shape, np.nan), np.zeros(shape, np.int64)
    failed, columns, lines = np.zeros(shape, np.bool_), _place(results, across), _place(results, upright)
    for row in results.rows:
        if any(_said(row, key) != wanted for key, wanted in zip(others, setting, strict=True)):
            continue
        at = lines[row.number], columns[row.number]
        if row.status == "failed":
            failed[at] = True
        elif row.loss is not None and math.isfinite(row.loss.value) and not losses[at] <= row.loss.value:
            losses[at], numbers[at] = row.loss.value, row.number
    said = ", ".join(f"{key} {words}" for key, words in zip(others, setting, strict=True))
    return Sheet(said, losses, numbers, failed & np.isnan(losses))
