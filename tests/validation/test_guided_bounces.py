"""Bounces guided toward a body that glows keep the furnace: a lossless set cannot be told from a room of luminance 1.

Nothing outside is needed for the expected value, which is 1. Standard errors and sigmas: see agreement.py.
"""

from __future__ import annotations

import pytest
from finish_stages import BANDS, GLOSS, PERFECT, TABLE, at_angle, metal, plane

from agreement import agrees
from throughlight.stage.losses import gloss_curve, metal_curve
from throughlight.trace.tables import SurfaceKind


def _sheet_of_all():
    """Return the keys of a spreading sheet that loses nothing."""
    keys = {f"{what}_{band}": value for what, value in (("straight", 0.3), ("through", 0.4)) for band in BANDS}
    return {"surface": SurfaceKind.SHEET, "reflectance": 0.3, "n": 1.0, "spread": 1.0, **keys}


LOSSLESS = {
    "matte": {"reflectance": 1.0},
    "gloss": {"reflectance": 1.0, **GLOSS},
    "rough gloss": {"reflectance": 1.0, "alpha": 0.4, "curve": gloss_curve(1.5, 0.4), **GLOSS},
    "metal": metal(*PERFECT),
    "rough metal": {"curve": metal_curve(0.4, *PERFECT), **metal(*PERFECT, 0.4)},
    "sheet": _sheet_of_all(),
}


@pytest.mark.parametrize("mu", [1.0, 0.3])
@pytest.mark.parametrize("name", LOSSLESS)
def test_white_face_beside_a_white_body_cannot_be_seen(name, mu):
    """Bounces that are guided toward a translucent body, and those that are not, make up the same room."""
    agrees(at_angle(plane(beside=True, **LOSSLESS[name]), mu, 4096), 1.0, TABLE if "rough" in name else 0.0)
