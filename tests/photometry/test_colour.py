"""Colour temperatures against colour-science 0.4.7 (CIE 15, CIE 224, Planck's law) and the CIE's own white points."""

from __future__ import annotations

import numpy as np
import pytest

from throughlight.photometry import colour as light

colour = pytest.importorskip("colour")

pytestmark = pytest.mark.filterwarnings("ignore:Aligning")
OBSERVER = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]


@pytest.mark.parametrize("kelvin", [4000.5, 5000, 5600, 6504, 7000, 7001, 10000, 25000])
def test_daylight_locus_cie_15(kelvin):
    reference = colour.temperature.CCT_to_xy_CIE_D(kelvin)
    assert light.daylight_chromaticity(kelvin) == pytest.approx(tuple(reference), abs=1e-9)


@pytest.mark.parametrize(
    ("kelvin", "x", "y"), [(5002.8, 0.3457, 0.3585), (5502.8, 0.33243, 0.34744), (6503.6, 0.3127, 0.3290)]
)
def test_daylight_illuminants_d50_d55_d65(kelvin, x, y):
    """CIE 15:2004: D50, D55, D65, whose nominal temperatures moved by 1.4388/1.4380 (6504 K for D65).

    The tabled chromaticities come from the tabled spectra, whose weights are rounded to three decimals: within 1.3e-4
    of the locus.
    """
    assert light.chromaticity(kelvin) == pytest.approx((x, y), abs=1.3e-4)


@pytest.mark.parametrize("kelvin", [1500, 2000, 2856, 3200, 4000])
def test_planckian_locus_krystek_against_planck(kelvin):
    """Krystek (1985) fits the locus to about 1e-4 in u, v (his statement, from memory); here against Planck's law."""
    body = colour.sd_blackbody(kelvin, colour.SpectralShape(360, 830, 1))
    xy = colour.XYZ_to_xy(colour.sd_to_XYZ(body, OBSERVER))
    mine, exact = (colour.UCS_to_uv(colour.XYZ_to_UCS(colour.xy_to_XYZ(c))) for c in (light.chromaticity(kelvin), xy))
    np.testing.assert_allclose(mine, exact, atol=1.2e-4)


def test_illuminant_a():
    """CIE 15:2004: x 0.44758, y 0.40745 for 2856 K."""
    assert light.chromaticity(2856) == pytest.approx((0.44758, 0.40745), abs=5e-4)


@pytest.mark.parametrize("kelvin", [4200, 4500, 4900])
def test_mixture_between_body_and_daylight_cie_224(kelvin):
    """The reference illuminant of CIE 224:2017, integrated by colour-science; its spectra are 5 nm."""
    from colour.quality.cfi2017 import sd_reference_illuminant

    spectrum = sd_reference_illuminant(kelvin, colour.SpectralShape(380, 780, 5))
    xy = colour.XYZ_to_xy(colour.sd_to_XYZ(spectrum, OBSERVER))
    assert light.chromaticity(kelvin) == pytest.approx(tuple(xy), abs=4e-4)


@pytest.mark.parametrize("edge", [light.MIX_FROM, light.MIX_TO, 7000.0])
def test_no_jump_at_the_joints(edge):
    below, above = light.temperature_bands(edge - 1e-6, 5600), light.temperature_bands(edge + 1e-6, 5600)
    # The CIE's two daylight polynomials meet at 7000 K within their own rounding, 2e-5 in x.
    assert below == pytest.approx(above, abs=3e-4)


@pytest.mark.parametrize(("kelvin", "balance"), [(3200, 5600), (5600, 3200), (7500, 5500), (2856, 6504), (2200, 3200)])
def test_bands_against_colour_science_bradford(kelvin, balance):
    """Bradford adaptation and BT.709 matrix of colour-science, from the same two chromaticities."""
    seen, white = (colour.xy_to_XYZ(light.chromaticity(k)) for k in (kelvin, balance))
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        white, colour.xy_to_XYZ((0.3127, 0.3290)), "Bradford"
    )
    matrix = colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_XYZ_to_RGB
    bands = matrix @ adapt @ seen
    bands /= np.dot((0.2126, 0.7152, 0.0722), bands)
    # The recommendation's rounded matrix differs from the one by the primaries in the fourth digit.
    assert light.temperature_bands(kelvin, balance) == pytest.approx(tuple(bands), abs=5e-4)


def test_balanced_light_is_neutral():
    for kelvin in (2000.0, 3200.0, 4500.0, 5600.0, 12000.0):
        assert light.temperature_bands(kelvin, kelvin) == pytest.approx((1, 1, 1), abs=1e-12)


def test_luminance_is_one_and_no_band_is_negative():
    for kelvin in np.geomspace(1000, 25000, 60):
        for balance in (2500.0, 5600.0, 10000.0):
            bands = light.temperature_bands(float(kelvin), balance)
            assert min(bands) >= 0
            assert light.luminance(bands) == pytest.approx(1, rel=1e-12)


def test_warm_light_is_red_and_cool_light_blue():
    warm, cool = light.temperature_bands(3200, 5600), light.temperature_bands(8000, 5600)
    assert warm[0] > 1 > warm[2]
    assert cool[0] < 1 < cool[2]


@pytest.mark.parametrize("kelvin", [999, 25001, float("nan")])
def test_no_fit_no_answer(kelvin):
    with pytest.raises(ValueError, match="outside"):
        light.temperature_bands(kelvin, 5600)
