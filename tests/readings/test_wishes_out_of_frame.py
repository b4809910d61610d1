"""A wish that can't be judged is not taken as met."""

from __future__ import annotations

import pytest

import throughlight as tl
from plain_camera import CAMERA

WISHING = (
    CAMERA
    + """
[ambient]
illuminance = "100 lx"
[wanted]
backdrop_under = "5 stop"
"""
)
SUBJECT = """
[subject]
shape = { kind = "sphere", diameter = "6 cm" }
surface = "grey card"
"""
BACKDROP = """
[backdrop]
distance = "90 cm"
width = "140 cm"
height = "140 cm"
cloth = "black velvet"
"""


@pytest.mark.parametrize(("there", "away"), [(SUBJECT, "backdrop"), (BACKDROP, "subject")])
def test_how_far_the_backdrop_lies_under_what_is_not_there(there: str, away: str) -> None:
    readings = tl.meter(tl.loads(WISHING + there), tolerance=1.0)
    assert not readings.as_wanted
    ((met, words),) = readings.verdicts
    assert not met
    assert f"the {away} is not in the frame" in words


def test_a_backdrop_without_any_light_is_dark_enough() -> None:
    lens = WISHING.replace("iso = 100", 'iso = 100\nglare = "0 %"').replace("100 lx", "1 lx")
    black = BACKDROP.replace('"black velvet"', '{ kind = "matte", reflectance = 0.0 }')
    readings = tl.meter(tl.loads(lens + SUBJECT + black), tolerance=1.0)
    assert readings.verdicts == ((True, "no light was found on the backdrop"),)
