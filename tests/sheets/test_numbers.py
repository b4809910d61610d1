"""Figures as they are printed."""

from __future__ import annotations

import pytest

from throughlight.readings.intervals import Stops
from throughlight.sheets.numbers import stops


@pytest.mark.parametrize("sign", [True, False])
def test_nought_has_no_sign(sign: bool) -> None:
    assert stops(Stops(-0.001, -0.011, 0.009), sign=sign) == "0.00 ± 0.01"


def test_a_figure_below_nought_keeps_its_minus() -> None:
    assert stops(Stops(-0.42, -0.47, -0.37), sign=False) == "−0.42 ± 0.05"
