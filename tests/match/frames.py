"""A made-up frame by cells for the tests beside this file: two heads, a cloth, a flag, room light, a bright subject.

Its layers are smooth shapes of about the sizes that a traced set has; nothing about them is measured. A photo of it is
simulated with vignetting, photon and reading noise, and rounding to 8 bits.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np

from throughlight.darkroom.capture import Capture, ExposureData
from throughlight.match.align import Alignment
from throughlight.match.causes import Verdict, judge
from throughlight.match.fit import Fit, Weights, weigh
from throughlight.match.jackknife import with_prediction_noise
from throughlight.match.model import model_of
from throughlight.match.observe import observe
from throughlight.match.patches import Patches, gather
from throughlight.match.templates import Change, Templates
from throughlight.match.tracing import Frame
from throughlight.photometry.exposure import MID_GREY_LINEAR, srgb_decode, srgb_encode
from throughlight.readings.regions import Grid
from throughlight.trace.tables import Region

COLUMNS, ROWS = 72, 48
SQUARE = Alignment((0.0, 0.0), 1.0, 0.0, (0.0, 0.0), 1.0, True)
"""The frame just fills the photo."""


def places(columns=COLUMNS, rows=ROWS):
    across = ((np.arange(columns) + 0.5) / columns * 2.0 - 1.0) * columns / rows
    down = (np.arange(rows) + 0.5) / rows * 2.0 - 1.0
    return np.meshgrid(across, down)


def templates(noise=0.0, seed=1, columns=COLUMNS, rows=ROWS):
    """Return templates; each replicate of the base has this relative noise in every cell and a third of it in veils."""
    x, y = places(columns, rows)
    subject = ((x / 0.62) ** 2 + ((y + 0.1) / 0.45) ** 2 < 1.0).astype(float)
    cloth = 1.0 - subject
    left = subject * 0.8 * np.exp(0.9 * x) + cloth * 0.015 * np.exp(-((x + 1.2) ** 2 + y**2))
    right = subject * 0.5 * np.exp(-1.1 * x + 0.3 * y) + cloth * 0.010 * np.exp(-((x - 1.1) ** 2 + y**2))
    room = subject * 0.05 + cloth * 0.004
    image = np.stack([one.ravel() for one in (left, right, room)])
    veil = np.array([0.006, 0.004, 0.0008])
    rng = np.random.default_rng(seed)
    spread = 1.0 + noise * rng.standard_normal((8, *image.shape))
    spread_veil = 1.0 + noise / 3.0 * rng.standard_normal((8, 3))
    coverage = np.zeros((columns * rows, 4))
    coverage[:, Region.SUBJECT], coverage[:, Region.BACKDROP] = subject.ravel(), cloth.ravel()
    base = Frame(Grid(columns, rows), image * spread, veil * spread_veil, coverage, ("left", "right", "room light"))
    only_left, nothing = np.array([1.0, 0.0, 0.0]), np.zeros((3, columns * rows))
    narrow = nothing.copy()
    narrow[0] = image[0] * (0.5 - 0.9 * (x.ravel() ** 2))
    behind = image * coverage[:, Region.BACKDROP]
    unflagged = nothing.copy()
    unflagged[1] = (cloth * 0.03 * np.exp(-((x - 0.2) ** 2 + (y - 0.4) ** 2) / 0.3)).ravel()
    changes = (
        Change("head", "left", 0, 0.6, -4.0, 4.0),
        Change("head", "right", 1, 0.6, -4.0, 4.0),
        Change("glare", "the lens", -1, 1.0, -1.0, 100.0),
        Change("room", "the room", 2, 1.0, -1.0, 100.0),
        Change("beam", "left", 0, 0.25, -1.0, 1.0),
        Change("cloth", "backdrop", -1, 1.0, -1.0, 100.0),
        Change("flag", "right flag", -1, 0.3, 0.0, 1.0),
    )
    own = 1.0 + 2.0 * noise * rng.standard_normal((8, *image.shape))  # fewer samples, shared with the variants
    own_veil = 1.0 + noise / 2.0 * rng.standard_normal((8, 3))
    twin = Frame(base.grid, image * own, veil * own_veil, coverage, base.names)

    def replicates(more, more_veil):
        return more * own, more_veil * own_veil

    slopes = {
        4: (replicates(-narrow, -0.3 * veil * only_left), replicates(0.3 * narrow, 0.0 * veil)),
        5: (replicates(behind, 0.05 * veil),),
        6: (replicates(unflagged, np.array([0.0, 0.02, 0.0])),),
    }
    return Templates(base, twin, changes, slopes, np.array([False, False, True]))


def place_of(model, kind, of=None):
    """Return where a change stands in a vector of them."""
    return next(i for i, one in enumerate(model.templates.changes) if one.kind == kind and of in (None, one.of))


def light_of(exposure, pixels_a_cell, columns=COLUMNS, rows=ROWS):
    """Return exposures by cell as a picture, over mid-grey, each cell a square of equal pixels."""
    return np.kron(exposure.reshape(rows, columns), np.ones((pixels_a_cell, pixels_a_cell)))


def noisy(light, rng, *, photons=0.0, reading=0.0):
    """Return a picture with noise of variance photons · exposure + reading²."""
    return light + rng.standard_normal(light.shape) * np.sqrt(photons * np.maximum(light, 0.0) + reading**2)


def developed(light, levels=255):
    """Return the photo that an 8-bit sRGB file of exposures over mid-grey is read as."""
    code = np.rint(levels * srgb_encode(np.maximum(light, 0.0) * MID_GREY_LINEAR))
    linear = np.repeat(srgb_decode(code / levels)[..., None], 3, axis=2)
    return Capture(
        Path("simulated.png"), linear.astype(np.float32), code >= levels, ExposureData(), "developed", MID_GREY_LINEAR,
        2.0 * MID_GREY_LINEAR, levels, 1,
    )  # fmt: skip


def raw(light, levels=15360):
    """Return the photo that a raw file of exposures over mid-grey is read as."""
    grey = 10.0 / 78.0
    linear = np.rint(levels * np.minimum(light * grey, 1.0)) / levels
    picture = np.repeat(linear[..., None], 3, axis=2).astype(np.float32)
    return Capture(Path("simulated.dng"), picture, linear >= 0.995, ExposureData(), "raw", grey, 1.0, levels, 1)


def model(**how):
    return model_of(templates(**how))


class Judged(NamedTuple):
    """A simulated photo, matched: patches, weights, the fit of all changes together, the verdict."""

    patches: Patches
    weights: Weights
    fit: Fit
    verdict: Verdict

    @property
    def model(self):
        return self.patches.model


def judged(capture, prediction):
    """Return what a photo says of a prediction."""
    seen = observe(capture, prediction.base.grid, SQUARE)
    patches = gather(prediction, seen, 2)
    weights, fit = weigh(patches.model, patches.data)
    fit = with_prediction_noise(patches.model, patches.data, weights, fit)
    verdict = judge(patches.model, patches.data, weights, fit, seen.noise, patches.pixels)
    return Judged(patches, weights, fit, verdict)
