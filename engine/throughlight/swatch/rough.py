"""What a rough boundary between two media does with light, direction by direction: facets that reflect and refract.

The boundary is made of smooth facets whose normals follow the GGX distribution of Walter, Marschner, Li and Torrance
(EGSR 2007); from each direction those are drawn that are seen from there (Heitz 2018, JCGT 7:4), on an even net. What
would meet a second facet leaves all the same, as a reciprocal lobe that gives back just what is lost (Kulla and Conty,
SIGGRAPH 2017 course); what little the net itself loses or gains is scaled away, rows and columns alike (R. Sinkhorn,
Ann. Math. Stat. 35:876, 1964). Azimuth is averaged out.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from throughlight.swatch.layer import Response

Array = NDArray[np.float64]

SMOOTH = 1e-3
"""Roughness below which a boundary counts as smooth."""
_NET = 24  # facets along each side of the net
_ROUNDS = 100


@lru_cache(maxsize=32)
def _net() -> tuple[Array, Array]:
    u, v = np.meshgrid((np.arange(_NET) + 0.5) / _NET, (np.arange(_NET) + 0.5) / _NET)
    return u.ravel(), v.ravel()


def rough_response(s: Array, share: Array, one: float, other: float, roughness: float) -> Response:
    """Return the response of a rough boundary among directions.

    Parameters
    ----------
    s, share
        (k,) n·sin θ of the directions, and their parts of a flux (`Nodes`).
    one, other
        Refractive indices above and below.
    roughness
        α of the facets, above `SMOOTH`.
    """
    k, weight = len(s), np.sqrt(np.concatenate([share, share]))
    flux, present = np.zeros((2 * k, 2 * k)), np.concatenate([s < one, s < other])
    for side, (here, there) in enumerate(((one, other), (other, one))):
        for seat in np.flatnonzero(s < here):
            back, onward = _spread(float(s[seat]), s, here, there, roughness)
            own, far = (slice(0, k), slice(k, 2 * k)) if side == 0 else (slice(k, 2 * k), slice(0, k))
            flux[own, side * k + seat], flux[far, side * k + seat] = back, onward
    amplitude = flux * weight / weight[:, None]
    amplitude = 0.5 * (amplitude + amplitude.T)
    lost = np.maximum(np.where(present, weight - weight @ amplitude, 0.0), 0.0)
    amplitude += np.outer(lost, lost) / max(float(weight @ lost), 1e-12)
    scale = present.astype(np.float64)
    for _ in range(_ROUNDS):
        reached = amplitude @ (scale * weight)
        scale = np.sqrt(scale * np.divide(weight, reached, out=np.zeros_like(weight), where=reached > 0.0))
    whole = scale[:, None] * amplitude * scale
    whole[np.diag_indices(2 * k)] += ~present  # what has no such direction sends back what it never gets
    return Response(whole[:k, :k], whole[k:, :k], whole[k:, k:], whole[:k, k:])


def _spread(start: float, s: Array, here: float, there: float, roughness: float) -> tuple[Array, Array]:
    """Return what light along n·sin θ = `start` gives to each direction, of the same side and of the other."""
    sine = min(start / here, 1.0)
    into = np.array([sine, 0.0, np.sqrt(max(1.0 - sine * sine, 1e-12))])
    facet = _facets(into, roughness)
    c = facet @ into
    ratio = here / there
    inside = 1.0 - ratio**2 * (1.0 - c**2)
    onward_c = np.sqrt(np.maximum(inside, 0.0))
    across, along = (
        (here * c - there * onward_c) / (here * c + there * onward_c),
        ((there * c - here * onward_c) / (there * c + here * onward_c)),
    )
    fresnel = np.where(inside > 0.0, 0.5 * (across**2 + along**2), 1.0)
    mirrored = 2.0 * c * facet[:, 2] - into[2]
    refracted = ratio * into[2] - (ratio * c - onward_c) * facet[:, 2]  # cosine with the normal on the far side
    return (
        _deposited(mirrored, fresnel * _seen(mirrored, roughness), s, here),
        _deposited(refracted, (1.0 - fresnel) * _seen(refracted, roughness), s, there),
    )


def _facets(into: Array, roughness: float) -> Array:
    """Return normals of facets as seen from a direction, (net², 3)."""
    u, v = _net()
    stretched = np.array([roughness * into[0], 0.0, into[2]])
    stretched /= np.linalg.norm(stretched)
    side = np.array([0.0, 1.0, 0.0])
    upward = np.cross(stretched, side)
    radius, angle = np.sqrt(u), 2.0 * np.pi * v
    a, b = radius * np.cos(angle), radius * np.sin(angle)
    lean = 0.5 * (1.0 + stretched[2])
    b = (1.0 - lean) * np.sqrt(np.maximum(1.0 - a * a, 0.0)) + lean * b
    height = np.sqrt(np.maximum(1.0 - a * a - b * b, 0.0))
    normal = a[:, None] * side + b[:, None] * upward + height[:, None] * stretched
    normal[:, :2] *= roughness
    normal[:, 2] = np.maximum(normal[:, 2], 1e-9)
    return np.asarray(normal / np.linalg.norm(normal, axis=1)[:, None])


def _seen(cosine: Array, roughness: float) -> Array:
    """Return the share of facets that see a direction (Smith's G₁ for GGX); 0 for one on the wrong side."""
    c = np.maximum(cosine, 1e-9)
    tangent = np.maximum(1.0 - c * c, 0.0) / (c * c)
    return np.where(cosine > 0.0, 2.0 / (1.0 + np.sqrt(1.0 + roughness**2 * tangent)), 0.0)


def _deposited(cosine: Array, weight: Array, s: Array, index: float) -> Array:
    """Return weights by direction, each shared between the two directions that it lies between."""
    seats = np.flatnonzero(s < index)
    nodes = np.sqrt(1.0 - (s[seats] / index) ** 2)
    order = np.argsort(nodes)
    place = np.interp(np.clip(cosine, 0.0, 1.0), nodes[order], np.arange(len(nodes), dtype=np.float64))
    low = np.minimum(place.astype(np.int64), len(nodes) - 2)
    high_share = place - low
    sums = np.bincount(low, weight * (1.0 - high_share), len(nodes))
    sums += np.bincount(low + 1, weight * high_share, len(nodes))
    found = np.zeros(len(s))
    found[seats[order]] = sums / len(cosine)
    return found
