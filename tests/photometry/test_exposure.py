"""Exposure, meters and code values against standards and worked numbers.

Constants: ISO 2720:1974 (K, C) and ISO 12232:2006 (10, 78, code 118), clause texts not at hand. Worked numbers marked
"colour-hdri" were computed with colour-hdri 0.2.6, those marked "algebra" by hand from the stated equation.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from throughlight.photometry import exposure as ex


def test_focal_plane_exposure_colour_hdri():
    """colour-hdri 0.2.6: arithmetic_mean_focal_plane_exposure(4000, 16, 1/100), T 0.9, v 0.98, θ 10°."""
    h = ex.image_exposure(4000, 1 / 100, 16, 0, transmittance=0.9 * 0.98, field_angle=math.radians(10))
    assert h == pytest.approx(0.101808567888, rel=1e-9)


def test_standard_factor_0_65():
    """ISO 2720 and 12232: q = π/4·T·v·cos⁴10° = 0.651575, rounded 0.65."""
    q = ex.image_exposure(1, 1, 1, 0, transmittance=0.9 * 0.98, field_angle=math.radians(10))
    assert q == pytest.approx(0.651575, rel=1e-6)


@pytest.mark.parametrize(
    ("luminance", "shutter", "f_number", "listed"),
    [(4000, 1 / 100, 16, 0.1015625), (1000, 1 / 125, 8, 0.08125), (512, 1 / 60, 5.6, 0.17687075)],
)
def test_rounded_factor_worked_numbers(luminance, shutter, f_number, listed):
    """Algebra: H = 0.65·L·t/N²."""
    transmittance = 0.65 / (math.pi / 4)
    h = ex.image_exposure(luminance, shutter, f_number, 0, transmittance=transmittance)
    assert h == pytest.approx(listed, rel=1e-7)


def test_close_focus_colour_hdri():
    """colour-hdri 0.2.6: focal_plane_exposure(4000, 8, 1/250, F 0.05, i for 5 m, flare 0), T 0.9, v 0.98, θ 10°.

    Its bellows factor is (1 − F/s)², the same as 1/(1 + m)² with m = F/(s − F).
    """
    m = 0.05 / (5 - 0.05)
    h = ex.image_exposure(4000, 1 / 250, 8, m, transmittance=0.9 * 0.98, field_angle=math.radians(10))
    assert h == pytest.approx(0.15965212382, rel=1e-9)


def test_share_of_saturation_colour_hdri():
    """colour-hdri 0.2.6: saturation_based_speed_focal_plane_exposure(4000, 8, 1/250, 400), 50 mm at 5 m as above."""
    h = ex.image_exposure(4000, 1 / 250, 8, 0.05 / 4.95, transmittance=0.9 * 0.98, field_angle=math.radians(10))
    assert h / ex.clip(400) == pytest.approx(0.818728840101, rel=1e-9)


def test_mid_grey_and_clip_iso_12232():
    """S_sos = 10/H and S_sat = 78/H: 0.1 and 0.78 lx·s at ISO 100, 2.9635 stops apart."""
    assert ex.mid_grey(100) == pytest.approx(0.1, rel=1e-12)
    assert ex.clip(100) == pytest.approx(0.78, rel=1e-12)
    assert ex.stops(ex.clip(100), 100) == pytest.approx(2.9635, abs=5e-5)


def test_metered_exposure_lies_3_26_stops_under_clip():
    """A reflected reading at K = 12.5 with q = 0.65 gives 8.125/S lx·s (about 8/S), 3.2630 stops under saturation."""
    luminance = ex.luminance_metered(ex.exposure_value(8, 1 / 125))
    h = ex.image_exposure(luminance, 1 / 125, 8, 0, transmittance=0.65 / (math.pi / 4))
    assert h == pytest.approx(0.08125, rel=1e-9)
    assert math.log2(ex.clip(100) / h) == pytest.approx(3.2630, abs=5e-5)


def test_mid_grey_stands_at_18_percent_over_root_two_of_saturation():
    """ISO 12232: the 78 puts an 18 % card at 18 %/√2 = 12.7 % of saturation; 10/78 is that to the standard's digits."""
    assert ex.mid_grey(100) / ex.clip(100) == pytest.approx(0.18 / math.sqrt(2), rel=0.01)


@pytest.mark.parametrize(("ev", "luminance"), [(0, 0.125), (12, 512), (15, 4096)])
def test_reflected_meter_table(ev, luminance):
    """ISO 2720 with K = 12.5."""
    assert ex.luminance_metered(ev) == pytest.approx(luminance, rel=1e-12)
    assert ex.exposure_value_of_luminance(luminance) == pytest.approx(ev, abs=1e-12)


@pytest.mark.parametrize(("ev", "illuminance"), [(0, 2.5), (10, 2560), (15, 81920)])
def test_incident_meter_table(ev, illuminance):
    """ISO 2720 with C = 250."""
    assert ex.illuminance_metered(ev) == pytest.approx(illuminance, rel=1e-12)
    assert ex.exposure_value_of_illuminance(illuminance) == pytest.approx(ev, abs=1e-12)


def test_exposure_value_colour_hdri():
    """colour-hdri 0.2.6: luminance_to_exposure_value(4000, 100), illuminance…(81920, 100), EV100(8, 1/250, 400)."""
    assert ex.exposure_value_of_luminance(4000) == pytest.approx(14.9657842847, rel=1e-10)
    assert ex.exposure_value_of_illuminance(81920) == pytest.approx(15.0, rel=1e-12)
    assert ex.exposure_value(8, 1 / 250, 400) == pytest.approx(11.9657842847, rel=1e-10)


@pytest.mark.parametrize(("k", "c", "reflectance"), [(12.5, 250, 0.157080), (14, 250, 0.175929), (12.5, 330, 0.119000)])
def test_implied_reflectance_of_the_two_meters(k, c, reflectance):
    """π·K/C: 15.7 % and 17.6 %, as told of meter calibration."""
    luminance, illuminance = ex.luminance_metered(10, k), ex.illuminance_metered(10, c)
    assert math.pi * luminance / illuminance == pytest.approx(reflectance, abs=5e-7)


def test_sunny_16():
    """f/16 at 1/S s: EV 14.6439, 3200 cd/m² (K 12.5), 64 000 lx (C 250)."""
    value = ex.exposure_value(16, 1 / 100)
    assert value == pytest.approx(14.6439, abs=5e-5)
    assert ex.luminance_metered(value) == pytest.approx(3200, rel=1e-12)
    assert ex.illuminance_metered(value) == pytest.approx(64000, rel=1e-12)


@pytest.mark.parametrize(
    ("reflectance", "luminance"), [(0.18, 57.295780), (0.90, 286.478898), (0.04, 12.732395), (0.004, 1.273240)]
)
def test_cards_under_1000_lux(reflectance, luminance):
    """Lambert: L = ρ·E/π; a reflected reading of the 18 % card lies 0.1965 EV over the incident one."""
    assert reflectance * 1000 / math.pi == pytest.approx(luminance, abs=5e-7)
    if reflectance == 0.18:
        incident, reflected = ex.exposure_value_of_illuminance(1000), ex.exposure_value_of_luminance(luminance)
        assert incident == pytest.approx(8.643856, abs=5e-7)
        assert reflected == pytest.approx(8.840357, abs=5e-7)
        # f/8 at ISO 100: t = N²·C/(E·S) = 0.16 s
        assert ex.exposure_value(8, 0.16) == pytest.approx(incident, rel=1e-9)


@pytest.mark.parametrize(
    ("part", "whole", "listed"),
    [
        (0.18, 1, -2.473931),
        (0.127, 1, -2.977100),
        (0.90, 0.18, 2.321928),
        (0.004, 0.18, -5.491853),
        (0.035, 0.18, -2.362570),
    ],
)
def test_stops_between_reflectances(part, whole, listed):
    assert ex.stops(part, 100) - ex.stops(whole, 100) == pytest.approx(listed, abs=5e-7)


@pytest.mark.parametrize(
    ("m", "p", "listed"),
    [
        (0.1, 1, 0.275007),
        (0.25, 1, 0.643856),
        (0.5, 1, 1.169925),
        (1, 1, 2.0),
        (2, 1, 3.169925),
        (0.25, 0.5, 1.169925),
        (0.25, 1.5, 0.444785),
    ],
)
def test_close_up_loss(m, p, listed):
    """(1 + m/P)², the bellows factor with pupil magnification; algebra."""
    assert ex.close_up_loss(m, p) == pytest.approx(listed, abs=5e-7)
    at_infinity, close = ex.image_exposure(1, 1, 8, 0, p), ex.image_exposure(1, 1, 8, m, p)
    assert math.log2(at_infinity / close) == pytest.approx(listed, abs=5e-7)


@pytest.mark.parametrize(("m", "working"), [(0.25, 10), (1, 16)])
def test_working_f_number(m, working):
    assert ex.working_f_number(8, m) == pytest.approx(working, rel=1e-12)


@pytest.mark.parametrize(("degrees", "listed"), [(10, -0.0883), (20, -0.3590), (30, -0.8301), (40, -1.5380)])
def test_cos4_off_axis(degrees, listed):
    assert math.log2(ex.off_axis(math.radians(degrees))) == pytest.approx(listed, abs=5e-5)


def test_cos4_in_the_corner_of_the_normal_lens():
    """50 mm on 36 × 24 mm: 0.7095, −0.4951 stop."""
    corner = ex.off_axis(math.atan(math.hypot(18, 12) / 50))
    assert corner == pytest.approx(0.709500, abs=5e-7)
    assert math.log2(corner) == pytest.approx(-0.4951, abs=5e-5)


@pytest.mark.parametrize(
    ("nominal", "exact", "error"),
    [(1.4, 2**0.5, -0.0291), (5.6, 2**2.5, -0.0291), (11, 2**3.5, -0.0811), (22, 2**4.5, -0.0811)],
)
def test_engraved_f_stops(nominal, exact, error):
    """The engraved numbers are rounded powers of √2; the exposure follows the engraved one."""
    ratio = ex.image_exposure(1, 1, exact, 0) / ex.image_exposure(1, 1, nominal, 0)
    assert math.log2(ratio) == pytest.approx(error, abs=5e-5)


@pytest.mark.parametrize(
    ("nominal", "exact", "more"), [(1 / 15, 1 / 16, 0.0931), (1 / 60, 1 / 64, 0.0931), (1 / 250, 1 / 256, 0.0342)]
)
def test_engraved_shutter_times(nominal, exact, more):
    ratio = ex.image_exposure(1, nominal, 8, 0) / ex.image_exposure(1, exact, 8, 0)
    assert math.log2(ratio) == pytest.approx(more, abs=5e-5)


def test_stops_and_back():
    h = np.array([[0.0, 0.1], [0.78, 12.5]])
    over = ex.stops(h, 100)
    assert over.shape == h.shape
    assert over[0, 0] == -np.inf
    np.testing.assert_allclose(ex.from_stops(over, 100), h, rtol=1e-12)
    assert isinstance(ex.stops(0.1, 100), float)


@pytest.mark.parametrize(
    ("code", "linear"),
    [
        (10, 0.00303527),
        (64, 0.05126946),
        (118, 0.18116424),
        (128, 0.21586050),
        (188, 0.50288646),
        (200, 0.57758044),
    ],
)
def test_srgb_decode_iec_61966(code, linear):
    """colour-science 0.4.7, sRGB transfer function of IEC 61966-2-1."""
    assert float(ex.srgb_decode(code / 255)) == pytest.approx(linear, abs=5e-9)


@pytest.mark.parametrize(("linear", "code"), [(0.18, 117.646), (0.5, 187.516), (0.9, 243.445)])
def test_srgb_encode_iec_61966(linear, code):
    assert 255 * float(ex.srgb_encode(linear)) == pytest.approx(code, abs=5e-4)


def test_srgb_against_colour_science():
    colour = pytest.importorskip("colour")
    signal = np.linspace(0, 1, 1001)
    np.testing.assert_allclose(ex.srgb_decode(signal), colour.models.eotf_sRGB(signal), rtol=0, atol=1e-12)
    np.testing.assert_allclose(ex.srgb_encode(signal), colour.models.eotf_inverse_sRGB(signal), rtol=0, atol=1e-12)


def test_code_value_of_mid_grey_and_around():
    """Mid-grey is code 118 (ISO 12232), at any ISO; one stop up 0.36233 linear is code 162 (IEC 61966-2-1)."""
    assert ex.code_value(ex.mid_grey(400), 400) == 118
    assert ex.code_value(0.2, 100) == round(255 * (1.055 * (2 * 0.18116424) ** (1 / 2.4) - 0.055))
    assert ex.code_value(0.0, 100) == 0
    assert ex.code_value(0.78, 100) == 255
    # −9 stops: 0.18116/512 linear lies in the straight part, 12.92 times it is code 1.17.
    assert ex.code_value(float(ex.from_stops(-9.0, 100)), 100) == 1
