"""Flash output against worked numbers, Howell's configuration factors and direct quadrature.

Worked numbers: algebra from ISO 2720 (C = 250), guide number GN = N·d. Efficacies of 15 to 45 lm·s/J are a flash
maker's published range; the values here only serve the algebra.
"""

from __future__ import annotations

import math

import pytest
from scipy.integrate import dblquad, quad

from closed_forms import centred_rectangle, coaxial_disc, side_of_cylinder
from throughlight.photometry import exposure as ex
from throughlight.photometry import flash, near_field

LAMBERTIAN = math.radians(120)


def test_lamp_of_100_joules():
    """100 J · 35 lm·s/J · 0.9 = 3150 lm·s: 250.669 cd·s all round, 1002.676 on a Lambertian axis, GN 20.027 m."""
    out = flash.head_output("disc", 0.2, 0, LAMBERTIAN, energy=100, efficacy=35, efficiency=0.9)
    assert out.luminous_energy == pytest.approx(3150, rel=1e-9)
    assert out.luminous_energy / (4 * math.pi) == pytest.approx(250.669, abs=5e-4)
    assert out.axial_intensity == pytest.approx(1002.676, abs=5e-4)
    assert flash.guide_number_from_intensity(out.axial_intensity) == pytest.approx(20.027, abs=5e-4)
    assert flash.axial_intensity_from_energy(100, 35, 0.9, 1) == pytest.approx(out.axial_intensity, rel=1e-9)


def test_head_of_500_joules():
    """500 J · 35 · 0.8 = 14 000 lm·s: 4456.338 cd·s, GN 42.22 m."""
    out = flash.head_output("rectangle", 0.6, 0.9, LAMBERTIAN, energy=500, efficacy=35, efficiency=0.8)
    assert out.axial_intensity == pytest.approx(4456.338, abs=5e-4)
    assert flash.guide_number_from_intensity(out.axial_intensity) == pytest.approx(42.22, abs=5e-3)


@pytest.mark.parametrize(
    ("intensity", "guide"), [(1000, 20.0), (3000, 34.6410), (5000, 44.7214), (3240, 36), (8410, 58)]
)
def test_guide_numbers(intensity, guide):
    """GN = √(I·S/C), C = 250, ISO 100."""
    assert flash.guide_number_from_intensity(intensity) == pytest.approx(guide, abs=5e-5)
    assert flash.intensity_from_guide_number(guide) == pytest.approx(intensity, rel=5e-6)


def test_classic_guide_number_is_half_a_stop_more_hopeful():
    """GN(ft) = √(0.063·BCPS·S), from memory: 1000 BCPS is 24.19 m, 0.549 stop over C = 250."""
    classic = math.sqrt(0.063 * 1000 * 100) * 0.3048
    assert classic == pytest.approx(24.19, abs=5e-3)
    assert 2 * math.log2(classic / flash.guide_number_from_intensity(1000)) == pytest.approx(0.549, abs=5e-4)


def test_flash_chain_from_panel_to_sensor():
    """A 0.6 × 0.9 m panel sends out 2000 lm·s; subject at 0.5 m, lens f/16 at m = 0.25. Algebra, Howell B-4."""
    face = flash.face_of("rectangle", 0.6, 0.9, 1.0)
    luminance = 2000 / face.energy
    assert math.pi * luminance == pytest.approx(3703.7037, abs=5e-5)
    assert luminance == pytest.approx(1178.925504, abs=5e-7)
    subject = luminance * face.illuminance(0.5)
    assert subject == pytest.approx(1459.030051, abs=5e-7)
    assert ex.flash_meter_f_number(subject) == pytest.approx(24.158, abs=5e-4)
    assert ex.flash_meter_f_number(subject, constant=330) == pytest.approx(21.027, abs=5e-4)
    card = 0.18 * subject / math.pi
    assert card == pytest.approx(83.596264, abs=5e-7)
    lens = ex.image_exposure(card, 1.0, 16, 0.25)
    rounded = ex.image_exposure(card, 1.0, 16, 0.25, transmittance=0.65 / (math.pi / 4))
    assert lens == pytest.approx(0.164141, abs=5e-7)
    assert rounded == pytest.approx(0.135844, abs=5e-7)
    assert ex.stops(lens, 100) == pytest.approx(0.7149, abs=5e-5)
    assert ex.stops(rounded, 100) == pytest.approx(0.4420, abs=5e-5)
    cloth = luminance * face.illuminance(1.5)
    assert cloth == pytest.approx(260.534253, abs=1e-6)  # listed cut, not rounded
    assert 0.004 * cloth / math.pi == pytest.approx(0.331723, abs=5e-7)
    assert math.log2(card / (0.004 * cloth / math.pi)) == pytest.approx(7.9773, abs=5e-5)


def test_panel_beside_inverse_square_howell_b4():
    """0.6 × 0.9 m, 10⁴ cd/m², 0.5 m: 12375.930838 lx where the inverse square says 21600; 0.3 × 1.2 m likewise."""
    near = near_field.rectangle_illuminance(1e4, 0.6, 0.9, 0.5, 1)
    assert near == pytest.approx(12375.930838, rel=1e-10)
    assert near_field.rectangle_illuminance(5000, 0.3, 1.2, 0.4, 1) == pytest.approx(5049.347015, rel=1e-9)
    assert flash.face_of("rectangle", 0.6, 0.9, 1).intensity * 1e4 / 0.5**2 == pytest.approx(21600, rel=1e-12)


def test_disc_howell_b12():
    """r 0.15 m at 0.5 m, 10⁴ cd/m²: 2593.975586 lx; r 0.6 m at 0.3 m, 1000 cd/m²: 2513.274123 lx."""
    assert near_field.disc_illuminance(1e4, 0.3, 0.5, 1) == pytest.approx(2593.975586, rel=1e-9)
    assert near_field.disc_illuminance(1000, 1.2, 0.3, 1) == pytest.approx(2513.274123, rel=1e-9)
    assert near_field.disc_illuminance(1, 0.3, 0.5, 1) == pytest.approx(math.pi * coaxial_disc(0.15, 0.5), rel=1e-12)


@pytest.mark.parametrize("distance", [0.001, 0.02, 0.3, 5.0, 200.0])
@pytest.mark.parametrize(("width", "height"), [(0.6, 0.9), (0.02, 2.0), (1.5, 0.1)])
def test_rectangle_howell_b4_everywhere(width, height, distance):
    value = near_field.rectangle_illuminance(1, width, height, distance, 1)
    assert value == pytest.approx(math.pi * centred_rectangle(width, height, distance), rel=1e-9)


@pytest.mark.parametrize(
    ("length", "diameter", "distance"), [(0.3, 0.04, 1), (1.2, 0.1, 0.3), (1, 0.1, 0.06), (8, 0.1, 0.3)]
)
def test_tube_howell_b31(length, diameter, distance):
    value = near_field.tube_illuminance(1, length, diameter, distance, 1)
    assert value == pytest.approx(2 * math.pi * side_of_cylinder(diameter / 2, distance, length / 2), rel=1e-9)


def test_endless_tube():
    """A long tube fills the share r/d of the receptor's cosine-weighted view (crossed strings, Hottel 1954)."""
    assert near_field.tube_illuminance(1, 400, 0.1, 0.5, 1) == pytest.approx(math.pi * 0.05 / 0.5, rel=1e-5)


@pytest.mark.parametrize("exponent", [1.0, 2.7, 20.0, 182.0])
def test_narrow_beams_against_quadrature(exponent):
    """E = ∫ L₀·d^(k+1)/s^(k+3) dA, scipy's quad and dblquad."""
    k, d = exponent, 0.4

    def ring(r):
        return 2 * math.pi * r * d ** (k + 1) / (r * r + d * d) ** ((k + 3) / 2)

    def patch(y, x):
        return 4 * d ** (k + 1) / (x * x + y * y + d * d) ** ((k + 3) / 2)

    disc, _ = quad(ring, 0, 0.25, epsabs=0, epsrel=1e-12)
    rectangle, _ = dblquad(patch, 0, 0.2, 0, 0.6, epsabs=0, epsrel=1e-11)
    assert near_field.disc_illuminance(1, 0.5, d, k) == pytest.approx(disc, rel=1e-9)
    assert near_field.rectangle_illuminance(1, 0.4, 1.2, d, k) == pytest.approx(rectangle, rel=1e-9)


@pytest.mark.parametrize("kind", ["disc", "rectangle", "tube"])
@pytest.mark.parametrize("exponent", [1.0, 5.0])
def test_far_away_all_follow_inverse_square(kind, exponent):
    """Within the face's size over the distance, here 0.3 m over 3 km; the tube's skin is half its width nearer."""
    face = flash.face_of(kind, 0.3, 0.2, exponent)
    assert face.illuminance(3000.0) * 3000.0**2 == pytest.approx(face.intensity, rel=2e-4)


@pytest.mark.parametrize("degrees", [10, 37, 65, 120])
def test_beam_is_half_intensity_at_half_its_angle(degrees):
    k = flash.beam_exponent(math.radians(degrees))
    assert math.cos(math.radians(degrees / 2)) ** k == pytest.approx(0.5, rel=1e-9)


def test_lambertian_beam_is_120_degrees():
    assert flash.beam_exponent(math.radians(120)) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize("exponent", [1.0, 3.0, 40.0])
def test_energy_is_the_integral_of_intensity(exponent):
    """Q = 2π ∫ I₀·cos^kθ·sinθ dθ over the half space in front."""
    flux, _ = quad(lambda t: 2 * math.pi * math.cos(t) ** exponent * math.sin(t), 0, math.pi / 2, epsrel=1e-12)
    face = flash.face_of("disc", 0.4, 0, exponent)
    assert face.energy / face.intensity == pytest.approx(flux, rel=1e-9)
    assert flash.axial_intensity_from_energy(1, 35, 1, exponent) == pytest.approx(35 / flux, rel=1e-9)


@pytest.mark.parametrize("exponent", [1.0, 3.0])
def test_tube_energy_is_the_integral_of_intensity_all_round(exponent):
    """I at elevation e: L₀·l·r·∫ cos^(k)φ·cos^k(e) dφ (each skin normal is tilted by e), over the whole sphere.

    A Lambertian tube sends π² times its side-on intensity: π²·L₀·l·D.
    """
    face = flash.face_of("tube", 1.2, 0.04, exponent)
    flux, _ = quad(lambda e: 2 * math.pi * math.cos(e) ** (exponent + 1), -math.pi / 2, math.pi / 2, epsrel=1e-12)
    assert face.energy / face.intensity == pytest.approx(flux, rel=1e-9)
    if exponent == 1.0:
        assert face.intensity == pytest.approx(1.2 * 0.04, rel=1e-12)
        assert face.energy == pytest.approx(math.pi**2 * 1.2 * 0.04, rel=1e-9)


@pytest.mark.parametrize("kind", ["disc", "rectangle", "tube"])
@pytest.mark.parametrize("degrees", [30, 120])
def test_the_three_ways_of_giving_a_head_agree(kind, degrees):
    beam = math.radians(degrees)
    by_energy = flash.head_output(kind, 0.8, 0.3, beam, energy=250, efficacy=32, efficiency=0.7, stops=-1.5)
    by_meter = flash.head_output(kind, 0.8, 0.3, beam, meter=(by_energy.meter_f_number_at_1m, 1.0, 100))
    guide = flash.guide_number_from_intensity(by_energy.axial_intensity)
    by_guide = flash.head_output(kind, 0.8, 0.3, beam, guide_number=guide)
    assert by_meter == pytest.approx(by_energy, rel=1e-9)
    assert by_guide == pytest.approx(by_energy, rel=1e-9)


def test_meter_close_to_a_big_face_is_not_inverse_square():
    """f/11 read 0.3 m before a 0.6 × 0.6 m panel: C·N²/S = 302.5 lx·s, and F = 0.5541264240 (Howell B-4)."""
    out = flash.head_output("rectangle", 0.6, 0.6, LAMBERTIAN, meter=(11, 0.3, 100))
    assert out.axial_luminance == pytest.approx(302.5 / (math.pi * 0.5541264240), rel=1e-9)
    assert out.luminous_energy == pytest.approx(math.pi * out.axial_luminance * 0.36, rel=1e-9)


def test_meter_follows_iso():
    """f/16 at ISO 400 is f/8 at ISO 100."""
    assert flash.head_output("disc", 0.2, 0, LAMBERTIAN, meter=(16, 2, 400)) == pytest.approx(
        flash.head_output("disc", 0.2, 0, LAMBERTIAN, meter=(8, 2, 100)), rel=1e-12
    )


@pytest.mark.parametrize("given", [{}, {"energy": 100, "guide_number": 20}, {"meter": (8, 1, 100), "energy": 100}])
def test_exactly_one_way_is_given(given):
    with pytest.raises(ValueError, match="exactly one"):
        flash.head_output("disc", 0.2, 0, LAMBERTIAN, **given)


def test_impossible_faces_and_beams_are_refused():
    with pytest.raises(ValueError, match="disc, a rectangle or a tube"):
        flash.head_output("ring", 0.2, 0.1, LAMBERTIAN, energy=100)
    with pytest.raises(ValueError, match="between 0 and 120"):
        flash.beam_exponent(math.radians(150))
    with pytest.raises(ValueError, match="inside a tube"):
        near_field.tube_illuminance(1, 1, 0.2, 0.05, 1)
