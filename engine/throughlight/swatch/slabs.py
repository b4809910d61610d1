"""Any slab of one kind of matter at once: a table of solved slabs, read between its nodes.

A slab's light depends on µs′·d and µa·d alone once g and n are given. The table is even in ln(1 + µs′·d/x₀) and in
√κ, κ = √(3µa·d·(µa·d + µs′·d)), in which ln T is smooth from a clear plate to deep matter; beyond, it goes on in a
straight line in κ (diffusion, e.g. Ishimaru 1978, Wave Propagation and Scattering in Random Media, chapter 9). Between
the nodes Lagrange's cubic is read in either direction.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from throughlight.swatch.adding_doubling import layer_of, slab_and_glow

Array = NDArray[np.float64]
Seen = Literal["light table", "diffuse", "card"]
"""How a slab is looked at: straight on before an even light (or lit straight on, all that comes through being read);
lit and read over the whole hemisphere; lit straight on and seen from 45°, over a perfect white."""

_LOOKS: tuple[Seen, ...] = ("light table", "diffuse", "card")
_UNIT = 0.01  # x₀, µs′·d of the bend between clear and scattering
_MOST = 1000.0  # µs′·d
_DEEPEST = 15.0  # κ
_ACROSS, _DOWN = 30, 30
_LEAST = 1e-7  # µa·d; light caught in a clear plate must end somewhere
_FORWARD = 0.5  # g from which the forward peak wants more directions


class Slabs(NamedTuple):
    """Solved slabs of matter with one g and one n.

    Attributes
    ----------
    g, n
        Mean cosine of scattering, refractive index.
    logs
        (3, across, down) natural logarithms of what each way of looking sees; of the card's, per µs′·d/(1 + µs′·d).
    """

    g: float
    n: float
    logs: Array

    def seen(self, look: Seen, scatter: ArrayLike, absorb: ArrayLike) -> Array:
        """Return what is seen of slabs.

        Parameters
        ----------
        look
            How they are looked at.
        scatter, absorb
            µs′·d and µa·d, zero or more, shapes that broadcast.

        Returns
        -------
        ndarray
            Share of the light, or of a perfect white's brightness.
        """
        return np.asarray(np.exp(self._log(look, scatter, absorb)))

    def stops_less(self, look: Seen, scatter: ArrayLike, absorb: ArrayLike) -> Array:
        """Return how many stops less light is seen with a slab than without it (with a card: than of a white one)."""
        return np.asarray(-self._log(look, scatter, absorb) / np.log(2.0))

    def _log(self, look: Seen, scatter: ArrayLike, absorb: ArrayLike) -> Array:
        x, y = np.broadcast_arrays(np.asarray(scatter, np.float64), np.asarray(absorb, np.float64))
        kappa = np.sqrt(3.0 * y * (y + x))
        table = self.logs[_LOOKS.index(look)]
        across = np.log1p(np.minimum(x, _MOST) / _UNIT) / np.log1p(_MOST / _UNIT) * (_ACROSS - 1)
        down = np.sqrt(np.minimum(kappa, _DEEPEST) / _DEEPEST) * (_DOWN - 1)
        found = _cubic(table, across, down)
        if look == "card":
            with np.errstate(divide="ignore"):
                return np.asarray(found + np.log(x / (1.0 + x)))
        last = _DEEPEST * ((_DOWN - 2) / (_DOWN - 1)) ** 2
        slope = (found - _cubic(table, across, np.full(down.shape, _DOWN - 2.0))) / (_DEEPEST - last)
        deeper = np.where(kappa > _DEEPEST, slope * (kappa - _DEEPEST), 0.0)
        return np.asarray(found + deeper - np.log(np.maximum(x / _MOST, 1.0)))


@lru_cache(maxsize=8)
def slabs_of(g: float, n: float) -> Slabs:
    """Return the solved slabs of matter with mean cosine g and index n (a fraction of a second, then kept).

    Raises
    ------
    ValueError
        If there is no such matter.
    """
    x = _UNIT * np.expm1(np.linspace(0.0, np.log1p(_MOST / _UNIT), _ACROSS))[:, None]
    kappa = _DEEPEST * np.linspace(0.0, 1.0, _DOWN) ** 2
    y = np.maximum(absorb_depth(kappa, x), _LEAST)
    lit = np.maximum(x, 1e-6)
    flux, card = slab_and_glow([layer_of(lit / (1.0 - g), y, g, n, 1.0)], np.sqrt(0.5), 16 if abs(g) > _FORWARD else 12)
    glow = np.maximum(card / (lit / (1.0 + lit)), 1e-300)
    logs = np.log(np.stack([flux.T_coll, flux.T_diff, glow]))
    logs.setflags(write=False)
    return Slabs(g, n, logs)


def absorb_depth(kappa: ArrayLike, scatter: ArrayLike) -> Array:
    """Return the µa·d that solves κ² = 3·µa·d·(µa·d + µs′·d)."""
    k, x = np.broadcast_arrays(np.asarray(kappa, np.float64), np.asarray(scatter, np.float64))
    below = 3.0 * x + np.sqrt(9.0 * x**2 + 12.0 * k**2)
    return np.asarray(np.divide(2.0 * k**2, below, out=np.zeros_like(k), where=below > 0.0))


def _cubic(table: Array, across: Array, down: Array) -> Array:
    """Return a table read between its nodes by Lagrange's cubic in both directions."""
    i, p = _four(across, table.shape[0])
    j, q = _four(down, table.shape[1])
    found: Array = np.zeros(across.shape)
    for a in range(4):
        row: Array = np.zeros(across.shape)
        for b in range(4):
            row += q[b] * table[i + a, j + b]
        found += p[a] * row
    return np.asarray(found)


def _four(place: Array, count: int) -> tuple[NDArray[np.intp], tuple[Array, Array, Array, Array]]:
    """Return the first of the four nodes round each place, and their weights."""
    first = np.clip(np.floor(place).astype(np.intp) - 1, 0, count - 4)
    t = place - first
    return first, (
        -(t - 1.0) * (t - 2.0) * (t - 3.0) / 6.0,
        t * (t - 2.0) * (t - 3.0) / 2.0,
        -t * (t - 1.0) * (t - 3.0) / 2.0,
        t * (t - 1.0) * (t - 2.0) / 6.0,
    )
