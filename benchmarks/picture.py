"""P2: the noise of a picture at equal wall time, the peer's ÷ ours, per pixel of the subject.

The noise of a pixel is its relative standard error. It is found from two pictures a, b with independent seeds:
σ = RMS(a − b) / (√2 · mean). Noise falls with the root of time, so at equal time the ratio is
√(σ²·t of the peer ÷ σ²·t of ours), whatever the two times are. Ours is the picture as `shoot` exposes it, which takes
its samples where the developed picture looks grainy; the lamps are set so that the subject is at mid-grey.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable
from typing import Any, NamedTuple
from unittest import mock

import numpy as np
from numpy.typing import NDArray

from benchmarks import peers
from benchmarks.found import Effort, Found, Row
from benchmarks.peer_sets import cropped, description
from benchmarks.reference import COLUMNS, LIT_ANGLE, PICTURE, ROWS, SUBJECT, like_the_peer, reference_text
from benchmarks.turns import in_turns, timed
from throughlight.photometry.exposure import mid_grey
from throughlight.readings import picture
from throughlight.readings.frame import exposure_per_luminance
from throughlight.setup import Setup, loads
from throughlight.stage.build import build
from throughlight.trace.tables import Stage

_SAMPLES = 16  # of the peer, a pixel
_OUR_SECONDS = 4.0  # about what the peer takes
_SUBJECT_LUMINANCE = 2.4606e-3  # for lamps of luminance 1; Mitsuba 3.9.1, long runs
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709

Picture = NDArray[np.float64]


class Noise(NamedTuple):
    """One turn: noise of a pixel, relative; seconds of one picture."""

    noise: float
    seconds: float


def noise_between(first: Picture, second: Picture) -> float:
    """Return the relative noise of a pixel of two pictures (h, w) that differ in their seeds only."""
    mean = 0.5 * float(first.mean() + second.mean())
    return float(np.sqrt(np.mean((first - second) ** 2) / 2.0)) / mean


def _subject(pixels: Picture) -> Picture:
    return pixels[slice(*SUBJECT.rows), slice(*SUBJECT.columns)]


def _turn(render: Callable[[int], Picture]) -> Callable[[int], Noise]:
    """Return a function that makes two pictures a turn and tells their noise."""

    def turn(number: int) -> Noise:
        made: list[Picture] = []
        seconds = timed(lambda: made.extend(render(2 * number + half) for half in range(2))) / 2.0
        return Noise(noise_between(_subject(made[0]), _subject(made[1])), seconds)

    return turn


def _ours(effort: Effort) -> Callable[[int], Picture]:
    setup = loads(reference_text())
    bright = mid_grey(setup.camera.iso) / (exposure_per_luminance(setup.camera) * _SUBJECT_LUMINANCE)

    def staged(described: Setup, **how: bool) -> tuple[Stage, object]:
        return like_the_peer(described, bright), build(described, **how)[1]

    def render(seed: int) -> Picture:
        with mock.patch.object(picture, "build", staged):  # so that it has the peer's rough boundary
            made = picture.expose_picture(setup, time_limit=_OUR_SECONDS * effort.share, seed=seed)
        pixels: Picture = np.asarray(made.exposure, np.float64) @ _LUMINANCE
        return pixels

    return render


def _peer(mi: Any, samples: int) -> Callable[[int], Picture]:  # noqa: ANN401 - untyped
    scene = mi.load_dict(cropped(description(mi, LIT_ANGLE), PICTURE))

    def render(seed: int) -> Picture:
        pixels: Picture = np.array(mi.render(scene, spp=samples, seed=seed)[..., :3], np.float64) @ _LUMINANCE
        return pixels

    return render


def measure(effort: Effort) -> Found:
    """Return P2."""
    doers, note = {"ours": _turn(_ours(effort))}, peers.MISSING
    peer = peers.mitsuba()
    if peer is not None:
        doers["peer"], note = _turn(_peer(peer[0], effort.of(_SAMPLES))), peers.note(peer[1])
    turns = in_turns(doers, effort.turns)
    noise = {name: statistics.median(turn.noise for turn in given) for name, given in turns.items()}
    seconds = {name: statistics.median(turn.seconds for turn in given) for name, given in turns.items()}
    details = {"P2": {"pixels": [COLUMNS, ROWS], "noise": noise, "seconds": seconds}}
    what = "picture, subject noise at the peer's time"
    if peer is None:
        row = Row("P2", what, "stop", noise["ours"] / math.log(2.0), goals=(4.0, 8.0), note=note)
        return Found((row,), details=details)
    at_its_time = noise["ours"] * math.sqrt(seconds["ours"] / seconds["peer"])
    told = f"peer {seconds['peer']:.2f} s a picture, ours {seconds['ours']:.2f} s, scaled to its time"
    note = "; ".join(part for part in (told, note) if part)
    us, theirs = at_its_time / math.log(2.0), noise["peer"] / math.log(2.0)
    row = Row("P2", what, "stop", us, theirs, theirs / us, (4.0, 8.0), note=note)
    return Found((row,), details=details)
