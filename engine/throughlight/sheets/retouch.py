"""The retouch mask: where in the frame supports, cards and flags stand, white on black.

It says what has to be retouched in the photograph, so supports are in it even where the picture hides them. Regular
rays through each pixel and the pupil look at what is met first; clear sheets are looked through. No light is traced.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from throughlight.setup import Setup
from throughlight.stage.build import Cast, build
from throughlight.trace.expose import sort_film
from throughlight.trace.tables import Region, Stage

_RAYS = 2  # along each side of a pixel


def retouch_mask(setup: Setup) -> NDArray[np.float32] | None:
    """Return the share of each pixel of the frame that a support, card or flag covers, (h, w); None where none does."""
    if not (setup.supports or setup.cards or setup.flags):
        return None
    stage = _marked(setup, *build(setup))
    width, height = setup.camera.pixels
    counts = np.zeros((width * height, len(Region)), np.int64)
    sort_film(stage, width, height, _RAYS, counts, np.zeros(len(stage.parts), np.int64))
    covered = counts[:, Region.SUPPORT].reshape(height, width)
    return (covered / np.float32(_RAYS**2)).astype(np.float32) if covered.any() else None


def _marked(setup: Setup, stage: Stage, cast: Cast) -> Stage:
    """Return the stage with the faces of cards and flags counted among the supports."""
    cards = (*setup.cards, *setup.flags)
    faces = {f"{card.name}, {side.name} face" for card in cards for side in (card.front, card.back)}
    parts = stage.parts.copy()
    parts["region"][[name in faces for name in cast.parts]] = Region.SUPPORT
    return stage._replace(parts=parts)
