"""Any slab of one kind of matter at once: a table of solved slabs, read between its nodes.

A slab's light depends on µs′·d and µa·d alone once g and n are given. The table is even in ln(1 + µs′·d/x₀) and in
√κ, κ = √(3µa·d·(µa·d + µs′·d)), in which ln T is smooth from a clear plate to deep matter; beyond, it goes on in a
straight line in κ (diffusion, e.g. Ishimaru 1978, Wave Propagation and Scattering in Random Media, chapter 9). Between
the nodes Lagrange's cubic is read in either direction.

Where g, n or the faces' roughness is known within a spread only, three more tables tell how many stops a standard
deviation of each makes. They are differences, smoother than the slabs themselves, and much coarser.
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
_LEAN_ACROSS, _LEAN_DOWN = 10, 10
_AWAY = 1.34  # standard deviations at which a lean is told: the outer nodes of three of an even range, √1.8
_LEAST = 1e-7  # µa·d; light caught in a clear plate must end somewhere
_FORWARD = 0.5  # g from which the forward peak wants more directions


class Optics(NamedTuple):
    """What else than its coefficients tells how matter looks: mean cosine g, refractive index, roughness of its faces.

    Also their standard deviations.
    """

    g: float
    n: float
    roughness: float = 0.0


EXACT = Optics(0.0, 0.0, 0.0)
"""Standard deviations of optics that are known."""


class Slabs(NamedTuple):
    """Solved slabs of matter with one g, n and roughness, and how it looks with others.

    Attributes
    ----------
    optics
        Those of the matter.
    logs
        (3, across, down) natural logarithms of what each way of looking sees; of the card's, per µs′·d/(1 + µs′·d).
    leans
        (3, k, coarser across, coarser down) for each way of looking, stops more that are lost for a standard deviation
        more of each optic that is unsure.
    unsure
        (k,) which those are, by their places in `Optics`.
    """

    optics: Optics
    logs: Array
    leans: Array
    unsure: tuple[int, ...]

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

    def lean(self, look: Seen, scatter: ArrayLike, absorb: ArrayLike) -> Array:
        """Return how many stops more are lost for a standard deviation more of each unsure optic, (k, …)."""
        across, down, _ = _places(scatter, absorb, _LEAN_ACROSS, _LEAN_DOWN)
        return _cubic(self.leans[_LOOKS.index(look)], across, down)

    def _log(self, look: Seen, scatter: ArrayLike, absorb: ArrayLike) -> Array:
        table = self.logs[_LOOKS.index(look)]
        across, down, kappa = _places(scatter, absorb, _ACROSS, _DOWN)
        found, x = _cubic(table, across, down), np.broadcast_to(np.asarray(scatter, np.float64), kappa.shape)
        if look == "card":
            with np.errstate(divide="ignore"):
                return np.asarray(found + np.log(x / (1.0 + x)))
        deep = kappa > _DEEPEST
        if np.any(deep):
            last = _DEEPEST * ((_DOWN - 2) / (_DOWN - 1)) ** 2
            before = _cubic(
                table, np.broadcast_to(across, kappa.shape)[deep], np.full(np.count_nonzero(deep), _DOWN - 2.0)
            )
            found[deep] += (found[deep] - before) / (_DEEPEST - last) * (kappa[deep] - _DEEPEST)
        return np.asarray(found - np.log(np.maximum(x / _MOST, 1.0)))


def _places(scatter: ArrayLike, absorb: ArrayLike, across: int, down: int) -> tuple[Array, Array, Array]:
    """Return where slabs lie in a table of so many nodes, and their κ; the first has the shape of `scatter` alone."""
    x, y = np.asarray(scatter, np.float64), np.asarray(absorb, np.float64)
    kappa = np.sqrt(3.0 * y * (y + x))
    right = np.log1p(np.minimum(x, _MOST) / _UNIT) / np.log1p(_MOST / _UNIT) * (across - 1)
    return right, np.sqrt(np.minimum(kappa, _DEEPEST) / _DEEPEST) * (down - 1), kappa


@lru_cache(maxsize=32)
def slabs_of(g: float, n: float, roughness: float = 0.0, spread: Optics = EXACT) -> Slabs:
    """Return the solved slabs of matter with mean cosine g, index n and faces of that roughness (kept once solved).

    Takes a fraction of a second, twice as long with a spread: the standard deviations of the three.

    Raises
    ------
    ValueError
        If there is no such matter.
    """
    optics = Optics(g, n, roughness)
    logs, unsure = _solved(optics, _ACROSS, _DOWN), tuple(i for i in range(3) if spread[i] > 0.0)
    leans = np.zeros((3, len(unsure), _LEAN_ACROSS, _LEAN_DOWN))
    for place, i in enumerate(unsure):
        low, high = (moved(optics, i, sign * _AWAY * spread[i]) for sign in (-1.0, 1.0))
        less, more = (_solved(one, _LEAN_ACROSS, _LEAN_DOWN) for one in (low, high))
        leans[:, place] = (less - more) / np.log(2.0) * spread[i] / (high[i] - low[i])
    logs.setflags(write=False)
    leans.setflags(write=False)
    return Slabs(optics, logs, leans, unsure)


def moved(optics: Optics, which: int, step: float) -> Optics:
    """Return optics with one of them, by its place, moved as far as there is such matter."""
    lowest, highest = (-0.95, 1.0, 0.0)[which], (0.95, 4.0, 1.0)[which]
    moved = list(optics)
    moved[which] = min(max(optics[which] + step, lowest), highest)
    return Optics(*moved)


def _solved(optics: Optics, across: int, down: int) -> Array:
    """Return a table of so many nodes, as `Slabs.logs`."""
    x = _UNIT * np.expm1(np.linspace(0.0, np.log1p(_MOST / _UNIT), across))[:, None]
    kappa = _DEEPEST * np.linspace(0.0, 1.0, down) ** 2
    y = np.maximum(absorb_depth(kappa, x), _LEAST)
    lit = np.maximum(x, 1e-6)
    layer = layer_of(lit / (1.0 - optics.g), y, optics.g, optics.n, 1.0)
    flux, card = slab_and_glow([layer], np.sqrt(0.5), points_for(optics.g), optics.roughness)
    glow = np.maximum(card / (lit / (1.0 + lit)), 1e-300)
    return np.asarray(np.log(np.stack([flux.T_coll, flux.T_diff, glow])))


def points_for(g: float) -> int:
    """Return how many directions in a hemisphere are good for a hundredth of a stop."""
    return 16 if abs(g) > _FORWARD else 12


def absorb_depth(kappa: ArrayLike, scatter: ArrayLike) -> Array:
    """Return the µa·d that solves κ² = 3·µa·d·(µa·d + µs′·d)."""
    k, x = np.broadcast_arrays(np.asarray(kappa, np.float64), np.asarray(scatter, np.float64))
    below = 3.0 * x + np.sqrt(9.0 * x**2 + 12.0 * k**2)
    return np.asarray(np.divide(2.0 * k**2, below, out=np.zeros_like(k), where=below > 0.0))


def _cubic(table: Array, across: Array, down: Array) -> Array:
    """Return tables (…, across, down) read between their nodes by Lagrange's cubic in both directions."""
    i, p = _four(across, table.shape[-2])
    j, q = _four(down, table.shape[-1])
    flat, wide = table.reshape(*table.shape[:-2], table.shape[-2] * table.shape[-1]), table.shape[-1]
    first = i * wide + j
    found: Array = np.zeros(table.shape[:-2] + first.shape)
    for a in range(4):
        row = q[0] * flat.take(first + a * wide, axis=-1)
        for b in range(1, 4):
            row += q[b] * flat.take(first + (a * wide + b), axis=-1)
        found += p[a] * row
    return found


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
