"""Which single change explains most, which others can't be told from it, and which second frame would tell them."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.match.fit import (
    Data,
    Fit,
    Interval,
    Weights,
    hypothetical_covariance,
    interval,
    solve,
)
from throughlight.match.jackknife import with_prediction_noise
from throughlight.match.model import Model
from throughlight.match.observe import Noise
from throughlight.match.templates import ROOM_UNIT

Array = NDArray[np.float64]

_ALIKE = 6.0  # of cost: single changes within this of the best are not told apart (χ² of one, 98.5 %)
_UNHEARD_OF = 16.0  # of cost by the prior: four sigmas from what is usual
_SAME = 0.01  # stops: nor are changes whose frames differ by less, as finely as two frames of one set repeat at best
_EXPLAINS = 0.5  # of the misfit: what a single change has to explain to be called the cause
_SHOWN = 0.15  # of the exposure, one sigma: a cell with more is not seen well
_NOTHING = 0.03  # stops; a misfit that moves the frame by no more is none
_KNOWN = 0.6  # of its usual spread: a change whose standard error is more was not fixed by the frame
_SETTLES = 0.6  # what a second frame has to leave of a standard error to be worth it
FACTORS = ("cloth", "glare", "room")
"""Kinds that are told by how much of themselves they are more."""
_LONGEST = 256.0  # times the exposure of a frame without flash


class Cause(NamedTuple):
    """One single change, in words and as fitted. explains: the share of the misfit that goes with it."""

    place: int
    words: str
    change: Interval
    told: str
    explains: float
    fit: Fit

    @property
    def cost(self) -> float:
        """Return the misfit that is left, with what is unusual about the change."""
        return self.fit.cost


class Second(NamedTuple):
    """A second frame that would settle it, and what it tells (apart)."""

    frame: str
    settles: tuple[str, ...]


class Verdict(NamedTuple):
    """agrees: nothing is off. causes: single changes, the likeliest first. alike: how many can't be told from it."""

    agrees: bool
    causes: tuple[Cause, ...]
    alike: int
    unknown: tuple[int, ...]
    second: Second | None

    @property
    def explained(self) -> bool:
        """Return whether the likeliest single change explains most of what is off."""
        return len(self.causes) > 0 and self.causes[0].explains >= _EXPLAINS


def name_of(model: Model, place: int) -> str:
    """Return what a change is called."""
    if place == model.level:
        return "everything alike: the camera's speed, the lens's transmittance, or all heads"
    if place == model.vignetting:
        return "the lens's vignetting"
    one = model.templates.changes[place]
    return {
        "head": f"the strength of {one.of}",
        "beam": f"the beam of {one.of}",
        "cloth": "the cloth's reflectance",
        "glare": "the lens's glare index, or light that reaches the lens by a route the set doesn't have",
        "flag": f"{one.of} not where the set has it",
        "room": "the room light",
        "added room": "room light that the set doesn't have",
    }[one.kind]


def unit_of(model: Model, place: int) -> str:
    """Return the unit in which a change is told."""
    kind = model.templates.changes[place].kind if place < model.level else "level"
    return {"beam": "of the angle", "flag": "%", "added room": "lx"}.get(kind, "stop")


def told(model: Model, place: int, change: Interval) -> str:
    """Return a change with its interval in words."""
    unit = unit_of(model, place)
    if unit == "of the angle":
        low, value, high = (100.0 * (2.0**x - 1.0) for x in (change.low, change.value, change.high))
        return f"{_signed(value, 0)} % in angle ({_signed(low, 0)} … {_signed(high, 0)})"
    if unit == "%":
        return f"{100.0 * change.value:.0f} % open ({100.0 * change.low:.0f} … {100.0 * change.high:.0f})"
    if unit == "lx":
        low, value, high = (ROOM_UNIT * x for x in (change.low, change.value, change.high))
        return f"{value:.3g} lx ({low:.3g} … {high:.3g})"
    if place < model.level and model.templates.changes[place].kind in FACTORS:
        change = Interval(*(math.log2(1.0 + x) if x > -1.0 else -math.inf for x in change))
    return f"{_signed(change.value, 2)} stop ({_signed(change.low, 2)} … {_signed(change.high, 2)})"


def _signed(value: float, digits: int) -> str:
    if not math.isfinite(value):
        return "nothing left"
    text = f"{value:+.{digits}f}"
    return (f"{0.0:.{digits}f}" if float(text) == 0.0 else text).replace("-", "−")


def judge(model: Model, data: Data, weights: Weights, fit: Fit, noise: Noise, pixels: Array) -> Verdict:
    """Return which single change explains most, what is ambiguous, and which second frame would settle it.

    Parameters
    ----------
    model, data, weights, fit
        The frame, the photo, and the fit of all changes together.
    noise, pixels
        Of the photo, for what a second frame would be like.
    """
    nothing = solve(model, data, weights, model.fields_free)
    off = nothing.cost - fit.cost
    causes = sorted(
        (_single(model, data, weights, nothing, max(off, 1e-12), place) for place in range(model.vignetting)),
        key=lambda cause: cause.cost,
    )
    causes = [cause for cause in causes if cause.cost < nothing.cost]
    causes, alike = _alike(model, weights, causes)
    agrees = _agree(model, weights, nothing, fit, causes)
    alike = 0 if agrees else alike
    unknown = tuple(
        place for place in fit.free if place < model.level and fit.sigma(place) > _KNOWN * model.sigmas[place]
    )
    view = _View(model, weights, noise, pixels)
    second = _apart(view, causes[: alike + 1]) if alike else None
    if second is None and (unknown or alike):
        wanted = [*(cause.place for cause in causes[: alike + 1] if not agrees), *unknown]
        second = _narrowing(view, fit, [place for place in dict.fromkeys(wanted) if place in fit.free])
    return Verdict(agrees, tuple(causes), alike, unknown, second)


def _agree(model: Model, weights: Weights, nothing: Fit, fit: Fit, causes: list[Cause]) -> bool:
    """Return whether what the changes explain is no more than noise, or too little to be seen."""
    free, off = model.level, nothing.cost - fit.cost
    if off < free + 3.0 * math.sqrt(2.0 * free) or _moved(model, weights, nothing, fit) < _NOTHING:
        return True
    single = bool(causes) and causes[0].explains >= _EXPLAINS
    return single and _moved(model, weights, nothing, causes[0].fit) < _SAME


def _moved(model: Model, weights: Weights, one: Fit, other: Fit) -> float:
    """Return by how much two fits' frames differ, stops, root mean square over the cells that the photo shows well."""
    here, there = model.exposure(one.x)[weights.used], model.exposure(other.x)[weights.used]
    shown = weights.variance[weights.used] < (_SHOWN * here) ** 2
    if not shown.any():
        shown = np.ones_like(shown)
    return float(np.sqrt(np.mean(np.log2(there[shown] / here[shown]) ** 2)))


def _alike(model: Model, weights: Weights, causes: list[Cause]) -> tuple[list[Cause], int]:
    """Return causes with those in front that can't be told from the likeliest, and how many those are."""
    if not causes:
        return causes, 0
    first, *others = causes

    def apart(cause: Cause) -> bool:
        other = _moved(model, weights, first.fit, cause.fit) > _SAME
        unheard_of = cause.fit.prior > first.fit.prior + _UNHEARD_OF
        return cause.cost > first.cost + _ALIKE and (other or unheard_of)

    ordered = sorted(others, key=lambda cause: (apart(cause), cause.cost))
    return [first, *ordered], sum(not apart(cause) for cause in others)


def _single(model: Model, data: Data, weights: Weights, nothing: Fit, off: float, place: int) -> Cause:
    """Return what one change alone does, from the better of two starts."""
    lows, highs = model.bounds
    fits = []
    for start in (0.0, 0.5):
        x = nothing.x.copy()
        x[place] = np.clip(start, lows[place], highs[place])
        fits.append(solve(model, data, weights, [place, *model.fields_free], x))
    best = min(fits, key=lambda one: one.cost)
    change = interval(model, with_prediction_noise(model, data, weights, best), place)
    explains = float(np.clip((nothing.cost - best.cost) / off, 0.0, 1.0))
    return Cause(place, name_of(model, place), change, told(model, place, change), explains, best)


def second_frames(model: Model) -> dict[str, list[int]]:
    """Return the frames that could be taken besides, and the layers that shine in each."""
    names, steady = model.templates.base.names, model.templates.steady
    always = [int(layer) for layer in np.flatnonzero(steady)]
    flashes = [int(layer) for layer in np.flatnonzero(~steady)]
    frames = {f"{names[layer]} alone": [layer, *always] for layer in flashes} if len(flashes) > 1 else {}
    return {**frames, "no flash, a longer exposure": always} if flashes else frames


class _View(NamedTuple):
    """What a second frame would be seen with: the model, the weights of the first, the camera's noise."""

    model: Model
    weights: Weights
    noise: Noise
    pixels: Array

    def gain(self, layers: list[int], x: Array) -> float:
        """Return how many times more exposure than the first a frame of these layers would be given."""
        if any(not self.model.templates.steady[layer] for layer in layers):
            return 1.0
        brightest = float(np.quantile(self.model.exposure(x, layers), 0.99))
        return float(np.clip(1.0 / max(brightest, 1e-9), 1.0, _LONGEST))

    def spread(self, exposure: Array) -> Array:
        """Return the variance of each patch at these exposures."""
        return self.noise.variance(exposure) / np.maximum(self.pixels, 1.0)


def _apart(view: _View, causes: list[Cause]) -> Second | None:
    """Return the frame in which the causes that fit the first alike differ most, if they differ enough.

    A frame without flash, which may well be black, comes last: only where no head by itself is enough.
    """
    best, most = None, _ALIKE
    used = view.weights.used
    for name, layers in second_frames(view.model).items():
        if best is not None and view.model.templates.steady[layers].all():
            continue
        gain = view.gain(layers, causes[0].fit.x)
        first, *others = (gain * view.model.exposure(cause.fit.x, layers) for cause in causes)
        w = view.weights.crowding * (view.spread(first) + (view.weights.kappa * first) ** 2)[used]
        least = min(float(np.sum((first - other)[used] ** 2 / w)) for other in others)
        if least > most:
            best, most = name, least
    return None if best is None else Second(best, tuple(cause.words for cause in causes))


def _narrowing(view: _View, fit: Fit, wanted: list[int]) -> Second | None:
    """Return the frame that narrows the wanted changes most, if one is worth it."""
    at = [fit.free.index(place) for place in wanted]
    before = np.sqrt(np.diag(fit.covariance))[at]
    best, least = None, 0.0
    for name, layers in second_frames(view.model).items():
        gain = view.gain(layers, fit.x)
        spread = view.spread(view.model.exposure(fit.x, layers) * gain)
        after = np.sqrt(np.diag(hypothetical_covariance(view.model, fit, view.weights, layers, gain, spread)))[at]
        settled = after < _SETTLES * before
        gained = float(np.sum(np.log(after / before)))
        if gained < least and settled.any():
            least = gained
            names = (name_of(view.model, place) for place, told_now in zip(wanted, settled, strict=True) if told_now)
            best = Second(name, tuple(names))
    return best
