"""Put the tallies of a run together as readings."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry.exposure import clip, code_value, mid_grey
from throughlight.readings.camera import camera_reading
from throughlight.readings.finishing import finish_notes
from throughlight.readings.frame import Frame, cell_exposures, exposure_per_luminance, frame_of, luminance
from throughlight.readings.intervals import Estimate, Stops, in_stops, mean_of, student_t
from throughlight.readings.patches import brightest, figure_of_cells, weighted_percentile
from throughlight.readings.power import power_reading
from throughlight.readings.reading import (
    AmbientReading,
    BackdropReading,
    Making,
    PatchReading,
    Readings,
    Route,
    StrayReading,
    SubjectReading,
)
from throughlight.readings.regions import Regions
from throughlight.readings.replicates import replicates_of
from throughlight.readings.verdicts import verdicts
from throughlight.readings.words import place_in_frame
from throughlight.setup import Setup, setup_warnings
from throughlight.stage.build import Cast
from throughlight.stage.mapped import map_doubts
from throughlight.trace.driver import Outcome, Tally, Target
from throughlight.trace.tables import Region

Array = NDArray[np.float64]

TOLD_ROUTES = 6
LEAST_SHARE = 0.005


def _total(bands: Array) -> Array:
    """Return the luminance over all layers by replicate, (r,)."""
    summed: Array = luminance(bands).sum(axis=1)
    return summed


def _subject(
    frame: Frame, setup: Setup, cast: Cast, regions: Regions, looks: Mapping[str, Target], tally: Tally
) -> SubjectReading:
    grey, iso = mid_grey(setup.camera.iso), setup.camera.iso
    assert frame.subject is not None
    cells = cell_exposures(tally, setup.camera, Region.SUBJECT) + _total(frame.veil)[:, None]
    weights = regions.coverage[looks["subject"].cells, Region.SUBJECT]

    def percentile(percent: float) -> Stops:
        return in_stops(
            figure_of_cells(cells, weights, lambda values, each: weighted_percentile(values, each, percent)), grey
        )

    clipped = figure_of_cells(cells, weights, lambda values, each: float(each[values > clip(iso)].sum() / each.sum()))
    # A part told in whole squares is uncertain by half a square, however little noise there is.
    half_a_square = 0.5 * float(weights.max() / weights.sum())
    heads = luminance(frame.subject) + luminance(frame.veil)
    return SubjectReading(
        mean=in_stops(mean_of(_total(frame.subject) + _total(frame.veil)), grey),
        percentile_5=percentile(5.0),
        median=percentile(50.0),
        percentile_95=percentile(95.0),
        clipped=(
            min(clipped.value, 1.0),
            math.hypot(student_t(clipped.freedom) * clipped.error, half_a_square),
        ),
        image=in_stops(mean_of(_total(frame.subject)), grey),
        by_head={name: in_stops(mean_of(heads[:, i]), grey) for i, name in enumerate(cast.heads)},
    )


def _routes(sums: Array, unit: float, cast: Cast) -> tuple[Route, ...]:
    """Return the routes that matter, the strongest first.

    Parameters
    ----------
    sums
        (r, layers, routes) luminance by replicate.
    unit
        The amount that zero stops stands for.
    """
    whole = float(sums.sum(axis=(1, 2)).mean())
    told = []
    for layer in range(sums.shape[1]):
        head = cast.heads[layer] if layer < len(cast.heads) else "room light"
        for route in range(sums.shape[2]):
            estimate = mean_of(sums[:, layer, route])
            if whole > 0.0 and estimate.value > LEAST_SHARE * whole:
                by = cast.parts[route - 1] if route else ""
                told.append(Route(head, by, in_stops(estimate, unit), estimate.value, estimate.value / whole))
    return tuple(sorted(told, key=lambda route: -route.amount)[:TOLD_ROUTES])


def _ratio_under(dark: Array, bright: Array | None) -> Stops | None:
    """Return how many stops `dark` lies under `bright`, both (r,) by replicate (positive: darker)."""
    if bright is None or float(dark.mean()) <= 0.0 or float(bright.mean()) <= 0.0:
        return None
    d, b = mean_of(dark), mean_of(bright)
    error = d.value / b.value * math.hypot(d.error / d.value, b.error / b.value)
    stops = in_stops(Estimate(d.value / b.value, error, d.freedom))
    return Stops(-stops.value, -stops.high, -stops.low)


def _worst_under(worst: Stops, subject: Stops | None) -> Stops | None:
    """Return how many stops the worst patch lies under the subject; its interval keeps the choice among patches."""
    if subject is None or not math.isfinite(worst.value) or not math.isfinite(subject.value):
        return None
    under = subject.value - worst.value
    return Stops(
        under,
        under - math.hypot(worst.high - worst.value, subject.value - subject.low),
        under + math.hypot(worst.value - worst.low, subject.high - subject.value),
    )


def _backdrop(
    frame: Frame, setup: Setup, cast: Cast, tally: Tally, grid: Target, worst: tuple[Target, Tally] | None
) -> BackdropReading:
    camera = setup.camera
    grey = mid_grey(camera.iso)
    assert frame.backdrop is not None
    veil = _total(frame.veil)
    total = _total(frame.backdrop) + veil
    subject = None if frame.subject is None else _total(frame.subject) + veil
    rays = tally.counts[:, :, Region.BACKDROP].sum(axis=1)
    per_ray = exposure_per_luminance(camera) / np.maximum(rays, 1)
    routes = luminance(tally.routes) * per_ray[:, None, None]
    patch_target, patch_tally = (grid, tally) if worst is None else worst
    cells = cell_exposures(patch_tally, camera, Region.BACKDROP) + veil[:, None]
    best, exposure = brightest(cells, len(grid.cells), grey)
    place = int(patch_target.cells[best])
    across = (place % grid.columns + 0.5) / grid.columns
    down = (place // grid.columns + 0.5) / grid.rows
    patch_head = int(np.argmax(luminance(patch_tally.cells[:, best]).sum(axis=0)))
    main = luminance(patch_tally.routes).mean(axis=0)[patch_head]  # of the contenders, where there was a second look
    by = "" if int(np.argmax(main)) == 0 else cast.parts[int(np.argmax(main)) - 1]
    head = cast.heads[patch_head] if patch_head < len(cast.heads) else "room light"
    patch = PatchReading(
        exposure=exposure,
        place=place_in_frame(across, down),
        right_mm=(across - 0.5) * camera.sensor_width * 1e3,
        up_mm=(0.5 - down) * camera.sensor_height * 1e3,
        code=code_value(grey * 2.0**exposure.value if math.isfinite(exposure.value) else 0.0, camera.iso),
        route=f"{head} → {by}" if by else f"{head}, directly",
    )
    return BackdropReading(
        mean=in_stops(mean_of(total), grey),
        cloth=in_stops(mean_of(_total(frame.backdrop)), grey),
        veil=in_stops(mean_of(veil), grey),
        code=code_value(float(total.mean()), camera.iso),
        under_subject=_ratio_under(total, subject),
        worst=patch,
        worst_under_subject=_worst_under(exposure, None if subject is None else in_stops(mean_of(subject), grey)),
        routes=_routes(routes, grey, cast),
    )


def _stray(frame: Frame, setup: Setup, cast: Cast, tally: Tally) -> StrayReading:
    grey = mid_grey(setup.camera.iso)
    outside = mean_of(_total(frame.outside))
    half = student_t(outside.freedom) * outside.error
    veil = luminance(frame.veil)
    seen = {}
    for i, name in enumerate(cast.heads):
        part = mean_of(tally.seen[:, i] / tally.rays)
        seen[name] = (part.value, student_t(part.freedom) * part.error)
    return StrayReading(
        outside=outside.value,
        outside_interval=(max(0.0, outside.value - half), outside.value + half),
        inside=float(_total(frame.inside).mean()),
        veil=in_stops(mean_of(veil.sum(axis=1)), grey),
        veil_by_head={name: in_stops(mean_of(veil[:, i]), grey) for i, name in enumerate(cast.heads)},
        seen=seen,
        routes=_routes(luminance(tally.routes) / tally.rays, 1.0, cast),
        veil_layers={
            name: (float(red), float(green), float(blue))
            for name, (red, green, blue) in zip((*cast.heads, "room light"), frame.veil.mean(axis=0), strict=True)
        },
    )


def _ambient(frame: Frame, setup: Setup) -> AmbientReading | None:
    """Return the frame with no flash: continuous lamps, windows and the room, with the veil that they make."""
    steady = [i for i, flash in enumerate(setup.flashes) if not flash]
    if setup.ambient is None and not steady:
        return None
    grey, layers = mid_grey(setup.camera.iso), [*steady, len(setup.flashes)]  # the room is the last
    veil = luminance(frame.veil)[:, layers].sum(axis=1)

    def steadily(bands: Array | None) -> Stops | None:
        return None if bands is None else in_stops(mean_of(luminance(bands)[:, layers].sum(axis=1) + veil), grey)

    return AmbientReading(steadily(frame.subject), steadily(frame.backdrop))


def _making(outcome: Outcome, second: Outcome | None, tolerance: float, seed: int) -> Making:
    tallies = [*outcome.tallies.values(), *([] if second is None else second.tallies.values())]
    seconds = outcome.seconds + (0.0 if second is None else second.seconds)
    cut, leaked, invalid = (sum(tally.status[i] for tally in tallies) for i in range(3))
    replicates = len(tallies[0].cells)
    paths = replicates * sum(tally.rays for tally in tallies)
    return Making(seed, seconds, paths, replicates, tolerance, outcome.reason, int(cut), int(leaked), int(invalid))


def assemble(
    setup: Setup, cast: Cast, regions: Regions, looks: Mapping[str, Target], outcome: Outcome,
    worst: tuple[Target, Outcome] | None, tolerance: float, seed: int,
) -> Readings:  # fmt: skip
    """Return the readings of a run.

    Parameters
    ----------
    setup, cast, regions, looks
        The set, its names, and what was looked at.
    outcome
        The driver's tallies.
    worst
        The second look at the backdrop's brightest patches, if there was one.
    tolerance, seed
        What was asked.
    """
    tallies = outcome.tallies
    frame = frame_of(setup.camera, looks, tallies)
    grey = mid_grey(setup.camera.iso)
    subject = backdrop = None
    patches = None if worst is None or "backdrop" not in tallies else (worst[0], worst[1].tallies["worst patch"])
    if "subject" in tallies:
        subject = _subject(frame, setup, cast, regions, looks, tallies["subject"])
    if "backdrop" in tallies:
        backdrop = _backdrop(frame, setup, cast, tallies["backdrop"], looks["backdrop"], patches)
    stray = _stray(frame, setup, cast, tallies["front"])
    veil = _total(frame.veil)
    spots = {
        spot.name: in_stops(mean_of(cell_exposures(tallies[f"spot {i}"], setup.camera)[:, 0] + veil), grey)
        for i, spot in enumerate(setup.spots)
    }
    power, camera = power_reading(setup), camera_reading(setup)
    by_camera = tuple((False, words) for words in camera.complaints)
    return Readings(
        title=setup.title,
        subject=subject,
        backdrop=backdrop,
        stray=stray,
        ambient=_ambient(frame, setup),
        spots=spots,
        camera=camera,
        power=power,
        verdicts=verdicts(setup, subject, backdrop, stray, power) + by_camera,
        making=_making(outcome, None if worst is None else worst[1], tolerance, seed),
        warnings=(*setup_warnings(setup), *map_doubts(setup)),
        finish=finish_notes(setup),
        replicates=replicates_of(setup.camera, cast, regions, looks, tallies, frame, patches),
    )
