"""The scale of stops against OKLab, CIEDE2000 and Machado's colour-blindness as colour-science has them."""

from __future__ import annotations

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throughlight.darkroom import oklab, scale
from throughlight.photometry.exposure import srgb_decode

CLIP = np.log2(7.8)  # ISO 12232:2006: 78/S over 10/S
WHOLE = np.arange(-12.0, 3.0)

pytestmark = pytest.mark.filterwarnings("ignore")


def light(over_mid_grey) -> np.ndarray:
    return srgb_decode(scale.colours(np.asarray(over_mid_grey, dtype=float)) / 255.0)


def lab_1976(linear) -> np.ndarray:
    return colour.XYZ_to_Lab(colour.RGB_to_XYZ(linear, "sRGB", apply_cctf_decoding=False))


@settings(deadline=None, max_examples=50)
@given(st.tuples(*[st.floats(0.0, 1.0)] * 3))
def test_oklab_ottosson_2020_as_colour_science_has_it(rgb):
    linear = np.array(rgb)
    # Their matrices start from XYZ of D65 rounded to four digits, ours from linear sRGB: alike to some 1e-4.
    xyz = colour.RGB_to_XYZ(linear, "sRGB", apply_cctf_decoding=False)
    np.testing.assert_allclose(oklab.from_linear(linear), colour.XYZ_to_Oklab(xyz), atol=2e-3)
    np.testing.assert_allclose(oklab.to_linear(oklab.from_linear(linear)), linear, atol=1e-6)


def test_lightness_rises_over_the_whole_scale():
    fine = np.concatenate([[-13.0], np.arange(-12.0, 4.01, 0.25)])
    lightness = lab_1976(light(fine))[:, 0]  # CIE 15:2004, L*
    assert np.all(np.diff(lightness) > 0.0)


def test_steps_are_even():
    ok = np.linalg.norm(np.diff(oklab.from_linear(light(WHOLE)), axis=0), axis=1)
    # Even by construction; 8-bit code values move each step by 1/255 at most.
    np.testing.assert_allclose(ok, ok.mean(), atol=1.5 / 255.0)
    # Another formula, which the scale is not made by: no step is half or twice the mean. A step of 2.3 is just noticed
    # (Mahy et al. 1994, for CIE 1976); whole stops stand well clear of it.
    lab = lab_1976(light(WHOLE))
    step = colour.delta_E(lab[:-1], lab[1:], method="CIE 2000")
    assert step.min() > 3.5
    assert step.min() > 0.6 * step.mean()
    assert step.max() < 1.5 * step.mean()


@pytest.mark.parametrize("deficiency", ["Protanomaly", "Deuteranomaly", "Tritanomaly"])
def test_whole_stops_are_told_apart_by_the_colour_blind_machado_2009(deficiency):
    matrix = colour.blindness.matrix_cvd_Machado2009(deficiency, 1.0)
    seen = np.clip(light(np.append(WHOLE, [CLIP + 0.01])) @ matrix.T, 0.0, 1.0)
    lab = lab_1976(seen)
    assert np.all(np.diff(lab[:, 0]) > 0.0)
    step = colour.delta_E(lab[:-1], lab[1:], method="CIE 2000")
    assert step.min() > 2.3


@pytest.mark.parametrize("deficiency", [None, "Protanomaly", "Deuteranomaly", "Tritanomaly"])
def test_clipped_stands_out_from_what_is_just_below(deficiency):
    below, above = light([CLIP - 0.05, CLIP + 0.05])
    if deficiency is not None:
        matrix = colour.blindness.matrix_cvd_Machado2009(deficiency, 1.0)
        below, above = np.clip(below @ matrix.T, 0, 1), np.clip(above @ matrix.T, 0, 1)
    a_stop = colour.delta_E(*lab_1976(light([0.0, 1.0])), method="CIE 2000")
    assert colour.delta_E(lab_1976(below), lab_1976(above), method="CIE 2000") > 1.2 * a_stop


def test_no_light_is_the_darkest_and_too_much_the_lightest():
    shades = scale.colours(np.array([-np.inf, np.nan, -12.5, np.inf, 9.0, 4.0])).astype(int)
    np.testing.assert_array_equal(shades[0], shades[1])
    np.testing.assert_array_equal(shades[0], shades[2])
    np.testing.assert_array_equal(shades[3], shades[5])
    np.testing.assert_array_equal(shades[4], shades[5])
    assert shades[0].max() < 20


def test_whole_stops_get_a_line_and_edges_of_things_none():
    slope = np.tile(np.linspace(-2.5, 2.5, 201), (40, 1))  # 40 pixels a stop
    line = scale.contours(slope)
    crossings = [-2.0, -1.0, 0.0, 1.0, 2.0]
    for stop in crossings:
        at = round((stop + 2.5) * 40)
        assert line[20, at - 2 : at + 3].max() == (2 if stop == 0.0 else 1)
    assert np.count_nonzero(line[20]) == len(crossings)
    edge = np.where(np.arange(60) < 30, -8.0, 2.0)[None, :] * np.ones((40, 1))
    # The small blur spreads an edge of ten stops over four pixels, each far steeper than half a stop a pixel.
    assert np.count_nonzero(scale.contours(edge)[20, 28:32]) == 0


@pytest.mark.parametrize("size", [(600, 900), (40, 30), (1, 1)])
def test_the_picture_keeps_its_pixels_and_gets_a_legend(size):
    exposures = np.full((*size, 3), 10.0 / 100.0 * 2.0**-3.5)
    sheet = scale.stops_picture(exposures, 100.0)
    assert sheet.dtype == np.uint8
    assert sheet.shape[1] > size[1]
    assert sheet.shape[0] >= size[0]
    expected = np.broadcast_to(scale.colours(np.array([[-3.5]])), (*size, 3))
    np.testing.assert_array_equal(sheet[: size[0], : size[1]], expected)
    legend = sheet[:, size[1] :].reshape(-1, 3)
    for stop in (-11.5, -3.5, 0.5, CLIP + 0.5):
        assert np.abs(legend.astype(int) - scale.colours(np.array([stop])).astype(int)).max(axis=1).min() <= 4


def test_luminance_of_rec_709_decides():
    # Rec. ITU-R BT.709-6, item 3.2: pure green of the same band value is 0.7152 of white, 0.483 stops less.
    green = np.array([[[0.0, 0.1, 0.0]]]) / 0.7152
    sheet = scale.stops_picture(np.broadcast_to(green, (20, 20, 3)), 100.0)
    near_zero = scale.colours(np.array([[0.0]])).astype(int)
    assert np.abs(sheet[10, 10].astype(int) - near_zero).max() <= 2


def test_no_picture_is_refused():
    with pytest.raises(ValueError, match="shape"):
        scale.stops_picture(np.ones((3, 3)), 100.0)
