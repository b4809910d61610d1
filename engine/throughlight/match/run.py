"""Match: read, align, compare, judge; what a photo says of a set."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from throughlight import __version__
from throughlight.darkroom.capture import Capture
from throughlight.match.align import AlignError, Alignment
from throughlight.match.causes import Verdict, judge, name_of, told
from throughlight.match.compare import Row, compare
from throughlight.match.fit import Fit, Interval, Weights, interval, weigh
from throughlight.match.jackknife import with_prediction_noise
from throughlight.match.laid import first_look, laid
from throughlight.match.model import Model
from throughlight.match.neighbours import round_about
from throughlight.match.observe import Observed
from throughlight.match.patches import Patches, gather, pure_cells
from throughlight.match.settings import Settings, as_taken
from throughlight.match.settle import settled
from throughlight.match.templates import Progress, Templates, templates_of
from throughlight.match.tracing import Frame
from throughlight.readings.reading import stops_json
from throughlight.readings.regions import Grid
from throughlight.setup import Setup

Array = NDArray[np.float64]

SCHEMA = "throughlight/match/1"
_FINENESS = 2
_LEAST_PATCHES = 12
_FEW_PIXELS = 3.0  # along a cell; with fewer its edges count


@dataclass(frozen=True)
class Match:
    """A photo against the prediction.

    taken: the set with the photo's settings. rows: figures in stops. verdict: causes. changes: all changes together,
    with intervals. settled: the fewest that make the photo, to calibrate by, with intervals. difference: (rows,
    columns) of cells, stops, NaN where not compared.
    """

    taken: Settings
    capture: Capture
    alignment: Alignment
    rows: tuple[Row, ...]
    verdict: Verdict
    model: Model
    fit: Fit
    weights: Weights
    changes: dict[int, Interval]
    settled: dict[int, Interval]
    difference: Array

    @property
    def title(self) -> str:
        """Return the set's title."""
        return self.taken.setup.title

    @property
    def notes(self) -> tuple[str, ...]:
        """Return what is doubtful, about the photo's file first."""
        return (*self.capture.warnings, *self.taken.notes)

    def as_json(self) -> dict[str, Any]:
        """Return everything as plain JSON data, units in the keys."""
        return {
            "schema": SCHEMA,
            "engine_version": __version__,
            "title": self.title,
            "seed": self.taken.setup.seed,
            "photo": self.capture.path.name,
            "contradictions": list(self.taken.contradictions),
            "notes": list(self.notes),
            "alignment": _alignment_json(self.alignment),
            "figures": {row.name: _row_json(row) for row in self.rows},
            "agrees": self.verdict.agrees,
            "single_changes": [
                {"name": cause.words, "change": cause.told, "explains_fraction": round(cause.explains, 4)}
                for cause in self.verdict.causes
            ],
            "not_told_apart": [cause.words for cause in self.verdict.causes[: self.verdict.alike + 1]]
            if self.verdict.alike
            else [],
            "changes_together": {
                name_of(self.model, place): told(self.model, place, change) for place, change in self.changes.items()
            },
            "not_fixed_by_this_frame": [name_of(self.model, place) for place in self.verdict.unknown],
            "second_frame": None if self.verdict.second is None else self.verdict.second.frame,
            "unexplained_fraction": round(self.weights.kappa, 4),
        }


def _alignment_json(found: Alignment) -> dict[str, Any]:
    return {
        "right_fraction_of_long_side": round(found.shift[0], 5),
        "down_fraction_of_long_side": round(found.shift[1], 5),
        "scale": round(found.scale, 5),
        "turn_deg": round(math.degrees(found.turn), 3) if found.turn_known else None,
        "correlation": round(found.likeness, 4),
    }


def _row_json(row: Row) -> dict[str, Any]:
    return {
        "predicted_over_mid_grey": stops_json(row.predicted),
        "photographed_over_mid_grey": stops_json(row.photographed),
        "photo_less_prediction": stops_json(row.difference),
        "remark": row.remark,
    }


def match(
    setup: Setup, capture: Capture, *, seed: int | None = None, threads: int | None = None,
    progress: Progress | None = None,
) -> Match:  # fmt: skip
    """Compare a photo with a set's prediction.

    Parameters
    ----------
    setup
        The checked description.
    capture
        The photo.
    seed, threads
        As for `throughlight.meter`.
    progress
        Called with what is traced and the share of everything that is done.

    Raises
    ------
    AlignError
        When the photo can't be laid over the prediction.
    KeyboardInterrupt
        On Ctrl-C; there is nothing to say of half a prediction.
    """
    taken, seed = as_taken(setup, capture.data), setup.seed if seed is None else seed
    first_look(taken.setup, capture, seed=seed, threads=threads)
    templates = templates_of(taken.setup, seed=seed, fineness=_FINENESS, threads=threads, progress=progress)
    return matched(taken, capture, templates, side=2 * _FINENESS)


def matched(taken: Settings, capture: Capture, templates: Templates, side: int) -> Match:
    """Compare a photo with templates that are traced already.

    Parameters
    ----------
    taken
        The set with the photo's settings.
    capture
        The photo.
    templates
        By cells.
    side
        Cells along a patch.

    Raises
    ------
    AlignError
        When the photo can't be laid over the prediction, or too little of both can be compared.
    """
    base, predicted = templates.base, _predicted(templates)
    alignment, observed = laid(predicted, base, capture)
    taken = taken._replace(notes=(*taken.notes, *_coarse(observed, base.grid)))
    patches = gather(templates, observed, side)
    if np.count_nonzero(patches.data.used) < _LEAST_PATCHES:
        raise AlignError(
            "too little of the frame can be compared: most of it is clipped, an edge, or outside the photo; a photo "
            "that is exposed less would fit"
        )
    model, data = patches.model, patches.data
    weights, best = weigh(model, data)
    fit = with_prediction_noise(model, data, weights, best)
    # The step led on from the best fit may, where changes are hardly known, leave the frame that fits.
    verdict = judge(model, data, weights, fit._replace(x=best.x), observed.noise, patches.pixels)
    told_of = [place for place in fit.free if place <= model.vignetting]
    changes = {place: _holding(interval(model, fit, place), float(best.x[place])) for place in told_of}
    fewest = settled(model, data, weights, fit, changes, verdict)
    figures = compare(templates, observed, patches, fit)
    difference = _difference(predicted, observed, base)
    return Match(taken, capture, alignment, figures, verdict, model, fit, weights, changes, fewest, difference)


def _holding(change: Interval, value: float) -> Interval:
    """Return an interval that holds the best fit too, from which the step led on may lead far where little is known."""
    return Interval(change.value, min(change.low, value), max(change.high, value))


def _coarse(observed: Observed, grid: Grid) -> tuple[str, ...]:
    """Return a note where the photo has few pixels for the cells of the prediction."""
    across = math.sqrt(float(np.median(observed.pixels[observed.pixels > 0.0])))
    if across >= _FEW_PIXELS:
        return ()
    more = math.ceil(_FEW_PIXELS * max(grid.columns, grid.rows))
    return (
        f"the photo has only {across:.1f} pixels along a cell of the prediction, so what edges do to cells is not told "
        f"from light; {more} pixels or more along its longer side would fit",
    )


def _predicted(templates: Templates) -> Array:
    """Return the set's own frame by cells, over mid-grey."""
    from throughlight.match.model import model_of

    model = model_of(templates)
    return model.exposure(np.zeros(model.count))


def _difference(predicted: Array, observed: Observed, base: Frame) -> Array:
    """Return photo over prediction, stops, by cells.

    NaN where they are not compared: at edges and supports, and where the photo is beyond what is told.
    """
    # By light and doubt round about: chosen by their own, only the brighter cells of a dark backdrop would be shown.
    many = np.maximum(round_about(observed.pixels, base.grid), 1.0)
    doubt = np.sqrt(observed.variance + observed.offset**2)
    light, lowest = (round_about(one * observed.pixels, base.grid) / many for one in (observed.mean, 2.0 * doubt))
    seen = (np.minimum(light, predicted) > np.maximum(lowest, 2.0 * doubt)) & (observed.mean > 0.0)
    shown = observed.used & seen & (pure_cells(base.coverage, base.grid) >= 0)
    ratio = np.where(shown, observed.mean, 1.0) / predicted
    stops = np.where(shown, np.log2(np.maximum(ratio, 1e-9)), np.nan)
    return np.asarray(stops.reshape(base.grid.rows, base.grid.columns))


__all__ = ["SCHEMA", "Match", "Observed", "Patches", "match", "matched"]
