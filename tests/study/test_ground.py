"""The loss over two keys: every candidate on its own square."""

from __future__ import annotations

import numpy as np
import pytest
from results_by_hand import results, row, table_top

from throughlight.sheets.ground_plot import ground_panels, legend, most_loss
from throughlight.study.ground import loss_ground


def test_every_candidate_stands_on_its_square():
    found = table_top(waiting=9)
    ground = loss_ground(found)
    assert {ground.across.key, ground.upright.key} == {"bearing", "distance"}
    assert [sheet.said for sheet in ground.sheets] == ["flag in", "flag out"]
    for one in found.rows:
        sheet = ground.sheets[("in", "out").index(one.changes["flag"])]
        place = tuple(line.said.index(one.changes[line.key].split()[0]) for line in (ground.upright, ground.across))
        assert sheet.failed[place] == (one.status == "failed")
        if one.loss is None:
            assert np.isnan(sheet.losses[place])
        else:
            assert sheet.losses[place] == one.loss.value
            assert sheet.numbers[place] == one.number


def test_many_other_values_leave_the_best_of_all_on_each_square():
    rng = np.random.default_rng(1)
    cells = [(a, b, c) for a in range(4) for b in range(3) for c in range(6)]
    rows = [
        row(n, {"a": f"{a} cm", "b": f"{b} m", "c": f"way {c}"}, 3.0 * a + b + rng.random())
        for n, (a, b, c) in enumerate(cells, 1)
    ]
    ground = loss_ground(results(rows))
    (sheet,) = ground.sheets
    assert sheet.said == ""
    assert (ground.across.key, ground.upright.key) == ("a", "b")
    for a in range(4):
        for b in range(3):
            here = min(one.loss.value for one, cell in zip(rows, cells, strict=True) if cell[:2] == (a, b))
            assert sheet.losses[b, a] == here


def test_scattered_samples_have_no_ground():
    rng = np.random.default_rng(2)
    rows = [row(n, {"a": f"{rng.random():.3f} cm", "b": f"{rng.random():.3f} m"}, float(n)) for n in range(1, 31)]
    assert loss_ground(results(rows)) is None


def test_one_wide_key_alone_has_no_ground():
    rows = [row(n, {"a": f"{n} cm", "b": "in" if n % 2 else "out"}, float(n)) for n in range(1, 9)]
    assert loss_ground(results(rows)) is None


def test_legend_runs_from_nought_to_what_is_drawn_darkest():
    ground = loss_ground(table_top())
    colours = legend(ground)
    assert colours[0][1] == "0"
    assert colours[-1][1] == f"{most_loss(ground):g} or more"
    assert len({colour for colour, _ in colours}) == len(colours)


@pytest.mark.parametrize("best", [None, 111])
def test_plot_has_a_square_for_each_candidate_and_frames_the_best(best):
    found = table_top()
    panels = ground_panels(loss_ground(found), best)
    squares = sum(panel.svg.count('id="ground') - panel.svg.count("axis") for panel in panels)
    assert squares > len(found.ranked)
    assert sum("stroke: var(--ink); stroke-width: 1.6" in panel.svg for panel in panels) == (best is not None)
