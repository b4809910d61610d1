"""Lift, black point and saturation against ITU-R BT.709 and ISO 12232, figures by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from throughlight.darkroom import look, tone

ISO = 100.0
MID_GREY, CLIP = 0.1, 0.78  # lx·s: 10/S and 78/S (ISO 12232:2006)
PICTURES = arrays(np.float64, (3, 4, 3), elements=st.floats(0.0, 2.0))


@pytest.fixture
def picture():
    return np.random.default_rng(3).uniform(0.0, 1.2, (6, 9, 3)).astype(np.float32)


def test_nothing_asked_for_changes_nothing(picture):
    assert look.apply(picture, ISO) is picture


def test_a_lift_of_a_stop_doubles_the_light_and_one_down_halves_it(picture):
    np.testing.assert_array_equal(look.apply(picture, ISO, lift=1.0), 2.0 * picture)
    np.testing.assert_array_equal(look.apply(picture, ISO, lift=-1.0), 0.5 * picture)


def test_mid_grey_lifted_by_a_stop_is_developed_to_the_code_of_twice_its_light():
    """IEC 61966-2-1 by hand: 2·0.18116 of full scale is 0.6382·255 = 162.7 (straight up to one stop over mid-grey)."""
    lifted = look.apply(np.full((8, 8, 3), MID_GREY), ISO, lift=1.0)
    linear = 2.0 * ((118.0 / 255.0 + 0.055) / 1.055) ** 2.4
    assert tone.develop(lifted, ISO, dither=False)[0, 0, 0] == round(255.0 * (1.055 * linear ** (1.0 / 2.4) - 0.055))


def test_the_black_point_becomes_black_and_clip_stays():
    H = np.array([[MID_GREY * 2.0**-8] * 3, [MID_GREY * 2.0**-7] * 3, [CLIP] * 3, [0.5 * (CLIP + MID_GREY / 128)] * 3])
    black, at, white, middle = look.apply(H, ISO, black_point=-7.0)[:, 0]
    assert black == at == 0.0
    assert white == pytest.approx(CLIP, rel=1e-12)
    assert middle == pytest.approx(0.5 * CLIP, rel=1e-12)  # half way between black and clip stays half way


def test_each_band_has_the_black_point_to_itself():
    band, other, none = look.apply(np.array([[0.2, 0.1, 0.05]]), ISO, black_point=0.0)[0]
    assert (band, none) == (pytest.approx(0.1 * 0.78 / 0.68), 0.0)
    assert other == 0.0


def test_no_saturation_leaves_luminance_grey(picture):
    """Y = 0.2126 R + 0.7152 G + 0.0722 B (ITU-R BT.709-6, item 3.2)."""
    grey = look.apply(picture, ISO, saturation=0.0)
    luminance = 0.2126 * picture[..., 0] + 0.7152 * picture[..., 1] + 0.0722 * picture[..., 2]
    np.testing.assert_allclose(grey, np.repeat(luminance[..., None], 3, axis=2), rtol=1e-5)


@settings(deadline=None, max_examples=50)
@given(PICTURES, st.floats(0.0, 1.0))
def test_less_saturation_keeps_the_luminance(picture, saturation):
    shown = look.apply(picture, ISO, saturation=saturation)
    weights = np.array([0.2126, 0.7152, 0.0722])
    np.testing.assert_allclose(shown @ weights, picture @ weights, rtol=1e-9, atol=1e-12)


@settings(deadline=None, max_examples=50)
@given(PICTURES, st.floats(-3.0, 3.0), st.floats(0.0, 2.0))
def test_lift_and_saturation_may_change_places(picture, lift, saturation):
    together = look.apply(picture, ISO, lift=lift, saturation=saturation)
    apart = look.apply(look.apply(picture, ISO, saturation=saturation), ISO, lift=lift)
    np.testing.assert_allclose(together, apart, rtol=1e-9, atol=1e-12)


@settings(deadline=None, max_examples=50)
@given(PICTURES, st.floats(-3.0, 3.0), st.floats(-9.0, 0.0), st.floats(0.0, 2.0))
def test_light_stays_light(picture, lift, black_point, saturation):
    shown = look.apply(picture, ISO, lift, black_point, saturation)
    assert shown.shape == picture.shape
    assert np.isfinite(shown).all()
    assert shown.min() >= 0.0


def test_the_type_stays(picture):
    assert look.apply(picture, ISO, 0.3, -7.0, 0.9).dtype == np.float32


@pytest.mark.parametrize(
    ("shape", "how"), [((4, 4), {}), ((4, 3), {"saturation": -0.1}), ((4, 3), {"black_point": 3.0})]
)
def test_what_cannot_be_is_refused(shape, how):
    with pytest.raises(ValueError, match=r"must|need"):
        look.apply(np.ones(shape), ISO, **how)
