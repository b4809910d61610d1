"""The worst patch: what is said of it agrees with itself."""

from __future__ import annotations

import math

import pytest

import throughlight as tl
from plain_camera import CAMERA

SETUP = (
    'title = "tube over a disc"'
    + CAMERA
    + """
[subject]
shape = { kind = "sphere", diameter = "6 cm" }
surface = "grey card"
[backdrop]
distance = "90 cm"
width = "140 cm"
height = "140 cm"
cloth = "black velvet"
[[head]]
name = "tube"
face = { shape = "tube", length = "20 cm", diameter = "4 cm" }
at = ["0 cm", "30 cm", "-30 cm"]
energy = "100 J"
"""
)


def test_under_the_subject_is_no_surer_than_the_patch_and_the_subject_together() -> None:
    """A difference of two independent figures has the root of their squared half widths (common practice of errors)."""
    readings = tl.meter(tl.loads(SETUP), tolerance=0.1)
    assert readings.subject is not None
    assert readings.backdrop is not None
    worst, subject = readings.backdrop.worst.exposure, readings.subject.mean
    under = readings.backdrop.worst_under_subject
    assert under is not None
    assert under.value == pytest.approx(subject.value - worst.value, abs=1e-9)
    assert under.value - under.low == pytest.approx(
        math.hypot(worst.high - worst.value, subject.value - subject.low), rel=1e-9
    )
    assert under.high - under.value == pytest.approx(
        math.hypot(worst.value - worst.low, subject.high - subject.value), rel=1e-9
    )
