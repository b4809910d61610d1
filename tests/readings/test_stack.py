"""Focus stacks by hand: the depth of field 2·N·c·(1 + m)/m², and the blur of every point in the best frame."""

from __future__ import annotations

import math

import numpy as np
import pytest

from throughlight.photometry import field
from throughlight.readings.stack import focus_stack
from throughlight.setup import loads

CAMERA = """
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 8
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "50 cm"]
"""
BALL = """
[subject]
shape = { kind = "sphere", diameter = "80 mm" }
surface = { reflectance = 0.5 }
"""
CIRCLE = math.hypot(0.036, 0.024) / 1500


def stack_of(frames, camera="", subject=BALL):
    return focus_stack(loads(CAMERA + camera + subject), frames)


def best_blur(stack, points, n=8.0, pupils=1.0):
    """Return for each distance the blur in the frame that draws it best, by the plain formula."""
    return np.array([min(field.blur_disc(0.1, n, s, point, pupils) for s in stack.distances) for point in points])


def test_ends_and_even_steps_in_image_space():
    """Near end 460, far end 540 mm: images at 1/(1/100 − 1/s), evenly spaced."""
    stack = stack_of(9)
    assert (stack.distances[0], stack.distances[-1]) == pytest.approx((0.46, 0.54), rel=1e-9)
    images = np.array([1 / (1 / 0.1 - 1 / s) for s in stack.distances])
    assert np.diff(images) == pytest.approx(np.full(8, (images[-1] - images[0]) / 8), rel=1e-6)
    assert 1 / (1 / 0.1 - 1 / stack.middle) == pytest.approx((images[0] + images[-1]) / 2, rel=1e-9)


def test_covering_step_is_the_depth_of_field():
    """c = 28.84 µm, N = 8, m = 100/360: 2·N·c·(1 + m)/m² = 7.643 mm; and the exact sharp range is as deep."""
    m = 100 / 360
    stack = stack_of(2)
    assert stack.covering_step == pytest.approx(2 * 8 * CIRCLE * (1 + m) / m**2, rel=1e-9)
    assert stack.covering_step == pytest.approx(field.depth_of_field(0.1, 8, CIRCLE, 0.46).total, rel=1e-3)


@pytest.mark.parametrize("pupils", [1.0, 0.6])
@pytest.mark.parametrize("n", [4.0, 8.0, 22.0])
def test_covering_frames_are_just_enough(n, pupils):
    """With that many frames no point blurs over the circle of confusion; with one fewer some do."""
    camera = f"pupil_magnification = {pupils}\n"
    setup = loads(CAMERA.replace("f_number = 8", f"f_number = {n}") + camera + BALL)
    enough = focus_stack(setup, 2).covering_frames
    points = np.linspace(0.46, 0.54, 4001)
    stack = focus_stack(setup, enough)
    assert stack.covers
    assert best_blur(stack, points, n, pupils).max() <= CIRCLE * (1 + 1e-9)
    fewer = focus_stack(setup, enough - 1)
    assert not fewer.covers
    assert best_blur(fewer, points, n, pupils).max() > CIRCLE
    assert fewer.overlap < 0.0 <= stack.overlap


def test_overlap_is_what_two_neighbours_share():
    """Twice as many steps as needed: neighbours share half of their sharp range."""
    enough = stack_of(2).covering_frames
    one, two = stack_of(enough), stack_of(2 * enough - 1)
    assert 1 - two.overlap == pytest.approx((1 - one.overlap) / 2, rel=1e-9)


def test_words_and_json():
    stack = stack_of(4)
    first, step, held = stack.words
    assert first == "4 frames focused from 46 cm to 54 cm"
    assert step == "a step of 7.6 mm at the near end covers the depth (circle of confusion 29 µm)"
    assert held == f"4 frames leave gaps; {stack.covering_frames} frames would cover it"
    told = stack.as_json()
    assert len(told["focus_distances_mm"]) == 4
    assert told["covers"] is False
    assert "40 frames cover it, each sharing " in stack_of(40).words[2]


def test_card_in_the_tilted_plane_needs_one_frame():
    """Leaning by the plane's own angle, atan(500·sin 8°/100), a thin card is all at one film distance."""
    lean = math.atan(5 * math.sin(math.radians(8)))
    card = f"""
[subject]
aim = ["0 m", "{math.sin(lean)!r} m", "{math.cos(lean)!r} m"]
shape = {{ kind = "slab", thickness = "0.01 mm", outline = {{ shape = "rectangle", width = "6 cm", height = "9 cm" }} }}
surface = {{ reflectance = 0.5 }}
"""
    assert stack_of(2, 'tilt = "8 deg"\n', card).covering_frames <= 2
    assert stack_of(2, "", card).covering_frames > 5


@pytest.mark.parametrize(("frames", "words"), [(1, "from 2 to 200"), (201, "from 2 to 200")])
def test_too_few_or_too_many_frames(frames, words):
    with pytest.raises(ValueError, match=words):
        stack_of(frames)


def test_nothing_to_go_through():
    with pytest.raises(ValueError, match="the set has none"):
        stack_of(3, subject="")
    with pytest.raises(ValueError, match="nearer than the focal length"):
        stack_of(3, subject=BALL.replace('"80 mm"', '"82 cm"'))
