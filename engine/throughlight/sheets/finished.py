"""The finished picture of a set: turned, straightened, cropped, and with the look that `[finish]` asks for."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import finish, look
from throughlight.setup import Setup

Exposures = NDArray[np.floating]


def framed(setup: Setup, H: Exposures) -> Exposures:
    """Return exposures, or a mask, turned, straightened and cropped as the set asks for; its light is as it was.

    Parameters
    ----------
    setup
        The checked description.
    H
        (h, w, bands) or (h, w).
    """
    return finish.apply(H, setup.finish.whole_turn, setup.finish.crop)


def finished(setup: Setup, H: Exposures) -> Exposures:
    """Return exposures, (h, w, 3) lx·s, framed and with lift, black point and saturation: what a picture shows."""
    wishes = setup.finish
    return look.apply(framed(setup, H), setup.camera.iso, wishes.exposure, wishes.black_point, wishes.saturation)
