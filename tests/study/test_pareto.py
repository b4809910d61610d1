"""The Pareto front against brute force: as the figures stand, and at 95 % with scipy's tests."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from results_by_hand import exact, jackknifed, results, row
from scipy import stats

from throughlight.study.pareto import pareto_front
from throughlight.study.results import Figure, Goal

AT = Goal("subject", "at", 0.5, 0.25, 1.0, "subject at +0.5 stop")
NAMES = ("subject", "backdrop", "stray_light", "energy")

coarse = st.integers(0, 3)


def rows_of(table):
    """Return rows with exact figures; of four numbers each: subject, backdrop, stray light, energy."""
    return [
        row(n, {"a": f"{n} cm"}, figures={name: exact(float(x)) for name, x in zip(NAMES, numbers, strict=True)})
        for n, numbers in enumerate(table, 1)
    ]


@settings(deadline=None, max_examples=200)
@given(st.lists(st.tuples(coarse, coarse, coarse, coarse), min_size=1, max_size=14))
def test_exact_figures_against_brute_force(table):
    """All that is exact: at 95 % and as it stands are the same, equal ones do not beat each other."""
    front = pareto_front(results(rows_of(table), (AT,)))
    points = [(max(0.0, abs(s - 0.5) - 0.25), b, x, e) for s, b, x, e in table]
    kept = {
        n
        for n, mine in enumerate(points, 1)
        if not any(all(o <= m for o, m in zip(other, mine, strict=True)) and other != mine for other in points)
    }
    assert {r.number for r, left in zip(front.rows, front.left, strict=True) if left} == kept
    assert {r.number for r, left in zip(front.rows, front.by_value, strict=True) if left} == kept


def noisy(seed: int, count: int):
    """Return rows whose noise is mostly the same in all of them, and the replicates by name, (n, r)."""
    rng = np.random.default_rng(seed)
    common = rng.normal(size=16)
    rows, replicates = [], {name: [] for name in ("backdrop", "stray_light")}
    for n in range(1, count + 1):
        figures, left_out = {}, {}
        for name, values in replicates.items():
            values.append(rng.integers(0, 4) * 0.3 + 10.0 + common + 0.1 * rng.normal(size=16))
            figures[name], left_out[name] = jackknifed(values[-1])
        rows.append(
            row(n, {"a": f"{n} cm"}, figures=figures, left_out=left_out, energy_joules=float(rng.integers(0, 3)))
        )
    return rows, {name: np.array(values) for name, values in replicates.items()}


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 10**6), st.integers(2, 9))
def test_pairs_against_scipys_one_sided_paired_t_tests(seed, count):
    """Another one beats a row when each paired one-sided test says so at Šidák's level, joules at most equal."""
    rows, replicates = noisy(seed, count)
    front = pareto_front(results(rows))
    wrong = 1.0 - 0.95 ** (1.0 / (count - 1))

    def beats(i: int, j: int) -> bool:
        less = [
            stats.ttest_rel(values[i], values[j], alternative="less").pvalue < wrong for values in replicates.values()
        ]
        return all(less) and rows[i].energy_joules <= rows[j].energy_joules

    kept = {j + 1 for j in range(count) if not any(beats(i, j) for i in range(count) if i != j)}
    assert {r.number for r, left in zip(front.rows, front.left, strict=True) if left} == kept


def test_front_by_value_is_part_of_what_is_left():
    for seed in range(20):
        front = pareto_front(results(noisy(seed, 30)[0]))
        assert np.all(front.left[front.by_value])


def test_a_candidate_of_the_true_front_is_hardly_ever_dropped():
    """Two candidates exactly alike but for the joules, which are worse: dropping needs both others to be surely less.

    Over 400 seeds at most 5 % may be dropped wrongly: 20 expected at the most, σ = 4.4; four sigmas above is 37.
    """
    dropped = 0
    for seed in range(400):
        rng = np.random.default_rng(seed)
        rows = []
        for n in (1, 2):
            figure, left_out = jackknifed(5.0 + rng.normal(size=16))
            rows.append(
                row(
                    n,
                    {"a": f"{n} cm"},
                    figures={"backdrop": figure},
                    left_out={"backdrop": left_out},
                    energy_joules=float(n),
                )
            )
        dropped += not bool(np.all(pareto_front(results(rows)).left))
    assert dropped <= 37


def test_inside_the_slack_all_subjects_are_as_good():
    near = Figure(0.6, 0.58, 0.62)
    rows = [
        row(1, {"a": "1 cm"}, figures={"subject": near, "backdrop": exact(-8.0)}),
        row(2, {"a": "2 cm"}, figures={"subject": exact(0.5), "backdrop": exact(-7.0)}),
    ]
    front = pareto_front(results(rows, (AT,)))
    assert front.objectives[0].value.tolist() == [0.0, 0.0]
    assert front.left.tolist() == [True, False]


def test_an_interval_that_reaches_out_of_the_slack_is_no_equal():
    wide = Figure(0.6, 0.3, 0.9)  # 0.15 beyond the slack at its end
    rows = [
        row(1, {"a": "1 cm"}, figures={"subject": wide, "backdrop": exact(-8.0)}),
        row(2, {"a": "2 cm"}, figures={"subject": exact(0.5), "backdrop": exact(-7.0)}),
    ]
    front = pareto_front(results(rows, (AT,)))
    assert front.left.tolist() == [True, True]
    assert front.by_value.tolist() == [True, False]


def test_no_light_at_all_is_darker_than_any():
    dark = Figure(-math.inf, -math.inf, -12.0)
    rows = [
        row(1, {"a": "1 cm"}, figures={"backdrop": dark}, energy_joules=1.0),
        row(2, {"a": "2 cm"}, figures={"backdrop": exact(-8.0)}, energy_joules=1.0),
    ]
    assert pareto_front(results(rows)).left.tolist() == [True, False]


def test_nothing_read_yet_has_an_empty_front():
    front = pareto_front(results([]))
    assert front.rows == ()
    assert front.left.size == 0
