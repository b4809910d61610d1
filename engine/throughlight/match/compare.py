"""Subject, backdrop, worst patch and veil in the photo against the prediction, in stops over mid-grey.

Both sides are means over the same pure cells, so that what differs is light and not the counting; the prediction's
figure may therefore be a few hundredths of a stop off what `meter` says of whole regions, edges included.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.match.fit import Fit
from throughlight.match.model import Model
from throughlight.match.observe import Observed
from throughlight.match.patches import Patches, pure_cells
from throughlight.match.templates import Templates
from throughlight.readings.intervals import Estimate, Stops, in_stops, mean_of
from throughlight.readings.words import place_in_frame
from throughlight.trace.tables import Region

Array = NDArray[np.float64]

_MANY = 1000  # degrees of freedom of a mean over very many pixels: the normal distribution
_LEAST_CELLS = 4
_LEFT_OUT = 0.1  # of a region: as much may be beyond what the file can tell and be left out on both sides
_NORMAL = 1.959964


class Row(NamedTuple):
    """One thing compared. predicted, photographed: stops over mid-grey. difference: photo less prediction.

    remark: places, or why one side is only a bound.
    """

    name: str
    predicted: Stops
    photographed: Stops
    difference: Stops | None
    remark: str = ""


def compare(templates: Templates, observed: Observed, patches: Patches, fit: Fit) -> tuple[Row, ...]:
    """Return the figures of a photo beside those of the prediction."""
    base = templates.base
    region = pure_cells(base.coverage, base.grid)
    start = np.zeros(patches.model.count)
    rows = []
    for name, one in (("subject", Region.SUBJECT), ("backdrop", Region.BACKDROP)):
        cells = (region == one) & (observed.pixels > 0.0)
        if np.count_nonzero(cells) >= _LEAST_CELLS:
            rows.append(_region_row(name, templates, observed, cells))
    worst = _worst_row(patches)
    veil = _veil_row(patches.model, fit, start, patches)
    return (*rows, *(() if worst is None else (worst,)), veil)


def _layers(templates: Templates) -> Array:
    """Return 1 for each layer that the set has, 0 for room light that it doesn't."""
    added = any(change.kind == "added room" for change in templates.changes)
    return np.array([1.0] * (len(templates.base.names) - 1) + [0.0 if added else 1.0])


def _region_row(name: str, templates: Templates, observed: Observed, cells: NDArray[np.bool_]) -> Row:
    """Return a region's means; of a little that the file doesn't tell both sides do without, much makes a bound."""
    full = float(observed.clipped[cells].mean())
    if full <= _LEFT_OUT:
        cells = cells & ~observed.clipped
    base, layers = templates.base, _layers(templates)
    replicates = np.einsum("k,rkc->rc", layers, base.image[:, :, cells]).mean(axis=1) + base.veil @ layers
    predicted = in_stops(mean_of(replicates))
    seen = observed.mean[cells]
    variance = observed.variance[cells].sum() / len(seen) ** 2 + float(np.mean(observed.offset[cells] ** 2))
    photographed = in_stops(Estimate(max(float(seen.mean()), 0.0), math.sqrt(variance), _MANY))
    words = f"{_percent(full)} of it is brighter than the file can tell"
    if full > _LEFT_OUT:
        bound = Stops(photographed.value, photographed.low, math.inf)
        return Row(name, predicted, bound, _less(bound, predicted), words)
    remark = f"{words}; both figures are without that" if full > 0.0 else ""
    return Row(name, predicted, photographed, _less(photographed, predicted), remark)


def _percent(part: float) -> str:
    return f"{100.0 * part:.0f} %" if part >= 0.005 else "under 1 %"


def _less(a: Stops, b: Stops) -> Stops | None:
    """Return a − b in stops, with the interval of both together."""
    if not (math.isfinite(a.value) and math.isfinite(b.value)):
        return None
    value = a.value - b.value
    return Stops(
        value,
        value - math.hypot(a.value - a.low, b.high - b.value),
        value + math.hypot(a.high - a.value, b.value - b.low),
    )


def _worst_row(patches: Patches) -> Row | None:
    """Return the brightest patch of the backdrop on either side; they need not be the same."""
    model, data = patches.model, patches.data
    grid = model.templates.base.grid
    drop = np.flatnonzero(patches.region == Region.BACKDROP)
    if len(drop) < _LEAST_CELLS:
        return None
    start = np.zeros(model.count)
    predicted = model.exposure(start)
    here, there = int(drop[np.argmax(predicted[drop])]), int(drop[np.argmax(data.y[drop])])

    def said(patch: int) -> str:
        return place_in_frame((patch % grid.columns + 0.5) / grid.columns, (patch // grid.columns + 0.5) / grid.rows)

    photo = Estimate(max(float(data.y[there]), 0.0), math.sqrt(float((data.noise - data.traced)[there])), _MANY)
    traced = Estimate(float(predicted[here]), math.sqrt(float(data.traced[here])), _MANY)
    a, b = in_stops(traced, among=len(drop)), in_stops(photo, among=len(drop))
    remark = said(here) if said(here) == said(there) else f"predicted {said(here)}; in the photo {said(there)}"
    return Row("worst patch", a, b, _less(b, a), remark)


def _veil_row(model: Model, fit: Fit, start: Array, patches: Patches) -> Row:
    """Return the veil, which the photo only shows as what the changes together make of it, and a bound."""
    predicted = in_stops(mean_of(np.array([one.parts(start)[1].mean() for one in model.single])))
    value = float(model.parts(fit.x)[1].mean())
    slopes = np.array([_veil_slope(model, fit.x, place) for place in fit.free])
    error = math.sqrt(max(float(slopes @ fit.covariance @ slopes), 0.0))
    photographed = in_stops(Estimate(max(value, 0.0), error, _MANY))
    data = patches.data
    shown = np.flatnonzero(data.used)
    bounds = data.y[shown] + _NORMAL * np.sqrt((data.noise - data.traced)[shown])
    darkest = float(bounds.min()) if len(shown) else math.inf
    limit = math.log2(max(darkest, 1e-9))
    words = f"worked out from the whole frame; it can't be more than the darkest part of the photo, {limit:.1f}"
    high = min(photographed.high, limit)
    capped = Stops(min(photographed.value, high), min(photographed.low, high), high)
    return Row("veil", predicted, capped, _less(capped, predicted), words.replace("-", "−"))


def _veil_slope(model: Model, x: Array, place: int) -> float:
    ends = []
    for sign in (-1.0, 1.0):
        moved = x.copy()
        moved[place] += sign * 1e-4
        ends.append(float(model.parts(moved)[1].mean()))
    return (ends[1] - ends[0]) / 2e-4
