"""Where the frame lies in the photo: shift, scale and rotation about the subject's centroid.

Both pictures are taken as log2 of luminance, so that neither brighter light nor another exposure moves anything, and
cut off below at what a camera still tells from black. The best place is where their correlation, over the subject and
what is round it, is highest: first over a coarse net of shifts, scales and rotations, then by a pattern search with
steps that halve (Hooke and Jeeves 1961, "Direct search" solution of numerical and statistical problems, J. ACM 8).
"""

from __future__ import annotations

import itertools
import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_FLOOR = -9.0  # stops over mid-grey: darker is alike
_SHIFTS = np.linspace(-0.28, 0.28, 15)  # of the frame's longer side
_SCALES = (-0.5, -0.33, -0.16, 0.0, 0.16, 0.33, 0.5)  # log2
_TURNS = (-0.21, -0.07, 0.07, 0.21)  # radians
_MOST_SHIFT, _MOST_SCALE, _MOST_TURN = 0.35, 0.7, 0.35
_PLAIN = 0.93  # correlation of a subject that is plainly seen
_TURN_TRIAL, _TURN_TOLD = math.radians(6.0), 0.004  # a rotation is seen when this turn costs this much correlation
_MARGIN = 0.35  # of the subject's size: what is looked at round it
_EVENED = 1.5  # cells, one sigma
_LEAST_CELLS, _MOST_SHARE = 24, 0.97


ALIKE = 0.75
"""The least correlation that counts as the same thing."""


class AlignError(ValueError):
    """The photo could not be laid over the prediction; the message says why."""


class Alignment(NamedTuple):
    """Where each place of the frame lies in the photo, p = R(turn)·scale·((u, v) − pivot) + pivot + shift.

    Places are told from the middle, right and down, in longer sides.

    turn: radians, clockwise as seen. turn_known: whether the subject shows how it is turned. likeness: correlation.
    """

    shift: tuple[float, float]
    scale: float
    turn: float
    pivot: tuple[float, float]
    likeness: float
    turn_known: bool

    def to_photo(self, u: Array, v: Array) -> tuple[Array, Array]:
        """Return photo places of frame places."""
        c, s = self.scale * math.cos(self.turn), self.scale * math.sin(self.turn)
        x, y = u - self.pivot[0], v - self.pivot[1]
        return c * x - s * y + self.pivot[0] + self.shift[0], s * x + c * y + self.pivot[1] + self.shift[1]

    def to_frame(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Return frame places of photo places."""
        c, s = math.cos(self.turn) / self.scale, math.sin(self.turn) / self.scale
        u, v = x - self.pivot[0] - self.shift[0], y - self.pivot[1] - self.shift[1]
        return c * u + s * v + self.pivot[0], -s * u + c * v + self.pivot[1]


def places(columns: int, rows: int) -> tuple[Array, Array]:
    """Return the middles of cells, from the frame's middle in longer sides, (rows · columns,) each."""
    long = max(columns, rows)
    u = ((np.arange(columns) + 0.5) - columns / 2.0) / long
    v = ((np.arange(rows) + 0.5) - rows / 2.0) / long
    return np.tile(u, rows), np.repeat(v, columns)


def sampled(picture: Array, x: Array, y: Array) -> Array:
    """Return a picture's values at photo places, bilinear; beyond its edges, its edges go on."""
    height, width = picture.shape
    long = max(height, width)
    across = np.clip(x * long + width / 2.0 - 0.5, 0.0, width - 1.0)
    down = np.clip(y * long + height / 2.0 - 0.5, 0.0, height - 1.0)
    left, top = np.minimum(across.astype(np.int64), width - 2), np.minimum(down.astype(np.int64), height - 2)
    right, low = across - left, down - top
    upper = picture[top, left] * (1.0 - right) + picture[top, left + 1] * right
    lower = picture[top + 1, left] * (1.0 - right) + picture[top + 1, left + 1] * right
    return np.asarray(upper * (1.0 - low) + lower * low)


def align(predicted: Array, subject: Array, photo: Array, *, least: float = ALIKE) -> Alignment:
    """Lay the frame over a photo.

    Parameters
    ----------
    predicted
        (rows, columns) luminance over mid-grey.
    subject
        (rows, columns) share of each cell that sees the subject.
    photo
        (h, w) luminance over mid-grey, as fine as the cells.
    least
        The least correlation that counts as the same thing.

    Raises
    ------
    AlignError
        When there is no subject to align by, or it isn't found near its place.
    """
    view = _view(_evened(predicted), subject)
    search = _Search(view, _logged(_evened(photo)))
    found = search.best()
    search = _Search(view, _logged(_evened(photo, 2.0 ** float(found[2]))))
    found = search.refined(found, step=0.1)
    turn_known = search.turn_shows(found)
    if not turn_known:
        found = search.refined(np.array([found[0], found[1], found[2], 0.0]), turning=False)
    likeness = search.likeness(found)
    _refuse(found, likeness, least)
    return Alignment(
        (float(found[0]), float(found[1])), 2.0 ** float(found[2]), float(found[3]), view.pivot, likeness, turn_known
    )


class _View(NamedTuple):
    """What is looked for: places and log2 luminances of the cells at and round the subject, and its centroid."""

    u: Array
    v: Array
    logged: Array
    pivot: tuple[float, float]
    coarse: NDArray[np.bool_]


def _evened(luminance: Array, scale: float = 1.0) -> Array:
    """Return a picture evened out as a frame's is over a cell and a half, in linear light.

    A cell that an edge crosses is, in logarithms, nearly as bright as its brighter side. How much wider that makes the
    bright side depends on where in the cell the edge runs, and so on how the frame is turned; evened out it does not.

    Parameters
    ----------
    luminance
        (h, w).
    scale
        How many of the picture's cells a cell of the frame is wide; both are means over their cells beforehand.
    """
    own = 1.0 / 12.0  # variance of an even cell
    sigma = math.sqrt(max(scale**2 * (_EVENED**2 + own) - own, 0.1))
    reach = math.ceil(3.0 * sigma)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    kernel /= kernel.sum()
    field = np.nan_to_num(luminance)
    for axis in (0, 1):
        wide = np.pad(field, [(reach, reach) if at == axis else (0, 0) for at in (0, 1)], mode="edge")
        field = np.lib.stride_tricks.sliding_window_view(wide, len(kernel), axis) @ kernel
    return np.asarray(field)


def _logged(luminance: Array) -> Array:
    return np.asarray(np.log2(np.maximum(np.nan_to_num(luminance), 2.0**_FLOOR)))


def _view(predicted: Array, subject: Array) -> _View:
    rows, columns = predicted.shape
    seen = subject > 0.5
    if np.count_nonzero(seen) < _LEAST_CELLS:
        raise AlignError("the set shows no subject, or a very small one, to align the photo by; a larger one would fit")
    if seen.mean() > _MOST_SHARE:
        raise AlignError("the subject fills the frame of the set, so no outline is there to align by")
    u, v = places(columns, rows)
    weight = subject.ravel() / subject.sum()
    pivot = (float(weight @ u), float(weight @ v))
    down, across = np.nonzero(seen)
    margin = _MARGIN * max(np.ptp(down), np.ptp(across))
    near = np.zeros(predicted.shape, np.bool_)
    near[
        max(0, int(down.min() - margin)) : int(down.max() + margin) + 2,
        max(0, int(across.min() - margin)) : int(across.max() + margin) + 2,
    ] = True
    coarse = np.zeros(predicted.shape, np.bool_)
    stride = max(1, round(math.sqrt(np.count_nonzero(near) / 1500.0)))
    coarse[::stride, ::stride] = True
    at = near.ravel()
    return _View(u[at], v[at], _logged(predicted).ravel()[at], pivot, coarse.ravel()[at])


class _Search:
    """The search for the place of highest correlation; a place is (right, down, log2 of scale, turn)."""

    def __init__(self, view: _View, photo: Array) -> None:
        self.view, self.photo = view, photo

    def likeness(self, place: Array, *, coarse: bool = False) -> float:
        """Return the correlation of prediction and photo at a place."""
        view = self.view
        kept = view.coarse if coarse else slice(None)
        at = Alignment((place[0], place[1]), 2.0 ** place[2], place[3], view.pivot, 0.0, True)
        there = sampled(self.photo, *at.to_photo(view.u[kept], view.v[kept]))
        here = view.logged[kept]
        a, b = here - here.mean(), there - there.mean()
        size = math.sqrt(float(a @ a) * float(b @ b))
        return float(a @ b) / size if size > 0.0 else 0.0

    def best(self) -> Array:
        """Return the best place of all."""
        net = [np.array(place) for place in itertools.product(_SHIFTS, _SHIFTS, _SCALES, (0.0,))]
        first = sorted(net, key=lambda place: -self.likeness(place, coarse=True))[:4]
        turned = [np.array([*place[:3], turn]) for place in first for turn in (0.0, *_TURNS)]
        starts = sorted(turned, key=lambda place: -self.likeness(place, coarse=True))[:4]
        ends = [self.refined(start, coarse=True) for start in (*starts, np.zeros(4))]
        return self.refined(max(ends, key=self.likeness), step=0.1)

    def refined(self, place: Array, *, coarse: bool = False, turning: bool = True, step: float = 1.0) -> Array:
        """Return the highest place that small steps lead to."""
        steps = step * np.array([0.02, 0.02, 0.08, 0.07 if turning else 0.0])
        value = self.likeness(place, coarse=coarse)
        while steps[0] > (1e-3 if coarse else 1e-4):
            better = False
            for axis, sign in itertools.product(np.flatnonzero(steps), (-1.0, 1.0)):
                trial = place.copy()
                trial[axis] += sign * steps[axis]
                likeness = self.likeness(trial, coarse=coarse)
                if likeness > value:
                    place, value, better = trial, likeness, True
            if not better:
                steps = steps / 2.0
        return place

    def turn_shows(self, place: Array) -> bool:
        """Return whether turning the frame costs likeness: a round subject hides how it is turned."""
        costs = [
            self.likeness(place) - self.likeness(place + np.array([0.0, 0.0, 0.0, sign * _TURN_TRIAL]))
            for sign in (-1.0, 1.0)
        ]
        return min(costs) > _TURN_TOLD


def _refuse(place: Array, likeness: float, least: float) -> None:
    """Refuse a place that means nothing, and name what is wrong with one only where the subject is plainly seen."""
    away = _away(place)
    if likeness < least or (away is not None and likeness < _PLAIN):
        best, wanted = math.floor(100.0 * likeness) / 100.0, _PLAIN if likeness >= least else ALIKE
        raise AlignError(
            "the photo looks like the prediction nowhere near the subject's place (best correlation "
            f"{best:.2f}, at least {wanted} would do); is it this set, the right way up and round, and does the photo "
            "show the whole frame?"
        )
    if away is not None:
        raise AlignError(away)


def _away(place: Array) -> str | None:
    """Return in which way a place is too far from where the set has it."""
    if abs(place[2]) > _MOST_SCALE:
        return (
            f"the subject is {2.0 ** place[2]:.2f} times as large in the photo as in the set; focal length, distance "
            "or the subject's size is not what the set says"
        )
    if math.hypot(place[0], place[1]) > _MOST_SHIFT:
        return "the subject lies far from its place in the set's frame; aim the camera as the set has it"
    if abs(place[3]) > _MOST_TURN:
        way = "clockwise" if place[3] > 0.0 else "anticlockwise"
        return (
            f"the subject is turned {abs(math.degrees(place[3])):.0f}° {way} against the set; turn it back, or set roll"
        )
    return None
