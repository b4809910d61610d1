"""What each cell of the film looks at: mean albedo by band and mean normal of the first faces, without any light.

These layers guide a denoiser: they show edges and patterns free of the noise of light, and are no figures of anything.
Clear sheets are looked through, as the readings do. A translucent body has no albedo of its face; it is told by what a
half-space of its matter returns of diffuse light, index-matched, with the similarity parameter
s = √((1 − a)/(1 − a·g)) of single-scattering albedo a and asymmetry g (van de Hulst 1980, "Multiple Light Scattering";
from memory):

    R ≈ (1 − s)·(1 − 0.139·s)/(1 + 1.17·s).
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.kernel import entry, kernel
from throughlight.optics.vectors import dot
from throughlight.trace.expose import camera_ray
from throughlight.trace.maps import look_up
from throughlight.trace.sampler import sobol_owen, start
from throughlight.trace.seen import first_face, past_supports
from throughlight.trace.surfaces import albedo_at
from throughlight.trace.tables import SurfaceKind

_BOUNDARY = int(SurfaceKind.BOUNDARY)
_METAL = int(SurfaceKind.METAL)
_SHEET = int(SurfaceKind.SHEET)


@kernel
def returned(scatter, absorb, g):
    """Return the share of diffuse light that a half-space of matter gives back; clear matter counts as white."""
    if scatter <= 0.0:
        return 1.0
    a = scatter / (scatter + absorb)
    s = math.sqrt((1.0 - a) / (1.0 - a * g))
    return (1.0 - s) * (1.0 - 0.139 * s) / (1.0 + 1.17 * s)


@kernel
def _of_matter(stage, shape, point):
    """Return the albedo by band that stands for a translucent body where its face is met."""
    stuff = stage.media[shape["medium"]]
    if stuff["map"] > 0:
        absorb = look_up(stage, stuff["map"], shape, point)
        scatter = look_up(stage, stuff["map"] + 1, shape, point)
    else:
        absorb = (stuff["absorb_red"], stuff["absorb_green"], stuff["absorb_blue"])
        scatter = (stuff["scatter_red"], stuff["scatter_green"], stuff["scatter_blue"])
    g = stuff["g"]
    return (returned(scatter[0], absorb[0], g), returned(scatter[1], absorb[1], g), returned(scatter[2], absorb[2], g))


@kernel
def _straight_back(n, k):
    """Return what a metal of index n + ik mirrors at normal incidence."""
    return ((n - 1.0) * (n - 1.0) + k * k) / ((n + 1.0) * (n + 1.0) + k * k)


@kernel
def _albedo(stage, row, shape, front, point):
    """Return the albedo by band of a face, in 0..1."""
    if shape["head"] >= 0 and front:
        return (1.0, 1.0, 1.0)
    part = stage.parts[row]
    kind = part["surface"]
    if kind == _BOUNDARY:
        return _of_matter(stage, shape, point)
    if kind == _METAL:
        return (
            _straight_back(part["n_red"], part["k_red"]),
            _straight_back(part["n_green"], part["k_green"]),
            _straight_back(part["n_blue"], part["k_blue"]),
        )
    own = albedo_at(stage, part, shape, point)
    if kind == _SHEET:
        own = (own[0] + part["through_red"], own[1] + part["through_green"], own[2] + part["through_blue"])
    return (min(own[0], 1.0), min(own[1], 1.0), min(own[2], 1.0))


@entry
def look(stage, columns, rows, cells, count, seed, replicate, albedo, normal):
    """Add what `count` rays through each cell look at to the given sums; nothing for rays that leave the set.

    Parameters
    ----------
    stage
        The Stage.
    columns, rows
        The grid of cells that the film is divided into.
    cells
        (n,) int64, which cells, as row · columns + column.
    count
        Rays through each cell.
    seed, replicate
        The run's seed and which independent randomisation this is.
    albedo
        (n, 3) float64, sums of albedo by band.
    normal
        (n, 3) float64, sums of unit normals: right, up and toward the camera.
    """
    lens = stage.lens[0]
    for slot in range(cells.shape[0]):
        key = start(seed, replicate, cells[slot], np.int64(-1))
        for index in range(count):
            i = np.int64(index)
            across = (cells[slot] % columns + sobol_owen(i, np.int64(0), key)) / columns
            down = (cells[slot] // columns + sobol_owen(i, np.int64(1), key)) / rows
            u, v = sobol_owen(i, np.int64(2), key), sobol_owen(i, np.int64(3), key)
            place, direction, _ = camera_ray(lens, across, down, u, v)
            if lens["past_supports"]:
                place = past_supports(stage, place, direction)
            row, shape, front, point, facing = first_face(stage, place, direction)
            if row < 0:
                continue
            white = _albedo(stage, row, stage.shapes[shape], front, point)
            for band in range(3):
                albedo[slot, band] += white[band]
            normal[slot, 0] += lens["tx"] * facing[0] + lens["ty"] * facing[1] + lens["tz"] * facing[2]
            normal[slot, 1] += lens["bx"] * facing[0] + lens["by"] * facing[1] + lens["bz"] * facing[2]
            normal[slot, 2] += dot((lens["nx"], lens["ny"], lens["nz"]), facing)
