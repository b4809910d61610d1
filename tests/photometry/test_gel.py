"""Gels: mired arithmetic, colour against colour-science, and the light that passes."""

from __future__ import annotations

import numpy as np
import pytest

from throughlight.photometry import gel
from throughlight.photometry.colour import LUMINANCE_WEIGHTS, luminance, temperature_bands


def test_mired_shift_by_definition():
    """10⁶/3200 − 10⁶/5600 = 312.5 − 178.571 = 133.929 mired; half of it takes 5600 K to 4072.73 K."""
    shift = gel.mired_shift(5600, 3200)
    assert shift == pytest.approx(133.928571, abs=1e-6)
    assert gel.shifted(5600, shift) == pytest.approx(3200, rel=1e-12)
    assert gel.shifted(5600, shift / 2) == pytest.approx(4072.73, abs=5e-3)
    assert gel.mired_shift(3200, 5600) == pytest.approx(-shift, rel=1e-12)


@pytest.mark.parametrize(("kelvin", "shift"), [(5600, 134), (5600, 67), (3200, -134), (6500, 40)])
def test_colour_behind_a_gel_is_that_of_the_shifted_light(kelvin, shift):
    """By the correlated colour temperature that colour-science (Ohno 2013) finds in the light, unbalanced: 1 %.

    The locus is a fit (Krystek 1985) and daylight from 5000 K, so that Ohno's nearest body is up to 1 % off.
    """
    colour = pytest.importorskip("colour")
    seen = gel.behind_shift(kelvin, shift, 6504.0)
    xyz = colour.RGB_to_XYZ(seen.bands, "sRGB", apply_cctf_decoding=False)
    cct = colour.uv_to_CCT(colour.UCS_to_uv(colour.XYZ_to_UCS(xyz)), method="Ohno 2013")[0]
    assert cct == pytest.approx(gel.shifted(kelvin, shift), rel=0.01)


def test_no_band_passes_more_than_all_and_one_passes_all():
    for before, after in ((5600, 3200), (3200, 5600), (5600, 9000)):
        passed = gel.most_that_passes(before, after)
        bands = passed * np.divide(temperature_bands(after, 6504.0), temperature_bands(before, 6504.0))
        assert bands.max() == pytest.approx(1.0, rel=1e-12)
        assert passed < 1.0


def test_warming_gel_passes_what_such_gels_are_listed_with():
    """Dyed gels of that shift pass 55 to 65 % (from memory, makers' swatch books): half a stop to the computed most."""
    passed = gel.behind_shift(5600, gel.mired_shift(5600, 3200), 5600).passed
    assert 0.55 <= passed <= 0.75


def test_three_bands_multiply():
    """Seen balanced for itself a light is white, so that the gel's bands are its colour; D65 weighs what passes."""
    light = gel.behind_bands(6504, (0.9, 0.6, 0.3), 6504)
    expected = float(np.dot(LUMINANCE_WEIGHTS, (0.9, 0.6, 0.3)))
    assert light.passed == pytest.approx(expected, rel=1e-9)
    assert light.bands == pytest.approx(np.divide((0.9, 0.6, 0.3), expected), rel=1e-9)
    assert luminance(light.bands) == pytest.approx(1.0, rel=1e-12)


def test_neutral_gel_keeps_the_colour():
    light = gel.behind_bands(3200, (0.25, 0.25, 0.25), 5600)
    assert light.bands == pytest.approx(temperature_bands(3200, 5600), rel=1e-12)
    assert light.passed == pytest.approx(0.25, rel=1e-12)


@pytest.mark.parametrize(("kelvin", "shift"), [(6500, -150), (3200, 700), (10000, -100)])
def test_shifts_out_of_all_known_colours_are_refused(kelvin, shift):
    with pytest.raises(ValueError, match="outside 1000 to 25000 K"):
        gel.shifted(kelvin, shift)
