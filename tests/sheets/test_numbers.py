"""Figures as they are printed."""

from __future__ import annotations

import math

import pytest

from throughlight.readings.intervals import Stops
from throughlight.sheets.numbers import stops


@pytest.mark.parametrize("sign", [True, False])
def test_nought_has_no_sign(sign: bool) -> None:
    assert stops(Stops(-0.001, -0.011, 0.009), sign=sign) == "0.00 ± 0.01"


def test_a_figure_below_nought_keeps_its_minus() -> None:
    assert stops(Stops(-0.42, -0.47, -0.37), sign=False) == "−0.42 ± 0.05"


@pytest.mark.parametrize(
    ("figure", "sign", "words"),
    [
        (Stops(5.2, 3.0, math.inf), False, "more than 3.0"),
        (Stops(5.2, -math.inf, 6.0), False, "less than 6.0"),
        (Stops(-9.0, -10.0, math.inf), True, "brighter than −10.0"),
        (Stops(-14.0, -math.inf, -12.0), True, "darker than −12.0"),
        (Stops(1.0, -math.inf, math.inf), True, "not known yet"),
        (Stops(-math.inf, -math.inf, -math.inf), True, "no light found"),
    ],
)
def test_an_open_end_is_said_and_the_other_end_told(figure: Stops, sign: bool, words: str) -> None:
    assert stops(figure, sign=sign) == words
