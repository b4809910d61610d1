"""Amounts at any key: the number, its unit, what it is in SI, and other numbers written alike."""

from __future__ import annotations

import math

import pytest

from throughlight.setup import units
from throughlight.setup.amounts import amount_of
from throughlight.setup.units import Quantity

KINDS = [kind for kind in vars(units).values() if isinstance(kind, Quantity)]


@pytest.mark.parametrize(
    ("text", "si"),
    [
        ("-140 deg", math.radians(-140.0)),
        ("15 in", 0.381),  # an inch is 25.4 mm (exact since 1959)
        ("1/125 s", 0.008),
        ("+1/3 stop", 1 / 3),
        ("f/11", 11.0),
        ("ISO 100", 100.0),
        ("85 %", 0.85),
        ("0.2/mm", 200.0),
        ("8 h", 28800.0),
        (5.6, 5.6),
        (9, 9.0),
    ],
)
def test_the_number_in_si(text: object, si: float) -> None:
    amount = amount_of(text)
    assert amount is not None
    assert amount.si == pytest.approx(si, rel=1e-15)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_an_amount_is_what_its_key_would_read(kind: Quantity) -> None:
    for example in kind.examples:
        amount = amount_of(example)
        assert amount is not None, example
        assert amount.si == pytest.approx(kind.parse(example), rel=1e-15), example
    for unit, size in kind.units.items():
        amount = amount_of(f"0.5 {unit}")
        assert amount is not None, unit
        assert amount.si == pytest.approx(0.5 * float(size), rel=1e-15), unit


@pytest.mark.parametrize(
    "value",
    [
        True,
        None,
        "",
        "bowl 18 cm",
        "f/11 at 1 m, ISO 100",
        "3 parsec",
        "1/0 s",
        [1.0],
        {"x": 1},
        math.nan,
        1e300,
        "9" * 90,
    ],
)
def test_what_is_no_amount(value: object) -> None:
    assert amount_of(value) is None


@pytest.mark.parametrize(
    ("text", "written"),
    [("40 cm", "52.5 cm"), ("f/8", "f/52.5"), ("ISO 100", "ISO 52.5"), (1.0, 52.5), ("1/8 s", "52.5 s")],
)
def test_another_number_written_alike(text: object, written: object) -> None:
    amount = amount_of(text)
    assert amount is not None
    assert amount.written(52.5) == written
