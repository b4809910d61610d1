"""Main effects against worked examples of textbooks, and against least squares as scipy and numpy have it."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from results_by_hand import exact, jackknifed, results, row
from scipy import stats

from throughlight.study.effects import MOST_LEVELS, main_effects
from throughlight.study.results import Figure

# D. C. Montgomery, Design and Analysis of Experiments, Wiley 2012, problem 6.1: hours of life of a machine tool by
# cutting speed, tool geometry and cutting angle, a 2³ design in three replicates.
TOOL_LIFE = {
    ("−", "−", "−"): (22, 31, 25), ("+", "−", "−"): (32, 43, 29), ("−", "+", "−"): (35, 34, 50),
    ("+", "+", "−"): (55, 47, 46), ("−", "−", "+"): (44, 45, 38), ("+", "−", "+"): (40, 37, 36),
    ("−", "+", "+"): (60, 50, 54), ("+", "+", "+"): (39, 41, 47),
}  # fmt: skip
# D. C. Montgomery and G. C. Runger, Applied Statistics and Probability for Engineers, example 13-1: tensile strength of
# paper, psi, by hardwood concentration, per cent. The data from memory; means and deviations agree with table 13-5.
PAPER = {
    5: (7, 8, 15, 11, 9, 10), 10: (12, 17, 13, 18, 19, 15), 15: (14, 18, 19, 17, 16, 18), 20: (19, 25, 22, 23, 18, 20),
}  # fmt: skip


def tool_life():
    cells = [(setting, life) for setting, lives in TOOL_LIFE.items() for life in lives]
    rows = [row(n, dict(zip("ABC", setting, strict=True)), float(life)) for n, (setting, life) in enumerate(cells, 1)]
    return main_effects(results(rows), "loss")


def test_tool_life_montgomery_2012_problem_6_1_effects():
    effects = tool_life()
    # Solution 6.1: life = 40.83333 + 0.16667·A + 5.66667·B + 3.41667·C − 4.41667·AC in coded units.
    printed = {"A": 0.16667, "B": 5.66667, "C": 3.41667}
    assert [effect.key for effect in effects.keys] == ["B", "C", "A"]  # the strongest first
    for effect in effects.keys:
        by_level = {level.said: level for level in effect.levels}
        assert by_level["+"].effect.value == pytest.approx(printed[effect.key], abs=5e-6)
        assert by_level["−"].effect.value == pytest.approx(-printed[effect.key], abs=5e-6)
        assert by_level["+"].mean.value == pytest.approx(40.83333 + printed[effect.key], abs=1e-5)
        assert by_level["+"].candidates == 12


def test_tool_life_montgomery_2012_problem_7_1_sums_of_squares():
    # Solution 7.1: sums of squares 0.67, 770.67, 280.17 of 2095.33 in all.
    effects = tool_life()
    shares = {effect.key: effect.share for effect in effects.keys}
    assert shares == pytest.approx({"A": 0.67 / 2095.33, "B": 770.67 / 2095.33, "C": 280.17 / 2095.33}, abs=5e-6)
    # Three sums printed to two decimals: 3 · 0.005 of 2095.
    assert effects.explained == pytest.approx((0.67 + 770.67 + 280.17) / 2095.33, abs=8e-6)
    assert effects.freedom == 24 - 4


def paper():
    cells = [(share, strength) for share, strengths in PAPER.items() for strength in strengths]
    rows = [row(n, {"hardwood": f"{share} %"}, float(strength)) for n, (share, strength) in enumerate(cells, 1)]
    return main_effects(results(rows), "loss")


def test_paper_strength_montgomery_runger_example_13_1_intervals():
    # Table 13-5: means 10.000, 15.667, 17.000, 21.167; error 20 degrees of freedom, pooled deviation 2.551;
    # the 95 % interval of the last mean is 19.00 … 23.34 psi. Sums of squares 382.79 of 512.96.
    effects = paper()
    (hardwood,) = effects.keys
    assert [level.mean.value for level in hardwood.levels] == pytest.approx([10.0, 15.667, 17.0, 21.167], abs=5e-4)
    assert hardwood.levels[-1].mean.low == pytest.approx(19.00, abs=6e-3)
    assert hardwood.levels[-1].mean.high == pytest.approx(23.34, abs=6e-3)
    assert effects.left_over == pytest.approx(2.551, abs=5e-4)
    assert effects.freedom == 20
    assert hardwood.share == pytest.approx(382.79 / 512.96, abs=2e-5)
    assert hardwood.unit == "%"
    assert [level.place for level in hardwood.levels] == [5.0, 10.0, 15.0, 20.0]


def test_unbalanced_grid_against_least_squares():
    """A 4 × 3 × 2 grid with five cells missing: dummies by numpy, the interval of a contrast by scipy's t."""
    rng = np.random.default_rng(3)
    grid = [
        cell for n, cell in enumerate(itertools.product(range(4), range(3), range(2))) if n not in (0, 5, 6, 13, 20)
    ]
    y = np.array([a**2 - 2.0 * b + 0.7 * c + 0.2 * a * b + rng.normal() * 0.3 for a, b, c in grid])
    rows = [
        row(n, {"a": f"{a} cm", "b": f"level {b}", "c": f"way {c}"}, y[n - 1]) for n, (a, b, c) in enumerate(grid, 1)
    ]
    effects = main_effects(results(rows), "loss")
    dummies = np.array([[1, a == 1, a == 2, a == 3, b == 1, b == 2, c == 1] for a, b, c in grid], dtype=float)
    beta, squares, rank, _ = np.linalg.lstsq(dummies, y, rcond=None)
    freedom = len(y) - rank
    covariance = squares[0] / freedom * np.linalg.inv(dummies.T @ dummies)
    contrast = np.array([0, -0.25, 0.75, -0.25, 0, 0, 0])  # level 2 of a against the mean of all four
    half = stats.t.ppf(0.975, freedom) * math.sqrt(contrast @ covariance @ contrast)
    level = next(effect for effect in effects.keys if effect.key == "a").levels[2]
    assert level.effect == pytest.approx((contrast @ beta, contrast @ beta - half, contrast @ beta + half), abs=1e-9)
    without = np.delete(dummies, [4, 5], axis=1)
    lost = np.linalg.lstsq(without, y, rcond=None)[1][0] - squares[0]
    b = next(effect for effect in effects.keys if effect.key == "b")
    assert b.share == pytest.approx(lost / np.sum((y - y.mean()) ** 2), abs=1e-9)


def test_intervals_hold_the_truth_as_often_as_they_say():
    """Over 400 seeds of an additive truth with noise, 95 % hold it: expected 380 of 400, σ = 4.4; four sigmas."""
    held = 0
    for seed in range(400):
        rng = np.random.default_rng(seed)
        cells = list(itertools.product(range(3), range(3)))
        noise = rng.normal(size=len(cells))
        rows = [
            row(n, {"a": f"{a} cm", "b": f"{b} cm"}, 10.0 + 2 * a + noise[n - 1]) for n, (a, b) in enumerate(cells, 1)
        ]
        effects = main_effects(results(rows), "loss")
        last = next(effect for effect in effects.keys if effect.key == "a").levels[2].effect
        held += last.low <= 2.0 <= last.high
    assert abs(held - 380) <= 4 * math.sqrt(400 * 0.95 * 0.05)


def test_without_freedom_the_intervals_are_those_of_the_tracing():
    """Two keys changed one by one, three candidates: two effects and a mean leave nothing to judge the fit by."""
    rng = np.random.default_rng(5)
    losses = [jackknifed(value + rng.normal(size=16))[0] for value in (3.0, 4.0, 6.0)]
    settings = [{"a": "in", "b": "in"}, {"a": "out", "b": "in"}, {"a": "in", "b": "out"}]
    effects = main_effects(
        results([row(n, s, f) for n, (s, f) in enumerate(zip(settings, losses, strict=True), 1)]), "loss"
    )
    assert effects.freedom == 0
    a = next(effect for effect in effects.keys if effect.key == "a")
    error = [figure.half / stats.t.ppf(0.975, 15) for figure in losses]
    # Half of the difference of the first two, normal quantile: the errors are known.
    half = stats.norm.ppf(0.975) * math.hypot(error[0], error[1]) / 2.0
    assert a.levels[0].effect.value == pytest.approx((losses[0].value - losses[1].value) / 2.0)
    assert a.levels[0].effect.half == pytest.approx(half, rel=1e-3)


def test_keys_that_always_change_together_are_not_told_apart():
    settings = [
        {"a": "1 cm", "b": "in"},
        {"a": "2 cm", "b": "out"},
        {"a": "1 cm", "b": "in"},
        {"a": "2 cm", "b": "out"},
    ]
    rows = [row(n, {**s, "c": f"{n // 3} m"}, float(n)) for n, s in enumerate(settings, 1)]
    effects = main_effects(results(rows), "loss")
    assert set(effects.untold) == {"a", "b"}
    assert [effect.key for effect in effects.keys] == ["c"]


def test_many_values_are_put_into_classes_that_keep_a_straight_line_straight():
    numbers = np.linspace(0.0, 1.0, 200) ** 2 * 90.0
    rows = [row(n, {"a": f"{x:.4f} deg"}, 0.01 * x) for n, x in enumerate(numbers, 1)]
    (a,) = main_effects(results(rows), "loss").keys
    assert len(a.levels) <= MOST_LEVELS
    assert sum(level.candidates for level in a.levels) == 200
    slopes = np.diff([level.mean.value for level in a.levels]) / np.diff([level.place for level in a.levels])
    np.testing.assert_allclose(slopes, 0.01, rtol=1e-3)


def test_amounts_are_told_in_stops():
    rows = [
        row(n, {"a": s}, figures={"stray_light": exact(x)})
        for n, (s, x) in enumerate([("in", 1.0), ("out", 8.0), ("in", 1.0)], 1)
    ]
    (a,) = main_effects(results(rows), "stray_light").keys
    assert a.span == pytest.approx(3.0)


def test_rows_without_light_are_left_out():
    dark = Figure(-math.inf, -math.inf, -9.0)
    rows = [row(n, {"a": f"{n % 2} cm"}, figures={"backdrop": exact(-8.0 + n % 2)}) for n in range(1, 7)]
    effects = main_effects(results([*rows, row(7, {"a": "1 cm"}, figures={"backdrop": dark})]), "backdrop")
    assert effects.candidates == 6
    assert effects.keys[0].span == pytest.approx(1.0)


def test_too_few_candidates_have_no_effects():
    assert main_effects(results([row(1, {"a": "in"}, 1.0), row(2, {"a": "out"}, 2.0)]), "loss") is None
