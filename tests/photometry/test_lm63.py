"""Lamp files: flux, symmetry, units, tilt, openings, and files that are no good.

The form is that of ANSI/IESNA LM-63-2002 and of published descriptions of LM-63-1991; all files are made up here.
"""

from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lamp_texts import FIVES, lambertian, lamp_text
from throughlight.photometry import lamps, lm63
from throughlight.photometry.lm63 import LampFileError, parse


def test_lambertian_panel_interpolated_in_angle():
    """Straight lines in angle between 5° steps of I₀·cosθ hold 3139.5974 lm; the panel itself π·I₀ = 3141.5927 lm.

    ∫ of each straight piece times 2π·sinθ in closed form; the panel's is Lambert 1760.
    """
    lamp = parse(lamp_text())
    assert lamps.flux(lamp) == pytest.approx(3139.5974, abs=5e-5)
    fine = parse(lamp_text(tuple(np.linspace(0, 90, 901)), candela=lambda v, h: 1000 * math.cos(math.radians(v))))
    assert lamps.flux(fine) == pytest.approx(3141.5927, rel=1e-6)


def test_zonal_sum_of_the_lambertian_panel():
    """The classic zonal constants, 2π·(cosθ₁ − cosθ₂) times the mean of the ends, are exact for cosθ: 3141.5927 lm."""
    plane = parse(lamp_text()).candela[0]
    edges = np.cos(np.radians(FIVES))
    zones = 2 * math.pi * (edges[:-1] - edges[1:]) * 0.5 * (plane[1:] + plane[:-1])
    assert zones.sum() == pytest.approx(3141.5927, abs=5e-5)


def test_published_sample():
    """Eight angles of a published example of LM-63-1991: 3056.137 lm by straight lines in angle, 3086.854 by zones.

    The candela row stands on public help pages that describe the format; the sums were made from it by quadrature.
    """
    angles, row = (0, 5, 10, 20, 30, 45, 65, 90), (1000, 1100, 1300, 1150, 930, 650, 350, 0)
    text = lamp_text(angles, candela=lambda v, h: row[angles.index(v)], first="IESNA91")
    lamp = parse(text)
    assert lamps.flux(lamp) == pytest.approx(3056.137, abs=5e-4)
    profile = lamps.profile_of(lamp)
    assert profile.flux * lamps.reference_intensity(lamp) == pytest.approx(3056.137, abs=5e-4)
    assert profile.axial == pytest.approx(1000 / 1300, rel=1e-9)


def quadrants(v, h):
    """Like in all four quadrants."""
    return lambertian(v) * (1.5 + 0.5 * math.cos(2 * math.radians(h)))


def sides_of_0_180(v, h):
    return lambertian(v) * (1.5 + math.cos(math.radians(h)))


def sides_of_90_270(v, h):
    return lambertian(v) * (1.5 + math.sin(math.radians(h)))


@pytest.mark.parametrize(
    ("horizontals", "light"),
    [
        ((0,), lambda v, h: lambertian(v)),
        (tuple(range(0, 91, 15)), quadrants),
        (tuple(range(0, 181, 15)), sides_of_0_180),
        (tuple(range(90, 271, 15)), sides_of_90_270),
        (tuple(range(0, 361, 15)), sides_of_90_270),
    ],
)
def test_every_symmetry_expands_to_the_same_distribution(horizontals, light):
    """Whatever part of the turn a file tells, the whole distribution is that of the file which tells it all."""
    part = parse(lamp_text(horizontals=horizontals, candela=light))
    whole = parse(lamp_text(horizontals=tuple(range(0, 361, 15)), candela=light))
    assert lamps.flux(part) == pytest.approx(lamps.flux(whole), rel=1e-9)
    if len(horizontals) > 1:
        assert part.horizontals == pytest.approx(whole.horizontals, abs=1e-12)
        assert part.candela == pytest.approx(whole.candela, rel=1e-9)
        assert lamps.profile_of(part).table == pytest.approx(lamps.profile_of(whole).table, rel=1e-9)
    else:
        assert lamps.profile_of(part).table == pytest.approx(lamps.profile_of(whole).table[:, :1], rel=1e-9)


def test_half_plane_zero_lies_where_the_file_says():
    """The column at 0 of the profile holds the file's plane 0, the one at a quarter turn its plane 90."""
    lamp = parse(lamp_text(horizontals=tuple(range(90, 271, 45)), candela=sides_of_90_270))
    table = lamps.profile_of(lamp).table
    quarter = table.shape[1] // 4
    assert table[0, quarter] == pytest.approx(1.0)
    assert table[0, 0] == table[0, 2 * quarter] == pytest.approx(1.5 / 2.5)
    assert table[0, 3 * quarter] == pytest.approx(0.5 / 2.5)


@pytest.mark.parametrize(("first", "edition"), [
    ("IESNA91", "1991"), ("IESNA:LM-63-1995", "1995"), ("IESNA:LM-63-2002", "2002"), ("", "1986"),
])  # fmt: skip
def test_editions(first, edition):
    lamp = parse(lamp_text(first=first))
    assert lamp.edition == edition
    if first:
        assert dict(lamp.keywords)["MANUFAC"] == "nobody at all"


def test_numbers_may_break_over_lines_anywhere():
    text = lamp_text()
    head, numbers = text.split("TILT=NONE\n")
    broken = "\r\n".join(numbers.replace(" ", ", ", 3).split())
    again = parse(f"{head}TILT=NONE\r\n{broken}\x1a")
    assert np.array_equal(again.candela, parse(text).candela)


def test_all_factors_multiply():
    """I = value · multiplier · ballast factor · ballast-lamp factor (LM-63-2002)."""
    lamp = parse(lamp_text(multiplier=2, factors="0.9 0.5 100"))
    assert lamp.candela[0, 0] == pytest.approx(900, rel=1e-12)
    assert (lamp.watts, lamp.lumens) == (100, -1)


def test_feet_and_metres():
    """A foot is 0.3048 m."""
    feet, metres = parse(lamp_text(units=1, opening=(2, 3, 0))), parse(lamp_text(opening=(0.6096, 0.9144, 0)))
    assert lamps.opening(feet)[0] == "rectangle"
    assert lamps.opening(feet)[1:] == pytest.approx((0.9144, 0.6096), rel=1e-12)
    assert lamps.opening(metres)[1:] == pytest.approx((0.9144, 0.6096), rel=1e-12)


@pytest.mark.parametrize(("opening", "face"), [
    ((0.6, 0.9, 0), ("rectangle", 0.9, 0.6)),
    ((0.6, 0.9, 0.1), ("rectangle", 0.9, 0.6)),
    ((-0.3, -0.3, 0), ("disc", 0.3, 0)),
    ((-0.3, 0, 0), ("disc", 0.3, 0)),
    ((-0.2, -0.8, 0), ("disc", 0.4, 0)),
    ((0, 0, 0), ("disc", 0.02, 0)),
    ((0, 1.2, 0), ("rectangle", 1.2, 0.02)),
])  # fmt: skip
def test_luminous_openings(opening, face):
    """Rectangle, circle in both ways of writing it, ellipse (of the same area), point, line."""
    kind, a, b = lamps.opening(parse(lamp_text(opening=opening)))
    assert kind == face[0]
    assert (a, b) == pytest.approx(face[1:], rel=1e-12)


TILT = "1\n3\n0 45 90\n1.0 0.9 0.8\n"


def test_both_forms_of_tilt():
    """TILT=INCLUDE and TILT=<file> carry the same four items: place, count, angles, factors."""
    inside, beside = parse(lamp_text(tilt="INCLUDE", after_tilt=TILT)), parse(lamp_text(tilt="lamp.tlt"), TILT)
    assert inside.tilt == beside.tilt
    assert [inside.tilt.at(angle) for angle in (0, 22.5, 90, 150)] == pytest.approx([1, 0.95, 0.8, 0.8])
    assert lm63.tilt_file_named(lamp_text(tilt="lamp.tlt")) == "lamp.tlt"
    assert lm63.tilt_file_named(lamp_text()) is None


def test_light_behind_the_face_is_told():
    """An even lamp sends half of its light each way: 4π·I."""
    even = parse(lamp_text(tuple(range(0, 181, 10)), candela=lambda v, h: 100))
    assert lamps.flux(even) == pytest.approx(400 * math.pi, rel=1e-9)
    assert lamps.behind(even) == pytest.approx(0.5, rel=1e-9)
    assert lamps.profile_of(even).flux == pytest.approx(2 * math.pi, rel=1e-9)


def test_a_lamp_that_shines_only_behind_is_refused():
    up = parse(lamp_text(tuple(range(90, 181, 10)), candela=lambda v, h: 100))
    with pytest.raises(ValueError, match="behind its face"):
        lamps.profile_of(up)


HOSTILE = {
    "no TILT": (lamp_text().replace("TILT", "tlt"), 1, "no line begins with TILT="),
    "type B": (lamp_text(kind=2), 6, "type B"),
    "type A": (lamp_text(kind=3), 6, "type A"),
    "units": (lamp_text(units=3), 6, "the units"),
    "nan": (lamp_text().replace("1000", "nan", 1), 10, '"nan" where an intensity'),
    "huge": (lamp_text().replace("1000", "1e999", 1), 10, "too large"),
    "product": (lamp_text(multiplier="1e300").replace("1000", "1e300", 1), 10, "too large"),
    "truncated": (lamp_text()[:-30], 10, "ends where an intensity would stand"),
    "falling": (lamp_text((0, 10, 5, 90)), 8, "vertical angles do not ascend"),
    "turning back": (lamp_text(horizontals=(0, 90, 45, 180)), 9, "horizontal angles do not ascend"),
    "span": (lamp_text((0, 45, 80)), 8, "run from 0 to 80 degrees"),
    "turn": (lamp_text(horizontals=(0, 100, 200)), 9, "run from 0 to 200 degrees"),
    "negative": (lamp_text(candela=lambda v, h: -1), 10, "below zero"),
    "dark": (lamp_text(candela=lambda v, h: 0), 10, "every intensity is zero"),
    "one angle": (lamp_text((0,)), 6, "vertical angles"),
    "counts": (lamp_text().replace("1 -1 1 19 1 ", "1 -1 1 4000 4000 "), 6, "more than"),
    "absurd count": (lamp_text().replace("1 -1 1 19 1 ", "1 -1 1 99999999999 1 "), 6, "whole number"),
    "half a count": (lamp_text().replace("1 -1 1 19 1 ", "1 -1 1 19.5 1 "), 6, "whole number"),
    "left over": (lamp_text() + "5 6", 11, "more numbers"),
    "no tilt file": (lamp_text(tilt="lost.tlt"), 5, "not there"),
    "words": (lamp_text().replace("1000", "bright", 1), 10, '"bright"'),
    "tilt count": (lamp_text(tilt="INCLUDE", after_tilt="1 -3 "), 6, "number of tilts"),
    "empty": ("", 1, "no line begins"),
}


@pytest.mark.parametrize("case", HOSTILE)
def test_files_that_are_no_good_are_told_by_line(case):
    text, line, words = HOSTILE[case]
    with pytest.raises(LampFileError, match=words) as trouble:
        parse(text)
    assert trouble.value.line == line


def test_tilt_file_that_is_no_good():
    with pytest.raises(LampFileError, match="line 5: the file that TILT= refers to: line 1"):
        parse(lamp_text(tilt="lamp.tlt"), "nonsense")


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_a_damaged_file_never_breaks_the_reader(data):
    """Cut, or with a few characters exchanged, it is read or refused in words."""
    text = lamp_text(tilt="INCLUDE", after_tilt=TILT, horizontals=(0, 45, 90))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text) - 1))
        text = text[:at] + data.draw(st.text(max_size=3)) + text[at + data.draw(st.integers(0, 5)) :]
    with contextlib.suppress(LampFileError):
        assert np.isfinite(parse(text).candela).all()
