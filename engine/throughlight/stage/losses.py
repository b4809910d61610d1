"""Tables of what rough boundaries, metals and glossy skins lose to second facets, laid out as `optics.losses` says.

The share E(μ) that single scattering keeps is an integral over the facets visible from μ. Those are spread evenly over
a spherical cap (Dupuy and Benyoub 2023, "Sampling Visible GGX Normals with Spherical Caps"), so E is the mean over that
cap of what each facet sends past the others: F·G₁(reflected) + (1 − F)·G₁(refracted). The points are a Fibonacci
lattice (Sloan and Joe 1994, Lattice Methods for Multiple Integration), whose error here is about 1e-4: no two of them
lie at one height, so that the sharp onset of total reflection, which may run along a height, does little harm.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from functools import cache, lru_cache

import numpy as np

from throughlight.optics.losses import GLOSS_HEAD, METAL_HEAD, NODES, SKIN_HEAD
from throughlight.stage.curves import Curves
from throughlight.stage.frames import Array

Bands = tuple[float, float, float]

_POINTS, _STEP = 10946, 6765
"""Points on the cap and the step round it from one to the next: neighbours in Fibonacci's sequence."""

_LEAST = 1e-7
"""A mean loss under this is none: nothing to give back."""


def nodes() -> Array:
    """Return the cosines at which curves are tabulated."""
    return np.linspace(0.0, 1.0, NODES) ** 2


@cache
def _lattice() -> tuple[Array, Array, Array]:
    """Return heights in (0, 1) and the cosines and sines of the turns of the points."""
    i = np.arange(_POINTS)
    turn = 2.0 * math.pi * (i * _STEP % _POINTS) / _POINTS
    return (i + 0.5) / _POINTS, np.cos(turn), np.sin(turn)


def _visible(mu: float, alpha: float) -> tuple[Array, Array]:
    """Return (w·m, cosine of m) of facets m evenly drawn from those visible from w at the cosine mu."""
    height, cosine, sine = _lattice()
    sin_w = math.sqrt((1.0 - mu) * (1.0 + mu))
    length = math.hypot(alpha * sin_w, mu)
    across, up = alpha * sin_w / length, mu / length
    z = (1.0 + up) * height
    ring = np.sqrt((1.0 - z + up) * (1.0 + z - up))
    x, y = alpha * (across + ring * cosine), alpha * ring * sine
    size = 1.0 / np.sqrt(x * x + y * y + z * z)
    return np.minimum((sin_w * x + mu * z) * size, 1.0), z * size


def _unhidden(cosine: Array, alpha: float) -> Array:
    """Return Smith's G₁; 0 for directions on the wrong side."""
    z: Array = np.maximum(cosine, 0.0)
    return 2.0 * z / (z + np.sqrt(z * z + alpha**2 * (1.0 - z) * (1.0 + z)))


def _scattered(mu: float, eta: float, alpha: float) -> tuple[float, float]:
    """Return the shares reflected and refracted at one cosine; eta is n_i/n_t."""
    c, upright = _visible(mu, alpha)
    beyond = np.sqrt(np.maximum((1.0 - eta) * (1.0 + eta) + (eta * c) ** 2, 0.0))  # cosine of refraction
    s, p = (eta * c - beyond) / (eta * c + beyond), (c - eta * beyond) / (c + eta * beyond)
    reflectance = (s * s + p * p) / 2.0
    up = _unhidden(2.0 * c * upright - mu, alpha)
    down = _unhidden(eta * mu - (eta * c - beyond) * upright, alpha)
    return float(np.mean(reflectance * up)), float(np.mean((1.0 - reflectance) * down))


def scattered_once(mu: Array, n_i: float, n_t: float, alpha: float) -> tuple[Array, Array]:
    """Return the shares (reflected, refracted) that one meeting with GGX facets sends on.

    Parameters
    ----------
    mu
        Cosines of incidence, on n_i's side.
    n_i, n_t, alpha
        Index on that side and beyond; GGX roughness, > 0.

    Returns
    -------
    tuple of arrays
        As long as `mu`; both together are at most 1.
    """
    shares = np.array([_scattered(float(cosine), n_i / n_t, alpha) for cosine in mu])
    return shares[:, 0], shares[:, 1]


def mirrored_once(mu: Array, alpha: float) -> Array:
    """Return the share that one meeting with GGX facets of reflectance 1 sends on, by cosine of incidence."""

    def kept(cosine: float) -> float:
        c, upright = _visible(cosine, alpha)
        return float(np.mean(_unhidden(2.0 * c * upright - cosine, alpha)))

    return np.array([kept(float(cosine)) for cosine in mu])


def mean(curve: Array) -> float:
    """Return 2∫l·μ dμ of a tabulated curve, exactly for one that is straight in s = √μ: 4∫l·s³ ds."""
    s = np.linspace(0.0, 1.0, NODES)
    a, b = s[:-1], s[1:]
    cubic, quartic = (b**4 - a**4) / 4.0, (b**5 - a**5) / 5.0
    slope = np.diff(curve) / (b - a)
    return float(4.0 * np.sum((curve[:-1] - slope * a) * cubic + slope * quartic))


def _lost(kept: Array) -> Array:
    return np.clip(1.0 - kept, 0.0, 1.0)


@lru_cache(maxsize=256)
def _lost_from_both(n_i: float, n_t: float, alpha: float) -> tuple[Array, Array]:
    """Return l on both sides; n_i < n_t, since the other order asks for the same two curves."""
    here = _lost(np.add(*scattered_once(nodes(), n_i, n_t, alpha)))
    return here, _lost(np.add(*scattered_once(nodes(), n_t, n_i, alpha)))


def skin_curve(n_i: float, n_t: float, alpha: float) -> Array:
    """Return the table of a rough boundary met from n_i's side, n_t beyond; empty when it loses nothing.

    With L = 2∫l·μ dμ of each side the lobe's c is n²/Σ n²·L of the side it leaves on: f/n² is then reciprocal, and all
    directions of both sides get l(μ_i).
    """
    low, high = _lost_from_both(min(n_i, n_t), max(n_i, n_t), alpha)
    here, beyond = (low, high) if n_i < n_t else (high, low)
    total = n_i**2 * mean(here) + n_t**2 * mean(beyond)
    if n_i == n_t or total <= _LEAST:
        return np.zeros(0)
    head = (n_i**2 / total, n_t**2 / total, n_i**2 * mean(here) / total)
    assert len(head) == SKIN_HEAD
    return np.concatenate([head, here, beyond])


def _diffuse(n: float, k: float) -> float:
    """Return the reflectance 2∫F·μ dμ of a metal n + ik for diffuse light (Fresnel: Born and Wolf 1999, §14.2)."""
    x, w = np.polynomial.legendre.leggauss(64)
    mu = (x + 1.0) / 2.0
    index = complex(n, k) ** 2
    bent = np.sqrt(index - (1.0 - mu) * (1.0 + mu))  # index times the cosine of refraction
    s, p = (mu - bent) / (mu + bent), (index * mu - bent) / (index * mu + bent)
    return float(np.sum(w * mu * (np.abs(s) ** 2 + np.abs(p) ** 2) / 2.0))


@lru_cache(maxsize=256)
def metal_curve(alpha: float, n: Bands, k: Bands) -> Array:
    """Return the table of a rough metal; empty when it is polished or loses nothing.

    Light that meets a second facet has been reflected once, is reflected again, and then leaves with the chance 1 − L
    or meets another: F̄²·(1 − L)·Σ (F̄·L)ʲ = F̄²·(1 − L)/(1 − F̄·L) of what a metal of F = 1 gives back, with F̄ the
    reflectance for diffuse light (2∫F·μ dμ) and L = 2∫l·μ dμ. Source: Kulla and Conty 2017, p. 14, with the first
    meeting's F̄ kept apart.

    Parameters
    ----------
    alpha
        GGX roughness.
    n, k
        Complex index n + ik by band.
    """
    if alpha <= 0.0:
        return np.zeros(0)
    lost = _lost(mirrored_once(nodes(), alpha))
    whole = mean(lost)
    if whole <= _LEAST:
        return np.zeros(0)
    diffuse = np.array([_diffuse(*index) for index in zip(n, k, strict=True)])
    head = diffuse**2 * (1.0 - whole) / (1.0 - diffuse * whole) / whole
    assert len(head) == METAL_HEAD
    return np.concatenate([head, lost])


@lru_cache(maxsize=256)
def gloss_curve(n: float, alpha: float) -> Array:
    """Return the table of a rough clear skin over a matte ground; empty for a polished one, which needs none.

    T(μ) is what enters, the lobe's share included, and inside R_int = 1 − T̄/n² is sent back (étendue).
    """
    skin = skin_curve(1.0, n, alpha) if alpha > 0.0 else np.zeros(0)
    if not skin.size:
        return skin
    reflected, _ = scattered_once(nodes(), 1.0, n, alpha)
    lost = skin[SKIN_HEAD : SKIN_HEAD + NODES]
    enters = 1.0 - reflected - skin[2] * lost
    head = [1.0 - mean(enters) / n**2]
    assert len(head) == GLOSS_HEAD
    return np.concatenate([head, enters, skin])


_MOST = 24
"""Media of which every two may meet: 300 pairs take half a minute."""


def add_skins(
    curves: Curves, media: Sequence[tuple[float, float]], meeting: Collection[tuple[int, int]] | None = None
) -> np.ndarray:
    """Add the skins of a set and return where they stand.

    Parameters
    ----------
    curves
        Takes the tables.
    media
        (index, GGX roughness) of each medium. Where two meet, the roughness is that of the higher row, whose body's
        face it is; air gives way to all.
    meeting
        Pairs of rows (lower, higher) that may touch; None: all. Every medium may touch air.

    Returns
    -------
    array
        (media + 1, media + 1) int64: places by 1 + row on the incident side and beyond, 0 for air; 0: no skin.

    Raises
    ------
    ValueError
        When too many media might all meet each other.
    """
    if meeting is None and len(media) > _MOST:
        raise ValueError(f"{len(media)} media that may all meet; say which do")
    skins = np.zeros((len(media) + 1, len(media) + 1), np.int64)
    indices = [1.0, *(n for n, _ in media)]
    for high in range(1, len(indices)):
        for low in range(high):
            if low > 0 and meeting is not None and (low - 1, high - 1) not in meeting:
                continue
            alpha = media[high - 1][1]
            if alpha > 0.0 and indices[low] != indices[high]:
                skins[low, high] = curves.add(skin_curve(indices[low], indices[high], alpha))
                skins[high, low] = curves.add(skin_curve(indices[high], indices[low], alpha))
    return skins


def skin_tables(media: Sequence[tuple[float, float]]) -> tuple[Array, np.ndarray]:
    """Return (curves, skins) of media given by (index, roughness), as `add_skins` makes them."""
    curves = Curves()
    skins = add_skins(curves, media)
    return curves.table(), skins
