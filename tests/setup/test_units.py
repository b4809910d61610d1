"""Quantities: exact definitions of the units, round trips, and what is refused.

The inch is 25.4 mm and the foot 304.8 mm exactly (international yard and pound agreement of 1959); a footcandle is a
lumen a square foot; 1 Ws is 1 J (SI brochure).
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic_core import PydanticCustomError

from throughlight.setup import units
from throughlight.setup.bands import Bands

EVERY_KIND = [kind for kind in vars(units).values() if isinstance(kind, units.Quantity)]


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        (units.SIZE, "36 mm", 0.036),
        (units.SIZE, "38cm", 0.38),
        (units.SIZE, "15 in", 0.381),
        (units.SIZE, "1 ft", 0.3048),
        (units.SIZE, "1.5e1 mm", 0.015),
        (units.SIZE, " .5  m ", 0.5),
        (units.PLACE, "-30 cm", -0.3),
        (units.ANGLE, "180 deg", math.pi),
        (units.ANGLE, "-90°", -math.pi / 2),
        (units.ANGLE, "1 rad", 1.0),
        (units.TIME, "1/125 s", 0.008),
        (units.TIME, "1 / 60 s", 1 / 60),
        (units.TIME, "8 ms", 0.008),
        (units.ENERGY, "250 J", 250.0),
        (units.ENERGY, "250 Ws", 250.0),
        (units.STOPS, "-1 stop", -1.0),
        (units.STOPS, "+1/3 stop", 1 / 3),
        (units.TEMPERATURE, "5600 K", 5600.0),
        (units.ILLUMINANCE, "300 lx", 300.0),
        (units.ILLUMINANCE, "1 fc", 1 / 0.3048**2),
        (units.PERCENT, "1 %", 0.01),
        (units.PERCENT, 0.01, 0.01),
        (units.EFFICACY, "35 lm·s/J", 35.0),
        (units.EFFICACY, "35 lm s / J", 35.0),
        (units.EFFICACY, "35 lm/W", 35.0),
        (units.PER_LENGTH, "0.2 1/mm", 200.0),
        (units.PER_LENGTH, "0.2/mm", 200.0),
        (units.PER_LENGTH, "3.5 1/cm", 350.0),
        (units.PER_LENGTH, "20 1/m", 20.0),
        (units.PER_LENGTH, "2 mm^-1", 2000.0),
        (units.F_NUMBER, "f/11", 11.0),
        (units.F_NUMBER, 5.6, 5.6),
        (units.ISO, "ISO 100", 100.0),
    ],
)
def test_a_quantity_is_read_as_its_definition_says(kind, text, value):
    assert kind.parse(text) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize("kind", EVERY_KIND, ids=lambda kind: kind.name)
def test_the_examples_a_message_gives_are_right(kind):
    for example in kind.examples:
        kind.parse(example)


@given(st.floats(-1e3, 1e3, allow_nan=False), st.sampled_from(["m", "cm", "mm", "in", "ft"]))
def test_a_length_survives_being_written_and_read(metres, unit):
    assert units.PLACE.parse(units.write(metres, unit, units.PLACE)) == pytest.approx(metres, rel=1e-14, abs=1e-300)


@given(st.sampled_from(EVERY_KIND), st.floats(0.01, 0.99), st.data())
def test_any_quantity_survives_being_written_and_read(kind, share, data):
    low, high = max(kind.low, -1e3), min(kind.high, 1e6)
    value = low + share * (high - low)
    if not kind.units:
        return
    unit = data.draw(st.sampled_from(sorted(kind.units)))
    assert kind.parse(units.write(value, unit, kind)) == pytest.approx(value, rel=1e-13)


@given(st.integers(1, 8000))
def test_a_shutter_time_is_one_over_its_number(number):
    assert units.TIME.parse(f"1/{number} s") == 1.0 / number


@pytest.mark.parametrize("value", [10, 10.0, "10"])
def test_a_bare_number_is_told_which_units_fit(value):
    with pytest.raises(PydanticCustomError, match=r'found "?10"?; a unit is missing: a length above zero .*"38 cm"'):
        units.SIZE.parse(value)


def test_a_wrong_unit_is_named_and_told_what_fits():
    with pytest.raises(PydanticCustomError, match=r'"10 kg"; "kg" is not a unit of a length: .* such as "38 cm"'):
        units.SIZE.parse("10 kg")


@pytest.mark.parametrize(
    "value",
    [
        "0 cm",
        "-1 cm",
        "1e999 cm",
        "nan cm",
        "inf cm",
        "1/0 cm",
        "",
        "cm",
        True,
        None,
        [],
        {},
        "1,5 cm",
        "1 m m",
    ],
)
def test_what_is_no_size_is_refused(value):
    with pytest.raises(PydanticCustomError, match="would fit"):
        units.SIZE.parse(value)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 10**400, -1, 1.5, "101 %"])
def test_what_is_no_share_is_refused(value):
    with pytest.raises(PydanticCustomError, match="would fit"):
        units.PERCENT.parse(value)


def parsed_or_refused(kind, value) -> float | str:
    try:
        return kind.parse(value)
    except PydanticCustomError as refused:
        return refused.message()


@given(st.one_of(st.text(), st.integers(), st.floats(), st.booleans(), st.none(), st.lists(st.integers())))
def test_whatever_is_found_gives_a_finite_number_or_a_sentence(value):
    for outcome in (parsed_or_refused(kind, value) for kind in EVERY_KIND):
        assert len(outcome) < 400 if isinstance(outcome, str) else math.isfinite(outcome)


def test_bands_are_one_value_or_three():
    bands = Bands(units.PER_LENGTH)
    assert bands.parse("0.2 1/mm") == (200.0, 200.0, 200.0)
    assert bands.parse("2.29, 2.39, 1.97 1/mm") == pytest.approx((2290.0, 2390.0, 1970.0))
    assert bands.parse(["1 1/mm", "2 1/mm", "3 1/cm"]) == (1000.0, 2000.0, 300.0)
    with pytest.raises(PydanticCustomError, match="one value, or three"):
        bands.parse(["1 1/mm", "2 1/mm"])
