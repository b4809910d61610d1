"""Reflectance and transmittance of a stack of scattering layers in air, by adding–doubling.

Each layer's response is found by doubling (`layer`); boundaries with Fresnel reflection r stand between them, and the
whole is added up from the top (Prahl, van Gemert and Welch 1993, Appl. Opt. 32:559; van de Hulst 1963): of a stack 0–1
on a layer 1–2,

    R₀₂ = R₀₁ + T₁₀·(1 − R₁₂·R₁₀)⁻¹·R₁₂·T₀₁,   T₀₂ = T₁₂·(1 − R₁₀·R₁₂)⁻¹·T₀₁,

and alike from below. The layers extend without end to the sides; the inner boundaries are smooth, the two outer ones as
rough as is asked; light is unpolarised.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from throughlight.swatch.boundary import reflectance
from throughlight.swatch.layer import Response, layer_response
from throughlight.swatch.nodes import Nodes, cosines, nodes_for
from throughlight.swatch.rough import SMOOTH, rough_response

Array = NDArray[np.float64]

POINTS = 24
"""Directions in a hemisphere unless asked otherwise."""


class Layer(NamedTuple):
    """An even layer.

    Attributes
    ----------
    albedo
        Scattering over extinction, µs/(µs + µa), in [0, 1]; may be an array.
    tau
        Optical thickness (µs + µa)·d, dimensionless; may be an array.
    g
        Mean cosine of the scattering angle (Henyey–Greenstein), |g| < 1.
    n
        Refractive index, at least 1.
    """

    albedo: ArrayLike
    tau: ArrayLike
    g: float
    n: float


class Flux(NamedTuple):
    """Shares of the light that falls on the top of a stack; specular and unscattered light are in them.

    Attributes
    ----------
    R_coll, T_coll
        Reflected and transmitted of light along the normal.
    R_diff, T_diff
        Reflected and transmitted of light from the whole hemisphere evenly.
    """

    R_coll: Array
    T_coll: Array
    R_diff: Array
    T_diff: Array


def layer_of(scattering: ArrayLike, absorption: ArrayLike, g: float, n: float, thickness: float) -> Layer:
    """Return the layer of matter with the given scattering and absorption coefficients.

    Parameters
    ----------
    scattering, absorption
        µs and µa, 1/m.
    g, n
        As of `Layer`.
    thickness
        m.
    """
    scatter, absorb = np.asarray(scattering, np.float64), np.asarray(absorption, np.float64)
    extinction = scatter + absorb
    albedo = np.divide(scatter, extinction, out=np.zeros_like(extinction), where=extinction > 0.0)
    return Layer(albedo, extinction * thickness, g, n)


def slab(layers: Sequence[Layer], points: int = POINTS, roughness: float = 0.0) -> Flux:
    """Return what a stack of layers in air reflects and transmits.

    Parameters
    ----------
    layers
        From the lit side to the other; a layer's albedo and thickness may be arrays of one shape (…).
    points
        Directions in a hemisphere. 24 are good for 1e-4 with one layer and 4e-4 with layers of unlike index, 48 for
        1e-5 and 4e-5 (g up to 0.97).
    roughness
        Of the two outer faces, α of their facets.

    Returns
    -------
    Flux
        Four arrays of shape (…).

    Raises
    ------
    ValueError
        If there is no layer, or a layer is none that matter can have.
    """
    return _flux(*_whole(layers, points, roughness))


def _whole(layers: Sequence[Layer], points: int, roughness: float) -> tuple[Nodes, Response]:
    """Return the directions and the response of a stack, boundaries and all."""
    _check(layers)
    nodes = nodes_for([layer.n for layer in layers], points)
    whole = _face(nodes, layers[0].n, roughness)
    for layer, after in itertools.pairwise(layers):
        whole = add(add(whole, _layer(nodes, layer)), _boundary(nodes, layer.n, after.n))
    below, back, above, through = _face(nodes, layers[-1].n, roughness)
    return nodes, add(add(whole, _layer(nodes, layers[-1])), Response(above, through, below, back))


def _face(nodes: Nodes, n: float, roughness: float) -> Response:
    """Return the response of an outer boundary, air above."""
    if roughness < SMOOTH:
        return _boundary(nodes, 1.0, n)
    return _rough_face(nodes.s.tobytes(), nodes.share.tobytes(), n, roughness)


@lru_cache(maxsize=16)
def _rough_face(s: bytes, share: bytes, n: float, roughness: float) -> Response:
    """Return the response of a rough face, kept: slabs of one kind share it, and it takes as long as many of them."""
    return rough_response(np.frombuffer(s), np.frombuffer(share), 1.0, n, roughness)


def _check(layers: Sequence[Layer]) -> None:
    if not layers:
        raise ValueError("a stack without layers")
    for layer in layers:
        albedo, tau = np.asarray(layer.albedo), np.asarray(layer.tau)
        fits = np.all((albedo >= 0.0) & (albedo <= 1.0)) and np.all((tau >= 0.0) & np.isfinite(tau))
        if not fits or not abs(layer.g) < 1.0 or not layer.n >= 1.0:
            raise ValueError(f"no matter has albedo {albedo}, optical thickness {tau}, g {layer.g}, n {layer.n}")


def _boundary(nodes: Nodes, one: float, other: float) -> Response:
    """Return the response of a smooth boundary: every direction keeps to itself."""
    r = np.diag(reflectance(nodes.s, one, other))
    t = np.eye(len(nodes.s)) - r
    return Response(r, t, r, t)


def _layer(nodes: Nodes, layer: Layer) -> Response:
    """Return the response of a layer among all nodes; those that it has not are dark."""
    present, cosine, weight = cosines(nodes, layer.n)
    r, t = layer_response(layer.albedo, layer.tau, layer.g, cosine, weight)
    if not present.all():
        seat = np.eye(len(nodes.s))[:, present]
        r, t = seat @ r @ seat.T, seat @ t @ seat.T
    return Response(r, t, r, t)


def add(top: Response, bottom: Response) -> Response:
    """Return the response of one stack on another."""
    unit = np.eye(top.above.shape[-1])
    down = np.linalg.solve(unit - top.below @ bottom.above, top.through)
    up = np.linalg.solve(unit - bottom.above @ top.below, bottom.back)
    return Response(
        above=top.above + top.back @ bottom.above @ down,
        through=bottom.through @ down,
        below=bottom.below + bottom.through @ top.below @ up,
        back=top.back @ up,
    )


def _flux(nodes: Nodes, whole: Response) -> Flux:
    """Return the shares of flux that air gets back, on either side."""
    k = nodes.in_air
    c = np.sqrt(nodes.share[:k])
    normal = k - 1
    r, t = c @ whole.above[..., :k, :k], c @ whole.through[..., :k, :k]
    evenly = c / (c @ c)
    return Flux(r[..., normal] / c[normal], t[..., normal] / c[normal], r @ evenly, t @ evenly)


def slab_and_glow(
    layers: Sequence[Layer], cosine: float, points: int = POINTS, roughness: float = 0.0
) -> tuple[Flux, Array]:
    """Return the shares of `slab`, and how bright the lit side looks from aside, over a perfect white.

    Parameters
    ----------
    layers, points, roughness
        As of `slab`.
    cosine
        Of the angle between the normal, along which the light comes, and the eye; light and eye may change places
        (reciprocity). Below 1, so that the light mirrored by smooth faces is not seen.

    Returns
    -------
    Flux
        As of `slab`.
    ndarray
        Radiance factor of the light scattered back, π·L/E, of shape (…).

    Raises
    ------
    ValueError
        If there is no layer, or a layer is none that matter can have.
    """
    nodes, whole = _whole(layers, points, roughness)
    k = nodes.in_air
    c, normal = np.sqrt(nodes.share[:k]), k - 1
    angles = np.sqrt(1.0 - nodes.s[:normal] ** 2)
    factor = whole.above[..., :normal, normal] / (2.0 * c[:normal] * c[normal])
    return _flux(nodes, whole), factor @ _weights_at(angles, cosine)


def _weights_at(nodes: Array, x: float) -> Array:
    """Return the weights of Lagrange's cubic at x through the four nearest of ascending nodes, (n,)."""
    first = int(np.clip(np.searchsorted(nodes, x) - 2, 0, len(nodes) - 4))
    weights = np.zeros(len(nodes))
    for i in range(first, first + 4):
        others = np.delete(nodes[first : first + 4], i - first)
        weights[i] = np.prod((x - others) / (nodes[i] - others))
    return weights
