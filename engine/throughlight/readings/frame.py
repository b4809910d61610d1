"""From tallies to exposures: what the sums of a trace mean on the sensor, replicate by replicate.

A frame is image-forming light from all heads, plus room light over the shutter time, plus veil. The veil is spread
evenly: the equivalent veiling luminance g/π · E of the light that the front element receives, from inside and outside
the picture angle (ISO 9358's index g; a uniform surround gives back g).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry.exposure import image_exposure
from throughlight.photometry.field import magnification
from throughlight.photometry.veil import veiling_luminance
from throughlight.setup import Camera
from throughlight.trace.driver import Tally, Target
from throughlight.trace.tables import Region

Array = NDArray[np.float64]

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Weights of the BT.709 bands in luminance (ITU-R BT.709)."""


def luminance(bands: Array) -> Array:
    """Return the luminance-weighted sum over the last axis, which holds the three bands."""
    weighted: Array = bands @ LUMINANCE
    return weighted


def exposure_per_luminance(camera: Camera) -> float:
    """Return lx·s on the sensor's centre for one cd·s/m² of a uniform field."""
    m = magnification(camera.focal, camera.focus)
    return image_exposure(1.0, 1.0, camera.f_number, m, camera.pupil_magnification, camera.transmittance)


def illuminance_per_luminance(camera: Camera) -> float:
    """Return lx·s on the front element for a mean of 1 cd·s/m² × falloff over the frame, sr.

    A film element dA at the distance d fills cos θ_film·dA/d² of the lens's outlook, and its light falls on the lens by
    cos θ_lens: together the falloff over the unmoved image distance squared, whatever the movements. Light that front
    element or hood keep from the pupil is left out.
    """
    m = magnification(camera.focal, camera.focus)
    return camera.sensor_width * camera.sensor_height / (m * camera.focus) ** 2


class Frame(NamedTuple):
    """Exposures by replicate, layer (heads, windows, then the room) and band.

    Attributes
    ----------
    subject, backdrop
        (r, layers, 3) mean exposure of the region, lx·s, without veil; None when it isn't in the frame.
    inside, outside
        (r, layers, 3) lx·s on the front element from inside and outside the picture angle.
    veil
        (r, layers, 3) exposure of the veil, lx·s.
    """

    subject: Array | None
    backdrop: Array | None
    inside: Array
    outside: Array
    veil: Array


def _region_mean(tally: Tally, region: Region, constant: float) -> Array:
    """Return the mean exposure over the rays that met the region, (r, layers, 3) lx·s."""
    rays = tally.counts[:, :, region].sum(axis=1)
    mean: Array = constant * tally.cells.sum(axis=1) / np.maximum(rays, 1)[:, None, None]
    return mean


def frame_of(camera: Camera, targets: Mapping[str, Target], tallies: Mapping[str, Tally]) -> Frame:
    """Put the tallies of all targets together as a frame."""
    per_luminance = exposure_per_luminance(camera)
    inside = np.zeros_like(tallies["front"].cells[:, 0])
    for name in ("subject", "backdrop", "rest"):
        if name in tallies:
            target, tally = targets[name], tallies[name]
            share = len(target.cells) / (target.columns * target.rows)
            inside = inside + tally.cells.sum(axis=1) * (share / tally.rays * illuminance_per_luminance(camera))
    outside = tallies["front"].cells[:, 0] / tallies["front"].rays
    veil = veiling_luminance(camera.glare, 1.0) * (inside + outside) * per_luminance
    subject = backdrop = None
    if "subject" in tallies:
        subject = _region_mean(tallies["subject"], Region.SUBJECT, per_luminance)
    if "backdrop" in tallies:
        backdrop = _region_mean(tallies["backdrop"], Region.BACKDROP, per_luminance)
    return Frame(subject, backdrop, inside, outside, veil)


def cell_exposures(tally: Tally, camera: Camera, region: Region | None = None) -> Array:
    """Return the exposure of each cell of a target by replicate, (r, cells) lx·s of luminance, without veil.

    Cells that no ray has met the region in are not-a-number.
    """
    rays = tally.counts.sum(axis=2) if region is None else tally.counts[:, :, region]
    with np.errstate(invalid="ignore", divide="ignore"):
        sums: Array = luminance(tally.cells).sum(axis=2)
        means: Array = exposure_per_luminance(camera) * np.where(rays > 0, sums / rays, math.nan)
    return means
