"""Matter mapped from a picture of a slice: transmittance at each pixel, turned into absorption and scattering.

T = linear value of the pixel / linear value of the bare light table. The inversion (`swatch.inverse`) takes the faces
as polished and each pixel as an endless slab of its own matter: light that wanders sideways between unlike pixels
softens the picture by about a thickness, which is already in a photograph and comes once more when it is traced.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.setup import Map, Material, Setup, Slab, Subject
from throughlight.setup.pictures import decoded, linear_picture
from throughlight.setup.subject_solids import insider
from throughlight.swatch.inverse import FLOOR, Kind, coefficients_for

Texels = NDArray[np.float32]


class Mapped(NamedTuple):
    """The pixels of mapped matter.

    Attributes
    ----------
    absorption, scattering
        (rows, columns, 3) float32, µa and µs (not reduced), 1/m, row 0 at the top.
    most
        Largest extinction of any band anywhere, 1/m.
    width, height
        Size of the picture on the slice, m.
    dark, bright
        Largest share among the bands of pixels that pass no more than the inversion believes, or more than clear
        matter would.
    """

    absorption: Texels
    scattering: Texels
    most: float
    width: float
    height: float
    dark: float
    bright: float

    @property
    def doubts(self) -> list[str]:
        """Sentences about pixels that could not be told."""
        return _sentences(self.dark, self.bright)


def _sentences(dark: float, bright: float) -> list[str]:
    said = []
    if dark > 0.0:
        said.append(
            f"{dark:.1%} of the map is {-np.log2(FLOOR):.0f} stops or more under the bare light table: "
            "taken as that dark, it may be darker"
        )
    if bright > 0.0:
        said.append(
            f"{bright:.1%} of the map is brighter than a clear plate would be: taken as clear; "
            'is "bare" what the light table reads beside the slice?'
        )
    return said


def passed(map: Map) -> NDArray[np.float64]:
    """Return the transmittance of each pixel of a map, (rows, columns, 3), at most 1.

    Raises
    ------
    PydanticCustomError
        When the picture can no longer be read.
    """
    light = linear_picture(map.picture, map.encoding)
    return np.minimum(light / decoded(map.bare, map.encoding), 1.0)


def mapped(material: Material, thickness: float) -> Mapped:
    """Return what each pixel of a mapped material is made of.

    Parameters
    ----------
    material
        One with a map; its own scattering is what the matter has where it is not clearer than that.
    thickness
        Of the body, m, which counts when the map does not say the slice's own.

    Returns
    -------
    Mapped
        Coefficients by pixel and band; at most 1024 pixels along the longer side, finer pictures averaged in
        transmittance.

    Raises
    ------
    ValueError
        If the material has no map.
    PydanticCustomError
        When the picture can no longer be read.
    """
    if material.map is None:
        raise ValueError(f"{material.name} has no map")
    slice_thickness = thickness if material.map.thickness is None else material.map.thickness
    share = passed(material.map)
    absorption, scattering = np.empty(share.shape, np.float32), np.empty(share.shape, np.float32)
    dark, bright = 0.0, 0.0
    for band, reduced in enumerate(material.reduced_scattering):
        matter = coefficients_for(
            share[..., band], Kind(reduced, material.g, material.n), slice_thickness, material.map.seen
        )
        absorption[..., band] = matter.absorption
        scattering[..., band] = matter.reduced_scattering / (1.0 - material.g)
        dark, bright = max(dark, matter.dark), max(bright, matter.bright)
    width, rows, columns = material.map.width, *share.shape[:2]
    height = width * rows / columns if material.map.height is None else material.map.height
    most = float((absorption + scattering).max()) * (1.0 + 1e-6)
    return Mapped(absorption, scattering, most, width, height, dark, bright)


def map_doubts(setup: Setup) -> list[str]:
    """Return a sentence, begun with the subject's name, about each map whose pixels could not all be told.

    Of a slab's map only what lies within the outline counts: beside it the picture shows the bare light table.

    Parameters
    ----------
    setup
        The checked set.
    """
    said = []
    for subject in setup.subjects:
        if subject.material is not None and subject.material.map is not None:
            said += [f"{subject.name}: {words}" for words in _doubts(subject.material, subject.material.map, subject)]
    return said


def _doubts(material: Material, map: Map, subject: Subject) -> list[str]:
    share, thickness = passed(map), map.thickness
    if isinstance(subject.shape, Slab):
        share = share[_within(subject.shape, map, share.shape[0], share.shape[1])]
        thickness = subject.shape.thickness if thickness is None else thickness
    if thickness is None or share.size == 0:
        return []
    matter = [
        coefficients_for(share[..., band], Kind(reduced, material.g, material.n), thickness, map.seen)
        for band, reduced in enumerate(material.reduced_scattering)
    ]
    return _sentences(max(one.dark for one in matter), max(one.bright for one in matter))


def _within(shape: Slab, map: Map, rows: int, columns: int) -> NDArray[np.bool_]:
    """Return which pixels (rows, columns) have their middle within a slab's outline."""
    height = map.width * rows / columns if map.height is None else map.height
    x = ((np.arange(columns) + 0.5) / columns - 0.5) * map.width
    y = (0.5 - (np.arange(rows) + 0.5) / rows) * height
    across, up = np.meshgrid(x, y)
    places = np.stack([across.ravel(), up.ravel(), np.zeros(rows * columns)], axis=1)
    return insider(shape)(places, 0.0).reshape(rows, columns)
