"""Places: coordinates, and bearings in plan (0 at the camera +z, 90 deg at camera right +x, 180 deg behind −z)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from throughlight.setup.place import PlaceKind

PLACE = PlaceKind()


def test_coordinates_are_taken_as_they_stand():
    assert PLACE.parse(["12 cm", "0 cm", "-30 cm"]) == pytest.approx((0.12, 0.0, -0.3), abs=1e-15)


@pytest.mark.parametrize(
    ("bearing", "place"),
    [
        ("0 deg", (0, 0.1, 0.7)),
        ("90 deg", (0.7, 0.1, 0)),
        ("180 deg", (0, 0.1, -0.7)),
        ("-90 deg", (-0.7, 0.1, 0)),
        ("150 deg", (0.35, 0.1, -0.7 * math.sqrt(3) / 2)),
    ],
)
def test_a_bearing_goes_round_by_camera_right(bearing, place):
    assert PLACE.parse({"bearing": bearing, "distance": "70 cm", "height": "10 cm"}) == pytest.approx(place, abs=1e-15)


def test_height_is_zero_when_left_out():
    assert PLACE.parse({"bearing": "0 deg", "distance": "1 m"}) == (0.0, 0.0, 1.0)


@given(st.floats(-360, 360), st.floats(0, 10), st.floats(-10, 10))
def test_distance_is_in_plan_and_height_is_y(bearing, distance, height):
    x, y, z = PLACE.parse({"bearing": f"{bearing!r} deg", "distance": f"{distance!r} m", "height": f"{height!r} m"})
    assert math.hypot(x, z) == pytest.approx(distance, abs=1e-12)
    assert y == pytest.approx(height)


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (["1 cm", "2 cm"], "found an array of 2; a place would fit"),
        ([1, 2, 3], "found 1; a unit is missing"),
        (["1 kg", "0 cm", "0 cm"], '"kg" is not a unit of a length'),
        ({"bearing": "20 deg"}, "found a table; a place would fit"),
        ({"bearing": "20 deg", "distance": "1 m", "hight": "1 m"}, '"hight" is none of its keys'),
        ({"bearing": "20 cm", "distance": "1 m"}, '"cm" is not a unit of an angle'),
        ({"bearing": "20 deg", "distance": "-1 m"}, 'found "-1 m"'),
        ("12 cm", 'found "12 cm"; a place would fit'),
        (["5 km", "0 m", "0 m"], '"km" is not a unit of a length'),
        (["5000 m", "0 m", "0 m"], "within 1000 m of the subject would fit"),
    ],
)
def test_what_is_no_place_is_refused(value, says):
    with pytest.raises(PydanticCustomError) as refused:
        PLACE.parse(value)
    assert says in refused.value.message()
