"""Kit list, order of work and cautions: what fits the set, and nothing that doesn't."""

from __future__ import annotations

import pytest
from plan_sets import BALL, DROP, LEFT, a_set, agate, head

from throughlight.sheets.plan import plan_of
from throughlight.sheets.plan_cautions import LAST, cautions
from throughlight.sheets.plan_kit import kit_list
from throughlight.sheets.plan_order import order_of_work
from throughlight.sheets.plan_words import Tape

LAMP = head("lamp", '["30 cm", "10 cm", "80 cm"]').replace(
    'energy = "100 J"', 'power = "300 W"\nefficacy = "25 lm/W"\nstops = "-1 stop"'
)
WIRE = """
[[support]]
name = "wire"
from = ["0 cm", "3 cm", "0 cm"]
to = ["0 cm", "30 cm", "0 cm"]
diameter = "0.8 mm"
"""
SLICE = BALL.replace('"marble"', '{ like = "apple flesh", roughness = 0.2 }')


def said(*tables: str) -> str:
    return " ".join(cautions(plan_of(a_set(*tables)), Tape()))


def test_a_bare_camera_has_only_the_last_caution() -> None:
    assert cautions(plan_of(a_set(BALL)), Tape()) == (LAST,)


def test_a_flash_brings_capacitors_eyes_and_cables_and_a_lamp_does_not() -> None:
    flash, lamp = said(LEFT, BALL), said(LAMP, BALL)
    assert "capacitors" in flash
    assert "licensed electrician" in flash
    assert "eyes" in flash
    assert "3 shines toward the camera" in flash
    assert "capacitors" not in lamp
    assert "eyes" not in lamp
    for words in (flash, lamp):
        assert "hot" in words
        assert "cables" in words


def test_a_lamp_near_cloth_is_named() -> None:
    """55 cm at 140°: 42 cm behind the mark, and so 48 cm from a backdrop 90 cm behind it."""
    assert "Nearer than 50 cm to such: 3." in said(LEFT, BALL, DROP)
    assert "Nearer" not in said(LEFT, BALL)


@pytest.mark.parametrize(
    ("tables", "word"), [((BALL, WIRE), "wire"), ((SLICE,), "Food"), ((LEFT.replace("5 cm", "60 cm"), BALL), "Weigh")]
)
def test_wire_food_and_high_stands_are_minded_where_they_are(tables: tuple[str, ...], word: str) -> None:
    assert word in said(*tables)
    assert word not in said(LEFT, BALL)


def test_the_kit_tells_powers_and_sizes() -> None:
    """100 J turned down by 2.5 stops are 100/2^2.5 = 17.7 J."""
    told = {item.name: item.words for group in kit_list(agate().plan, Tape()) for item in group.items}
    assert told["left head"] == "flash of 100 J set to 17.7 J (−2.5 stops); bowl 18 cm"
    assert told["left flag"] == "flag 20 × 40 cm, black on both sides"
    assert told["backdrop"] == "black velvet, 140 × 140 cm"
    assert told["body"] == "sensor 36 × 24 mm, ISO 100, 1/160 s"
    assert told["lens"].startswith("100 mm at f/16, picture angle 17.2° across, 11.5° up")
    assert told["wire"] == "bare steel, 0.8 mm thick, 26.1 cm long"
    lamp = kit_list(plan_of(a_set(LAMP)), Tape())[1].items[0]
    assert lamp.words.startswith("lamp of 300 W set to 150 W (−1 stop)")


def test_a_head_over_the_set_hangs_on_a_boom() -> None:
    over = head("top", '["0 cm", "70 cm", "5 cm"]')
    words = [item.name for group in kit_list(plan_of(a_set(over, BALL)), Tape()) for item in group.items]
    assert "booms" in words
    assert "stands" not in words


def test_the_work_goes_from_the_backdrop_to_the_test_frames() -> None:
    steps = order_of_work(agate().plan, Tape())
    starts = (
        "Hang the backdrop", "Mark", "Set the camera", "Bring the subject", "Place “left head”", "Place “right head”",
        "Bring in the flags", "Expose a frame with every head off", "Expose a frame with each head alone", "Compare",
    )  # fmt: skip
    assert len(steps) == len(starts)
    for step, start in zip(steps, starts, strict=True):
        assert step.startswith(start)
    assert "55 cm from the mark, bearing 140° left, 5 cm over it, aimed at the mark, 5° down" in steps[4]
    wishes = ("subject 0.5 stops over", "worst patch 5 stops under the subject", "veil at most 6 stops under mid-grey")
    assert all(wish in steps[-1] for wish in wishes)
