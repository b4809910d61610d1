"""The matter that a slab is made of, from how much light it passes: adding–doubling read backwards.

How a slab of matter scatters is known (its kind: µs′, g and n); how much it absorbs is what colours it. The
transmittance T only falls as the absorption µa grows, so one table of T over µa·d, made once for a slab, gives the
absorption of any number of measurements. Where T exceeds what matter without absorption passes, there is less of the
matter in the way: µs′ is lowered instead, down to a clear plate.

On a light table a slab is seen along its normal before an even luminance L₀; what is seen there is T·L₀ with the T of
light that falls along the normal and leaves to any side (Helmholtz reciprocity, both sides being air).

The table's nodes are even in a power of κ = √(3µa(µa + µs′))·d, of which ln T becomes a straight line in deep matter
(T ∝ 1/sinh κ; diffusion, e.g. Ishimaru 1978, Wave Propagation and Scattering in Random Media, chapter 9).
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from throughlight.swatch.adding_doubling import layer_of, slab

Array = NDArray[np.float64]
Seen = Literal["light table", "diffuse"]
"""How it was measured: seen along the normal before an even luminance, or all that passes of an even hemisphere."""

FLOOR = 2.0**-12
"""Least transmittance that is believed: twelve stops under the bare light."""

_NODES = 64
_DEEPEST = -np.log(FLOOR) * np.sqrt(3.0)
"""κ past which no slab passes the floor: T ≤ exp(−µa·d), and κ² = 3µa·d·(µa + µs′)·d ≥ 3(µa·d)²."""


class Kind(NamedTuple):
    """How a kind of matter scatters.

    Attributes
    ----------
    reduced_scattering
        µs′ = (1 − g)·µs, 1/m.
    g
        Mean cosine of the scattering angle.
    n
        Refractive index.
    """

    reduced_scattering: float
    g: float
    n: float


class Matter(NamedTuple):
    """What slabs are made of, and how many of them could not be told.

    Attributes
    ----------
    reduced_scattering, absorption
        µs′ and µa, 1/m, of the shape of the transmittances.
    dark
        Share of those that pass no more than `FLOOR`, whose absorption is at least what is given.
    bright
        Share of those that pass more than a clear plate of the same index.
    """

    reduced_scattering: Array
    absorption: Array
    dark: float
    bright: float


def transmittance(
    kind: Kind, absorption: ArrayLike, thickness: float, seen: Seen = "light table", reduced: ArrayLike | None = None
) -> Array:
    """Return the transmittance of slabs of one kind of matter in air.

    Parameters
    ----------
    kind
        How it scatters.
    absorption
        µa, 1/m, any shape.
    thickness
        m.
    seen
        How it is measured.
    reduced
        µs′, 1/m, in place of the kind's own.

    Returns
    -------
    ndarray
        Share of the light, surface reflections included.
    """
    scatter = np.asarray(kind.reduced_scattering if reduced is None else reduced) / (1.0 - kind.g)
    flux = slab([layer_of(scatter, absorption, kind.g, kind.n, thickness)])
    return np.asarray(flux.T_coll if seen == "light table" else flux.T_diff)


def absorption_for(
    transmittance: ArrayLike,
    reduced_scattering: float,
    g: float,
    n: float,
    thickness: float,
    seen: Seen = "light table",
) -> Array:
    """Return the absorption that gives slabs the transmittances measured.

    Parameters
    ----------
    transmittance
        Shares of the light, any shape; those below `FLOOR` count as `FLOOR`.
    reduced_scattering, g, n
        How the matter scatters: µs′ (1/m), mean cosine, refractive index.
    thickness
        m.
    seen
        How the transmittance was measured.

    Returns
    -------
    ndarray
        µa, 1/m; 0 where the slab passes at least what it passes without absorption.

    Raises
    ------
    ValueError
        If there is no such matter or no thickness.
    """
    return _absorption(np.asarray(transmittance, np.float64), Kind(reduced_scattering, g, n), thickness, seen)[0]


def coefficients_for(transmittance: ArrayLike, kind: Kind, thickness: float, seen: Seen = "light table") -> Matter:
    """Return scattering and absorption that give slabs the transmittances measured.

    Scattering is the kind's own, except where the slab passes more than that lets through: there it is less.

    Parameters
    ----------
    transmittance
        Shares of the light, any shape.
    kind
        How the matter scatters, at most.
    thickness
        m.
    seen
        How the transmittance was measured.

    Returns
    -------
    Matter
        Coefficients by measurement, and the shares of measurements that could not be told.

    Raises
    ------
    ValueError
        If there is no such matter or no thickness.
    """
    measured = np.asarray(transmittance, np.float64)
    absorption, most = _absorption(measured, kind, thickness, seen)
    scattering = np.full(measured.shape, kind.reduced_scattering)
    through = measured > most
    clearest = most
    if through.any():
        scattering[through], clearest = _lowered(measured[through], kind, thickness, seen)
    count = max(measured.size, 1)
    dark = np.count_nonzero(measured <= FLOOR) / count
    return Matter(scattering, absorption, dark, np.count_nonzero(measured > clearest * (1.0 + 1e-9)) / count)


def _absorption(measured: Array, kind: Kind, thickness: float, seen: Seen) -> tuple[Array, float]:
    """Return the absorption of each slab, 1/m, and what passes without any."""
    _check(kind, thickness)
    scatter = kind.reduced_scattering * thickness
    kappa = _DEEPEST * np.linspace(0.0, 1.0, _NODES) ** 1.5
    passed = transmittance(kind, _depth(kappa, scatter) / thickness, thickness, seen)
    wanted = np.interp(-np.log(np.maximum(measured, FLOOR)), -np.log(passed), kappa)
    return _depth(wanted, scatter) / thickness, float(passed[0])


def _depth(kappa: Array, scatter: float) -> Array:
    """Return µa·d of the κ that solves κ² = 3·µa·d·(µa·d + µs′·d)."""
    below = 3.0 * scatter + np.sqrt(9.0 * scatter**2 + 12.0 * kappa**2)
    return np.divide(2.0 * kappa**2, below, out=np.zeros_like(kappa), where=below > 0.0)


def _lowered(measured: Array, kind: Kind, thickness: float, seen: Seen) -> tuple[Array, float]:
    """Return the scattering of slabs that absorb nothing, 1/m, and what a clear plate passes."""
    depth = np.linspace(0.0, np.log1p(kind.reduced_scattering * thickness), _NODES)
    reduced = np.expm1(depth) / thickness
    passed = transmittance(kind, 0.0, thickness, seen, reduced)
    return np.expm1(np.interp(-measured, -passed, depth)) / thickness, float(passed[0])


def _check(kind: Kind, thickness: float) -> None:
    if not (kind.reduced_scattering >= 0.0 and np.isfinite(kind.reduced_scattering) and thickness > 0.0):
        raise ValueError(f"no slab has the reduced scattering {kind.reduced_scattering} 1/m, thickness {thickness} m")


def unscattered(extinction: ArrayLike, n: float, thickness: float) -> Array:
    """Return the share of light along the normal that passes a slab in air without being scattered.

    (1 − F)²·t/(1 − F²·t²) with t = exp(−(µs + µa)·d) and F = ((n − 1)/(n + 1))² (incoherent plate, e.g. Born and Wolf,
    Principles of Optics).

    Parameters
    ----------
    extinction
        µs + µa, 1/m, any shape.
    n
        Refractive index.
    thickness
        m.
    """
    t, face = np.exp(-np.asarray(extinction, np.float64) * thickness), ((n - 1.0) / (n + 1.0)) ** 2
    return np.asarray((1.0 - face) ** 2 * t / (1.0 - (face * t) ** 2))
