"""Goals: what is wanted of readings, and the stops by which candidates miss it, worked out by hand."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from study_texts import study_of, vary

from throughlight.study.goals import MOST_MISSED, goal, loss, missed

BEARING = vary("head.1.at.bearing", 'values = ["-130 deg"]')


def test_a_target_is_missed_on_either_side_of_its_slack() -> None:
    wish = [goal("subject", "at", 0.5, slack=0.25)]
    values = np.array([0.5, 0.25, 0.75, 0.0, 1.75, -math.inf, math.nan])
    assert missed({"subject": values}, wish)[0] == pytest.approx([0, 0, 0, 0.25, 1.0, MOST_MISSED, MOST_MISSED])


def test_limits_are_missed_on_one_side() -> None:
    figures = {"veil": np.array([-9.0, -6.0, -5.5, -math.inf]), "worst_under": np.array([7.0, 5.0, 4.0, math.inf])}
    wishes = [goal("veil", "at most", -6.0), goal("worst_under", "at least", 5.0)]
    assert missed(figures, wishes) == pytest.approx(np.array([[0, 0, 0.5, 0], [0, 0, 1.0, 0]]))


def test_twice_too_much_energy_or_stray_light_is_one_stop() -> None:
    assert loss({"energy": 400.0}, [goal("energy", "at most", 200.0)]) == pytest.approx(1.0)
    assert loss({"stray_light": 0.25}, [goal("stray_light", "at least", 1.0)]) == pytest.approx(2.0)
    assert loss({"stray_light": 0.0}, [goal("stray_light", "at most", 1.0)]) == 0.0
    assert loss({"energy": 300.0}, [goal("energy", "at", 100.0, slack=50.0)]) == pytest.approx(1.0)  # 300 over 150


def test_a_tenth_of_the_subject_past_clip_counts_as_a_stop() -> None:
    assert loss({"clipped": 0.25}, [goal("clipped", "at most", 0.05)]) == pytest.approx(2.0)


def test_the_loss_is_the_weighted_sum_value_by_value() -> None:
    wishes = [goal("subject", "at", 0.5, weight=2.0), goal("veil", "at most", -6.0, weight=0.5)]
    one = loss({"subject": 1.5, "veil": -4.0}, wishes)
    assert one == pytest.approx(2.0 * 1.0 + 0.5 * 2.0)
    many = loss({"subject": np.full((16, 3), 1.5), "veil": np.full((16, 3), -4.0)}, wishes)
    assert many == pytest.approx(np.full((16, 3), float(one)))


def test_a_reading_that_is_not_there_is_no_loss_of_zero() -> None:
    with pytest.raises(KeyError):
        loss({"veil": -7.0}, [goal("subject", "at", 0.5)])


def test_the_words_of_a_goal() -> None:
    assert goal("subject", "at", 0.5, 0.1).said == "subject at +0.5 stops within 0.1 stops"
    assert goal("veil", "at most", -6.0).said == "veil at most -6 stops"
    assert goal("energy", "at most", 250.0).said == "energy of all heads at most 250 J"


def test_a_study_without_wishes_takes_those_of_its_set(tmp_path: Path) -> None:
    goals = study_of(tmp_path, BEARING).goals
    assert [(one.reading, one.kind, one.value, one.slack) for one in goals] == [
        ("subject", "at", 0.5, 0.5),
        ("worst_under", "at least", 5.0, 0.0),
        ("veil", "at most", -6.0, 0.0),
    ]


def test_wishes_are_read_in_the_units_of_their_readings(tmp_path: Path) -> None:
    wishes = (
        ("subject", 'at = "1/3 stop"\nwithin = "0.1 stop"'),
        ("stray light", 'at_most = "5 lx·s"\nweight = 2'),
        ("energy", 'at_most = "0.2 kJ"'),
        ("clipped", 'at_most = "2 %"'),
        ("rim", 'at_least = "+2 stops"'),
    )
    text = "".join(f'[[wanted]]\nreading = "{name}"\n{rest}\n' for name, rest in wishes)
    goals = study_of(tmp_path, BEARING, text).goals
    assert [(one.reading, one.value, one.weight) for one in goals] == [
        ("subject", pytest.approx(1 / 3), 1.0),
        ("stray_light", 5.0, 2.0),
        ("energy", 200.0, 1.0),
        ("clipped", 0.02, 1.0),
        ("rim", 2.0, 1.0),
    ]
