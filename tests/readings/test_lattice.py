"""Lattices of pixels: each pixel once, and the spline between them against a general library's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import BSpline

from throughlight.readings.lattice import enlarged, groups, strides


@pytest.mark.parametrize(("width", "height"), [(72, 48), (45, 31), (7, 1)])
def test_lattices_hold_every_pixel_once(width: int, height: int) -> None:
    cells, coarser = [], None
    for stride in strides(width, height, 30):
        cells += [cell for group in groups(width, height, stride, coarser) for cell in group]
        so_far = [(row, column) for row in range(0, height, stride) for column in range(0, width, stride)]
        assert sorted(cells) == [row * width + column for row, column in so_far]
        coarser = stride
    assert coarser == 1


def test_coarsest_stride_is_the_first_that_is_small_enough() -> None:
    assert strides(900, 600, 10000) == [8, 4, 2, 1]
    assert strides(10, 10, 100) == [1]
    assert strides(6000, 4000, 10000)[0] == 64


@pytest.mark.parametrize("stride", [2, 4])
def test_between_points_stands_the_uniform_cubic_b_spline(stride: int) -> None:
    """A coarse row, against scipy's BSpline with the same control points (outermost ones repeated).

    Doubled twice, control points are smoothed twice: the reference does the same.
    """
    values = np.random.default_rng(3).random(9)
    expected = values
    for _ in range(stride.bit_length() - 1):
        control = np.concatenate([expected[:1], expected[:1], expected, expected[-1:], expected[-1:]])
        spline = BSpline(np.arange(-4.0, len(control)), control, 3)
        expected = spline(np.arange(2 * len(expected)) / 2.0)
    picture = enlarged(values[None, :, None].repeat(3, axis=2), stride, 9 * stride, stride)
    np.testing.assert_allclose(picture[0, :, 1], expected, rtol=1e-12)


def test_an_even_field_stays_even_and_nothing_overshoots() -> None:
    np.testing.assert_allclose(enlarged(np.full((4, 5, 3), 0.7), 8, 37, 25), 0.7)
    dot = np.zeros((5, 5, 3))
    dot[2, 2] = 1.0
    grown = enlarged(dot, 4, 20, 20)
    assert grown.shape == (20, 20, 3)
    assert grown.min() >= 0.0
    assert grown.max() <= 1.0
