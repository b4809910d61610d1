"""How a flat face's light falls off with the angle: cosᵏθ, or a table of relative intensity.

A table holds I(θ, φ)/I_reference at angles from the axis spread evenly over 0 to 90°, and at angles round the axis
spread evenly over the turn (one column: the same all round). Between its nodes it is linear in both angles, so that its
integrals are sums of

    ∫ (a + b·θ)·sinθ dθ = [b·sinθ − (a + b·θ)·cosθ].

A trace reads the same table, and divides by cosθ for the luminance: what is told of a head's flux is what is traced.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

ROWS = 721
"""Angles from the axis in a table: every eighth of a degree, so that nodes at 5, 2.5 or 0.5 degrees are kept."""
_COLUMNS = (4, 8, 12, 16, 24, 36, 72, 144, 360)
_RIGHT = 0.5 * math.pi
_ANGLES: Floats = np.linspace(0.0, _RIGHT, ROWS)


@dataclass(frozen=True, eq=False)
class Profile:
    """Relative intensity of a face by angle.

    exponent: k of cosᵏθ; where there is a table, the power that comes nearest to it. table: (ROWS, columns) relative
    intensity, or None.
    """

    exponent: float
    table: Floats | None = None

    @property
    def axial(self) -> float:
        """Return the relative intensity along the axis."""
        return 1.0 if self.table is None else float(self.table[0].mean())

    @property
    def flux(self) -> float:
        """Return ∫ I/I_reference dω over the half space in front, sr."""
        if self.table is None:
            return 2.0 * math.pi / (self.exponent + 1.0)
        return float(2.0 * math.pi * self._sums[-1].mean())

    @functools.cached_property
    def _sums(self) -> Floats:
        """Return ∫ I·sinθ dθ from the axis to each row, by column."""
        assert self.table is not None
        pieces = _piece(self.table[:-1], self.table[1:], _ANGLES[:-1, None], _ANGLES[1:, None], _ANGLES[1:, None])
        return np.concatenate([np.zeros((1, self.table.shape[1])), np.cumsum(pieces, axis=0)])

    def within(self, theta: ArrayLike, phi: ArrayLike) -> Floats:
        """Return ∫ I/I_reference·sinθ′ dθ′ from the axis to `theta`, in the half plane `phi`.

        Parameters
        ----------
        theta, phi
            Radians, of one shape: from the axis (0 to π/2) and round it, from the face's own x axis.
        """
        theta, phi = np.broadcast_arrays(np.asarray(theta, float), np.asarray(phi, float))
        if self.table is None:
            return np.asarray((1.0 - np.cos(theta) ** (self.exponent + 1.0)) / (self.exponent + 1.0))
        row = np.minimum((theta / _RIGHT * (ROWS - 1)).astype(int), ROWS - 2)
        columns = self.table.shape[1]
        turn = np.mod(phi / (2.0 * math.pi), 1.0) * columns
        left = turn.astype(int) % columns
        share = turn - np.floor(turn)
        sums = [self._within(row, column, theta) for column in (left, (left + 1) % columns)]
        return np.asarray((1.0 - share) * sums[0] + share * sums[1])

    def _within(self, row: NDArray[np.int64], column: NDArray[np.int64], theta: Floats) -> Floats:
        assert self.table is not None
        values = self.table[row, column], self.table[row + 1, column]
        return np.asarray(self._sums[row, column] + _piece(*values, _ANGLES[row], _ANGLES[row + 1], theta))


def _piece(low: Floats, high: Floats, start: Floats, end: Floats, stop: Floats) -> Floats:
    """Return ∫ I·sinθ dθ from `start` to `stop` of a straight line through `low` at `start` and `high` at `end`."""
    slope = (high - low) / (end - start)
    level = low - slope * start
    # sin and cos differences as products: exact where the piece is short
    middle, half = 0.5 * (start + stop), 0.5 * (stop - start)
    sines, cosines = 2.0 * np.cos(middle) * np.sin(half), -2.0 * np.sin(middle) * np.sin(half)
    moved = stop * np.cos(stop) - start * np.cos(start)
    return np.asarray(slope * (sines - moved) - level * cosines)


def _tabled(table: Floats) -> Profile:
    """Return the profile of a table, brought to a largest value of 1, with the power of the cosine nearest to it."""
    table = np.ascontiguousarray(table / table.max())
    plain = Profile(1.0, table)
    return Profile(float(np.clip(2.0 * math.pi / plain.flux - 1.0, 0.0, 1e4)), table)


def from_pairs(angles: Sequence[float], values: Sequence[float]) -> Profile:
    """Return the profile, the same all round, of intensities at angles from the axis; its largest value becomes 1.

    Parameters
    ----------
    angles
        Radians, ascending from 0. After the last there is no light.
    values
        Relative intensities, none below 0.
    """
    return _tabled(np.interp(_ANGLES, angles, values, right=0.0)[:, None])


def from_planes(verticals: ArrayLike, horizontals: ArrayLike, intensities: ArrayLike) -> Profile:
    """Return the profile of intensities in half planes round the axis; its largest value becomes 1.

    Parameters
    ----------
    verticals
        (v,) angles from the axis, radians, ascending. Before the first and after the last there is no light.
    horizontals
        (h,) angles round the axis, radians, ascending from 0 to a whole turn; or one angle: the same all round.
    intensities
        (h, v) intensities in any unit.
    """
    verticals, planes = np.asarray(verticals, float), np.asarray(intensities, float)
    rows = np.stack([np.interp(_ANGLES, verticals, plane, left=0.0, right=0.0) for plane in planes])
    if len(rows) == 1:
        return _tabled(rows.T)
    turns = np.asarray(horizontals, float) / (2.0 * math.pi)
    columns = next((n for n in _COLUMNS if np.allclose(turns * n, np.round(turns * n), atol=1e-6)), _COLUMNS[-1])
    wanted = np.arange(columns) / columns
    return _tabled(np.stack([np.interp(wanted, turns, row) for row in rows.T]))


def honeycomb(profile: Profile, cut_off: float) -> Profile:
    """Return a profile behind a honeycomb grid; relative to the same reference, so that its flux falls.

    A round cell, seen from the angle θ, passes what two equal circles have in common, its front and its back:

        T = (2/π)·(arccos x − x·√(1 − x²)),   x = tanθ / tan θ_c,

    with black walls of no thickness. (The chord geometry of two circles; averaged over a cosine this is Howell's
    configuration factor C-41 of a tube's two ends.)

    Parameters
    ----------
    profile
        Without the grid.
    cut_off
        θ_c, radians: the angle from the axis at which nothing comes through.
    """
    bare = np.cos(_ANGLES)[:, None] ** profile.exponent if profile.table is None else profile.table
    gridded = bare * overlap_of_circles(np.tan(_ANGLES) / math.tan(cut_off))[:, None]
    flux = Profile(1.0, gridded).flux
    return Profile(float(np.clip(2.0 * math.pi * gridded[0].mean() / flux - 1.0, 0.0, 1e4)), gridded)


def overlap_of_circles(x: ArrayLike) -> Floats:
    """Return the common share of two equal circles whose centres are `x` diameters apart."""
    apart = np.minimum(np.abs(np.asarray(x, float)), 1.0)
    return np.asarray(2.0 / math.pi * (np.arccos(apart) - apart * np.sqrt(1.0 - apart * apart)))
