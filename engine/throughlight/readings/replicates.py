"""What readings are made from, layer by layer and replicate by replicate: enough to make them again at other powers.

Light adds and each light is a layer of its own, so a set whose lights are turned up or down, or whose lens is stopped
down, has the same sums times a factor. Everything here is luminance, without the factor.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.frame import Frame, exposure_per_luminance, luminance
from throughlight.readings.regions import Regions
from throughlight.setup import Camera
from throughlight.stage.build import Cast
from throughlight.trace.driver import Tally, Target
from throughlight.trace.tables import Region

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Patches:
    """A look at patches of the backdrop.

    Attributes
    ----------
    places
        (n,) which cells of the grid they are.
    light
        (r, n, layers) lx·s without veil; not-a-number where no ray of a replicate met the cloth.
    by
        For each layer what most of its light left last before it met them; "" straight from the light.
    """

    places: NDArray[np.int64]
    light: Array
    by: tuple[str, ...]


@dataclass(frozen=True)
class Replicates:
    """Sums of a run; layers are heads, windows, then the room; all are lx·s of luminance.

    Attributes
    ----------
    subject, backdrop
        (r, layers) mean exposure of the region without veil; None when it isn't in the frame.
    inside, outside
        (r, layers) on the front element from inside and outside the picture angle.
    veil
        (r, layers) exposure of the veil.
    spots
        For each spot (r, layers) without veil.
    squares, weights
        (r, squares, layers) exposure of the subject's squares without veil, and (squares,) what each counts.
    columns, rows
        The grid of patches.
    first, second
        The look at all patches, and the second one at those that could be the brightest; None where there was none.
    cloth, front
        (layers, routes) mean light on the backdrop and on the front element by what it left last, `routes` by name.
    """

    subject: Array | None
    backdrop: Array | None
    inside: Array
    outside: Array
    veil: Array
    spots: tuple[Array, ...]
    squares: Array | None
    weights: Array | None
    columns: int
    rows: int
    first: Patches | None
    second: Patches | None
    cloth: Array | None
    front: Array
    routes: tuple[str, ...]


def replicates_of(
    camera: Camera, cast: Cast, regions: Regions, looks: Mapping[str, Target], tallies: Mapping[str, Tally],
    frame: Frame, worst: tuple[Target, Tally] | None,
) -> Replicates:  # fmt: skip
    """Return the sums of a run; arguments as `throughlight.readings.assemble.assemble` has them."""
    subject, backdrop = tallies.get("subject"), tallies.get("backdrop")
    squares = None if subject is None else _cells(subject, camera, Region.SUBJECT)
    weights = None if subject is None else regions.coverage[looks["subject"].cells, Region.SUBJECT]
    cloth = None
    if backdrop is not None:
        rays = backdrop.counts[:, :, Region.BACKDROP].sum(axis=1)
        per_ray = exposure_per_luminance(camera) / np.maximum(rays, 1)
        cloth = (luminance(backdrop.routes) * per_ray[:, None, None]).mean(axis=0)
    front = tallies["front"]
    return Replicates(
        subject=None if frame.subject is None else luminance(frame.subject),
        backdrop=None if frame.backdrop is None else luminance(frame.backdrop),
        inside=luminance(frame.inside),
        outside=luminance(frame.outside),
        veil=luminance(frame.veil),
        spots=tuple(_cells(tallies[name], camera)[:, 0] for name in _spot_names(tallies)),
        squares=squares,
        weights=weights,
        columns=regions.patches.columns,
        rows=regions.patches.rows,
        first=None if backdrop is None else _patches(looks["backdrop"], backdrop, camera, cast.parts),
        second=None if worst is None else _patches(*worst, camera, cast.parts),
        cloth=cloth,
        front=(luminance(front.routes) / front.rays).mean(axis=0),
        routes=("", *cast.parts),
    )


def _spot_names(tallies: Mapping[str, Tally]) -> list[str]:
    return [f"spot {i}" for i in range(sum(name.startswith("spot ") for name in tallies))]


def _cells(tally: Tally, camera: Camera, region: Region | None = None) -> Array:
    """Return the exposure of each cell by replicate and layer, (r, cells, layers) lx·s of luminance."""
    rays = tally.counts.sum(axis=2) if region is None else tally.counts[:, :, region]
    with np.errstate(invalid="ignore", divide="ignore"):
        per_ray = np.where(rays > 0, exposure_per_luminance(camera) / rays, np.nan)
    exposures: Array = luminance(tally.cells) * per_ray[:, :, None]
    return exposures


def _patches(target: Target, tally: Tally, camera: Camera, parts: Sequence[str]) -> Patches:
    names = ("", *parts)
    main = luminance(tally.routes).mean(axis=0).argmax(axis=1)
    return Patches(target.cells, _cells(tally, camera, Region.BACKDROP), tuple(names[int(route)] for route in main))
