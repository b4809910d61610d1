"""How many stops a piece takes at any thickness, with its 95 % band, and what a laboratory would say of it.

The middle is what the kit entry gives; the band is that of matter as the readings leave it open. Of all light together
(ITU-R BT.709 weights) the band takes the three bands as off to the same side at once, which is the widest it can be.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from throughlight.readings.piece import PieceReading
from throughlight.swatch.adding_doubling import layer_of, slab
from throughlight.swatch.inverse import unscattered

Array = NDArray[np.float64]

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Weights of red, green and blue in luminance (ITU-R BT.709)."""
STOP_IN_DENSITY = float(np.log10(2.0))
"""Optical density of one stop, 0.30103."""


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
        Total, and the part of it that is spread, of light along the normal.
    reflectance
        Total, both faces and the inside.
    density
        −log10 of the total transmittance.
    """

    transmittance: Array
    diffuse: Array
    reflectance: Array
    density: Array


def lab(reading: PieceReading, thickness: float) -> Lab:
    """Return laboratory words for a piece, `thickness` in m."""
    material = reading.material
    scatter, absorb = np.array(material.scattering), np.array(material.absorption)
    flux = slab(
        [layer_of(scatter, np.maximum(absorb, 1e-7 / thickness), material.g, material.n, thickness)],
        roughness=material.roughness,
    )
    straight = unscattered(scatter + absorb, material.n, thickness)
    spread = np.where(scatter > 0.0, np.maximum(flux.T_coll - straight, 0.0), 0.0)
    return Lab(flux.T_coll, spread, flux.R_coll, -np.log10(flux.T_coll))
