"""The photo laid over the prediction, or the reason why it can't be; a first look says so before much is traced.

A first look traces the frame with few samples: enough to see whether the photo shows this subject, and whether it is
exposed so that something can be compared. It is laxer than the last look, so that it refuses nothing which that takes.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom.capture import Capture
from throughlight.match.align import ALIKE, AlignError, Alignment, align
from throughlight.match.observe import Observed, as_fine, luminance_of, observe
from throughlight.match.patches import pure_cells
from throughlight.match.tracing import Frame, match_grid, trace_frame
from throughlight.setup import Setup
from throughlight.trace.tables import Region

Array = NDArray[np.float64]

_ASPECT_SLACK, _OTHER_SHAPE = 0.04, 0.3
_MOST_FULL = 0.95  # of the subject
_LAXER, _LAX_FULL = 0.07, 0.98  # at a first look: less correlation, and what may be full
_FIRST_SAMPLES, _FIRST_FRONTS = 8, 1 << 9  # of each cell and replicate; of each replicate


class Laid(NamedTuple):
    """Where the frame lies in the photo, and the photo by the prediction's cells."""

    alignment: Alignment
    observed: Observed


def refuse_other_shape(setup: Setup, capture: Capture) -> None:
    """Refuse a photo that is no whole frame of the set's camera, as it is held.

    Raises
    ------
    AlignError
        When its sides are far from those of the sensor.
    """
    height, width = capture.clipped.shape
    sensor = setup.camera.sensor_width / setup.camera.sensor_height
    as_set, turned = (abs(math.log(width / height / ratio)) <= _ASPECT_SLACK for ratio in (sensor, 1.0 / sensor))
    if turned and not as_set:
        raise AlignError("the photo is upright and the set's frame lies across, or the other way; turn one of them")
    if not as_set and abs(math.log(width / height / sensor)) > _OTHER_SHAPE:
        raise AlignError(
            f"the photo's sides are as {width / height:.2f} to 1, the set's sensor has {sensor:.2f} to 1; the whole "
            "frame of such a camera would fit"
        )


def first_look(setup: Setup, capture: Capture, *, seed: int, threads: int | None = None) -> None:
    """Refuse a photo that can't be compared whatever is traced.

    Parameters
    ----------
    setup
        The set, with the photo's settings.
    capture
        The photo.
    seed, threads
        As for `throughlight.meter`.

    Raises
    ------
    AlignError
        When it can't be laid over a rough prediction, or its subject is full.
    """
    refuse_other_shape(setup, capture)
    rough = trace_frame(
        setup, match_grid(setup, 1), samples=_FIRST_SAMPLES, fronts=_FIRST_FRONTS, seed=seed, threads=threads
    )
    predicted = rough.mean_image.sum(axis=0) + rough.mean_veil.sum()
    laid(predicted, rough, capture, least=ALIKE - _LAXER, most_full=_LAX_FULL)


def laid(
    predicted: Array, base: Frame, capture: Capture, *, least: float = ALIKE, most_full: float = _MOST_FULL
) -> Laid:
    """Lay the frame over a photo.

    Parameters
    ----------
    predicted
        (cells,) over mid-grey.
    base
        The frame that it is of.
    capture
        The photo.
    least
        The least correlation that counts as the same thing.
    most_full
        The share of the subject that may be beyond what the file can tell.

    Raises
    ------
    AlignError
        When it can't be laid over it, or next to nothing of the subject is where the file tells how bright it is.
    """
    shape = (base.grid.rows, base.grid.columns)
    subject = base.coverage[:, Region.SUBJECT].reshape(shape)
    photo = as_fine(luminance_of(capture), max(shape))
    alignment = align(predicted.reshape(shape), subject, photo, least=least)
    observed = observe(capture, base.grid, alignment)
    subject = pure_cells(base.coverage, base.grid) == Region.SUBJECT
    if subject.any() and (full := float(observed.clipped[subject].mean())) > most_full:
        raise AlignError(_full_words(full, capture))
    return Laid(alignment, observed)


def _full_words(share: float, capture: Capture) -> str:
    if capture.kind != "developed":
        return f"{100.0 * share:.0f} % of the subject is clipped; a photo that is exposed less would fit"
    return (
        f"{100.0 * share:.0f} % of the subject is, in some colour, brighter than a stop over mid-grey, from where a "
        "developed picture's curve may bend; a raw file or a linear TIFF, which tell more, or a photo that is exposed "
        "a stop or two less would fit"
    )
