"""The main job: trace a set until its readings are good enough, and say what they are."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping

import numpy as np

from throughlight.optics.compiling import compiling_timed
from throughlight.photometry.exposure import mid_grey
from throughlight.readings.assemble import assemble
from throughlight.readings.frame import Frame, cell_exposures, exposure_per_luminance, frame_of, luminance
from throughlight.readings.intervals import Stops, in_stops, mean_of
from throughlight.readings.patches import brightest, contenders
from throughlight.readings.reading import Readings
from throughlight.readings.regions import Regions, sort_regions, targets
from throughlight.setup import Setup
from throughlight.stage.build import build
from throughlight.trace.driver import Outcome, Tally, Target, make_ready, run
from throughlight.trace.tables import Region, Stage

TOLERANCE = 0.05
"""Half the width of the 95 % interval that readings are asked for, stops."""

CONTENDERS = 24
_WORST_SLACK = 4.0  # the worst patch of many is asked for this many times the tolerance
_SPOT_SLACK = 2.0
_SUBJECT_PATHS = 2048  # of each replicate, so that percentiles and clipped part have something to stand on
_SEEDS = 1 << 63

Progress = Callable[[str, float, Mapping[str, Stops]], None]
"""Called with what is being traced, the share of the present round that is done, and the figures so far."""


def _luminances(frame: Frame) -> dict[str, dict[str, np.ndarray]]:
    """Return the headline figures as sums of what contributes to them: figure → target → (r,) lx·s."""
    veil = luminance(frame.veil).sum(axis=1)
    figures = {"stray light": {"front": luminance(frame.outside).sum(axis=1)}, "veil": {"front": veil, "rest": veil}}
    for name, bands in (("subject", frame.subject), ("backdrop", frame.backdrop)):
        if bands is not None:
            figures[name] = {name: luminance(bands).sum(axis=1), "front": veil}
    return figures


class _Judge:
    """The stop rule: which samplers still need paths so that every headline figure meets the tolerance."""

    def __init__(self, setup: Setup, looks: Mapping[str, Target], tolerance: float) -> None:
        self.setup, self.looks, self.tolerance = setup, looks, tolerance

    def figures(self, tallies: Mapping[str, Tally]) -> dict[str, Stops]:
        """Return the headline figures so far; stray light as a bare log2 of lx·s."""
        if not all(tally.rays for tally in tallies.values()):
            return {}
        grey = mid_grey(self.setup.camera.iso)
        frame = frame_of(self.setup.camera, self.looks, tallies)
        told = {}
        for name, parts in _luminances(frame).items():
            total = parts["front"] if name == "veil" else np.sum(list(parts.values()), axis=0)
            told[name] = in_stops(mean_of(total), 1.0 if name == "stray light" else grey)
        return told

    def __call__(self, tallies: Mapping[str, Tally]) -> set[str]:
        """Return the names of the samplers that need more paths."""
        frame = frame_of(self.setup.camera, self.looks, tallies)
        told = self.figures(tallies)
        few = "subject" in tallies and tallies["subject"].rays < _SUBJECT_PATHS
        wanting: set[str] = {"subject"} if few else set()
        for name, parts in _luminances(frame).items():
            if not told[name].value > -np.inf or told[name].half <= self.tolerance:
                continue
            if name == "veil":
                wanting |= self._veil_sources(frame, tallies)
            else:
                wanting.add(max(parts, key=lambda source: mean_of(parts[source]).error))
        grey = mid_grey(self.setup.camera.iso)
        for name, tally in tallies.items():
            if name.startswith("spot"):
                spot = in_stops(mean_of(cell_exposures(tally, self.setup.camera)[:, 0]), grey)
                if spot.value > -np.inf and spot.half > _SPOT_SLACK * self.tolerance:
                    wanting.add(name)
        return wanting

    def _veil_sources(self, frame: Frame, tallies: Mapping[str, Tally]) -> set[str]:
        """Return the sampler whose error is the largest in the veil."""
        errors = {"front": mean_of(luminance(frame.outside).sum(axis=1)).error}
        for name in ("subject", "backdrop", "rest"):
            if name in tallies:
                only = {key: tallies[key] for key in (name, "front")}
                alone = frame_of(self.setup.camera, self.looks, only)
                errors[name] = mean_of(luminance(alone.inside).sum(axis=1)).error
        return {max(errors, key=lambda name: errors[name])}


def _worst_patches(
    stage: Stage, setup: Setup, looks: Mapping[str, Target], tallies: Mapping[str, Tally], tolerance: float,
    seed: int, threads: int | None, deadline: float | None, report: Callable[[Mapping[str, Tally], float], None],
) -> tuple[Target, Outcome] | None:  # fmt: skip
    """Look again, with samples of their own, at the backdrop patches that could be the brightest."""
    if "backdrop" not in looks:
        return None
    grid = looks["backdrop"]
    cells = cell_exposures(tallies["backdrop"], setup.camera, Region.BACKDROP)
    chosen = contenders(cells, CONTENDERS)
    if not len(chosen):
        return None
    target = grid._replace(cells=np.sort(grid.cells[chosen]))
    per_luminance = exposure_per_luminance(setup.camera)
    veil = float(luminance(frame_of(setup.camera, looks, tallies).veil).sum(axis=1).mean())

    def judge(patch_tallies: Mapping[str, Tally]) -> set[str]:
        exposures = cell_exposures(patch_tallies["worst patch"], setup.camera, Region.BACKDROP) + veil
        _, stops = brightest(exposures, len(grid.cells), per_luminance)
        return set() if stops.half <= _WORST_SLACK * tolerance else {"worst patch"}

    outcome = run(
        stage, {"worst patch": target}, judge, seed=(seed + 1) % _SEEDS, threads=threads, deadline=deadline,
        most_paths=1 << 15, progress=report,
    )  # fmt: skip
    return target, outcome


def meter(
    setup: Setup,
    *,
    tolerance: float = TOLERANCE,
    time_limit: float | None = None,
    seed: int | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Readings:
    """Return all readings of a set.

    Parameters
    ----------
    setup
        The checked description.
    tolerance
        Half the 95 % interval to reach in subject, backdrop, stray light and veil, stops.
    time_limit
        Seconds after which no further round of paths is begun; compiling doesn't count.
    seed
        The seed; the set's own by default. The same seed gives the same bits on any number of threads.
    threads
        How many threads; all by default.
    progress
        Called while tracing.

    Returns
    -------
    Readings
        Interrupted by Ctrl-C, the readings of the full rounds until then, marked as such.

    Raises
    ------
    ValueError
        When the tolerance or the time limit is not positive.
    KeyboardInterrupt
        When Ctrl-C comes before the first full round: there is nothing to say yet.
    """
    if not tolerance > 0.0 or (time_limit is not None and not time_limit > 0.0):
        raise ValueError("tolerance and time limit are positive")
    begun = time.monotonic()
    seed = setup.seed if seed is None else seed
    with compiling_timed() as compiling:
        stage, cast = build(setup)
        regions: Regions = sort_regions(stage, setup)
        make_ready(stage)
    deadline = None if time_limit is None else begun + compiling.seconds + time_limit
    looks = targets(regions, setup.spots)
    judge = _Judge(setup, looks, tolerance)

    def report(tallies: Mapping[str, Tally], share: float) -> None:
        if progress is not None:
            progress("readings", share, judge.figures(tallies))

    def report_worst(_: Mapping[str, Tally], share: float) -> None:
        if progress is not None:
            progress("worst patch", share, {})

    outcome: Outcome = run(stage, looks, judge, seed=seed, threads=threads, deadline=deadline, progress=report)
    if not all(tally.rays for tally in outcome.tallies.values()):
        raise KeyboardInterrupt
    worst = None
    if outcome.reason != "interrupted":
        worst = _worst_patches(stage, setup, looks, outcome.tallies, tolerance, seed, threads, deadline, report_worst)
        if worst is not None and worst[1].reason == "interrupted":
            outcome = outcome._replace(reason="interrupted")
            worst = worst if worst[1].tallies["worst patch"].rays else None
    return assemble(setup, cast, regions, looks, outcome, worst, tolerance, seed)
