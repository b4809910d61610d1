"""From sums to figures: what a candidate reads, and what it would read with any one replicate left out.

Light adds and each light is a layer of its own, so a candidate that differs from a traced one only in its powers has
the same sums, layer by layer times a factor. Means over a region are ratios of sums, their errors the jackknife's over
the n replicates (Tukey 1958, Annals of Mathematical Statistics 29; Miller 1974, Biometrika 61; from memory)

    se² = (n − 1)/n · Σ (θ₋ᵢ − θ̄)²,

where θ₋ᵢ leaves replicate i out. Replicates are the same for all candidates, so the errors of differences follow from
the same values.

The worst patch is chosen by the other replicates than the one that reads it, so that noise doesn't make it brighter
(the cross-validated maximum: van Hasselt 2013, "Estimating the maximum expected value"; from memory). It errs to the
dark side while patches are hard to tell apart; its interval allows for the choice among all of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry.exposure import clip, mid_grey
from throughlight.photometry.veil import veiling_luminance
from throughlight.readings.frame import exposure_per_luminance, illuminance_per_luminance, luminance
from throughlight.readings.intervals import Estimate, Stops, in_stops, student_t
from throughlight.readings.patches import figure_of_cells, figure_without_noise, means_and_errors
from throughlight.setup import Setup
from throughlight.study.batch import Sums
from throughlight.study.light import joules

Array = NDArray[np.float64]

DARKEST = -40.0
"""Stops over the unit that stand for no light at all where a finite number is needed."""
_INSIDE = ("subject", "backdrop", "rest")


class Told(NamedTuple):
    """What is read of one candidate.

    Attributes
    ----------
    figures
        Reading → figure with its 95 % interval: stops over mid-grey, "backdrop_under" and "worst_under" stops,
        "stray_light" lx·s, "energy" J, "clipped" share.
    left_out
        Reading → (n,) values with one replicate left out.
    """

    figures: dict[str, Stops]
    left_out: dict[str, Array]


class _Shares(NamedTuple):
    """A linear figure, and its values with one replicate left out, (n,)."""

    value: float
    left: Array

    def __add__(self, other: object) -> _Shares:
        assert isinstance(other, _Shares)
        return _Shares(self.value + other.value, self.left + other.left)

    def at_least(self, other: _Shares) -> _Shares:
        """Return the greater of the two, replicate by replicate."""
        return _Shares(max(self.value, other.value), np.maximum(self.left, other.left))

    @property
    def estimate(self) -> Estimate:
        """Return it with its jackknife error."""
        return Estimate(self.value, jackknife_error(self.left), len(self.left) - 1)


def jackknife_error(left: Array) -> float:
    """Return the standard error of a figure whose values with one replicate left out are `left`, (n,)."""
    n = len(left)
    return math.sqrt((n - 1) / n * float(np.sum((left - left.mean()) ** 2)))


def _ratio(above: Array, below: Array, unit: float) -> _Shares:
    """Return unit · Σ above / Σ below, (n,) each."""
    total, count = float(above.sum()), float(below.sum())
    return _Shares(unit * total / max(count, 1.0), unit * (total - above) / np.maximum(count - below, 1.0))


def _mean(values: Array) -> _Shares:
    n = len(values)
    return _Shares(float(values.mean()), (values.sum() - values) / (n - 1))


def in_log2(values: Array, unit: float) -> Array:
    """Return log2(values / unit), no light as DARKEST."""
    stops: Array = np.log2(np.maximum(values / unit, 2.0**DARKEST))
    return stops


def told(sums: Sums, scale: Array, setup: Setup) -> Told:
    """Return what a candidate reads.

    Parameters
    ----------
    sums
        Of the set that was traced in its stead.
    scale
        (layers,) the candidate's light over the traced set's, by layer.
    setup
        The candidate's own description.
    """
    camera, grey = setup.camera, mid_grey(setup.camera.iso)
    per_luminance = exposure_per_luminance(camera)
    light = {name: luminance(sums[f"light {name}"]) @ scale for name in (*_INSIDE, "front") if f"light {name}" in sums}
    outside = light["front"] / sums["paths front"]
    inside = np.zeros_like(outside)
    for name in _INSIDE:
        if name in light:
            share = sums[f"share {name}"] / sums[f"paths {name}"] * illuminance_per_luminance(camera)
            inside = inside + light[name] * share
    haze = _mean(veiling_luminance(camera.glare, 1.0) * per_luminance * (inside + outside))
    linear = {"veil": haze}
    for name in ("subject", "backdrop"):
        if name in light and sums[f"met {name}"].sum() > 0.0:
            linear[name] = _ratio(light[name], sums[f"met {name}"], per_luminance) + haze
    figures = {name: in_stops(shares.estimate, grey) for name, shares in linear.items()}
    left = {name: in_log2(shares.left, grey) for name, shares in linear.items()}
    if "backdrop" in linear:
        cells = sums["patch light"] @ scale * per_luminance
        figures["worst_patch"], left["worst_patch"] = _worst(cells, sums, haze, linear["backdrop"], grey)
    if "subject" in linear and "backdrop" in linear:
        figures["backdrop_under"], left["backdrop_under"] = _under(linear["subject"], linear["backdrop"], grey)
        figures["worst_under"], left["worst_under"] = _worst_under(figures, left)
    stray = _mean(outside)
    reach = student_t(stray.estimate.freedom) * stray.estimate.error
    figures["stray_light"], left["stray_light"] = (
        Stops(stray.value, max(0.0, stray.value - reach), stray.value + reach), stray.left,
    )  # fmt: skip
    _add_spots(figures, left, setup, light_of_spots(sums, scale, per_luminance), haze, grey)
    if "square light" in sums:
        clipped = _clipped(sums["square light"] @ scale * per_luminance, sums["square met"], haze.value, camera.iso)
        figures["clipped"], left["clipped"] = clipped
    asked = joules(setup)
    if asked is not None:
        figures["energy"], left["energy"] = Stops(asked, asked, asked), np.full(len(outside), asked)
    return Told(figures, left)


def _under(subject: _Shares, backdrop: _Shares, grey: float) -> tuple[Stops, Array]:
    """Return how many stops the backdrop lies under the subject."""
    left = in_log2(subject.left, grey) - in_log2(backdrop.left, grey)
    if subject.value <= 0.0 or backdrop.value <= 0.0:
        end = math.inf if subject.value > 0.0 else -math.inf
        return Stops(end, -math.inf, math.inf), left
    ratio = _Shares(backdrop.value / subject.value, backdrop.left / np.maximum(subject.left, 1e-300))
    stops = in_stops(ratio.estimate)
    return Stops(-stops.value, -stops.high, -stops.low), left


def _worst(cells: Array, sums: Sums, haze: _Shares, backdrop: _Shares, grey: float) -> tuple[Stops, Array]:
    """Return the brightest patch with its interval, and its values with one replicate left out.

    Parameters
    ----------
    cells
        (n, patches) light on each patch.
    """
    met = sums["patch met"]
    choice = _chosen(cells, met, sums["patch cells"].astype(np.int64), int(sums["patch columns"]))
    rows = np.arange(len(cells))
    light, rays = cells[rows, choice], met[rows, choice]
    shares = backdrop  # no patch can be the brightest and darker than all of them are on average
    if rays.sum() > rays.max():
        shares = shares.at_least(_ratio(light, rays, 1.0) + haze)
    among = cells.shape[1]
    own = in_stops(shares.estimate, grey, among)
    return Stops(own.value, own.low, max(own.high, _highest(cells, met, haze.value, grey))), in_log2(shares.left, grey)


def _highest(cells: Array, met: Array, haze: float, grey: float) -> float:
    """Return the highest upper end, stops, of any patch's interval, all holding together.

    A patch that hardly shows, at the edge of something, is read by too few replicates to have one.
    """
    known = (met > 0.0).sum(axis=0) > len(met) // 2
    if not known.any():
        return math.inf
    with np.errstate(invalid="ignore", divide="ignore"):
        means, errors = means_and_errors(np.where(met > 0.0, cells / met, math.nan)[:, known])
    reach = student_t(len(cells) - 1, among=cells.shape[1])
    return float(in_log2(np.array([np.max(means + reach * errors) + haze]), grey)[0])


def _chosen(cells: Array, met: Array, places: NDArray[np.int64], columns: int) -> NDArray[np.int64]:
    """Return for each replicate the patch that the others find brightest, told by it and its neighbours together."""
    light, rays = (table.sum(axis=0) - table for table in (cells, met))
    rows = int(places.max()) // columns + 1
    sums = []
    for table in (light, rays):
        grid = np.zeros((len(table), rows + 2, columns + 2))
        grid[:, places // columns + 1, places % columns + 1] = table
        across = grid[:, :, :-2] + grid[:, :, 1:-1] + grid[:, :, 2:]
        square = across[:, :-2] + across[:, 1:-1] + across[:, 2:]
        sums.append(square[:, places // columns, places % columns])
    chosen: NDArray[np.int64] = np.argmax(sums[0] / np.maximum(sums[1], 1.0), axis=1)
    return chosen


def _worst_under(figures: Mapping[str, Stops], left: Mapping[str, Array]) -> tuple[Stops, Array]:
    """Return how many stops the worst patch lies under the subject; the interval keeps the choice among patches."""
    worst, subject = figures["worst_patch"], figures["subject"]
    values = left["subject"] - left["worst_patch"]
    if not (math.isfinite(worst.value) and math.isfinite(subject.value)):
        return Stops(float(values.mean()), -math.inf, math.inf), values
    under = subject.value - worst.value
    low = under - math.hypot(worst.high - worst.value, subject.value - subject.low)
    return Stops(under, low, under + math.hypot(worst.value - worst.low, subject.high - subject.value)), values


def light_of_spots(sums: Sums, scale: Array, per_luminance: float) -> list[_Shares]:
    """Return the exposure of each spot without veil, in the order of the set."""
    told = []
    for number in range(sum(name.startswith("light spot ") for name in sums)):
        light = luminance(sums[f"light spot {number}"]) @ scale * per_luminance / sums[f"paths spot {number}"]
        told.append(_mean(light))
    return told


def _add_spots(
    figures: dict[str, Stops], left: dict[str, Array], setup: Setup, spots: list[_Shares], haze: _Shares, grey: float
) -> None:
    for spot, shares in zip(setup.spots, spots, strict=True):
        whole = shares + haze
        figures[spot.name], left[spot.name] = in_stops(whole.estimate, grey), in_log2(whole.left, grey)


def _clipped(light: Array, met: Array, haze: float, iso: float) -> tuple[Stops, Array]:
    """Return the part of the subject past clip."""
    weights = met.sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        cells = np.where(met > 0.0, light / met, math.nan) + haze

    def past(values: Array, each: Array) -> float:
        return float(each[values > clip(iso)].sum() / max(each.sum(), 1e-300))

    whole = figure_of_cells(cells, weights, past)
    n = len(cells)
    others = [np.arange(n) != i for i in range(n)]
    left = np.array([figure_without_noise(cells[rest], weights, past) for rest in others])
    own = jackknife_error(left)
    # The part jumps from square to square, where leaving one out may show too little: half-samples then say the error.
    if own > 0.0:
        left = whole.value + (left - left.mean()) * max(1.0, whole.error / own)
    else:
        left = whole.value + np.where(np.arange(n) % 2 == 0, 1.0, -1.0) * whole.error / math.sqrt(n - 1)
    reach = student_t(whole.freedom) * whole.error
    return Stops(whole.value, max(0.0, whole.value - reach), min(1.0, whole.value + reach)), left
