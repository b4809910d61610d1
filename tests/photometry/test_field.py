"""Magnification, picture angle, depth of field and diffraction against worked numbers.

Depth-of-field formulas H = f²/(N·c) + f, near = s(H−f)/(H+s−2f), far = s(H−f)/(H−s) (the trade's, from memory).
"""

from __future__ import annotations

import math

import pytest
from scipy.special import jn_zeros

from throughlight.photometry import field
from throughlight.photometry.exposure import working_f_number

MM = 1e-3


@pytest.mark.parametrize(
    ("f", "n", "c", "s", "near", "far"),
    [
        (100, 11, 0.030, 500, 493.48598, 506.68829),
        (100, 16, 0.029, 400, 394.50844, 405.6466),
        (50, 8, 0.03, 3000, 2337.90524, 4185.26786),
        (50, 2.8, 0.03, 1000, 969.06737, 1032.97248),
    ],
)
def test_depth_of_field(f, n, c, s, near, far):
    depth = field.depth_of_field(f * MM, n, c * MM, s * MM)
    assert depth.near == pytest.approx(near * MM, rel=1e-7)
    assert depth.far == pytest.approx(far * MM, rel=1e-7)
    assert depth.total == pytest.approx(depth.far - depth.near, rel=1e-9)


def test_depth_of_field_macro_formula():
    """Close up, the total is about 2·N·c·(1 + m/P)/m²: 13.2 mm for 100 mm, f/11, 500 mm; the exact one is 13.2023."""
    depth = field.depth_of_field(0.1, 11, 3e-5, 0.5)
    assert pytest.approx(13.2) == 2 * 11 * 0.03 * 1.25 / 0.25**2
    assert depth.total == pytest.approx(13.2023 * MM, rel=5e-6)
    for pupil in (0.5, 1.5):
        depth = field.depth_of_field(0.1, 11, 3e-5, 0.5, pupil)
        assert depth.total == pytest.approx(2 * 11 * 3e-5 * (1 + 0.25 / pupil) / 0.25**2, rel=1e-3)


def test_hyperfocal():
    assert field.hyperfocal(0.05, 8, 3e-5) == pytest.approx(10466.6667 * MM, rel=1e-8)
    # Focused there, infinity is sharp and everything from half that distance on.
    depth = field.depth_of_field(0.05, 8, 3e-5, field.hyperfocal(0.05, 8, 3e-5) * (1 + 1e-9))
    assert depth.far == math.inf
    assert depth.near == pytest.approx(field.hyperfocal(0.05, 8, 3e-5) / 2, rel=1e-6)


@pytest.mark.parametrize(("s", "i", "m", "working"), [(0.5, 0.125, 0.25, 10), (0.2, 0.2, 1, 16)])
def test_thin_lens_of_100_mm(s, i, m, working):
    """1/s + 1/i = 1/f."""
    assert field.image_distance(0.1, s) == pytest.approx(i, rel=1e-12)
    assert field.magnification(0.1, s) == pytest.approx(m, rel=1e-12)
    assert field.focus_distance(0.1, m) == pytest.approx(s, rel=1e-12)
    assert working_f_number(8, m) == pytest.approx(working, rel=1e-12)


@pytest.mark.parametrize(("point", "disc"), [(0.520, 0.120192), (0.450, 0.347222)])
def test_blur_disc(point, disc):
    """100 mm f/8 focused at 500 mm, by similar triangles."""
    assert field.blur_disc(0.1, 8, 0.5, point) == pytest.approx(disc * MM, rel=5e-6)


@pytest.mark.parametrize("pupil", [0.6, 1.0, 1.7])
def test_blur_disc_is_the_circle_at_the_ends_of_the_depth(pupil):
    depth = field.depth_of_field(0.1, 11, 3e-5, 0.5, pupil)
    for end in (depth.near, depth.far):
        assert field.blur_disc(0.1, 11, 0.5, end, pupil) == pytest.approx(3e-5, rel=1e-9)


@pytest.mark.parametrize(("n", "micrometres"), [(8, 10.733), (16, 21.466), (22, 29.516)])
def test_airy_disc(n, micrometres):
    assert field.airy_diameter(n, 0.55e-6) == pytest.approx(micrometres * 1e-6, abs=5e-10)


def test_airy_constant_is_the_first_zero_of_j1():
    assert pytest.approx(jn_zeros(1, 1)[0] / math.pi, rel=1e-12) == field.AIRY_RADIUS


def test_crop_factor_and_picture_angles():
    """36 × 24 against 23.6 × 15.6 mm: 1.52940; 50 mm on full frame: 39.5978° wide, 46.7930° across."""
    assert field.crop_factor(0.0236, 0.0156) == pytest.approx(1.52940, abs=5e-6)
    assert math.degrees(field.picture_angle(0.036, 0.05)) == pytest.approx(39.5978, abs=5e-5)
    assert math.degrees(field.picture_angle(math.hypot(0.036, 0.024), 0.05)) == pytest.approx(46.7930, abs=5e-5)


def test_circle_of_confusion_of_full_frame():
    """Diagonal over 1500, common practice, no source: 0.0288 mm, between the usual 0.025 and 0.03 mm."""
    assert field.circle_of_confusion(0.036, 0.024) == pytest.approx(0.0288 * MM, abs=5e-8)


def test_focus_within_the_focal_length_is_refused():
    with pytest.raises(ValueError, match="within the focal length"):
        field.magnification(0.1, 0.1)
