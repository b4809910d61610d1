"""Simulated test frames of a set: traced apart from any prediction, one thing otherwise, taken by a plain camera.

A pixel is traced for each pixel, with other random numbers than predictions have, so that the frame's grain is that of
a long or of a short run. The lens darkens its corners, the camera is a little turned and aside, adds photon and reading
noise, clips and rounds. Strengths, beams and numbers of the camera are made up; they are of the size that gear has.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from throughlight.darkroom import tone
from throughlight.darkroom.capture import Capture
from throughlight.darkroom.capture_data import ExposureData
from throughlight.match.model import fields_of
from throughlight.match.templates import ROOM_UNIT, Templates, templates_of
from throughlight.match.tracing import Frame, match_grid, trace_frame
from throughlight.photometry.exposure import MID_GREY_LINEAR, mid_grey, srgb_decode
from throughlight.readings.frame import LUMINANCE
from throughlight.setup import Ambient, Setup
from throughlight.setup.calibration import scaled as lighter
from throughlight.trace.tables import Region

Array = NDArray[np.float64]
File = Literal["raw", "linear", "developed"]

_FINE = 8  # times as fine as the readings' fine squares: the photo's pixels
_LONG_RUN, _FRONTS = 32, 1 << 16  # samples of a pixel and replicate; a grainy frame is one of eight replicates
_RAW_GREY = 10.0 / 78.0  # ISO 12232: mid-grey is at H = 10/S, full at 78/S
_TINT = np.array([1.35, 0.92, 0.76])  # of everything in the frame: amber, so that bands clip one after another
_PHOTONS, _READING = 1.3e-4, 3e-4  # noise: variance over the exposure, and one sigma, both over mid-grey
_MARGIN, _TURN, _ASIDE = 16, 1.0, 6.0  # pixels, degrees, pixels
_NARROWER, _LIGHTER = -0.2, 0.5  # log2 of the beam's angle, stops of the cloth


class Taken(NamedTuple):
    """How a frame is taken. quantile, stops: that part of the subject is so many stops over full. otherwise: traced."""

    grainy: bool
    quantile: float
    stops: float
    file: File
    otherwise: bool = False


CONDITIONS = {
    "raw": Taken(False, 1.0, -0.5, "raw"),
    "raw, clipped": Taken(False, 0.93, 0.0, "raw"),
    "raw, dark": Taken(False, 1.0, -4.0, "raw"),
    "8 bit": Taken(False, 1.0, -0.5, "developed"),
    "8 bit, clipped": Taken(False, 0.8, 0.0, "developed"),
    "TIFF, dark": Taken(False, 1.0, -3.0, "linear"),
    "grainy raw": Taken(True, 1.0, -0.5, "raw"),
    "grainy TIFF, clipped": Taken(True, 0.93, 0.0, "linear"),
    "grainy TIFF, dark": Taken(True, 1.0, -3.0, "linear"),
    "grainy 8 bit": Taken(True, 0.9, 0.0, "developed"),
    "raw, traced": Taken(False, 1.0, -0.5, "raw", otherwise=True),
    "8 bit, traced": Taken(False, 1.0, -0.5, "developed", otherwise=True),
}


class Ground(NamedTuple):
    """What a set's frames are made from.

    photo: its first replicate is the long run, the others are grainy. others: frames with one thing otherwise, and what
    that is: place and value. predictions: templates, each with random numbers of its own.
    """

    setup: Setup
    photo: Frame
    others: tuple[tuple[int, float, Frame], ...]
    predictions: tuple[Templates, ...]


def ground_of(setup: Setup, predictions: int) -> Ground:
    """Trace photos and predictions of a set."""
    many = tuple(templates_of(setup, seed=100 + number) for number in range(predictions))
    room = setup.ambient is not None
    lit = setup if room else setup.model_copy(update={"ambient": Ambient.model_construct(illuminance=ROOM_UNIT)})
    photo = _traced(lit, _LONG_RUN)
    long_run = photo.image.mean(axis=0, keepdims=True)
    others = [
        (place, x, frame._replace(image=frame.image.mean(axis=0, keepdims=True).astype(np.float32)))
        for place, x, frame in (
            (place, x, _traced(other, _LONG_RUN // 4)) for place, x, other in _otherwise(lit, many[0])
        )
    ]
    image = np.concatenate([long_run, photo.image]).astype(np.float32)
    return Ground(setup, photo._replace(image=image), tuple(others), many)


def _traced(setup: Setup, samples: int) -> Frame:
    return trace_frame(setup, match_grid(setup, _FINE), samples=samples, fronts=_FRONTS, seed=9_001)


def _otherwise(setup: Setup, templates: Templates) -> Iterator[tuple[int, float, Setup]]:
    """Yield sets with one thing otherwise that has to be traced: place of the change, its value, the set."""
    heads, flags = list(setup.heads), list(setup.flags)
    for place, change in enumerate(templates.changes):
        if change.kind == "beam":
            head = heads[change.layer]
            narrow = head.model_copy(update={"beam": head.beam * 2.0**_NARROWER})
            other = [narrow if one is head else one for one in heads]
            yield place, _NARROWER, setup.model_copy(update={"heads": tuple(other)})
        elif change.kind == "cloth" and setup.backdrop is not None:
            cloth = lighter(setup.backdrop.surface, 2.0**_LIGHTER)
            drop = setup.backdrop.model_copy(update={"surface": cloth})
            yield place, 2.0**_LIGHTER - 1.0, setup.model_copy(update={"backdrop": drop})
        elif change.kind == "flag" and any(flag.name == change.of for flag in flags):
            rest = tuple(flag for flag in flags if flag.name != change.of)
            yield place, 1.0, setup.model_copy(update={"flags": rest})


def photo_of(
    ground: Ground, frame: Frame, x: dict[int, float], vignetting: float, taken: Taken, rng: np.random.Generator
) -> tuple[Capture, float]:
    """Return a photo, and how many times the set's exposure it was given.

    Parameters
    ----------
    ground
        The set's.
    frame
        What it shows.
    x
        By place, what is otherwise of heads, room, glare, or of everything.
    vignetting
        Stops in the corners.
    taken, rng
        How, and with which random numbers.
    """
    image = frame.image[int(rng.integers(1, len(frame.image))) if taken.grainy else 0].astype(np.float64)
    strength, glare = _strengths(ground, x)
    grid = frame.grid
    dimmed = 2.0 ** (-vignetting * fields_of(grid.columns, grid.rows)[0])
    light = (strength @ image) * dimmed + glare * float(strength @ frame.mean_veil)
    subject = (strength @ frame.image[0])[frame.coverage[:, Region.SUBJECT] > 0.97]
    tint = _TINT / float(_TINT @ LUMINANCE)
    full = (2.0**tone.SHOULDER_STOPS if taken.file == "developed" else 1.0 / _RAW_GREY) / tint.max()
    gain = 2.0**taken.stops * full / float(np.quantile(subject, taken.quantile))
    bands = _aside((gain * light).reshape(grid.rows, grid.columns), rng)[..., None] * tint
    noise = rng.standard_normal(bands.shape) * np.sqrt(_PHOTONS * np.maximum(bands, 0.0) + _READING**2)
    return _developed(bands + noise, taken.file), gain


def _strengths(ground: Ground, x: dict[int, float]) -> tuple[Array, float]:
    """Return how strong each layer is, and the lens's glare."""
    changes, glare = ground.predictions[0].changes, 1.0
    strength = np.ones(len(ground.photo.names))
    strength[-1] = 0.0 if ground.setup.ambient is None else 1.0
    for place, value in x.items():
        if place == len(changes):
            strength *= 2.0**value
        elif changes[place].kind == "head":
            strength[changes[place].layer] *= 2.0**value
        elif changes[place].kind == "glare":
            glare = 1.0 + value
        elif changes[place].kind in ("room", "added room"):
            strength[-1] += value
    return strength, glare


def _aside(light: Array, rng: np.random.Generator) -> Array:
    """Return a picture a little turned and shifted, its edge carried on."""
    wide = np.pad(light, _MARGIN, mode="edge").astype(np.float32)
    right, down = (float(one) for one in rng.uniform(-_ASIDE, _ASIDE, 2))
    turn = float(rng.uniform(-_TURN, _TURN))
    image = Image.fromarray(wide).rotate(turn, Image.Resampling.BILINEAR, translate=(right, down))
    return np.asarray(image, np.float64)[_MARGIN:-_MARGIN, _MARGIN:-_MARGIN]


def _developed(bands: Array, file: File) -> Capture:
    """Return what a file of these bands, over mid-grey, is read as."""
    if file == "developed":
        signal = np.stack([tone.signal(row * mid_grey(100), 100) for row in bands])
        code = np.rint(255 * np.clip(signal, 0.0, 1.0)) / 255
        return _capture(file, srgb_decode(code), code >= 1.0, MID_GREY_LINEAR, tone.SHOULDER, 255)
    levels = 15_360 if file == "raw" else 65_535
    lowest = -math.inf if file == "raw" else 0.0
    linear = np.rint(levels * np.clip(bands * _RAW_GREY, lowest, 1.0)) / levels
    return _capture(file, linear, linear >= 1.0, _RAW_GREY, 1.0, levels)


def _capture(kind: File, linear: Array, full: NDArray[np.bool_], grey: float, believed: float, levels: int) -> Capture:
    where = Path("simulated")
    light = linear.astype(np.float32)
    return Capture(where, light, full.any(axis=2), ExposureData(), kind, grey, believed, levels, 1)


def exposed(templates: Templates, gain: float) -> Templates:
    """Return templates at so many times the exposure."""

    def more(frame: Frame) -> Frame:
        return frame._replace(image=frame.image * gain, veil=frame.veil * gain)

    slopes = {
        place: tuple((image * gain, veil * gain) for image, veil in some) for place, some in templates.slopes.items()
    }
    return templates._replace(base=more(templates.base), twin=more(templates.twin), slopes=slopes)
