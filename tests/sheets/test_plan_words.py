"""Lengths and bearings as they are read off a tape."""

from __future__ import annotations

import pytest

from throughlight.sheets.plan_words import INCH, Tape, bearing_words, tilt_words

METRIC, FEET = Tape(), Tape(feet=True)


@pytest.mark.parametrize(
    ("metres", "said"),
    [(0.0, "0 cm"), (0.004, "4 mm"), (0.02, "2 cm"), (0.0184, "18 mm"), (0.184, "18.4 cm"), (0.55, "55 cm"),
     (0.5496, "55 cm"), (2.28, "228 cm"), (3.1, "3.10 m"), (30.4, "30.4 m")],
)  # fmt: skip
def test_centimetres_to_the_millimetre(metres: float, said: str) -> None:
    assert METRIC.length(metres) == said


@pytest.mark.parametrize(
    ("inches", "said"),
    [(0.0, "0″"), (0.0624, "0″"), (0.0626, "⅛″"), (7.25, "7¼″"), (11.93, "11⅞″"), (11.95, "1′ 0″"), (12.0, "1′ 0″"),
     (21.65, "1′ 9⅝″"), (23.99, "2′ 0″"), (36.5, "3′ ½″")],
)  # fmt: skip
def test_feet_and_inches_round_to_eighths_and_carry(inches: float, said: str) -> None:
    """An inch is 25.4 mm; 12 inches are a foot (both exact): 11.95 in is nearer to 12 than to 11 7/8 = 11.875."""
    assert FEET.length(inches * INCH) == said


def test_55_cm_in_feet_and_inches() -> None:
    """55 / 2.54 = 21.654 in = 1 ft 9.654 in; in eighths 9 5/8 = 9.625."""
    assert FEET.length(0.55) == "1′ 9⅝″"


def test_signs_and_sides() -> None:
    assert METRIC.signed(-0.035) == "−3.5 cm"
    assert METRIC.signed(0.05) == "+5 cm"
    assert METRIC.signed(0.0001) == "0 cm"
    assert FEET.signed(-0.035) == "−1⅜″"
    assert METRIC.sides(1.4, 1.2) == "140 × 120 cm"
    assert METRIC.sides(0.004, 1.2) == "4 mm × 120 cm"
    assert METRIC.point((-0.19, 0.0, 0.16)) == "19 cm left, 16 cm front"
    assert METRIC.point((0.0, 0.0, 0.0)) == "the mark"


@pytest.mark.parametrize(
    ("bearing", "said"), [(0.0, "0°"), (-140.0, "140° left"), (89.6, "90° right"), (180.0, "180°"), (-179.8, "180°")]
)
def test_bearings_go_by_side(bearing: float, said: str) -> None:
    assert bearing_words(bearing) == said


def test_tilts() -> None:
    assert tilt_words(-5.19) == "5° down"
    assert tilt_words(0.3) == "level"
    assert tilt_words(12.0) == "12° up"
