"""Turning and cropping against plane geometry and numpy's own quarter turns."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import box

from throughlight.darkroom import finish

WIDTH, HEIGHT = 90, 60


@pytest.fixture
def picture():
    return np.random.default_rng(7).uniform(0.0, 1.0, (HEIGHT, WIDTH, 3)).astype(np.float32)


@pytest.mark.parametrize("quarters", range(-5, 6))
def test_quarter_turns_move_pixels_and_change_none(picture, quarters):
    turned = finish.apply(picture, quarters * math.pi / 2.0, None)
    np.testing.assert_array_equal(turned, np.rot90(picture, quarters))


def test_a_turn_is_counter_clockwise():
    # The only bright pixel is at the right; a quarter turn counter-clockwise brings right to the top.
    mask = np.zeros((5, 5))
    mask[2, 4] = 1.0
    assert finish.apply(mask, math.pi / 2.0, None)[0, 2] == 1.0
    # A small turn of a wide strip lifts its right end.
    strip = np.zeros((201, 201))
    strip[95:106, :] = 1.0
    turned = finish.apply(strip, math.radians(4.0), None)
    rows = np.arange(turned.shape[0])
    left, right = (float(turned[:, column] @ rows / turned[:, column].sum()) for column in (10, -11))
    # Ends are a known distance apart; tan 4° says how far they rise. Bilinear sampling is good to 0.05 pixels here.
    assert left - right == pytest.approx((turned.shape[1] - 21) * math.tan(math.radians(4.0)), abs=0.1)


@settings(deadline=None, max_examples=60)
@given(st.floats(-3.2, 3.2), st.floats(0.4, 2.5))
def test_the_crop_lies_in_the_turned_frame_and_is_the_largest(turn, ratio):
    # Containment by shapely, an independent geometry library.
    wide, tall = finish.inscribed(3000, 2000, turn, ratio)
    frame = affinity.rotate(box(-1500, -1000, 1500, 1000), turn, use_radians=True)
    assert frame.buffer(1e-6).contains(box(-wide / 2, -tall / 2, wide / 2, tall / 2))
    larger = tall + 3  # whole pixels are cut, so two more rows and their columns may still fit but not three
    assert not frame.contains(box(-larger * ratio / 2, -larger / 2, larger * ratio / 2, larger / 2))


@pytest.mark.parametrize("turn", [0.0, 0.03, -0.4, math.pi / 2.0 + 0.02])
@pytest.mark.parametrize("crop", [None, 1.0, 0.8, 1.91])
def test_the_format_is_what_was_asked_for(picture, turn, crop):
    turned = finish.apply(picture, turn, crop)
    upright = abs(math.sin(turn)) > 0.7
    wanted = crop if crop is not None else (HEIGHT / WIDTH if upright else WIDTH / HEIGHT)
    height, width = turned.shape[:2]
    assert abs(width - wanted * height) <= max(1.0, wanted) + 1e-9
    assert turned.shape[2] == 3
    assert turned.dtype == picture.dtype


def test_the_crop_is_from_the_middle():
    columns = np.broadcast_to(np.arange(9.0), (3, 9))
    np.testing.assert_array_equal(finish.apply(columns, 0.0, 1.0)[0], [3.0, 4.0, 5.0])


@pytest.mark.parametrize("degrees", [0.7, -3.0, 20.0, 44.0, 100.0])
def test_an_even_picture_stays_even_to_its_corners(degrees):
    even = np.full((HEIGHT, WIDTH, 3), 0.037)
    np.testing.assert_allclose(finish.apply(even, math.radians(degrees), None), 0.037, rtol=1e-6)


def test_a_slope_is_turned_exactly():
    # Bilinear sampling is exact for a plane. Turned by θ, a rise of 1 a column becomes one of cos θ a column and
    # −sin θ a row, since rows count downward.
    plane = np.broadcast_to(np.arange(200.0), (150, 200))
    turned = finish.apply(plane, 0.2, None).astype(np.float64)
    np.testing.assert_allclose(np.diff(turned, axis=1), math.cos(0.2), atol=2e-4)
    np.testing.assert_allclose(np.diff(turned, axis=0), -math.sin(0.2), atol=2e-4)
    assert turned.mean() == pytest.approx(99.5, abs=0.05)


def test_no_dark_rim_round_a_glint():
    glint = np.full((60, 60, 3), 1e-3)
    glint[28:32, 28:32] = 10.0
    assert finish.apply(glint, 0.1, None).min() >= 1e-3 * (1.0 - 1e-6)


def test_masks_and_pictures_go_alike(picture):
    np.testing.assert_array_equal(finish.apply(picture[:, :, 1], 0.1, 1.0), finish.apply(picture, 0.1, 1.0)[:, :, 1])


@pytest.mark.parametrize(("turn", "crop"), [(math.nan, None), (0.0, 0.0), (0.0, -1.0), (0.0, math.inf)])
def test_what_is_no_turn_and_no_format_is_refused(picture, turn, crop):
    with pytest.raises(ValueError, match="found"):
        finish.apply(picture, turn, crop)
