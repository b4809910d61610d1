"""Where things stand, against values worked out by hand."""

from __future__ import annotations

import math

import pytest
from plan_sets import BALL, DROP, LEFT, a_set, agate

from throughlight.sheets.plan import plan_of
from throughlight.sheets.plan_words import Tape


def named(sheets, name):
    return next(piece for piece in sheets.as_json()["pieces"] if piece["name"] == name)


def test_a_head_at_a_bearing_is_told_by_its_offsets_too() -> None:
    """140° to the left at 55 cm: 55·sin 140° = 35.353 cm left, 55·cos 140° = −42.132 cm, behind the mark.

    It looks at the mark from 5 cm over it: atan(5/55) = 5.194° down; the way to the mark is 180° − 140° to the right.
    """
    head = named(agate(), "left head")
    assert head["distance_mm"] == pytest.approx(550.0, abs=1e-3)
    assert head["bearing_deg"] == pytest.approx(-140.0, abs=1e-3)
    assert head["right_mm"] == pytest.approx(-353.533, abs=1e-3)
    assert head["front_mm"] == pytest.approx(-421.324, abs=1e-3)
    assert head["height_over_mark_mm"] == 50.0
    assert head["tilt_deg"] == pytest.approx(-5.194, abs=1e-3)
    assert head["facing_deg"] == pytest.approx(40.0, abs=1e-3)


def test_a_flag_at_offsets_is_told_by_its_bearing_too() -> None:
    """19 cm left and 16 cm front: √(19² + 16²) = 24.839 cm, atan(19/16) = 49.899° left."""
    flag = named(agate(), "left flag")
    assert flag["distance_mm"] == pytest.approx(248.395, abs=1e-3)
    assert flag["bearing_deg"] == pytest.approx(-49.899, abs=1e-3)
    assert (flag["front"], flag["back"]) == ("black", "black")


def test_heights_are_over_the_floor_where_the_set_knows_it() -> None:
    sets = {top: plan_of(a_set(LEFT, BALL, DROP, top=top)) for top in ("", 'mark_height = "110 cm"')}
    over = [plan.place(3).height_words(Tape()) for plan in sets.values()]
    assert [plan.pieces[2].name for plan in sets.values()] == ["left head", "left head"]
    assert over == ["+5 cm", "115 cm"]


def test_the_marks_height_is_a_length() -> None:
    with pytest.raises(ValueError, match="mark_height") as refused:
        a_set(BALL, top="mark_height = 110")
    assert "a length" in str(refused.value)


def test_the_lens_the_mark_and_straight_ahead_have_names() -> None:
    plan = plan_of(a_set(LEFT, BALL, DROP))
    told = {piece.kind: plan.place(piece.number).aim_words(Tape()) for piece in plan.pieces}
    assert told == {"camera": "the mark", "subject": "the lens", "head": "the mark", "backdrop": "straight front"}


def test_near_the_mark_offsets_stand_for_a_bearing() -> None:
    """The agate slice stands 4 mm left of the mark: a bearing of 90° left would be of no use there."""
    sheets = agate()
    assert sheets.plan.place(2).where_words(Tape()) == "4 mm left"
    assert sheets.plan.place(1).where_words(Tape()) == "62 cm · 0°"
    assert math.isclose(sheets.plan.place(1).distance, 0.62)
