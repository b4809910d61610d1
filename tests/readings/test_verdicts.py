"""What is said of a wish that is not met: each figure by hand, in whole stops, where sums can be done in the head."""

from __future__ import annotations

import pytest

from plain_camera import CAMERA
from throughlight.readings.intervals import Stops
from throughlight.readings.power import power_reading
from throughlight.readings.reading import BackdropReading, PatchReading, StrayReading, SubjectReading
from throughlight.readings.verdicts import verdicts
from throughlight.setup import loads

SETUP = (
    CAMERA
    + """
[wanted]
subject = "0 stop"
subject_tolerance = "0 stop"
backdrop_under = "10 stop"
veil = "-12 stop"
"""
)


def sure(value: float) -> Stops:
    return Stops(value, value - 0.001, value + 0.001)


def subject_at(value: float) -> SubjectReading:
    at = sure(value)
    return SubjectReading(at, at, at, at, (0.0, 0.0), at, {"left head": at})


def backdrop_with(cloth: float, veil: float, worst: float, place: str = "top left corner") -> BackdropReading:
    patch = PatchReading(sure(worst), place, 0.0, 0.0, 0, "left head → table")
    return BackdropReading(
        sure(worst), sure(cloth), sure(veil), 0, sure(-worst), patch, sure(-worst), routes=()
    )  # fmt: skip


def stray_with(veil: float) -> StrayReading:
    return StrayReading(1.0, (1.0, 1.0), 0.0, sure(veil), {"left head": sure(veil)}, {}, (), {})


def told(subject: float, backdrop: BackdropReading, veil: float) -> tuple[tuple[bool, str], ...]:
    setup = loads(SETUP)
    return verdicts(setup, subject_at(subject), backdrop, stray_with(veil), power_reading(setup))


def test_the_backdrop_is_named_once() -> None:
    (_, words) = told(0.0, backdrop_with(cloth=-9.0, veil=-5.5, worst=-5.0), -12.0)[1]
    assert words == "the veil lifts the backdrop's top left corner 5.0 stops too far"


def test_a_place_of_two_parts_is_set_off() -> None:
    (_, words) = told(0.0, backdrop_with(-9.0, -5.5, -5.0, "right edge, upper third"), -12.0)[1]
    assert words == "the veil lifts the backdrop's right edge, upper third, 5.0 stops too far"


def test_the_worst_patch_itself_tells_veil_from_spill() -> None:
    """A veil of 2⁻⁷ on a patch of 2⁻⁵ is a quarter of it: spill, however dark the cloth is on the whole."""
    (_, words) = told(0.0, backdrop_with(cloth=-12.0, veil=-7.0, worst=-5.0), -12.0)[1]
    assert words == "spill (left head → table) lifts the backdrop's top left corner 5.0 stops too far"
    (_, words) = told(0.0, backdrop_with(cloth=-5.6, veil=-5.7, worst=-5.0), -12.0)[1]  # 2^−0.7 = 0.62 of it
    assert words.startswith("the veil lifts")


@pytest.mark.parametrize(("over", "words"), [(0.2, "0.2 stops"), (0.04, "0.04 stops"), (0.001, "less than 0.01 stops")])
def test_a_small_excess_is_not_nought(over: float, words: str) -> None:
    subject, backdrop, veil = told(over, backdrop_with(-12.0, -12.0, -10.0 + over), -12.0 + over)
    assert f"subject {words} too bright" in subject[1]
    assert f"{words} too far" in backdrop[1]
    assert f"veil {words} too much" in veil[1]
