"""Development against the sRGB standard and the definitions of ISO 12232."""

from __future__ import annotations

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throughlight.darkroom import tone
from throughlight.photometry.exposure import srgb_decode, srgb_encode

ISO_SPEEDS = st.sampled_from([50.0, 100.0, 640.0, 6400.0])
STOPS = st.floats(-14.0, 8.0)
BAND = st.floats(0.0, 1.0)

SRGB = {10: 0.00303527, 64: 0.05126946, 118: 0.18116424, 188: 0.50288646, 200: 0.57758044}
"""Code value: linear light. IEC 61966-2-1:1999, computed with colour-science 0.4.7."""


def grey(over_mid_grey: float, iso: float) -> np.ndarray:
    return np.full((1, 1, 3), 10.0 / iso * 2.0**over_mid_grey)


@pytest.mark.parametrize(("code", "light"), SRGB.items())
def test_srgb_iec_61966_2_1(code, light):
    assert float(srgb_decode(code / 255.0)) == pytest.approx(light, abs=5e-9)
    assert 255.0 * float(srgb_encode(light)) == pytest.approx(code, abs=2e-5)


def test_srgb_follows_colour_science_over_the_whole_range():
    light = np.linspace(0.0, 1.0, 1001)
    np.testing.assert_allclose(srgb_encode(light), colour.cctf_encoding(light, "sRGB"), atol=1e-12)


@pytest.mark.parametrize("dither", [True, False])
@pytest.mark.parametrize("iso", [25.0, 100.0, 12800.0])
def test_mid_grey_is_code_118_everywhere_iso_12232(iso, dither):
    # ISO 12232:2006: standard output sensitivity is 10/H, H being what gives 118 of 255 in sRGB.
    picture = tone.develop(np.full((40, 50, 3), 10.0 / iso), iso, dither=dither)
    assert np.all(picture == 118)


@pytest.mark.parametrize(("code", "light"), [pair for pair in SRGB.items() if pair[0] < 160])
def test_codes_below_the_shoulder_are_the_standards(code, light):
    # One stop over mid-grey is linear light 0.3623, code 161; up to there development is the standard and nothing else.
    exposure = np.full((1, 1, 3), 10.0 / 100.0 * light / 0.18116424)
    assert np.all(tone.develop(exposure, 100.0, dither=False) == code)


def test_no_light_is_black_with_no_toe():
    assert np.all(tone.develop(np.zeros((8, 8, 3)), 100.0) == 0)
    # Eight stops under mid-grey: linear light 0.18116/256, which IEC 61966-2-1 encodes on its straight part.
    dark = tone.signal(grey(-8.0, 100.0), 100.0)
    np.testing.assert_allclose(dark, 12.92 * 0.18116424 / 256.0, rtol=1e-6)


@settings(deadline=None, max_examples=200)
@given(STOPS, st.floats(0.0, 3.0), ISO_SPEEDS)
def test_brighter_is_never_darker(stops, more, iso):
    below, above = (tone.signal(grey(s, iso), iso) for s in (stops, stops + more))
    assert np.all(above >= below - 1e-12)


@settings(deadline=None, max_examples=200)
@given(BAND, BAND, BAND, STOPS, st.floats(0.0, 2.0))
def test_brighter_colours_are_darker_in_no_band(red, green, blue, stops, more):
    colours = np.array([[red, green, blue]]) * 0.1
    below, above = (tone.signal(colours * 2.0**s, 100.0) for s in (stops, stops + more))
    assert np.all(above >= below - 1e-9)


@settings(deadline=None, max_examples=100)
@given(st.floats(0.0, 6.0), ISO_SPEEDS)
def test_clip_is_255_and_stays_iso_12232(over_clip, iso):
    # ISO 12232:2006: the saturation-based speed is 78/H.
    exposure = np.full((1, 1, 3), 78.0 / iso * 2.0**over_clip)
    assert np.all(tone.develop(exposure, iso) == 255)


def test_half_a_stop_below_clip_is_not_yet_white():
    assert np.all(tone.develop(np.full((1, 1, 3), 78.0 / 100.0 / 2.0**0.5), 100.0, dither=False) < 255)


@settings(deadline=None, max_examples=200)
@given(st.floats(0.01, 1.6))
def test_shoulder_has_no_corner(light):
    # A function with a corner has one-sided slopes that differ however small the step; here they meet with the step.
    gaps = []
    for step in (1e-3, 1e-4):
        before, here, after = tone.shoulder(np.array([light - step, light, light + step]))
        gaps.append(abs((after - here) - (here - before)) / step)
    assert gaps[1] < 0.35 * gaps[0] + 1e-8


def test_slopes_meet_where_the_shoulder_begins_and_where_it_ends():
    step = 1e-6
    for joint, slope in ((tone.SHOULDER, 1.0), (tone.CLIP, 0.0)):
        before, here, after = tone.shoulder(np.array([joint - step, joint, joint + step]))
        # p = 1.65 only, so the slope falls to 0 at clip as (step/width)^0.65: 2e-4 at this step.
        assert (here - before) / step == pytest.approx(slope, abs=5e-4)
        assert (after - here) / step == pytest.approx(slope, abs=5e-4)


@settings(deadline=None, max_examples=200)
@given(BAND, BAND, BAND, st.floats(-6.0, 5.0))
def test_development_keeps_the_hue(red, green, blue, stops):
    # HSV (A. R. Smith 1978), of linear light, by colour-science. Hue is undefined for grey and where all is white.
    light = np.array([red, green, blue])
    shown = srgb_decode(tone.signal((light * 0.1 * 2.0**stops)[None], 100.0)[0])
    if np.ptp(light) < 0.01 or np.ptp(shown) < 1e-4:
        return
    before, after = colour.RGB_to_HSV(light)[0], colour.RGB_to_HSV(shown)[0]
    assert abs((before - after + 0.5) % 1.0 - 0.5) < 1e-3


def test_a_coloured_highlight_pales_to_white():
    amber = np.array([1.0, 0.6, 0.2]) * 0.1
    shown = np.array([srgb_decode(tone.signal((amber * 2.0**s)[None], 100.0)[0]) for s in np.arange(1.0, 6.0, 0.25)])
    saturation = 1.0 - shown.min(axis=1) / shown.max(axis=1)
    assert np.all(np.diff(saturation) <= 1e-9)
    assert saturation[-1] < 0.01


def test_what_is_no_light_is_black_and_endless_light_white():
    strange = np.array([[[np.nan, np.nan, np.nan], [-1.0, -2.0, -0.1], [np.inf, np.inf, np.inf]]])
    with np.errstate(all="raise"):
        picture = tone.develop(strange, 100.0)
    np.testing.assert_array_equal(picture[0, :, 0], [0, 0, 255])


def test_a_stray_bright_sample_of_one_colour_is_not_a_pure_colour():
    stray = np.array([[[20.0, 2.0, 2.0]]])  # of mid-grey 0.1: red 4.7 stops past clip, the rest 1.4 past it
    assert tone.develop(stray, 100.0).min() > 240


def test_dither_is_half_a_code_the_same_each_time_and_even():
    ramp = np.geomspace(1e-4, 0.3, 6000).reshape(60, 100, 1) * np.ones(3)
    exact = 255.0 * tone.signal(ramp, 100.0)
    first, again = tone.develop(ramp, 100.0), tone.develop(ramp, 100.0)
    np.testing.assert_array_equal(first, again)
    assert np.abs(first - exact).max() < 1.0  # before rounding ±0.5, with it less than one code
    flat = np.full((64, 64, 3), 10.0 / 100.0 * srgb_decode(30.25 / 255.0) / 0.18116424)
    # A quarter of the pixels should round up. 4096 evenly spread thresholds in 256 levels: to a level or two.
    assert float(np.mean(tone.develop(flat, 100.0))) == pytest.approx(30.25, abs=2 / 256)


def test_dither_leaves_greys_grey():
    greys = np.geomspace(1e-4, 1.0, 900).reshape(30, 30, 1) * np.ones(3)
    picture = tone.develop(greys, 100.0)
    assert np.all(picture == picture[:, :, :1])


@pytest.mark.parametrize(("shape", "iso"), [((4, 3), 100.0), ((4, 4, 2), 100.0), ((2, 2, 3), 0.0), ((2, 2, 3), np.nan)])
def test_no_picture_and_no_speed_are_refused(shape, iso):
    with pytest.raises(ValueError, match="found"):
        tone.develop(np.ones(shape), iso)
