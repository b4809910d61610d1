"""Movements and rings as they are written, and the sentences about those no lens could draw with."""

from __future__ import annotations

import math

import pytest

import throughlight.setup as tls
from throughlight.setup import SetupError, loads

CAMERA = """
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 8
shutter = "1/125 s"
iso = 100
at = ["0 cm", "0 cm", "50 cm"]
"""


def the_mistake(more):
    with pytest.raises(SetupError) as caught:
        loads(CAMERA + more)
    (mistake,) = caught.value.mistakes
    return mistake


def test_movements_in_si():
    camera = loads(
        CAMERA + 'tilt = "5 deg"\nswing = "-3 deg"\nback_tilt = "1 deg"\nback_swing = "2°"\nshift = ["4 mm", "1 cm"]\n'
        'blade_turn = "10 deg"\npupil_depth = "30 mm"\nhood = "2 cm"\nhood_diameter = "60 mm"'
    ).camera
    angles = [math.degrees(a) for a in (camera.tilt, camera.swing, camera.back_tilt, camera.back_swing)]
    assert angles == pytest.approx([5.0, -3.0, 1.0, 2.0])
    assert camera.shift == pytest.approx((0.004, 0.01))
    assert camera.rings == ((0.03, 0.02), (pytest.approx(0.05), 0.03))
    assert math.degrees(camera.blade_turn) == pytest.approx(10.0)


def test_nothing_is_moved_when_nothing_is_said():
    camera = loads(CAMERA + 'hood = "2 cm"').camera
    assert not camera.movements.any
    assert camera.hood_diameter == camera.front_element
    assert camera.rings == ((0.0, 0.02), (0.02, 0.02))


@pytest.mark.parametrize("key", ["tilt", "swing", "back_tilt", "back_swing"])
@pytest.mark.parametrize("angle", ["45 deg", "-60 deg"])
def test_too_steep(key, angle):
    mistake = the_mistake(f'{key} = "{angle}"')
    assert mistake.key == f"camera.{key}"
    assert mistake.message == f'found "{angle}"; an angle under 45 deg either way would fit, such as "5 deg"'


def test_shift_is_two_lengths():
    mistake = the_mistake('shift = "4 mm"')
    assert mistake.key == "camera.shift"
    assert mistake.message == 'found "4 mm"; how far right and how far up would fit, such as ["0 mm", "10 mm"]'


def test_shift_off_the_sensor():
    mistake = the_mistake('shift = ["0 mm", "25 mm"]')
    assert mistake.key == "camera.shift"
    assert "more than the sensor's 36 x 24 mm" in mistake.message


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ('focus = "11 cm"\ntilt = "30 deg"', "within the focal length of 100 mm along the axis of the turned lens"),
        ('tilt = "44 deg"\nback_tilt = "-44 deg"\nfront_element = "30 cm"', "plane of focus passes through the lens"),
        ('pupil_depth = "51 cm"', "as far as the plane of focus"),
        ('hood = "50 cm"', "as far as the plane of focus"),
        ('hood = "5 cm"\nhood_diameter = "12 mm"', "at least as wide as the entrance pupil (12.5 mm)"),
    ],
)
def test_lenses_that_draw_nothing(more, words):
    mistake = the_mistake(more)
    assert mistake.key == "camera"
    assert words in mistake.message


def test_part_of_the_sensor_before_the_lens():
    text = CAMERA.replace("36x24 mm", "400x400 mm").replace('"100 mm"', '"60 mm"')
    with pytest.raises(SetupError, match="a part of the sensor stands before the lens"):
        loads(text + 'back_tilt = "40 deg"')


def test_schema_knows_the_movements():
    assert "shift" in str(tls.schema())
