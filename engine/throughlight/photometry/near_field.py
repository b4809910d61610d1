"""Light on the axis of a face, as near to it as one likes: illuminance of a small receptor that faces it.

With radiance L₀·cos^(k−1)θ about each point's normal the receptor at distance d gets

    E = ∫ L₀ · cos^kθ_face · cosθ_receptor / s² dA.

A disc has a closed form. A rectangle keeps one angle, a tube two, for Gauss–Legendre quadrature (smooth integrands:
128 nodes a direction leave errors under 1e-9). Far away all become E = I₀/d². Whatever a flat face's profile is, with
R its relative intensity and θ_e(φ) where its edge stands as seen from the receptor,

    E = L · ∫ dφ ∫₀^θ_e(φ) R(θ, φ)·sinθ dθ.
"""

from __future__ import annotations

import functools
import math

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry.profiles import Profile

NODES = 128
_FINE = 4096


@functools.cache
def _legendre() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return nodes and weights on 0..1."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    return 0.5 * (nodes + 1.0), 0.5 * weights


def disc_illuminance(luminance: float, diameter: float, distance: float, exponent: float) -> float:
    """Return E, lx·s, at `distance` m on the axis of a disc: 2πL₀/(k+1) · [1 − (d²/(r²+d²))^((k+1)/2)].

    For k = 1 this is Howell's configuration factor B-12 times π·L₀.
    """
    power = 0.5 * (exponent + 1.0)
    # expm1 keeps full precision far away, where the bracket is a small difference.
    shortfall = -math.expm1(-power * math.log1p((0.5 * diameter / distance) ** 2))
    return math.pi * luminance / power * shortfall


def rectangle_illuminance(luminance: float, width: float, height: float, distance: float, exponent: float) -> float:
    """Return E, lx·s, at `distance` m on the axis of a rectangle of `width` by `height` m.

    Radially the integral is the disc's; round the rim it is E = L₀/(k+1)·∫ [1 − (d²/(d²+ρ²))^((k+1)/2)] dφ with
    ρ(φ) the distance to the edge. For k = 1 this is four times Howell's configuration factor B-4 times π·L₀.
    """
    half_w, half_h = 0.5 * width, 0.5 * height
    rim = _toward_edge(half_w, half_h, distance, exponent) + _toward_edge(half_h, half_w, distance, exponent)
    return luminance / (exponent + 1.0) * 4.0 * rim


def _toward_edge(to_edge: float, half_edge: float, distance: float, exponent: float) -> float:
    """Integrate the bracket over the angles from an edge's middle to its end.

    The place along the edge is to_edge·sinh(t): it follows the bend of a long edge near its middle and keeps its far
    end smooth.
    """
    nodes, weights = _legendre()
    last = math.asinh(half_edge / to_edge)
    t = last * nodes
    rho = to_edge * np.cosh(t)
    bracket = -np.expm1(-0.5 * (exponent + 1.0) * np.log1p((rho / distance) ** 2))
    return float(np.sum(weights * bracket / np.cosh(t)) * last)


def profiled_disc_illuminance(profile: Profile, diameter: float, distance: float) -> float:
    """Return E, lx·s, on the axis of a disc of any profile whose luminance is 1 where the profile is 1."""
    columns = 1 if profile.table is None else profile.table.shape[1]
    turns = 2.0 * math.pi * np.arange(columns) / columns
    edge = math.atan(0.5 * diameter / distance)
    return float(2.0 * math.pi * np.mean(profile.within(edge, turns)))


def profiled_rectangle_illuminance(profile: Profile, width: float, height: float, distance: float) -> float:
    """Return E, lx·s, on the axis of a rectangle of any profile whose luminance is 1 where the profile is 1.

    By the midpoint rule round the turn between the corners: tables have kinks, which finer rules don't like.
    """
    total = 0.0
    corner = math.atan2(height, width)
    for middle, half, to_edge in (
        (0.0, corner, 0.5 * width),
        (0.5 * math.pi, 0.5 * math.pi - corner, 0.5 * height),
        (math.pi, corner, 0.5 * width),
        (1.5 * math.pi, 0.5 * math.pi - corner, 0.5 * height),
    ):
        aside = half * ((2.0 * np.arange(_FINE) + 1.0) / _FINE - 1.0)
        edge = np.arctan(to_edge / np.cos(aside) / distance)
        total += float(np.mean(profile.within(edge, middle + aside))) * 2.0 * half
    return total


def side_on_factor(exponent: float) -> float:
    """Return I₀/(L₀·length·diameter) of a tube seen side-on: ½∫cos^kφ dφ over the near half, 1 for k = 1."""
    return 0.5 * math.sqrt(math.pi) * math.exp(math.lgamma(0.5 * exponent + 0.5) - math.lgamma(0.5 * exponent + 1.0))


def tube_illuminance(luminance: float, length: float, diameter: float, distance: float, exponent: float) -> float:
    """Return E, lx·s, `distance` m from the axis of a tube, beside its middle, facing it.

    Its ends give no light. For k = 1 this is twice Howell's configuration factor B-31 times π·L₀.

    Raises
    ------
    ValueError
        If the receptor would stand inside the tube.
    """
    radius, half = 0.5 * diameter, 0.5 * length
    if distance <= radius:
        raise ValueError(f"{distance:g} m from the axis is inside a tube of {diameter:g} m diameter")
    nodes, weights = _legendre()
    last_phi = math.acos(radius / distance)  # beyond it the skin turns away
    phi = (last_phi * nodes)[:, None]
    gap_squared = distance**2 + radius**2 - 2.0 * distance * radius * np.cos(phi)
    last_alpha = np.arctan(half / np.sqrt(gap_squared))  # elevation of the tube's end, seen from the receptor
    alpha = last_alpha * nodes[None, :]
    along = np.sum(weights * np.cos(alpha) ** (exponent + 1.0), axis=1, keepdims=True) * last_alpha
    toward = (distance * np.cos(phi) - radius) ** exponent * (distance - radius * np.cos(phi))
    skin = toward / gap_squared ** (0.5 * exponent + 1.0) * along
    return float(4.0 * luminance * radius * last_phi * np.sum(weights[:, None] * skin))
