"""The scale of differences: size as lightness, sign as hue, for every common colour vision."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from throughlight.darkroom.difference import MOST, colours, difference_picture

STOPS = np.linspace(0.0, MOST, 13)


def lab(codes):
    # colour-science's own sRGB and CIELAB.
    return colour.XYZ_to_Lab(colour.sRGB_to_XYZ(codes / 255.0))


def test_lightness_falls_alike_to_both_sides():
    brighter, darker = (lab(colours(sign * STOPS))[:, 0] for sign in (1.0, -1.0))
    assert (np.diff(brighter) < 0.0).all()
    assert (np.diff(darker) < 0.0).all()
    np.testing.assert_allclose(brighter, darker, atol=4.0)


def test_signs_stay_apart_for_red_and_green_blindness():
    # Machado, Oliveira and Fernandes 2009, as colour-science has it; a difference of CIE 1976 of 10 is plain to see.
    for kind in ("Protanomaly", "Deuteranomaly"):
        matrix = colour.matrix_cvd_Machado2009(kind, 1.0)
        seen = [
            np.clip(colour.cctf_encoding((matrix @ colour.cctf_decoding(colours(sign * STOPS) / 255.0).T).T), 0.0, 1.0)
            for sign in (1.0, -1.0)
        ]
        apart = np.linalg.norm(lab(255.0 * seen[0])[2:] - lab(255.0 * seen[1])[2:], axis=1)
        assert apart.min() > 10.0


def test_what_is_not_compared_is_no_colour_of_the_scale():
    grey = colours(np.array([np.nan]))[0]
    scale = colours(np.linspace(-MOST, MOST, 601))
    assert np.abs(scale.astype(int) - grey).sum(axis=1).min() > 60
    np.testing.assert_array_equal(colours(np.array([9.0, -9.0])), colours(np.array([MOST, -MOST])))


def test_the_picture_stands_at_the_upper_left_with_its_legend_beside_it():
    field = np.random.default_rng(1).uniform(-4.0, 4.0, (20, 30))
    picture = difference_picture(field, 3)
    np.testing.assert_array_equal(picture[:60:3, :90:3], colours(field))
    assert picture.shape[1] > 90
    assert picture.shape[0] >= 200
    with pytest.raises(ValueError, match="found"):
        difference_picture(np.zeros((3, 3, 3)))
