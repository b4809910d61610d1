"""Picture angle, sharp range and beams on the plan, against the usual formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from plan_sets import BALL, a_set, agate, head

from throughlight.sheets.plan import plan_of
from throughlight.sheets.plan_beam import beam_angle


def test_picture_angle_kingslake_1992() -> None:
    """2·atan(s/2i) with i = f·u/(u − f): f 100 mm at u 620 mm gives i = 119.231 mm; 36 mm across take in 17.170°."""
    sight = agate().plan.sight
    image = 100.0 * 620.0 / (620.0 - 100.0)
    assert math.degrees(sight.angle_width) == pytest.approx(2.0 * math.degrees(math.atan(18.0 / image)), abs=1e-9)
    assert math.degrees(sight.angle_width) == pytest.approx(17.170, abs=5e-4)
    left, right = sight.rays[0], sight.rays[1]
    between = math.acos(float(left @ right) / float(np.linalg.norm(left) * np.linalg.norm(right)))
    assert between == pytest.approx(sight.angle_width, abs=1e-12)
    assert left[0] < 0.0 < right[0]


def test_sharp_range_kingslake_1992_chapter_6() -> None:
    """Near and far u·f²/(f² ± N·c·(u − f)), c the diagonal of 36 × 24 mm over 1500, f/16 at 620 mm."""
    f, u, n, c = 100.0, 620.0, 16.0, math.hypot(36.0, 24.0) / 1500.0
    sight = agate().plan.sight
    assert 1e3 * sight.near == pytest.approx([u * f * f / (f * f + n * c * (u - f))] * 4, rel=1e-9)
    assert 1e3 * sight.far == pytest.approx([u * f * f / (f * f - n * c * (u - f))] * 4, rel=1e-9)
    assert 1e3 * sight.focus == pytest.approx([u] * 4)


def test_the_edges_meet_the_plane_of_focus_at_the_frame() -> None:
    """m = f/(u − f) = 100/520: 36 mm on the sensor are 187.2 mm at the focus."""
    sight = agate().plan.sight
    ends = sight.at(sight.focus)
    assert 1e3 * float(ends[1, 0] - ends[0, 0]) == pytest.approx(36.0 * 5.2, abs=1e-6)
    assert 1e3 * float(ends[3, 1] - ends[2, 1]) == pytest.approx(24.0 * 5.2, abs=1e-6)


def test_a_leaning_lens_is_sharp_along_a_turned_plane() -> None:
    """Scheimpflug: the sharp places of the four edges and the focus on the axis lie in one plane, not square to it."""
    setup = a_set(BALL).model_copy(update={"camera": a_set(BALL).camera.model_copy(update={"tilt": math.radians(4.0)})})
    sight = plan_of(setup).sight
    ends = sight.at(sight.focus) - np.array([0.0, 0.0, 0.0])
    spread = np.linalg.svd(ends - ends.mean(axis=0))[1]
    assert spread[2] < 1e-9 * spread[0]
    assert ends[3, 2] != pytest.approx(ends[2, 2], abs=1e-3)
    assert (sight.near < sight.focus).all()
    assert (sight.focus < sight.far).all()


def beam_of(more: str) -> float:
    setup = a_set(head("lamp", '["0 cm", "0 cm", "-50 cm"]', more))
    angle = beam_angle(setup.heads[0])
    assert angle is not None
    return math.degrees(angle)


def test_a_bare_disc_is_lambertian() -> None:
    """cos θ is half at 60°: a full angle of 120°."""
    assert beam_of("") == pytest.approx(120.0, abs=0.01)


def test_a_beam_comes_back_as_it_was_given() -> None:
    assert beam_of('beam = "65 deg"') == pytest.approx(65.0, abs=0.01)


def test_a_snoot_narrows_the_beam_to_what_two_circles_share() -> None:
    """Two equal circles share half their area when their centres are 0.40397 diameters apart (by Newton's method from
    arccos x − x·√(1 − x²) = π/4). A snoot of 18 cm before 18 cm thus halves at atan 0.40397 = 22.0°; the cosine of the
    face takes a little more, so that the half lies where cos θ·T(tan θ) = 1/2, found here by bisection."""

    def shared(x: float) -> float:
        return 2.0 / math.pi * (math.acos(x) - x * math.sqrt(1.0 - x * x))

    assert shared(0.40397) == pytest.approx(0.5, abs=1e-4)
    low, high = 0.0, math.radians(30.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if math.cos(middle) * shared(math.tan(middle)) > 0.5 else (low, middle)
    assert beam_of('snoot = { length = "18 cm" }') == pytest.approx(2.0 * math.degrees(low), abs=0.02)


def test_a_tube_has_no_beam() -> None:
    tube = 'face = { shape = "tube", length = "60 mm", diameter = "10 mm" }'
    text = head("tube", '["0 cm", "0 cm", "-50 cm"]').replace('face = { shape = "disc", diameter = "18 cm" }', tube)
    assert beam_angle(a_set(text).heads[0]) is None
