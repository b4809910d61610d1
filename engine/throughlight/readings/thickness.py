"""How many stops a piece takes at any thickness, with its 95 % band, and what a laboratory would say of it.

The middle is what the kit entry gives; the band is that of matter as the readings leave it open. Of all light together
(ITU-R BT.709 weights) the band takes the three bands as off to the same side at once, which is the widest it can be.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from throughlight.readings.piece import PieceReading
from throughlight.swatch.adding_doubling import Flux, layer_of, slab
from throughlight.swatch.inverse import unscattered
from throughlight.swatch.rough import SMOOTH
from throughlight.swatch.slabs import Optics, moved, points_for

Array = NDArray[np.float64]

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Weights of red, green and blue in luminance (ITU-R BT.709)."""
STOP_IN_DENSITY = float(np.log10(2.0))
"""Optical density of one stop, 0.30103."""
_SOME = 4  # one draw of so many is enough for the ends of an interval of words


class Losses(NamedTuple):
    """Stops less with a piece in front of an even light, seen straight on.

    Attributes
    ----------
    thickness
        (t,) m.
    whole
        (t, 3) of all light: middle, low, high.
    bands
        (b, t, 3) of each band; one for matter that is the same in all.
    """

    thickness: Array
    whole: Array
    bands: Array


def losses(reading: PieceReading, thickness: ArrayLike) -> Losses:
    """Return the stops that a piece takes at some thicknesses.

    Parameters
    ----------
    reading
        Its matter.
    thickness
        (t,) m.
    """
    d = np.atleast_1d(np.asarray(thickness, np.float64))
    bands = np.stack([_band(reading, i, d) for i in range(len(reading.beliefs))])
    if len(bands) == 1:
        return Losses(d, bands[0], bands)
    whole = -np.log2(np.tensordot(LUMINANCE, np.exp2(-bands), 1))
    return Losses(d, whole, bands)


def _band(reading: PieceReading, band: int, d: Array) -> Array:
    belief, slabs = reading.beliefs[band], reading.slabs
    scatter, absorb = belief.best
    middle = slabs.stops_less("light table", scatter * d, absorb * d)
    low, high = np.quantile(drawn_losses(reading, band, d), (0.025, 0.975), axis=0)
    return np.stack([middle, np.minimum(low, middle), np.maximum(high, middle)], axis=1)


def drawn_losses(reading: PieceReading, band: int, thickness: Array) -> Array:
    """Return the stops that each equally likely matter of a band takes, (draws, t), at thicknesses (t,) in m."""
    belief, slabs = reading.beliefs[band], reading.slabs
    scatter, absorb = belief.draws[:, :1] * thickness, belief.draws[:, 1:] * thickness
    leans = slabs.lean("light table", scatter, absorb)
    middle = slabs.stops_less("light table", scatter, absorb)
    return np.asarray(np.maximum(middle + np.einsum("mk,kmt->mt", belief.moves, leans), 0.0))


class Lab(NamedTuple):
    """Laboratory words for a piece of one thickness, each (3,): red, green, blue.

    Attributes
    ----------
    transmittance, diffuse
        Total, and the part of it that is spread, of light along the normal. Rough faces spread all of it.
    reflectance
        Total, both faces and the inside.
    density
        −log10 of the total transmittance.
    scattering
        µs, 1/m.
    """

    transmittance: Array
    diffuse: Array
    reflectance: Array
    density: Array
    scattering: Array


def lab(reading: PieceReading, thickness: float) -> Lab:
    """Return laboratory words for a piece as its entry has it, `thickness` in m."""
    material = reading.material
    scatter, absorb = np.array(material.scattering), np.array(material.absorption)
    flux = slab(
        [layer_of(scatter, np.maximum(absorb, 1e-7 / thickness), material.g, material.n, thickness)],
        roughness=material.roughness,
    )
    spread = _diffuse(flux.T_coll, scatter, absorb, material.n, material.roughness, thickness)
    return Lab(flux.T_coll, spread, flux.R_coll, -np.log10(flux.T_coll), scatter)


def lab_ends(reading: PieceReading, thickness: float) -> tuple[Lab, Lab]:
    """Return the lower and the upper ends of the 95 % intervals of laboratory words, `thickness` in m.

    Of the reflectance those of the optics that are unsure are told as they are at the middle.
    """
    drawn = [_drawn_words(reading, band, thickness) for band in range(len(reading.beliefs))]
    ends = np.stack([np.quantile(one, (0.025, 0.975), axis=1) for one in drawn], axis=-1)  # (2, word, band)
    middle = np.stack(lab(reading, thickness))[:, : len(drawn)]
    low, high = np.minimum(ends[0], middle), np.maximum(ends[1], middle)
    return Lab(*low), Lab(*high)


def _drawn_words(reading: PieceReading, band: int, thickness: float) -> Array:
    """Return the laboratory words of matter as likely as each other, (word, draws)."""
    belief, optics = reading.beliefs[band], reading.slabs.optics
    stops = drawn_losses(reading, band, np.array([thickness]))[::_SOME, 0]
    (reduced, absorb), moves = belief.draws[::_SOME].T, belief.moves[::_SOME]
    asymmetry = np.full(len(stops), optics.g)
    if 0 in reading.slabs.unsure:
        asymmetry += reading.piece.unsure[0] * moves[:, reading.slabs.unsure.index(0)]
    scatter, passed = reduced / (1.0 - np.clip(asymmetry, -0.95, 0.95)), np.exp2(-stops)
    central = reduced / (1.0 - optics.g)
    reflected = _slabs(central, absorb, optics, thickness).R_coll + moves @ _reflectance_leans(reading, band, thickness)
    spread = _diffuse(passed, scatter, absorb, optics.n, optics.roughness, thickness)
    return np.stack([passed, spread, np.clip(reflected, 0.0, 1.0), stops * STOP_IN_DENSITY, scatter])


def _reflectance_leans(reading: PieceReading, band: int, thickness: float) -> Array:
    """Return how much more is given back for a standard deviation more of each unsure optic."""
    (reduced, absorb), slabs = reading.beliefs[band].best, reading.slabs
    leans = []
    for which in slabs.unsure:
        ends = [moved(slabs.optics, which, sign * reading.piece.unsure[which]) for sign in (-1.0, 1.0)]
        low, high = (
            _slabs(np.array([reduced / (1.0 - one.g)]), np.array([absorb]), one, thickness).R_coll[0] for one in ends
        )
        leans.append((high - low) / (ends[1][which] - ends[0][which]) * reading.piece.unsure[which])
    return np.array(leans)


def _slabs(scatter: Array, absorb: Array, optics: Optics, thickness: float) -> Flux:
    layer = layer_of(scatter, np.maximum(absorb, 1e-7 / thickness), optics.g, optics.n, thickness)
    return slab([layer], points_for(optics.g), optics.roughness)


def _diffuse(passed: Array, scatter: Array, absorb: Array, n: float, roughness: float, thickness: float) -> Array:
    """Return the part of what passes that does not go straight on."""
    if roughness >= SMOOTH:
        return passed
    straight = unscattered(scatter + absorb, n, thickness)
    return np.where(scatter > 0.0, np.maximum(passed - straight, 0.0), 0.0)
