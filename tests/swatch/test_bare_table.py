"""Uneven light tables: what a smooth surface evens out, and what it leaves as error."""

from __future__ import annotations

import numpy as np
import pytest
from test_photos import SHARE, picture

from throughlight.swatch.photo import passed


def test_lumpy_tables_widen_the_error():
    light = picture()
    waves = np.sin(np.arange(light.shape[1]) * 2.0 * np.pi / 100.0)  # standard deviation 0.07 of the light: 0.1 stop
    assert np.all(passed((light * (1.0 + 0.1 * waves)[None, :, None]).astype(np.float32), 1e-4).error > 0.07)
    assert np.all(passed(light.astype(np.float32), 1e-4).error[:1] < 0.04)


@pytest.mark.parametrize("ends", [(0.5, 1.0), (1.0, 0.7)])
@pytest.mark.parametrize("down", [True, False])
def test_a_table_that_falls_off_is_evened_out(ends, down):
    """A stop darker at one side: a bare patch at the bright side alone would make the piece too dark."""
    light = picture()
    fall = np.linspace(*ends, light.shape[0 if down else 1])
    light *= fall[:, None, None] if down else fall[None, :, None]
    assert passed(light.astype(np.float32), 1e-4).share == pytest.approx(SHARE, rel=0.01)


def test_dark_corners_are_evened_out():
    """Light ∝ 1/(1 + r²/4)² over the frame, 1.4 stops less in the corners: within half of the interval, 0.1 stop."""
    y, x = np.mgrid[-1:1:300j, -1.5:1.5:450j]
    light = picture() / (1.0 + 0.25 * (x * x + y * y))[..., None] ** 2
    found = passed(light.astype(np.float32), 1e-4)
    assert np.log2(found.share / SHARE) == pytest.approx((0.0, 0.0, 0.0), abs=0.1)
    assert found.made > 0.3


def test_a_table_seen_on_one_side_alone_is_not_evened_out():
    """Half a stop of fall beside a piece that reaches the frame's edge: what is not seen is not made up."""
    light = picture(share=(1.0, 1.0, 1.0)) * np.linspace(0.7, 1.0, 450)[None, :, None]
    light[:, :160] *= SHARE
    found = passed(light.astype(np.float32), 1e-4)
    assert found.piece[0] + found.piece[2] < 160 / 450
    off = np.abs(np.log2(found.share / SHARE))
    assert np.all(off < 3.0 * found.error)
    assert found.made == pytest.approx(0.0, abs=1e-9)
