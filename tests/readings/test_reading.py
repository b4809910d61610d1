"""What the readings say of themselves: whose light the veil is, and when it drowns the cloth. Figures by hand."""

from __future__ import annotations

import math

import pytest

from throughlight.readings.intervals import Stops
from throughlight.readings.reading import BackdropReading, PatchReading, Route, StrayReading


def sure(value: float) -> Stops:
    return Stops(value, value, value)


def backdrop_with(cloth: float, veil: float) -> BackdropReading:
    at = sure(veil)
    route = Route("left head", "table", sure(cloth), 1.0, 1.0)
    patch = PatchReading(at, "centre", 0.0, 0.0, 0, route.words)
    return BackdropReading(at, sure(cloth), sure(veil), 0, None, patch, None, (route,))


def stray_with(veil: float, **heads: float) -> StrayReading:
    by_head = {name: sure(value) for name, value in heads.items()}
    return StrayReading(1.0, (1.0, 1.0), 0.0, sure(veil), by_head, {}, (), {})


@pytest.mark.parametrize(
    ("cloth", "made"), [(-12.9, False), (-13.1, True), (-math.inf, True), (-5.0, False)]
)  # fmt: skip
def test_a_cloth_more_than_three_stops_under_the_veil_is_drowned(cloth: float, made: bool) -> None:
    assert backdrop_with(cloth, -10.0).made_by_veil is made


def test_without_light_nothing_makes_the_backdrop() -> None:
    assert not backdrop_with(-math.inf, -math.inf).made_by_veil


def test_json_says_whose_routes_they_are() -> None:
    told = backdrop_with(-9.0, -10.0).as_json()
    assert [route["head"] for route in told["cloth_routes"]] == ["left head"]
    assert "routes" not in told


def test_who_makes_most_of_the_veil() -> None:
    """2⁻¹ and 2⁻² of the whole; what is left is 2⁻², the room's."""
    assert stray_with(-8.0, left=-9.0, right=-10.0).most_of_veil == ("left", pytest.approx(0.5))
    assert stray_with(-8.0, left=-10.0, right=-11.0).most_of_veil == ("room light", pytest.approx(0.625))
    assert stray_with(-math.inf, left=-math.inf).most_of_veil is None
