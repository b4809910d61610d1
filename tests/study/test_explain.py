"""Words on candidates: what each change does, which candidate is nearest, what is settled."""

from __future__ import annotations

import itertools

import pytest
from results_by_hand import exact, results, row, table_top

from throughlight.study.explain import explain
from throughlight.study.neighbours import nearest, steps
from throughlight.study.results import Figure, Goal


def corners(losses):
    """Return rows for all ways to put three gloves into the game, and their results."""
    sets = [dict(zip("abc", which, strict=True)) for which in itertools.product(("out", "in"), repeat=3)]
    rows = [row(n, s, losses(frozenset(k for k in s if s[k] == "in"))) for n, s in enumerate(sets, 1)]
    return rows, results(rows)


def test_steps_of_the_glove_game_shapley_1953():
    """A left and two right gloves, a pair is worth 1: 2/3 for the left, 1/6 for each right (textbook, from memory)."""
    rows, found = corners(lambda inside: 1.0 if "a" in inside and inside & {"b", "c"} else 0.0)
    made = steps(found, rows[0], rows[-1])
    assert made.exact
    assert {step.key: step.loss for step in made.steps} == pytest.approx({"a": 2 / 3, "b": 1 / 6, "c": 1 / 6})
    assert made.steps[0].key == "a"  # the largest first
    assert (made.steps[0].before, made.steps[0].after) == ("out", "in")


def test_steps_add_up_to_the_difference():
    rows, found = corners(lambda inside: 0.3 * len(inside) ** 2 + (0.7 if "b" in inside else 0.0))
    made = steps(found, rows[0], rows[-1])
    assert sum(step.loss for step in made.steps) == pytest.approx(0.3 * 9 + 0.7)


def test_where_a_corner_is_missing_the_means_stand_in():
    """An additive truth: the means over the remaining candidates give each step exactly."""
    planted = {"a": 0.5, "b": -0.2, "c": 1.0}
    rows, _ = corners(lambda inside: 2.0 + sum(planted[key] for key in inside))
    found = results([one for one in rows if one.number != 3])
    made = steps(found, rows[0], rows[-1])
    assert not made.exact
    assert {step.key: step.loss for step in made.steps} == pytest.approx(planted)


def test_nearest_changes_fewest_keys_then_least():
    cells = [("100 deg", "in"), ("105 deg", "in"), ("120 deg", "in"), ("100 deg", "out"), ("105 deg", "out")]
    rows = [row(n, {"bearing": bearing, "flag": flag}, float(n)) for n, (bearing, flag) in enumerate(cells, 1)]
    found = results(rows)
    assert nearest(found, rows[0], rows).number == 2
    assert nearest(found, rows[2], rows).number == 2
    assert nearest(found, rows[4], rows).number == 4  # five degrees, though the flag alone would be one key too
    assert nearest(found, rows[0], rows[:1]) is None


def test_nearest_number_comes_before_a_change_of_kind():
    cells = [("100 deg", "in"), ("105 deg", "in"), ("100 deg", "out"), ("200 deg", "in")]
    rows = [row(n, {"bearing": bearing, "flag": flag}, float(-n)) for n, (bearing, flag) in enumerate(cells, 1)]
    assert nearest(results(rows), rows[0], rows).number == 2


GOALS = (
    Goal("subject", "at", 0.5, 0.0, 1.0, "subject at +0.5 stops"),
    Goal("veil", "at most", -6.0, 0.0, 1.0, "veil at most -6 stops"),
)


def two():
    """Return a best candidate that meets its goals, and one with its flag out that misses the subject by a stop."""
    best = row(
        1, {"bearing": "130 deg", "flag": "in"}, Figure(0.0, 0.0, 0.02), rank=1, settled=True,
        figures={"subject": Figure(0.5, 0.48, 0.52), "veil": Figure(-7.0, -7.1, -6.9)},
        costs=(exact(0.0), exact(0.0)),
    )  # fmt: skip
    other = row(
        2, {"bearing": "130 deg", "flag": "out"}, Figure(1.0, 0.98, 1.02), rank=2, tie_with=(),
        figures={"subject": Figure(1.5, 1.48, 1.52), "veil": Figure(-6.5, -6.6, -6.4)},
        costs=(Figure(1.0, 0.98, 1.02), exact(0.0)),
    )  # fmt: skip
    return results([best, other], GOALS)


def test_the_goal_that_costs_is_told_with_what_is_read():
    lines = explain(two(), 2)
    assert "2" in lines[0]
    assert "the last of 2" in lines[0]
    (subject,) = (line for line in lines if line.startswith("Wanted"))
    assert "+1.50 ± 0.02" in subject
    assert "too much" in subject
    assert "1.00 ± 0.02" in subject
    assert any(line == "As wanted: veil at most -6 stops." for line in lines)
    assert any("No. 1" in line and "flag in instead of out" in line for line in lines)


def test_the_best_is_told_as_settled():
    lines = explain(two(), 1)
    assert "the best of 2" in lines[0]
    assert "settled at 95 %" in lines[0]


def test_ties_are_named():
    found = table_top()
    tied = next(one for one in found.ranked if len(one.tie_with) == 1)
    assert f"can't be told from No. {tied.tie_with[0]}" in explain(found, tied.number)[0]


def test_failed_and_waiting_candidates_have_their_sentence():
    found = table_top(waiting=3)
    assert "could not be computed: the left head stands inside card 2" in explain(found, found.failed[0].number)[0]
    assert "not been traced yet" in explain(found, 240)[0]


def test_no_such_candidate():
    with pytest.raises(KeyError):
        explain(table_top(), 241)
