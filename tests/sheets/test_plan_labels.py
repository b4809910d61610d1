"""Labels: none on another, all on the sheet, none on what they name; on all sets that ship and on a crowded one."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
import shapely
from plan_sets import BALL, DROP, SCENES, a_set, head

import throughlight as tl
from throughlight.sheets import plan_meets
from throughlight.sheets.plan import plan_of
from throughlight.sheets.plan_arranged import arrange, label_size
from throughlight.sheets.plan_layout import STRIP
from throughlight.sheets.plan_legend import LEFT as LEGEND_LEFT
from throughlight.sheets.plan_legend import SIZE, legend
from throughlight.sheets.plan_text import width_of
from throughlight.sheets.plan_words import Tape

SETS = sorted(path for path in SCENES.rglob("*.toml") if "\n[camera]" in path.read_text("utf-8"))
SHEETS = ((269.0, 169.5, False), (251.4, 175.4, True))
"""Room on A4 and Letter, mm, and whether in feet."""


def overlap(one, other):
    return min(one[2], other[2]) > max(one[0], other[0]) and min(one[3], other[3]) > max(one[1], other[1])


def check_boxes(view):
    left, bottom, right, top = view.panel.box
    for label in view.labels:
        a, b, c, d = label.box
        assert left <= a < c <= right, label
        assert bottom <= b < d <= top, label
        width, height = label_size(label.numeral, label.name, label.said)
        assert (c - a, d - b) == pytest.approx((width, height))
    for one, other in itertools.combinations(view.labels, 2):
        assert not overlap(one.box, other.box), (one, other)


def test_there_are_sets_to_look_at() -> None:
    assert len(SETS) >= 40


@pytest.mark.parametrize("path", SETS, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_labels_of_a_shipped_set_are_clear_of_one_another_and_of_the_pieces(path) -> None:
    plan = plan_of(tl.load(path))
    for width, height, feet in SHEETS if path.name == "set.toml" else SHEETS[:1]:
        layout, views = arrange(plan, width, height, Tape(feet))
        assert not layout.far
        for view in views:
            check_boxes(view)
            if view.panel is layout.detail:
                continue
            assert view.unnamed == ()
            symbols = shapely.union_all([symbol.outline for symbol in view.symbols])
            for label in view.labels:
                box = shapely.box(*label.box)
                assert box.intersection(symbols).area <= 0.2 * box.area, (path, label)


def test_thirty_heads_still_have_labels_that_keep_apart() -> None:
    dice = random.Random(1)
    heads = [
        head(
            f"head number {i}",
            f'{{ bearing = "{dice.uniform(-180, 180):.1f} deg", distance = "{dice.uniform(40, 120):.1f} cm", '
            f'height = "{dice.uniform(-20, 60):.1f} cm" }}',
        )
        for i in range(30)
    ]
    _, views = arrange(plan_of(a_set(*heads, BALL, DROP)), 269.0, 169.5, Tape())
    for view in views:
        check_boxes(view)
        named = {number for label in view.labels for number in label.numbers}
        assert named.isdisjoint(view.unnamed)
        assert named | set(view.unnamed) >= {symbol.number for symbol in view.symbols}
    assert len(views[0].labels) >= 28


def test_a_far_window_is_an_arrow_at_the_edge_and_says_so() -> None:
    window = """
[[window]]
name = "far window"
at = ["-30 m", "2 m", "5 m"]
width = "2 m"
height = "2 m"
luminance = "2500 cd/m2"
"""
    layout, views = arrange(plan_of(a_set(BALL, DROP, window)), 269.0, 169.5, Tape())
    near, _ = arrange(plan_of(a_set(BALL, DROP)), 269.0, 169.5, Tape())
    assert layout.scale == near.scale
    (label,) = (label for label in views[0].labels if label.name == "far window")
    assert label.said == (
        "30.4 m · 81° left",
        "200 × 200 cm",
        "not to scale",
    )  # √(30² + 5²) = 30.41, atan(30/5) = 80.5°


def test_what_stands_behind_one_another_from_the_side_shares_a_label() -> None:
    pair = [
        head(side, f'{{ bearing = "{b} deg", distance = "55 cm", height = "5 cm" }}')
        for side, b in (("l", -140), ("r", 140))
    ]
    _, views = arrange(plan_of(a_set(*pair, BALL)), 269.0, 169.5, Tape())
    assert (3, 4) in [label.numbers for label in views[1].labels]
    assert (3, 4) not in [label.numbers for label in views[0].labels]


def test_segments_and_boxes_meet_as_shapely_says() -> None:
    dice = random.Random(2)
    lines = np.array([[dice.uniform(0, 10) for _ in range(4)] for _ in range(60)])
    low = np.array([[dice.uniform(0, 8) for _ in range(2)] for _ in range(40)])
    boxes = np.concatenate([low, low + [[dice.uniform(0.2, 3), dice.uniform(0.2, 3)] for _ in range(40)]], axis=1)
    shapes, paths = shapely.box(*boxes.T), shapely.linestrings(lines.reshape(-1, 2, 2))
    assert (plan_meets.segments_and_boxes(lines, boxes) == shapely.intersects(paths[:, None], shapes[None, :])).all()
    assert (plan_meets.boxes_and_boxes(boxes, boxes) == shapely.intersects(shapes[:, None], shapes[None, :])).all()
    crossing = shapely.intersects(paths[:, None], paths[None, :])
    np.fill_diagonal(crossing, False)
    assert (plan_meets.segments_and_segments(lines, lines) == crossing).all()


EVERYTHING = """
[[card]]
at = ["20 cm", "0 cm", "10 cm"]
width = "10 cm"
height = "10 cm"
front = { reflectance = 0.3 }
[[card]]
at = ["-20 cm", "0 cm", "10 cm"]
width = "10 cm"
height = "10 cm"
front = { kind = "mirror", reflectance = 0.9 }
[[card]]
at = ["-20 cm", "0 cm", "30 cm"]
width = "10 cm"
height = "10 cm"
[[sheet]]
at = ["20 cm", "0 cm", "-30 cm"]
width = "10 cm"
height = "10 cm"
sheet = "white scrim"
[[window]]
at = ["-100 cm", "0 cm", "0 cm"]
width = "60 cm"
height = "60 cm"
luminance = "2500 cd/m2"
"""


@pytest.mark.parametrize(("width", "height", "feet"), SHEETS)
def test_the_legend_of_a_set_with_everything_stays_in_its_strip(width: float, height: float, feet: bool) -> None:
    plan = plan_of(a_set(head("lamp", '["30 cm", "10 cm", "-40 cm"]'), EVERYTHING, BALL, DROP))
    entries = legend(plan, LEGEND_LEFT, STRIP - 3.0, width - LEGEND_LEFT)
    assert len(entries) == 12
    for entry in entries:
        assert entry.at[0] + width_of(entry.words, SIZE) <= width
        assert min(float(mark.points[:, 1].min()) for mark in entry.marks) >= 0.0
    _, views = arrange(plan, width, height, Tape(feet))
    for view in views:
        check_boxes(view)
