"""One layer of scattering matter: what it reflects and transmits from each direction to each, by doubling.

Amplitudes a_i = L_i·√(µ_i·w_i)/n of the radiance L in direction i make all matrices symmetric (reciprocity) and carry
the flux √(n²µ_i·w_i)·a_i. Inside the layer, x being the optical depth,

    da⁺/dx = −A·a⁺ + B·a⁻,    −da⁻/dx = −A·a⁻ + B·a⁺,
    A = diag(1/µ) − (ω/2)·S·h⁺·S,   B = (ω/2)·S·h⁻·S,   S = diag(√(w/µ)),

with albedo ω and the redistribution h± = Σ (2l + 1)·(±1)^l·χ_l·P_l(µ_i)·P_l(µ_j) of the Henyey–Greenstein function,
χ_l = g^l (Hansen and Travis 1974, Space Sci. Rev. 16:527). Its forward peak is cut off as delta-M (Wiscombe 1977, J.
Atmos. Sci. 34:1408): f = g^M, χ_l → (χ_l − f)/(1 − f), ω → ω(1 − f)/(1 − ωf), τ → (1 − ωf)·τ.

A thin layer lit alike from both sides returns P·a, one lit with opposite signs M·a; R = (P + M)/2, T = (P − M)/2. From
the equations P = (1 + K)⁻¹(1 − K) with K = X·tanh(√(YX))/√(YX), X = (A − B)·δ/2, Y = (A + B)·δ/2, and −M alike with
X and Y exchanged; tanh(√z)/√z = (15 + z)/(15 + 6z) but for z³/1575. (The first term alone is the diamond start of
Wiscombe 1976, JQSRT 16:637.) A layer on a copy of itself (doubling, van de Hulst 1963) is a layer on a mirror, which
gives back what is alike and turns the sign of what is opposite:

    P → R + T·(1 − R)⁻¹·T,   M → R − T·(1 + R)⁻¹·T.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

_THIN = 0.1
"""Half thickness of the thinnest layer over the smallest cosine."""

_THINNEST = 1e-9
"""Optical thickness below which a layer counts as this thick: light caught in a clear plate must end somewhere."""


class Response(NamedTuple):
    """What a stack does with amplitudes: (…, n, n) reflection and transmission from above, and from below."""

    above: Array
    through: Array
    below: Array
    back: Array


def redistribution(cosine: Array, weight: Array, g: float, terms: int) -> tuple[Array, Array]:
    """Return h⁺ and h⁻ between directions, (n, n), normalised so that Σ_j w_j·(h⁺ + h⁻)_ij = 2.

    What the quadrature lacks in the sum is put on the diagonal, as light sent straight on (Hansen 1971, J. Atmos. Sci.
    28:1400), so that nothing is lost in matter that absorbs nothing.
    """
    cut = g**terms
    moments = (g ** np.arange(terms) - cut) / (1.0 - cut)
    polynomials = np.asarray(np.polynomial.legendre.legvander(cosine, terms - 1), np.float64)
    scaled = polynomials * ((2.0 * np.arange(terms) + 1.0) * moments)
    onward = scaled @ polynomials.T
    backward = (scaled * (-1.0) ** np.arange(terms)) @ polynomials.T
    lacking = 2.0 - (onward + backward) @ weight
    onward[np.diag_indices(len(cosine))] += lacking / weight
    return np.asarray(onward), np.asarray(backward)


def layer_response(albedo: ArrayLike, tau: ArrayLike, g: float, cosine: Array, weight: Array) -> tuple[Array, Array]:
    """Return reflection and transmission of layers between the directions of their own medium.

    Parameters
    ----------
    albedo, tau
        Share of scattering in the extinction, and optical thickness; of one shape (…) once broadcast.
    g
        Mean cosine of the scattering angle.
    cosine, weight
        (n,) directions in the layer.

    Returns
    -------
    reflection, transmission
        (…, n, n) each, between amplitudes.
    """
    single, deep = np.broadcast_arrays(np.asarray(albedo, np.float64), np.maximum(tau, _THINNEST))
    terms = 3 * len(cosine) // 2  # more than directions: a Gauss rule is exact to twice its degree
    cut = g**terms
    omega = (single * (1.0 - cut) / (1.0 - single * cut))[..., None, None]
    depth = ((1.0 - single * cut) * deep)[..., None, None]
    onward, backward = redistribution(cosine, weight, g, terms)
    root = np.sqrt(weight / cosine)
    scale = 0.5 * np.outer(root, root)
    loss = np.diag(1.0 / cosine)
    doublings = np.ceil(np.log2(np.maximum(depth / (2.0 * _THIN * cosine.min()), 1.0)))
    half = depth / 2.0 ** (doublings + 1)
    x = half * (loss - omega * scale * (onward + backward))
    y = half * (loss - omega * scale * (onward - backward))
    p, m = _thin(x, y), -_thin(y, x)
    return _doubled(p, m, doublings[..., 0, 0])


def _doubled(p: Array, m: Array, times: Array) -> tuple[Array, Array]:
    """Return reflection and transmission of layers, each doubled as often as it needs.

    A thin layer that was cut as often as a thick one would lose less in a cut than rounding tells from nothing.
    """
    unit = np.eye(p.shape[-1])
    for done in range(int(np.max(times, initial=0.0))):
        left = times > done
        one, other = p[left], m[left]
        r, t = 0.5 * (one + other), 0.5 * (one - other)
        p[left], m[left] = r + t @ np.linalg.solve(unit - r, t), r - t @ np.linalg.solve(unit + r, t)
    return 0.5 * (p + m), 0.5 * (p - m)


def _thin(x: Array, y: Array) -> Array:
    """Return what a thin layer lit alike from both sides returns."""
    unit = np.eye(x.shape[-1])
    z = y @ x
    k = x @ np.linalg.solve(15.0 * unit + 6.0 * z, 15.0 * unit + z)
    return np.asarray(np.linalg.solve(unit + k, unit - k), np.float64)
